//! `lastamber pass`: a whole pass from weight, power and launch.
//!
//! Owns the sub-command's options and both shapes of its answer. Refuses to compute: `car` does.

use super::folder::Folder;
use super::rollout::TyreOptions;
use super::{CliError, print, print_json};
use crate::car::pass::{
    CarBody, Gearbox, Pass, PassScatter, StartPlace, drive, launch_for_sixty_foot, usual_launch,
};
use crate::car::{
    Air, BeamLine, CarError, CarModel, DrivenEnd, PowerWeightRange, Traction, Tyre,
    power_weight_range, staging_depth,
};
use crate::history::cars_in_force;
use crate::rules::TrackLength;
use crate::seed::generator;
use crate::units::Inches;
use clap::{Args, ValueEnum};
use serde::Serialize;

/// A whole pass: splits from the stage beam, speeds over the last 66 ft, and the range of three
/// published power/weight formulas.
#[derive(Debug, Clone, Args)]
pub struct PassArgs {
    /// Weight with driver and fuel, pounds.
    #[arg(long, value_name = "LB", allow_hyphen_values = true, required_unless_present = "car")]
    weight_lb: Option<f64>,

    /// Power at the crank, horsepower.
    #[arg(long, value_name = "HP", allow_hyphen_values = true, required_unless_present = "car")]
    power_hp: Option<f64>,

    /// One of your cars by its name; what else is given outranks what is stored of it.
    #[arg(long, value_name = "NAME")]
    car: Option<String>,

    #[command(flatten)]
    folder: Folder,

    #[command(flatten)]
    launch: LaunchOptions,

    #[command(flatten)]
    tyre: TyreOptions,

    /// How far past the point where the stage lamp lights the car stands, inches; 0, or the stored
    /// car's habit.
    #[arg(long, value_name = "IN", allow_hyphen_values = true)]
    depth_in: Option<f64>,

    #[command(flatten)]
    body: BodyOptions,

    #[command(flatten)]
    air: AirOptions,

    /// Where the finish is.
    #[arg(long, value_name = "LENGTH", default_value = "quarter")]
    length: Length,

    /// One run with run-to-run noise drawn by this seed, instead of the average one.
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
    seed: Option<u64>,

    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

/// How the car launches; without any of these, as printed runs of its power do.
#[derive(Debug, Clone, Args)]
#[group(multiple = true)]
struct LaunchOptions {
    /// The 60-foot time, seconds.
    #[arg(long, value_name = "S", allow_hyphen_values = true, conflicts_with_all = ["g", "grip"])]
    sixty_foot: Option<f64>,

    /// The launch in units of standard gravity.
    #[arg(long, value_name = "G", allow_hyphen_values = true, conflicts_with = "grip")]
    g: Option<f64>,

    /// Friction coefficient of the driven tyres.
    #[arg(long, value_name = "MU", allow_hyphen_values = true)]
    grip: Option<f64>,

    /// The driven end.
    #[arg(long, value_name = "END", default_value = "rear", requires = "grip")]
    driven: Driven,

    /// Share of the weight on the driven end at rest.
    #[arg(long, value_name = "SHARE", default_value_t = 0.48, allow_hyphen_values = true)]
    weight_share: f64,

    /// Height of the centre of gravity over the wheelbase.
    #[arg(long, value_name = "RATIO", default_value_t = 0.20, allow_hyphen_values = true)]
    height_over_wheelbase: f64,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Driven {
    Front,
    Rear,
    All,
}

/// The rest of the car.
#[derive(Debug, Clone, Args)]
struct BodyOptions {
    /// Share of the power that reaches the road.
    #[arg(long, value_name = "SHARE", default_value_t = 0.80, allow_hyphen_values = true)]
    efficiency: f64,

    /// Drag coefficient × frontal area, m².
    #[arg(long, value_name = "M2", default_value_t = 0.70, allow_hyphen_values = true)]
    drag_area_m2: f64,

    /// Rolling resistance over weight.
    #[arg(long, value_name = "SHARE", default_value_t = 0.015, allow_hyphen_values = true)]
    rolling: f64,

