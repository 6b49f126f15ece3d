//! Weeks worked out: sessions, whether they change, what a session does to a driver, how forecasts did.
//!
//! Owns the order of the work, all of it in [`Weeks::new`], on any thread. Refuses words and drawing,
//! and to compare unlike runs before the driver said so.

mod bests;
mod choices;
mod filter;
mod review;
mod session;

pub use bests::{BestTen, Bests};
pub use choices::{Choices, ROWS, Row};
pub use filter::{Filter, Unlike, What, unlike};
pub use review::{Depths, Review, ReviewRun, StagingRecord};
pub use session::{LEVEL, SeenLaunch, Session, SessionsBy};

use super::StrategyError;
use super::ledger::{Board, Forecast, Occasion, board, of_night};
use super::own::{GuessTest, OwnLines, OwnSetup, OwnSlips, Readings, RunCounts};
use crate::history::{ForecastLine, Loaded, SlipLine, slips_in_force};
use crate::seed;
use crate::stats::over_time::days::{Days, days};
use crate::stats::over_time::learning::{LearningCurve, learning_curve};
use crate::stats::over_time::sessions::{LEARNING_FALSE_ALARM, SessionTrend};
use crate::stats::over_time::within_session::{COLD_LAUNCHES, WithinSession, within_session};
use crate::stats::risk::count_interval;
use crate::stats::summary::quantile_with_interval;
use crate::stats::{Estimate, Sample, StatsError};
use crate::trial::TrialRecord;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Share of what was to be learnt below which the plateau is reached. Chosen.
const PLATEAU_SHARE: f64 = 0.1;

/// What to work out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WeeksAsked {
    /// Which runs.
    pub filter: Filter,
    /// How they are cut.
    pub by: SessionsBy,
    /// Seed of everything random.
    pub seed: u64,
}

/// A history over weeks.
#[derive(Debug, Clone, PartialEq)]
pub struct Weeks {
    /// What was asked.
    pub asked: WeeksAsked,
    /// The sessions, in order.
    pub sessions: Vec<Session>,
    /// In what the runs differ. Where this is not empty and nobody said they may be taken together,
    /// there is no comparison below.
    pub unlike: Vec<Unlike>,
    /// What all runs count as.
    pub counts: RunCounts,
    /// Blank runs.
    pub guess_test: GuessTest,
    /// Red starts.
    pub reds: usize,
    /// Their share; `None` without a start.
    pub red: Option<Estimate>,
    /// The same with everything excluded back in; `None` where nothing was excluded.
    pub red_without_exclusions: Option<Estimate>,
    /// Launches a day, in the order of the calendar.
    pub calendar: Vec<(Date, usize)>,
    /// What the sessions compare to.
    pub compared: Option<Compared>,
    /// Forecasts of these sessions, and of nights at the track in their set-ups, against what came.
    pub board: Option<Board>,
    /// Slips of the same set-up; `None` where the runs are of several.
    pub slips: Option<SlipsBeside>,
}

/// Sessions held against each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// Which sessions, by place, stand in the trends: those with eight launches that are not cold.
    pub charted: Vec<usize>,
    /// Their medians.
    pub level: SessionTrend,
    /// Their spreads.
    pub spread: SessionTrend,
    /// The spread of all their launches within sessions, and how much days differ; `None` below
    /// three.
    pub days: Option<Days>,
    /// The learning curve through the medians; `None` below ten.
    pub learning: Option<LearningCurve>,
    /// When a tenth of what there was to learn was left; `None` while it is more, or where no curve
    /// levels off.
    pub plateau_since: Option<Date>,
    /// What a session does; `None` while there is too little of it.
    pub within: Option<WithinSession>,
    /// Median of the first three launches of days, s.
    pub cold_s: Option<Estimate>,
    /// Median of all others, s.
    pub warm_s: Option<Estimate>,
    /// Median light at home, s, never pooled with slips.
    pub light_s: Option<Estimate>,
    /// Personal bests.
    pub bests: Bests,
}

/// Slips beside practice.
#[derive(Debug, Clone, PartialEq)]
pub struct SlipsBeside {
    /// The slips.
    pub slips: OwnSlips,
    /// Reds among them.
    pub reds: usize,
    /// Their share; `None` without a slip.
    pub red: Option<Estimate>,
    /// Median R/T, s; `None` below five.
    pub light_s: Option<Estimate>,
}

/// Slips a median is told of: five order statistics hold it with 94 %.
const LEAST_SLIPS: usize = 5;

impl Weeks {
    /// A loaded history; without a filter the set-up driven last.
    ///
    /// # Errors
    /// [`StrategyError::Stats`] for times that are no numbers. Too few of anything is no error.
    pub fn of_loaded(
        loaded: &Loaded,
        filter: Option<Filter>,
        by: SessionsBy,
        seed: u64,
    ) -> Result<Self, StrategyError> {
        let excluded = loaded.excluded();
        let lines = OwnLines { excluded: &excluded, ..OwnLines::from(loaded) };
        let filter = filter.or_else(|| Filter::of_newest(&lines)).unwrap_or_default();
        Self::new(&lines, &loaded.forecasts, WeeksAsked { filter, by, seed })
    }

