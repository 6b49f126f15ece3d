//! `lastamber rollout`: how far a staged car rolls before the clock starts, and how long that takes.
//!
//! Owns the sub-command's options and both shapes of its answer. Refuses to compute: `car` does.

use super::{CliError, print, print_json};
use crate::car::{
    BeamLine, CarError, EndedBy, Launch, SixtyFootConvention, Tyre, TyreSize, g_from_sixty_foot,
    rollout, staging_depth,
};
use crate::units::{Inches, Span};
use clap::{Args, ValueEnum};
use serde::Serialize;

/// Tyre and beams: how far a staged car rolls, and its car part.
#[derive(Debug, Clone, Args)]
pub struct RolloutArgs {
    #[command(flatten)]
    tyre: TyreOptions,

    /// Height of the stage beam, inches.
    #[arg(long, value_name = "IN", default_value_t = 1.625, allow_hyphen_values = true)]
    beam_in: f64,

    /// From stage beam to guard beam, inches.
    #[arg(long, value_name = "IN", default_value_t = 13.375, allow_hyphen_values = true)]
    guard_in: f64,

    /// How far past the point where the stage lamp lights the car stands, inches.
    #[arg(long, value_name = "IN", default_value_t = 0.0, allow_hyphen_values = true)]
    depth_in: f64,

    /// The launch in units of standard gravity.
    #[arg(long, value_name = "G", allow_hyphen_values = true, conflicts_with = "sixty_foot")]
    g: Option<f64>,

    /// The 60-foot time of the launch, seconds.
    #[arg(long, value_name = "S", allow_hyphen_values = true, required_unless_present = "g")]
    sixty_foot: Option<f64>,

    /// What the car travels in 60 feet: the way of its tyre's front edge, or 60 ft from rest.
    #[arg(long, value_name = "HOW", default_value = "geometric")]
    convention: Convention,

    /// From the launch edge to the first movement, seconds.
    #[arg(long, value_name = "S", default_value_t = 0.0, allow_hyphen_values = true)]
    lag: f64,

    /// Prints JSON.
    #[arg(long)]
    json: bool,
}

/// The front tyre.
#[derive(Debug, Clone, Args)]
pub struct TyreOptions {
    /// Diameter of the front tyre, inches.
    #[arg(long, value_name = "IN", allow_hyphen_values = true, conflicts_with = "tyre_size")]
    pub tyre_in: Option<f64>,

    /// The front tyre as on its sidewall, for example 225/45R17.
    #[arg(long, value_name = "SIZE")]
    pub tyre_size: Option<String>,

    /// How far the load lowers the front axle, inches.
    #[arg(long, value_name = "IN", default_value_t = 0.0, allow_hyphen_values = true)]
    pub deflection_in: f64,
}

impl TyreOptions {
    /// The tyre, if one is given.
    pub fn tyre(&self) -> Result<Option<Tyre>, CarError> {
        let diameter = match (&self.tyre_size, self.tyre_in) {
            (Some(size), _) => size.parse::<TyreSize>()?.diameter(),
            (None, Some(inches)) => Inches(inches),
            (None, None) => return Ok(None),
        };
        Tyre::new(diameter, Inches(self.deflection_in)).map(Some)
    }
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Convention {
    Simple,
    Geometric,
}

#[derive(Debug, Serialize)]
struct Answer {
    chord_in: f64,
    remaining_in: f64,
    ended_by: &'static str,
    time_s: f64,
    car_part_s: f64,
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a tyre, a beam or a launch outside its limits.
pub fn run(args: &RolloutArgs) -> Result<(), CliError> {
    let answer = answer(args)?;
    if args.json { print_json(&answer) } else { print(&in_words(&answer)) }
}

fn answer(args: &RolloutArgs) -> Result<Answer, CliError> {
    let tyre = args.tyre.tyre().map_err(CliError::data)?;
    let tyre = tyre.ok_or_else(|| CliError::data("give --tyre-in or --tyre-size"))?;
    let usual = BeamLine::default();
    let beams = BeamLine::new(
        usual.prestage_to_stage(),
        Inches(args.guard_in),
        Inches(args.beam_in),
        usual.sixty_foot_beam_height(),
    )
    .map_err(CliError::data)?;
    let depth = staging_depth(args.depth_in).map_err(CliError::data)?;
    let convention = match args.convention {
        Convention::Simple => SixtyFootConvention::Simple,
        Convention::Geometric => SixtyFootConvention::Geometric,
    };
    let g = match (args.g, args.sixty_foot) {
        (Some(g), _) => g,
        (None, t60_s) => {
            let t60_s = t60_s.unwrap_or(f64::NAN);
            g_from_sixty_foot(t60_s, tyre, beams, depth, convention).map_err(CliError::data)?
        }
    };
    let lag = if args.lag.is_finite() { Span::from_secs_f64(args.lag) } else { Span::from_ns(-1) };
    let launch = Launch::new(g, lag).map_err(CliError::data)?;
    let roll = rollout(tyre, beams, depth);
    let car_part_s = launch.time_to_clear(roll.remaining).as_secs_f64();
    Ok(Answer {
        chord_in: tyre.chord(beams.beam_height()).map_err(CliError::data)?.0,
        remaining_in: roll.remaining.0,
        ended_by: match roll.ended_by {
            EndedBy::StageBeam => "stage-beam",
            EndedBy::GuardBeam => "guard-beam",
        },
        time_s: car_part_s - launch.lag().as_secs_f64(),
        car_part_s,
    })
}

fn in_words(answer: &Answer) -> String {
    let Answer { chord_in, remaining_in, ended_by, time_s, car_part_s } = answer;
    let beam = ended_by.replace('-', " ");
    format!(
        "The beam looks through {chord_in:.2} in of tyre; {remaining_in:.2} in are left to roll, \
         ended by the {beam}.\nThe roll takes {time_s:.3} s; car part {car_part_s:.3} s with the lag."
    )
}