    /// Number of shifts, 0 to 4.
    #[arg(long, value_name = "N", default_value_t = Gearbox::STREET.shifts,
          allow_hyphen_values = true)]
    shifts: u8,

    /// How long the power is off at each shift, seconds.
    #[arg(long, value_name = "S", default_value_t = Gearbox::STREET.shift_s,
          allow_hyphen_values = true)]
    shift_s: f64,

    /// The power does not fall in thin air (blower, battery).
    #[arg(long)]
    boosted: bool,
}

/// The air of the day; without any of these, the air engines are rated in.
#[derive(Debug, Clone, Args)]
struct AirOptions {
    /// Temperature, °F.
    #[arg(long, value_name = "F", allow_hyphen_values = true,
          requires_all = ["dew_point_f", "station_inhg"])]
    temperature_f: Option<f64>,

    /// Dew point, °F.
    #[arg(long, value_name = "F", allow_hyphen_values = true, requires = "temperature_f")]
    dew_point_f: Option<f64>,

    /// Station pressure (not reduced to sea level), inches of mercury.
    #[arg(long, value_name = "INHG", allow_hyphen_values = true, requires = "temperature_f")]
    station_inhg: Option<f64>,
}

/// Length of the track.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Length {
    /// 1320 ft.
    Quarter,
    /// 660 ft.
    Eighth,
}

impl From<Length> for TrackLength {
    fn from(length: Length) -> Self {
        match length {
            Length::Quarter => TrackLength::Quarter,
            Length::Eighth => TrackLength::Eighth,
        }
    }
}

#[derive(Debug, Serialize)]
struct Answer {
    splits_s: Splits,
    speed_mph: Speeds,
    power_weight: Range,
}

