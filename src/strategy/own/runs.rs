//! Practice of one set-up.
//!
//! Owns which runs count and as what, their driver parts with today's delay, days, cold launches and
//! what is left out. Refuses to lose a red: one that was excluded stays.

use super::setup::{OwnLines, OwnSetup};
use super::{LEAST_COLD, is_cold};
use crate::history::RigLine;
use crate::stats::instrument::RunDoubt;
use crate::stats::mixture::guess_share;
use crate::stats::offset::{Films, Reread, RunClass, reread};
use crate::stats::risk::Pool;
use crate::stats::{Estimate, Sample, StatsError};
use crate::tree::{Outcome, Parts};
use crate::trial::{Drill, Id, RigPrint, TrialRecord};
use crate::units::Span;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

/// Who leaves up to this long after the last amber was due has guessed; later it may be a slow
/// answer to the amber before.
const GUESSED_WITHIN: Span = Span::from_ms(120);

/// Runs of a set-up by what they count as. Nothing is left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct RunCounts {
    /// Launches with a time.
    pub launches: usize,
    /// Left before the tree came down, or rolled out of the beams during the ambers: red in every risk.
    pub left_before_tree: usize,
    /// Never left: late in every risk.
    pub lapses: usize,
    /// Not staged in time: no start.
    pub timed_out: usize,
    /// Not shown or timed properly.
    pub void: usize,
    /// Broken off.
    pub abandoned: usize,
    /// Excluded by the driver and left out.
    pub excluded: usize,
    /// Excluded by the driver and red: they count all the same.
    pub excluded_reds: usize,
    /// Driven by a script.
    pub scripted: usize,
    /// Of the launches, those at a declared aim. They count as launches of their style: whoever times a
    /// launch always aims, and a declared aim is only one that was said. Kept apart, their reds could
    /// hide there.
    pub aimed: usize,
    /// The earliest and the latest light that was aimed at.
    pub aims: Option<(Span, Span)>,
}

impl RunCounts {
    fn aim_at(&mut self, driver_part: Span, parts: Parts) {
        let light = driver_part + parts.car - parts.interval;
        let (first, last) = self.aims.unwrap_or((light, light));
        self.aims = Some((first.min(light), last.max(light)));
        self.aimed += 1;
    }
}

/// Runs of the guess test, where now and then the last amber never comes and staying is right. Who
/// knows that launches otherwise: none of them is an ordinary launch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct GuessTest {
    /// Blank runs that were ended by a launch or by staying.
    pub blanks: usize,
    /// Left all the same.
    pub guesses: usize,
    /// Runs of the test that were no blank ones, however they ended: kept apart.
    pub lit: usize,
}

impl GuessTest {
    /// The share of guesses, a lower bound; none without blank runs.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for a level outside 0–1.
    pub fn share(&self, level: f64) -> Result<Option<Estimate>, StatsError> {
        (self.blanks > 0).then(|| guess_share(self.guesses, self.blanks, level)).transpose()
    }
}

/// One start that counts.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Start {
    Launch { driver_part_s: f64, light_s: f64, excluded: bool },
    Left,
    Lapse,
}

/// What it takes to read runs today, made once for all of them.
pub(in crate::strategy) struct Readings {
    /// Rigs with a self test and the period in which each looks at its control, newest first.
    polls: Vec<(RigPrint, Option<f64>)>,
    /// Delays of today.
    pub films: Films,
    days: DayNumbers,
    excluded: HashSet<Id>,
}

impl Readings {
    pub fn of(lines: &OwnLines) -> Self {
        Self {
            films: Films::new(lines.films),
            days: DayNumbers::of(lines.trials),
            excluded: lines.excluded.iter().map(|id| id.as_str().into()).collect(),
            polls: lines.rigs.iter().rev().map(poll_of).collect(),
        }
    }

    /// The day of a run, by its place in the calendar.
    pub fn day_of(&self, run: &TrialRecord) -> u32 {
        self.days.of_run(run)
    }

    /// The period in which the device of a run's rig looks at its control, where its newest self test
    /// found one.
    fn poll_period_s(&self, run: &TrialRecord) -> Option<f64> {
        let (_, poll_s) = self.polls.iter().find(|(rig, _)| rig.is_same_rig(&run.rig))?;
        *poll_s
    }

    /// Whether the driver leaves a run out.
    pub fn excludes(&self, run: &TrialRecord) -> bool {
        self.excluded.contains(&run.id)
    }
}

