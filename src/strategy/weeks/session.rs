//! Sessions: runs that were driven in one go, and what they come to.
//!
//! Owns the cut into sessions and the numbers of one. Refuses to lose a red: one in a run the driver
//! left out is counted all the same.

use super::filter::Filter;
use crate::stats::offset::rt_today;
use crate::stats::over_time::sessions::LEAST_LAUNCHES;
use crate::stats::over_time::spread::spread;
use crate::stats::risk::count_interval;
use crate::stats::summary::quantile_with_interval;
use crate::stats::{Estimate, Sample, StatsError};
use crate::strategy::ledger::{Came, Forecast, Occasion, Score, score};
use crate::strategy::own::{COLD_OF_A_DAY, OwnRuns, Readings, is_cold, is_lit_guess_test, line_of};
use crate::tree::Outcome;
use crate::trial::{Began, Style, TrialRecord};
use crate::units::Span;
use jiff::Timestamp;
use jiff::civil::Date;

/// Level of every interval here.
pub const LEVEL: f64 = 0.90;

/// Who reacts to a lamp sooner than this has guessed, s. Common practice, no single source: the start
/// rules of track and field use the same 100 ms.
const GUESS_BELOW_S: f64 = 0.100;

/// How runs are cut into sessions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum SessionsBy {
    /// A day on the driver's own calendar is a session.
    #[default]
    Day,
    /// A pause longer than this many minutes ends one.
    GapMin(u32),
}

/// A launch with a time, read with today's delay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeenLaunch {
    /// Its run, a place among the runs of the history.
    pub run: usize,
    /// Driver part, s.
    pub driver_part_s: f64,
    /// The light, s; red below 0.
    pub light_s: f64,
    /// As cold as a launch at a track.
    pub cold: bool,
    /// Kept out of everything: a light the driver left out that was not red, or one of the guess test.
    pub excluded: bool,
    /// Too soon after the lamp to be a declared reaction to it.
    pub guess: bool,
}

/// One session.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// Wall time of its first run.
    pub began: String,
    /// Its day; none where a run has no time that can be read.
    pub day: Option<Date>,
    /// Its runs, places among the runs of the history, scripted ones included.
    pub runs: Vec<usize>,
    /// What its runs count as.
    pub own: OwnRuns,
    /// Launches with a time, in order.
    pub launches: Vec<SeenLaunch>,
    /// Runs that were starts without a time: left before the tree, rolled out during it, or never.
    pub other_starts: Vec<usize>,
    /// Red starts, excluded ones and those that left before the tree included.
    pub reds: usize,
    /// Share of red starts; `None` without a start.
    pub red: Option<Estimate>,
    /// The same with everything the driver excluded back in; `None` where nothing was.
    pub red_without_exclusions: Option<Estimate>,
    /// Median driver part of the launches that are not cold, s; `None` below eight.
    pub median_s: Option<Estimate>,
    /// Standard deviation of the same, s.
    pub spread_s: Option<Estimate>,
    /// Median light of every launch that counts, s.
    pub light_s: Option<Estimate>,
    /// What was forecast of it against what came.
    pub score: Option<Score>,
}

impl Session {
    /// Driver parts of launches that count, cold ones or the others, s, in order.
    pub fn driver_parts_s(&self, cold: bool) -> Vec<f64> {
        let wanted = |launch: &&SeenLaunch| !launch.excluded && launch.cold == cold;
        self.launches.iter().filter(wanted).map(|launch| launch.driver_part_s).collect()
    }

    /// The launches a trend is made of.
    pub fn warm(&self) -> Option<Sample> {
        let warm = Sample::new(self.driver_parts_s(false)).ok()?;
        (warm.n() >= LEAST_LAUNCHES).then_some(warm)
    }

    pub(super) fn new(
        runs: Vec<usize>,
        trials: &[TrialRecord],
        readings: &Readings,
        cold_left: &mut usize,
    ) -> Result<Self, StatsError> {
        let of_it = || runs.iter().map(|place| &trials[*place]);
        let own = OwnRuns::of(readings, of_it(), line_of);
        let mut session = Self {
            began: trials[runs[0]].began.to_string(),
            day: trials[runs[0]].began.date(),
            launches: Vec::new(),
            other_starts: Vec::new(),
            reds: own.counts.left_before_tree,
            red: None,
            red_without_exclusions: None,
            median_s: None,
            spread_s: None,
            light_s: None,
            score: None,
            own,
            runs,
        };
        for place in session.runs.clone() {
            session.read(place, &trials[place], readings, cold_left);
        }
        session.count()?;
        Ok(session)
    }