    /// Works everything out: under two seconds for 100 000 runs.
    ///
    /// # Errors
    /// As [`Weeks::of_loaded`].
    pub fn new(
        lines: &OwnLines,
        forecasts: &[ForecastLine],
        asked: WeeksAsked,
    ) -> Result<Self, StrategyError> {
        let mut sessions = sessions_of(lines, &asked)?;
        let forecasts: Vec<Forecast> = forecasts.iter().filter_map(Forecast::of_line).collect();
        for session in &mut sessions {
            session.hold_against(&forecasts, lines.trials);
        }
        let runs: Vec<&TrialRecord> =
            sessions.iter().flat_map(|s| &s.runs).map(|place| &lines.trials[*place]).collect();
        let unlike = unlike(&runs);
        let may_compare = unlike.is_empty() || asked.filter.together;
        let newest = runs.last().filter(|_| unlike.is_empty());
        let of_nights = forecasts.iter().filter(|forecast| {
            let told = &forecast.declared;
            told.occasion == Occasion::TrackNight && newest.is_some_and(|run| told.is_of(run))
        });
        let nights = of_nights.filter_map(|forecast| of_night(lines, forecast).score());
        let beside =
            |run: &&TrialRecord| SlipsBeside::new(lines, &OwnSetup::of(run), &asked.filter);
        let slips = newest.map(beside).transpose()?;
        let mut weeks = Self {
            unlike,
            counts: RunCounts::default(),
            guess_test: GuessTest::default(),
            reds: sessions.iter().map(|s| s.reds).sum(),
            red: None,
            red_without_exclusions: None,
            calendar: calendar(&sessions),
            compared: may_compare.then(|| Compared::new(&sessions, &asked)).transpose()?,
            board: board(
                &sessions.iter().filter_map(|s| s.score).chain(nights).collect::<Vec<_>>(),
            ),
            slips,
            asked,
            sessions,
        };
        weeks.count()?;
        Ok(weeks)
    }

    fn count(&mut self) -> Result<(), StatsError> {
        for session in &self.sessions {
            let (sum, one) = (&mut self.counts, &session.own.counts);
            sum.launches += one.launches;
            sum.left_before_tree += one.left_before_tree;
            sum.lapses += one.lapses;
            sum.timed_out += one.timed_out;
            sum.void += one.void;
            sum.abandoned += one.abandoned;
            sum.excluded += one.excluded;
            sum.excluded_reds += one.excluded_reds;
            sum.scripted += one.scripted;
            self.guess_test.blanks += session.own.guess_test.blanks;
            self.guess_test.guesses += session.own.guess_test.guesses;
            self.guess_test.lit += session.own.guess_test.lit;
        }
        let starts = self.counts.launches + self.counts.left_before_tree + self.counts.lapses;
        if starts > 0 {
            self.red = Some(count_interval(self.reds, starts, LEVEL)?);
        }
        if self.counts.excluded > 0 {
            let all = starts + self.counts.excluded;
            self.red_without_exclusions = Some(count_interval(self.reds, all, LEVEL)?);
        }
        Ok(())
    }
}

/// The sessions of the runs that were asked for.
fn sessions_of(lines: &OwnLines, asked: &WeeksAsked) -> Result<Vec<Session>, StatsError> {
    let readings = Readings::of(lines);
    let mut before = None;
    let mut sessions = Vec::new();
    for places in session::cut(lines.trials, &asked.filter, asked.by) {
        let day = lines.trials[places[0]].began.date();
        let mut left = session::cold_of(day, before);
        sessions.push(Session::new(places, lines.trials, &readings, &mut left)?);
        before = Some((day, left));
    }
    Ok(sessions)
}

fn calendar(sessions: &[Session]) -> Vec<(Date, usize)> {
    let mut days: BTreeMap<Date, usize> = BTreeMap::new();
    for session in sessions {
        if let Some(day) = session.day {
            *days.entry(day).or_default() += session.launches.len();
        }
    }
    days.into_iter().filter(|(_, launches)| *launches > 0).collect()
}