/// Practice of one set-up, in the order it was driven.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OwnRuns {
    /// What counts and what does not.
    pub counts: RunCounts,
    /// Blank runs, never pooled with ordinary ones.
    pub guess_test: GuessTest,
    /// Colours that change with today's delay.
    pub colours: Reread,
    /// What is not known of the delay, SD, s: the same error on every launch.
    pub delay_sd_s: f64,
    /// What the clock adds to each launch on its own, SD, s.
    pub clock_sd_s: f64,
    /// The last day.
    pub last: Option<Date>,
    starts: Vec<Placed>,
}

/// A start, its day and whether it was cold.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Placed {
    day: u32,
    start: Start,
    cold: bool,
}

impl OwnRuns {
    /// The runs of a set-up; `line_s` is the driver part below which a launch is red.
    pub fn new(lines: &OwnLines, setup: &OwnSetup, line_s: f64) -> Self {
        let runs = lines.trials.iter().filter(|run| setup.holds(run));
        Self::of(&Readings::of(lines), runs, |_| line_s)
    }

    /// Any runs; `line_s` is the driver part below which a launch of that run is red.
    pub(in crate::strategy) fn of<'a>(
        readings: &Readings,
        runs: impl Iterator<Item = &'a TrialRecord>,
        line_s: impl Fn(&TrialRecord) -> f64,
    ) -> Self {
        let films = &readings.films;
        let mut own = Self::default();
        let (mut delays, mut variances, mut coloured) = (Vec::new(), Vec::new(), Vec::new());
        let mut of_day: HashMap<u32, usize> = HashMap::new();
        for run in runs {
            let excluded = readings.excludes(run);
            let Some(start) = own.sort_in(run, excluded, films, line_s(run)) else { continue };
            own.last = own.last.max(run.began.date());
            let day = readings.days.of_run(run);
            let place = of_day.entry(day).or_default();
            own.starts.push(Placed { day, start, cold: is_cold(&run.setup, *place) });
            *place += 1;
            if let (Start::Launch { .. }, Some(parts)) = (start, run.parts) {
                let today = films.today(run);
                delays.push(today.sd / 1000.0);
                coloured.push((parts, Span::from_ms_f64(today.value), RunClass::Counts));
                let poll_s = readings.poll_period_s(run);
                variances.extend(RunDoubt::of(run, poll_s).map(|doubt| doubt.variance_s2()));
            }
        }
        let mean = |x: &[f64]| x.iter().sum::<f64>() / x.len().max(1) as f64;
        own.delay_sd_s = mean(&delays);
        own.clock_sd_s = mean(&variances).sqrt();
        own.colours = reread(coloured).counts;
        own
    }

    /// Counts a run and says what start it is; none for one that is no start.
    fn sort_in(
        &mut self,
        run: &TrialRecord,
        excluded: bool,
        films: &Films,
        line_s: f64,
    ) -> Option<Start> {
        let counts = &mut self.counts;
        if run.setup.scripted {
            counts.scripted += 1;
            return None;
        }
        match run.outcome {
            Outcome::Void(_) => counts.void += 1,
            _ if is_lit_guess_test(run) => self.guess_test.lit += 1,
            Outcome::Abandoned(_) => counts.abandoned += 1,
            Outcome::TimedOut => counts.timed_out += 1,
            Outcome::Stayed => self.guess_test.blanks += 1,
            Outcome::Guessed { after_due_ns } => {
                self.guess_test.blanks += 1;
                self.guess_test.guesses += usize::from(after_due_ns <= GUESSED_WITHIN.ns());
            }
            // Who leaves before any amber does not know yet that a run is blank.
            Outcome::LeftBeforeTree => {
                counts.left_before_tree += 1;
                counts.excluded_reds += usize::from(excluded);
                return Some(Start::Left);
            }
            _ if run.setup.blank => {}
            Outcome::Lapse if excluded => counts.excluded += 1,
            Outcome::Lapse => {
                counts.lapses += 1;
                return Some(Start::Lapse);
            }
            Outcome::Green | Outcome::Red => {
                // Without a launch the car rolled out of its beams during the ambers: a red light all
                // the same.
                let Some(parts) = run.parts else {
                    counts.left_before_tree += 1;
                    counts.excluded_reds += usize::from(excluded);
                    return Some(Start::Left);
                };
                let driver_part_s = parts.driver_raw.as_secs_f64() - films.today(run).value / 1e3;
                let red = driver_part_s < line_s;
                let left_out = excluded && !red;
                counts.launches += usize::from(!left_out);
                if let Some(aim) = run.setup.aim.filter(|_| !left_out) {
                    counts.aim_at(aim.driver_part(parts.car, parts.interval), parts);
                }
                counts.excluded += usize::from(left_out);
                counts.excluded_reds += usize::from(excluded && red);
                let light_s = driver_part_s - line_s;
                return Some(Start::Launch { driver_part_s, light_s, excluded: left_out });
            }
        }
        None
    }

    /// Driver parts that count, s, in order.
    pub fn driver_parts_s(&self) -> Vec<f64> {
        parts_of(self.starts.iter(), false).0
    }

    /// Lights of the same, s, by the line they were read with.
    pub fn lights_s(&self) -> Vec<f64> {
        let lights = self.starts.iter().filter_map(|placed| match &placed.start {
            Start::Launch { light_s, excluded: false, .. } => Some(*light_s),
            _ => None,
        });
        lights.collect()
    }

    /// Days with a launch that counts.
    pub fn days(&self) -> usize {
        let mut days = parts_of(self.starts.iter(), false).1;
        days.dedup();
        days.len()
    }

    /// The launches that count, with days and what has no time; `None` without any.
    ///
    /// # Errors
    /// [`StatsError`] for driver parts that are no numbers.
    pub fn pool(&self) -> Result<Option<Pool>, StatsError> {
        self.pool_of(&self.starts, false)
    }

    /// The same with everything the driver excluded back in; `None` if nothing was excluded.
    ///
    /// # Errors
    /// As [`OwnRuns::pool`].
    pub fn pool_without_exclusions(&self) -> Result<Option<Pool>, StatsError> {
        if self.counts.excluded == 0 { Ok(None) } else { self.pool_of(&self.starts, true) }
    }

    /// The cold starts, once fifteen of them have a time.
    ///
    /// # Errors
    /// As [`OwnRuns::pool`].
    pub fn cold_pool(&self) -> Result<Option<Pool>, StatsError> {
        let cold: Vec<Placed> = self.starts.iter().filter(|start| start.cold).copied().collect();
        let pool = self.pool_of(&cold, false)?;
        Ok(pool.filter(|pool| pool.driver_parts().n() >= LEAST_COLD))
    }

    fn pool_of(&self, starts: &[Placed], all: bool) -> Result<Option<Pool>, StatsError> {
        let (parts, days) = parts_of(starts.iter(), all);
        if parts.is_empty() {
            return Ok(None);
        }
        let count = |kind: Start| starts.iter().filter(|placed| placed.start == kind).count();
        let pool = Pool::new(Sample::new(parts)?).with_days(days)?;
        let pool = pool.with_unmeasured(count(Start::Left), count(Start::Lapse));
        Ok(Some(pool.with_clock_sd(self.clock_sd_s)?))
    }
}

