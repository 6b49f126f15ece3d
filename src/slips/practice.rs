//! The slip of a practice run: a launch that was timed and a pass that was computed.
//!
//! Owns the step from a run's record to a pass and a slip. Refuses runs a track would print nothing
//! for, and to hide that the rest is simulated.

use super::{LaneSlip, Manner, Slip, SlipOrigin, SlipTree, SlipsError};
use crate::car::pass::{Pass, PassScatter, StartPlace, drive};
use crate::car::{CarError, CarModel};
use crate::rules::{RtScale, SlipTime, TrackLength};
use crate::seed::{generator, seed_of_run};
use crate::tree::Outcome;
use crate::trial::{SetupFacts, Style, TrialRecord};
use crate::units::{Inches, Span};

/// The other lane of a practice run, as the program drove it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct OtherRun {
    /// Its reaction time.
    pub rt: Option<Span>,
    /// It was red.
    pub red: bool,
    /// Its pass.
    pub pass: Option<Pass>,
    /// Its dial-in.
    pub dial: Option<SlipTime>,
}

/// The pass of a practice run: the driver's car from the depth it was launched at, with the run-to-run
/// noise that the run's own seed draws; none where weight and power are unknown.
///
/// # Errors
/// [`CarError`] for a launch no pass could be computed with.
pub fn practice_pass(
    model: &CarModel,
    record: &TrialRecord,
    length: TrackLength,
) -> Result<Option<Pass>, CarError> {
    let Some(body) = model.body() else { return Ok(None) };
    let depth = record.seen.launch().map_or(Inches(model.depth_in().value), |launch| launch.depth);
    let start = StartPlace::new(model.tyre(), model.beams(), depth);
    let scatter = PassScatter { launch: model.launch_run_share(), ..PassScatter::default() };
    let forces = body.forces(model.launch_g().value)?;
    // Another stream than the one the start itself drew from.
    let mut generator = generator(seed_of_run(record.setup.seed, 0));
    drive(&scatter.draw(&forces, &mut generator), start, length).map(Some)
}

/// The slip of a practice run. A car of which weight and power are unknown has no pass and prints
/// its reaction time alone.
///
/// # Errors
/// [`SlipsError::NoSlip`] for a run that was blank, abandoned, void or never left: a track prints
/// nothing for those.
pub fn practice_slip(
    record: &TrialRecord,
    dial: Option<SlipTime>,
    pass: Option<&Pass>,
    other: Option<&OtherRun>,
) -> Result<Slip, SlipsError> {
    let red = prints_red(record.outcome)?;
    let own = LaneSlip {
        dial,
        rt: record.parts.map(|parts| SlipTime::printed(parts.rt())),
        red,
        ..pass.map(lane_of).unwrap_or_default()
    };
    let other = other.map(|other| LaneSlip {
        dial: other.dial,
        rt: other.rt.map(SlipTime::printed),
        red: other.red || other.rt.is_some_and(|rt| rt < Span::ZERO),
        ..other.pass.as_ref().map(lane_of).unwrap_or_default()
    });
    let length = match pass {
        Some(pass) if pass.t1320_s.is_none() => TrackLength::Eighth,
        _ => TrackLength::Quarter,
    };
    let began: Option<jiff::ZonedDateTime> = record.began.to_string().parse().ok();
    Ok(Slip {
        date: began.as_ref().map(jiff::ZonedDateTime::date),
        time: began
            .as_ref()
            .map(|began| began.time().round(jiff::Unit::Second))
            .and_then(Result::ok),
        driver: record.driver.to_string(),
        car: record.car.name.clone(),
        length,
        scale: RtScale::Modern,
        tree: tree_of(&record.setup),
        lane: Some(record.setup.lane),
        own,
        other,
        depth_in: record.seen.launch().map(|launch| launch.depth.0),
        manner: Some(match record.setup.style {
            Style::React => Manner::Reacted,
            Style::TimeIt => Manner::Timed,
        }),
        origin: SlipOrigin::Simulated { trial: record.id.to_string() },
        ..Slip::default()
    })
}

/// Whether the red lamp was on, for the runs a track prints.
fn prints_red(outcome: Outcome) -> Result<bool, SlipsError> {
    let nothing = |outcome| Err(SlipsError::NoSlip { outcome });
    match outcome {
        Outcome::Green => Ok(false),
        Outcome::Red | Outcome::LeftBeforeTree => Ok(true),
        Outcome::TimedOut => nothing("timed out"),
        Outcome::Lapse => nothing("never left"),
        Outcome::Stayed | Outcome::Guessed { .. } => nothing("blank"),
        Outcome::Abandoned(_) => nothing("abandoned"),
        Outcome::Void(_) => nothing("void"),
    }
}

/// The splits of a pass, to the thousandth as slips print them.
fn lane_of(pass: &Pass) -> LaneSlip {
    let time = |seconds: f64| {
        // A pass of no end cannot be: the forces are checked.
        let thousandths = (seconds * 1000.0).round() / 1000.0;
        SlipTime::from_seconds(thousandths).ok()
    };
    let speed = |mph: f64| (mph * 100.0).round() / 100.0;
    LaneSlip {
        t60: time(pass.t60_s),
        t330: time(pass.t330_s),
        t660: time(pass.t660_s),
        mph660: Some(speed(pass.mph660)),
        t1000: pass.t1000_s.and_then(time),
        t1320: pass.t1320_s.and_then(time),
        mph1320: pass.mph1320.map(speed),
        ..LaneSlip::default()
    }
}

/// The tree of a set-up, if a track has such a one.
fn tree_of(setup: &SetupFacts) -> Option<SlipTree> {
    let gap_ms = |span: Span| span.ns() / 1_000_000;
    match (gap_ms(setup.amber_gap), gap_ms(setup.interval)) {
        (500, 500) => Some(SlipTree::Full),
        (0, 400) => Some(SlipTree::Pro400),
        (0, 500) => Some(SlipTree::Pro500),
        _ => None,
    }
}
