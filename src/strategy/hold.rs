//! Launches held against the aim that was declared for them.
//!
//! Owns how they fall into blocks, what of a block is missing, and the aim the program advises. Refuses
//! to lose a red: one that was excluded stays.

use super::desk::{Desk, LEVEL};
use super::launches::View;
use super::own::{OwnLines, OwnSetup, Readings};
use crate::stats::held::Held;
use crate::stats::{Sample, StatsError};
use crate::tree::Outcome;
use crate::trial::{Aim, AimFrom, AimOf, Style, TrialRecord};
use crate::units::Span;
use jiff::civil::Date;

/// Launches of one day at one aim, one after the other.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldBlock {
    /// What was declared.
    pub aim: Aim,
    /// Its day; none where a run has no time that can be read.
    pub day: Option<Date>,
    /// Deviations with today's delay, s, in order; above 0 is late.
    pub deviations_s: Vec<f64>,
    /// Reds among them.
    pub reds: usize,
    /// Left before the last amber: red, and without a deviation.
    pub left_before_tree: usize,
    /// Never left.
    pub lapses: usize,
    /// Void, broken off, not staged in time, or excluded by the driver and not red.
    pub left_out: usize,
    /// The block against its aim; `None` below five launches.
    pub held: Option<Held>,
}

impl HeldBlock {
    fn of(runs: &[&TrialRecord], aim: Aim, readings: &Readings) -> Result<Self, StatsError> {
        let day = runs[0].began.date();
        let mut block = Self {
            aim,
            day,
            deviations_s: Vec::new(),
            reds: 0,
            left_before_tree: 0,
            lapses: 0,
            left_out: 0,
            held: None,
        };
        runs.iter().for_each(|run| block.count(run, readings));
        if let Ok(deviations) = Sample::new(block.deviations_s.clone()) {
            block.held = match Held::new(&deviations, LEVEL) {
                Ok(held) => Some(held),
                Err(StatsError::TooFew { .. } | StatsError::NoSpread) => None,
                Err(error) => return Err(error),
            };
        }
        Ok(block)
    }

    fn count(&mut self, run: &TrialRecord, readings: &Readings) {
        match (run.outcome, run.parts) {
            (Outcome::Green | Outcome::Red, Some(parts)) => {
                let today = Span::from_ms_f64(readings.films.today(run).value);
                let driver = parts.driver_raw - today;
                let red = driver + parts.car < parts.interval;
                if readings.excludes(run) && !red {
                    self.left_out += 1;
                    return;
                }
                let missed = self.aim.missed_by(driver, parts.car, parts.interval);
                self.deviations_s.push(missed.as_secs_f64());
                self.reds += usize::from(red);
            }
            (Outcome::LeftBeforeTree | Outcome::Green | Outcome::Red, _) => {
                self.left_before_tree += 1;
            }
            (Outcome::Lapse, _) if !readings.excludes(run) => self.lapses += 1,
            _ => self.left_out += 1,
        }
    }
}

/// All blocks of a set-up, the newest last.
///
/// # Errors
/// [`StatsError`] for times that are no numbers.
pub fn held_blocks(lines: &OwnLines, setup: &OwnSetup) -> Result<Vec<HeldBlock>, StatsError> {
    let readings = Readings::of(lines);
    let aimed = lines.trials.iter().filter(|run| setup.holds(run) && !run.setup.scripted);
    let aimed: Vec<&TrialRecord> = aimed.filter(|run| run.setup.aim.is_some()).collect();
    let together = |a: &&TrialRecord, b: &&TrialRecord| {
        a.setup.aim == b.setup.aim && a.began.date() == b.began.date()
    };
    let blocks = aimed.chunk_by(together);
    let of = |runs: &[&TrialRecord]| Some(HeldBlock::of(runs, runs[0].setup.aim?, &readings));
    blocks.filter_map(of).collect()
}

/// How far a launch fell from its aim with the delay that was in force, later above 0; `None` without
/// an aim or a time. For the verdict.
pub fn missed_by(run: &TrialRecord) -> Option<Span> {
    let (aim, parts) = (run.setup.aim?, run.parts?);
    Some(aim.missed_by(parts.driver(), parts.car, parts.interval))
}

/// The aim the program advises for a view: the average driver part so far, as much earlier as is best
/// there. `None` below ten launches, and for a driver who reacts: nobody reacts earlier by wanting to.
pub fn advised_aim(desk: &Desk, view: View) -> Option<Aim> {
    let told = desk.practice.as_ref()?.view(view)?;
    if desk.asked.setup.style != Style::TimeIt {
        return None;
    }
    let parts = Sample::new(desk.runs.driver_parts_s()).ok()?;
    let at_s = crate::stats::summary::mean(&parts) - told.at_best.best.earlier_s;
    // To the millisecond: nobody aims finer.
    let at = Span::from_ms((1000.0 * at_s).round() as i64);
    Some(Aim { of: AimOf::DriverPart, at, from: AimFrom::Advised })
}