impl Compared {
    fn new(sessions: &[Session], asked: &WeeksAsked) -> Result<Self, StatsError> {
        let mut random = seed::generator(asked.seed);
        // A session of equal launches has a median but no spread: it stands in neither trend.
        let stands = |i: &usize| sessions[*i].spread_s.is_some();
        let charted: Vec<usize> = (0..sessions.len()).filter(stands).collect();
        let samples: Vec<Sample> = charted.iter().filter_map(|i| sessions[*i].warm()).collect();
        let level = SessionTrend::of_level(&samples, LEVEL, &mut random)?;
        let spread = SessionTrend::of_spread(&samples, LEVEL, &mut random)?;
        let medians: Vec<f64> = level.points.iter().map(|p| p.value).collect();
        let learning = told(Sample::new(medians).and_then(|medians| {
            learning_curve(&medians, LEVEL, LEARNING_FALSE_ALARM, &mut random)
        }))?;
        let plateau = learning.as_ref().and_then(|curve| plateau_place(curve, charted.len()));
        let all = |cold: bool| {
            let parts = sessions.iter().flat_map(|s| s.driver_parts_s(cold)).collect();
            told(Sample::new(parts).and_then(|s| quantile_with_interval(&s, 0.5, LEVEL)))
        };
        let whole: Vec<Sample> = sessions
            .iter()
            .filter_map(|s| {
                let counted = s.launches.iter().filter(|l| !l.excluded);
                Sample::new(counted.map(|launch| launch.driver_part_s).collect()).ok()
            })
            .collect();
        let lights = sessions.iter().flat_map(|s| &s.launches).filter(|l| !l.excluded);
        let lights = Sample::new(lights.map(|launch| launch.light_s).collect());
        Ok(Self {
            days: told(days(&samples, LEVEL))?,
            plateau_since: plateau.and_then(|place| sessions[charted[place]].day),
            within: told(within_session(&whole, COLD_LAUNCHES, LEVEL))?,
            cold_s: all(true)?,
            warm_s: all(false)?,
            light_s: told(lights.and_then(|l| quantile_with_interval(&l, 0.5, LEVEL)))?,
            bests: Bests::new(sessions),
            charted,
            level,
            spread,
            learning,
        })
    }
}

/// Nothing where there is too little to tell; other errors stay.
fn told<T>(answer: Result<T, StatsError>) -> Result<Option<T>, StatsError> {
    match answer {
        Ok(answer) => Ok(Some(answer)),
        Err(StatsError::TooFew { .. } | StatsError::NoSpread | StatsError::NoFit(_)) => Ok(None),
        Err(error) => Err(error),
    }
}

/// The first session by which a tenth of what there was to learn is left.
fn plateau_place(curve: &LearningCurve, sessions: usize) -> Option<usize> {
    curve.plateau?;
    let best = curve.fits.iter().min_by(|a, b| a.aicc.total_cmp(&b.aicc))?;
    let left = |place: &usize| {
        let n = *place as f64 + 1.0;
        (best.at(n) - best.plateau).abs() <= PLATEAU_SHARE * best.gain.abs()
    };
    (0..sessions).find(left)
}

impl SlipsBeside {
    fn new(lines: &OwnLines, setup: &OwnSetup, filter: &Filter) -> Result<Self, StatsError> {
        let inside = |line: &&SlipLine| filter.holds_day(line.slip.date);
        let kept: Vec<SlipLine> = slips_in_force(lines.slips)
            .into_iter()
            .filter(inside)
            .map(|line| SlipLine { corrects: None, ..line.clone() })
            .collect();
        let slips = OwnSlips::new(&OwnLines { slips: &kept, ..*lines }, setup);
        let red_lights = slips.rts_s().iter().filter(|rt| **rt < 0.0).count();
        let reds = red_lights + slips.counts.reds_without_number;
        let n = slips.counts.lights + slips.counts.reds_without_number;
        let light_s = Sample::new(slips.rts_s().to_vec())
            .and_then(|lights| quantile_with_interval(lights.at_least(LEAST_SLIPS)?, 0.5, LEVEL));
        Ok(Self {
            red: (n > 0).then(|| count_interval(reds, n, LEVEL)).transpose()?,
            light_s: told(light_s)?,
            slips,
            reds,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::over_time::curves::{CurveFit, Shape};
    use crate::stats::over_time::learning::Learning;

    /// e^−(N − 1)/2 of what there is to learn is left in session N: a tenth at N = 1 + 2 ln 10 = 5.6.
    #[test]
    fn the_plateau_is_reached_where_a_tenth_is_left() {
        let best = CurveFit {
            shape: Shape::Exponential,
            plateau: 0.200,
            gain: 0.050,
            exponential_rate: 0.5,
            power_rate: 0.0,
            rss: 1.0,
            aicc: 10.0,
            at_boundary: false,
        };
        let level = Estimate { value: 0.2, low: 0.19, high: 0.21, level: LEVEL, n: 12 };
        let curve = LearningCurve {
            outcome: Learning::NoneToSee,
            chance: 0.001,
            fits: vec![CurveFit { exponential_rate: 0.01, aicc: 20.0, ..best }, best],
            plateau: Some(level),
            caveats: Vec::new(),
        };
        assert_eq!(plateau_place(&curve, 12), Some(5));
        assert_eq!(plateau_place(&curve, 5), None);
        assert_eq!(plateau_place(&LearningCurve { plateau: None, ..curve }, 12), None);
    }
}