#[derive(Debug, Serialize)]
struct Splits {
    #[serde(rename = "60")]
    t60: f64,
    #[serde(rename = "330")]
    t330: f64,
    #[serde(rename = "660")]
    t660: f64,
    #[serde(rename = "1000")]
    t1000: Option<f64>,
    #[serde(rename = "1320")]
    t1320: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Speeds {
    #[serde(rename = "660")]
    at660: f64,
    #[serde(rename = "1320")]
    at1320: Option<f64>,
}

/// Smallest and largest answer of the three formulas, for a quarter mile.
#[derive(Debug, Serialize)]
struct Range {
    et_s: [f64; 2],
    speed_mph: [f64; 2],
}

impl Answer {
    fn new(pass: &Pass, range: PowerWeightRange) -> Self {
        Self {
            splits_s: Splits {
                t60: pass.t60_s,
                t330: pass.t330_s,
                t660: pass.t660_s,
                t1000: pass.t1000_s,
                t1320: pass.t1320_s,
            },
            speed_mph: Speeds { at660: pass.mph660, at1320: pass.mph1320 },
            power_weight: Range { et_s: range.et_s.into(), speed_mph: range.mph.into() },
        }
    }
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a number outside its limits, a 60-foot time this power cannot make, or a car
/// nobody has stored.
pub fn run(args: &PassArgs) -> Result<(), CliError> {
    let car = match &args.car {
        Some(name) => Some(stored(args, name)?),
        None => None,
    };
    let body = body(args, car.as_ref())?;
    let pass = pass(args, &body, car.as_ref()).map_err(CliError::data)?;
    let range = power_weight_range(body.weight_lb, body.power_hp);
    if args.json {
        return print_json(&Answer::new(&pass, range));
    }
    print(&in_words(&body, &pass, range))
}

/// The stored car of this name.
fn stored(args: &PassArgs, name: &str) -> Result<CarModel, CliError> {
    let cars = args.folder.load()?.cars;
    let cars = cars_in_force(&cars);
    let Some(line) = cars.iter().find(|car| car.name == name) else {
        let names: Vec<String> = cars.iter().map(|car| format!("`{}`", car.name)).collect();
        let known = if names.is_empty() { "none is stored".to_owned() } else { names.join(", ") };
        return Err(CliError::data(format!("no car is called `{name}`; {known}")));
    };
    line.model().map_err(|e| CliError::data(format!("the car `{name}`: {e}")))
}

fn body(args: &PassArgs, car: Option<&CarModel>) -> Result<CarBody, CliError> {
    let details = car.map(CarModel::details);
    let weight_lb = args.weight_lb.or(details.and_then(|details| details.weight_lb));
    let power_hp = args.power_hp.or(details.and_then(|details| details.power_hp));
    let (Some(weight_lb), Some(power_hp)) = (weight_lb, power_hp) else {
        return Err(CliError::data(
            "weight or power of the car is not stored; give --weight-lb and --power-hp",
        ));
    };
    let BodyOptions { efficiency, drag_area_m2, rolling, shifts, shift_s, boosted } = args.body;
    let air = match (args.air.temperature_f, args.air.dew_point_f, args.air.station_inhg) {
        (Some(temperature_f), Some(dew_f), Some(inhg)) => {
            Air::new(temperature_f, dew_f, inhg).map_err(CliError::data)?
        }
        _ => Air::RATED,
    };
    Ok(CarBody {
        efficiency,
        drag_area_m2,
        rolling,
        gearbox: Gearbox { shifts, shift_s },
        air,
        power_follows_air: !boosted,
        ..CarBody::street(weight_lb, power_hp)
    })
}

fn pass(args: &PassArgs, body: &CarBody, car: Option<&CarModel>) -> Result<Pass, CarError> {
    let tyre = match (args.tyre.tyre()?, car) {
        (Some(tyre), _) => tyre,
        (None, Some(car)) => car.tyre(),
        (None, None) => Tyre::new(Inches(25.0), Inches(args.tyre.deflection_in))?,
    };
    let beams = car.map_or(BeamLine::default(), CarModel::beams);
    let habit_in = car.map_or(0.0, |car| car.depth_in().value);
    let depth = staging_depth(args.depth_in.unwrap_or(habit_in))?;
    let start = StartPlace::new(tyre, beams, depth);
    let launch_g = match (given_launch(&args.launch, body, start)?, car) {
        (Some(g), _) => g,
        (None, Some(car)) => car.launch_g().value,
        // A usual 60-foot time is one from the shallow position.
        (None, None) => usual_launch(body, StartPlace::new(tyre, beams, Inches(0.0)))?,
    };
    let forces = body.forces(launch_g)?;
    let forces = match args.seed {
        Some(seed) => PassScatter::default().draw(&forces, &mut generator(seed)),
        None => forces,
    };
    drive(&forces, start, args.length.into())
}

fn given_launch(
    options: &LaunchOptions,
    body: &CarBody,
    start: StartPlace,
) -> Result<Option<f64>, CarError> {
    if let Some(grip) = options.grip {
        let driven = match options.driven {
            Driven::Front => DrivenEnd::Front,
            Driven::Rear => DrivenEnd::Rear,
            Driven::All => DrivenEnd::All,
        };
        let (share, height) = (options.weight_share, options.height_over_wheelbase);
        return Ok(Some(Traction::new(grip, driven, share, height)?.launch_g()));
    }
    match options.sixty_foot {
        Some(t60_s) => launch_for_sixty_foot(body, start, t60_s).map(Some),
        None => Ok(options.g),
    }
}

fn in_words(body: &CarBody, pass: &Pass, range: PowerWeightRange) -> String {
    let mut text = format!(
        "60 ft {:.3} · 330 ft {:.3} · 1/8 {:.3} at {:.2} mph",
        pass.t60_s, pass.t330_s, pass.t660_s, pass.mph660
    );
    if let (Some(t1000), Some(t1320), Some(mph)) = (pass.t1000_s, pass.t1320_s, pass.mph1320) {
        text.push_str(&format!(" · 1000 ft {t1000:.3} · 1/4 {t1320:.3} at {mph:.2} mph"));
    }
    text.push_str(&format!(
        "\nThree published formulas, a quarter mile from weight and power alone: {:.2} to {:.2} s, \
         {:.0} to {:.0} mph.",
        range.et_s.0, range.et_s.1, range.mph.0, range.mph.1
    ));
    if body.air != Air::RATED {
        text.push_str(&format!("\nDensity altitude {:.0} ft.", body.air.density_altitude_ft()));
    }
    text
}