    /// Reads one run.
    fn read(
        &mut self,
        place: usize,
        run: &TrialRecord,
        readings: &Readings,
        cold_left: &mut usize,
    ) {
        if run.setup.scripted || run.setup.blank {
            return;
        }
        let cold = is_cold(&run.setup, COLD_OF_A_DAY - *cold_left);
        let of_guess_test = is_lit_guess_test(run);
        match (run.outcome, run.parts) {
            (Outcome::Green | Outcome::Red, Some(parts)) => {
                let today = Span::from_ms_f64(readings.films.today(run).value);
                let light_s = rt_today(&parts, today).as_secs_f64();
                let driver_part_s = (parts.driver_raw - today).as_secs_f64();
                let red = light_s < 0.0;
                self.reds += usize::from(red && !of_guess_test);
                let excluded = of_guess_test || readings.excludes(run) && !red;
                self.launches.push(SeenLaunch {
                    run: place,
                    driver_part_s,
                    light_s,
                    cold,
                    excluded,
                    guess: run.setup.style == Style::React && driver_part_s < GUESS_BELOW_S,
                });
            }
            (Outcome::Lapse | Outcome::LeftBeforeTree | Outcome::Green | Outcome::Red, _) => {
                if !of_guess_test {
                    self.other_starts.push(place);
                }
            }
            _ => return,
        }
        *cold_left = cold_left.saturating_sub(1);
    }

    fn count(&mut self) -> Result<(), StatsError> {
        let counts = self.own.counts;
        let starts = counts.launches + counts.left_before_tree + counts.lapses;
        let share = |n: usize| (n > 0).then(|| count_interval(self.reds, n, LEVEL)).transpose();
        self.red = share(starts)?;
        if counts.excluded > 0 {
            self.red_without_exclusions = share(starts + counts.excluded)?;
        }
        if let Some(warm) = self.warm() {
            self.median_s = Some(quantile_with_interval(&warm, 0.5, LEVEL)?);
            self.spread_s = spread(&warm, LEVEL).ok();
        }
        let lights = self.launches.iter().filter(|launch| !launch.excluded);
        let lights = Sample::new(lights.map(|launch| launch.light_s).collect()).ok();
        let enough = lights.filter(|lights| lights.n() >= LEAST_LAUNCHES);
        self.light_s = enough.map(|l| quantile_with_interval(&l, 0.5, LEVEL)).transpose()?;
        Ok(())
    }

    /// Holds the session against what was forecast of it.
    pub(super) fn hold_against(&mut self, forecasts: &[Forecast], trials: &[TrialRecord]) {
        let Some(day) = self.day.map(|day| day.to_string()) else { return };
        let first = &trials[self.runs[0]];
        let lights_s: Vec<f64> = self
            .launches
            .iter()
            .filter(|launch| !launch.excluded)
            .map(|launch| launch.light_s)
            .collect();
        let came = Came {
            first_id: first.id.clone(),
            lights_s: &lights_s,
            left_before_tree: self.own.counts.left_before_tree,
            lapses: self.own.counts.lapses,
        };
        let of_it = |forecast: &&Forecast| {
            let told = &forecast.declared;
            told.occasion == Occasion::Session && told.occasion_id == day && told.is_of(first)
        };
        // One made after its first launch is not scored; the others are.
        let mut scores =
            forecasts.iter().filter(of_it).filter_map(|f| score(f, &came).ok().flatten());
        self.score = scores.next_back();
    }
}

/// Places of the runs a filter holds, cut into sessions.
pub(super) fn cut(trials: &[TrialRecord], filter: &Filter, by: SessionsBy) -> Vec<Vec<usize>> {
    let mut sessions: Vec<Vec<usize>> = Vec::new();
    let mut before: Option<&TrialRecord> = None;
    for (place, run) in trials.iter().enumerate().filter(|(_, run)| filter.holds(run)) {
        let same = before.is_some_and(|before| match by {
            SessionsBy::Day => before.began.date() == run.began.date(),
            SessionsBy::GapMin(minutes) => is_within(&before.began, &run.began, minutes),
        });
        match sessions.last_mut() {
            Some(session) if same => session.push(place),
            _ => sessions.push(vec![place]),
        }
        before = Some(run);
    }
    sessions
}

fn is_within(before: &Began, after: &Began, minutes: u32) -> bool {
    let timestamp = |began: &Began| began.to_string().parse::<Timestamp>();
    let (Ok(before), Ok(after)) = (timestamp(before), timestamp(after)) else {
        return before == after;
    };
    after.duration_since(before).as_secs() <= i64::from(minutes) * 60
}

/// Cold starts a session has left, by its day and that of the session before.
pub(super) fn cold_of(day: Option<Date>, before: Option<(Option<Date>, usize)>) -> usize {
    match before {
        Some((same, left)) if same == day => left,
        _ => COLD_OF_A_DAY,
    }
}
