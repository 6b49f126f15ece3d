//! A night at the track: passes of the made-up driver and the slips they print.
//!
//! Owns the true light of a pass and the slip around it. Refuses practice.

use super::error::DemoError;
use super::person::{Person, normal};
use super::truth;
use crate::car::CarModel;
use crate::car::pass::{PassScatter, StartPlace, drive};
use crate::rules::{SlipTime, TrackLength, TreeKind};
use crate::seed::Generator;
use crate::slips::{Daylight, LampKind, LaneSlip, Manner, Slip, SlipOrigin, SlipTree, Weather};
use crate::tree::Lane;
use crate::trial::Style;
use crate::units::{Inches, Span};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use rand::RngExt;

/// Minutes from one pass to the next.
const BETWEEN_MINUTES: i64 = 38;

/// The slips of a night by when it begins and how many passes it has, in their order.
pub(super) fn slips(
    (begins, passes): (Timestamp, usize),
    model: &CarModel,
    person: &mut Person,
    random: &mut Generator,
) -> Result<Vec<Slip>, DemoError> {
    person.begin_day(random);
    (0..passes)
        .map(|pass| {
            let later = BETWEEN_MINUTES * pass as i64 + random.random_range(0..9);
            let at = begins + jiff::Span::new().minutes(later);
            slip(at, pass, model, person, random)
        })
        .collect()
}

fn slip(
    at: Timestamp,
    pass: usize,
    model: &CarModel,
    person: &mut Person,
    random: &mut Generator,
) -> Result<Slip, DemoError> {
    let depth = model.depth_in().value + model.depth_run_in() * normal(random);
    let depth = Inches(depth.clamp(0.0, 5.0));
    let own = own_lane(depth, model, person, random)?;
    let local = at.to_zoned_datetime(TimeZone::UTC);
    // The first passes of a night are alone: a test-and-tune.
    let other = (pass >= 2).then(|| other_lane(random)).transpose()?;
    let tenth = |inches: f64| (10.0 * inches).round() / 10.0;
    Ok(Slip {
        date: Some(local.date()),
        time: Some(local.time()),
        driver: truth::DRIVER.to_owned(),
        car: truth::CAR.to_owned(),
        track: truth::TRACK.to_owned(),
        length: TrackLength::Quarter,
        tree: Some(SlipTree::Full),
        lane: Some(if pass.is_multiple_of(2) { Lane::Left } else { Lane::Right }),
        own,
        other,
        lamps: Some(LampKind::Led),
        light: Some(if pass < 2 { Daylight::Dusk } else { Daylight::Night }),
        weather: Weather {
            temperature_f: Some((66.0 - 2.0 * pass as f64).round()),
            dew_point_f: Some(50.0),
            station_inhg: Some(29.6),
        },
        front_psi: Some(34.0),
        rear_psi: Some(20.0),
        launch_rpm: Some(2400.0),
        depth_in: Some(tenth(depth.0)),
        manner: Some(Manner::Timed),
        first_of_day: Some(pass == 0),
        origin: SlipOrigin::Track,
        note: "demo".to_owned(),
        ..Slip::default()
    })
}

/// The driver's column: a light from the truth, a pass from the car's model.
fn own_lane(
    depth: Inches,
    model: &CarModel,
    person: &mut Person,
    random: &mut Generator,
) -> Result<LaneSlip, DemoError> {
    let part_ms = person.launch_ms(Style::TimeIt, random);
    let car_ms = 1000.0 * model.car_part().seconds.value + truth::CAR_RUN_MS * normal(random);
    let interval_ms = TreeKind::full().green_gap().as_ms_f64();
    let rt_ms = part_ms + truth::HOME_TO_TRACK_MS + car_ms - interval_ms;
    let rt = SlipTime::printed(Span::from_ms_f64(rt_ms));
    let body = model.body().ok_or(DemoError::NoPass)?;
    let scatter = PassScatter { launch: model.launch_run_share(), ..PassScatter::default() };
    let forces = scatter.draw(&body.forces(model.launch_g().value)?, random);
    let start = StartPlace::new(model.tyre(), model.beams(), depth);
    let pass = drive(&forces, start, TrackLength::Quarter)?;
    let time = |seconds: f64| SlipTime::printed(Span::from_secs_f64(seconds));
    let speed = |mph: f64| (100.0 * mph).round() / 100.0;
    Ok(LaneSlip {
        car_number: "D1".to_owned(),
        class: "Street".to_owned(),
        dial: model.details().dial_s.map(SlipTime::from_seconds).transpose()?,
        rt: Some(rt),
        t60: Some(time(pass.t60_s)),
        t330: Some(time(pass.t330_s)),
        t660: Some(time(pass.t660_s)),
        mph660: Some(speed(pass.mph660)),
        t1000: pass.t1000_s.map(time),
        t1320: pass.t1320_s.map(time),
        mph1320: pass.mph1320.map(speed),
        red: rt < SlipTime::ZERO,
    })
}

/// A stranger's column.
fn other_lane(random: &mut Generator) -> Result<LaneSlip, DemoError> {
    let (rt_ms, slower_s) = (70.0 + 45.0 * normal(random), 0.03 + 0.08 * normal(random).abs());
    let dial_s = f64::from(random.random_range(1180..1450_i32)) / 100.0;
    let et = SlipTime::printed(Span::from_secs_f64(dial_s + slower_s));
    let rt = SlipTime::printed(Span::from_ms_f64(rt_ms));
    Ok(LaneSlip {
        car_number: "D2".to_owned(),
        class: "Street".to_owned(),
        dial: Some(SlipTime::from_seconds(dial_s)?),
        rt: Some(rt),
        t1320: Some(et),
        mph1320: Some((100.0 * 1290.0 / dial_s).round() / 100.0),
        red: rt < SlipTime::ZERO,
        ..LaneSlip::default()
    })
}