fn parts_of<'a>(starts: impl Iterator<Item = &'a Placed>, all: bool) -> (Vec<f64>, Vec<u32>) {
    let measured = starts.filter_map(|placed| match placed.start {
        Start::Launch { driver_part_s, excluded, .. } if all || !excluded => {
            Some((driver_part_s, placed.day))
        }
        _ => None,
    });
    measured.unzip()
}

/// Whether a run is of the guess test without being a blank one.
pub(in crate::strategy) fn is_lit_guess_test(run: &TrialRecord) -> bool {
    run.setup.drill == Drill::GuessTest && !run.setup.blank
}

/// The driver part below which a launch of this run is red in the car it was driven with, s.
pub(in crate::strategy) fn line_of(run: &TrialRecord) -> f64 {
    let line = |parts: Parts| (parts.interval - parts.car).as_secs_f64();
    run.parts.map_or(f64::NEG_INFINITY, line)
}

fn poll_of(rig: &RigLine) -> (RigPrint, Option<f64>) {
    (rig.rig.clone().into(), rig.poll.period_ms().map(|ms| ms / 1000.0))
}

/// Local dates as numbers in the order of the calendar; runs without one share a day of their own.
struct DayNumbers(BTreeMap<Option<Date>, u32>);

impl DayNumbers {
    fn of(runs: &[TrialRecord]) -> Self {
        let (mut dates, mut before) = (BTreeSet::new(), None);
        for run in runs.iter() {
            let day = run.began.date();
            // Most runs are of the day of the run before them.
            if before != Some(day) {
                dates.insert(day);
            }
            before = Some(day);
        }
        Self(dates.into_iter().zip(0..).collect())
    }

    fn of_run(&self, run: &TrialRecord) -> u32 {
        self.0.get(&run.began.date()).copied().unwrap_or_default()
    }
}
