//! A track night: five launches minutes apart, against the forecast and against ordinary runs.
//!
//! Owns which runs are a night, their slips and what they are held against. Refuses to hold a night
//! against itself: its runs are none of the ordinary ones.

use super::StrategyError;
use super::desk::LEVEL;
use super::ledger::{Came, Forecast, Ledger, Occasion, Score, score};
use super::own::{
    OwnCar, OwnLines, OwnRuns, OwnSetup, Readings, is_cold, is_lit_guess_test, line_of,
};
use crate::drill::night::{LAUNCHES, is_start};
use crate::history::ForecastLine;
use crate::rules::{SlipTime, TrackLength};
use crate::slips::{Slip, practice_pass, practice_slip};
use crate::stats::home_to_track::Evidence;
use crate::stats::risk::count_interval;
use crate::stats::summary::{mean_with_interval, quantile_of_sorted};
use crate::stats::{Estimate, Sample};
use crate::trial::{Drill, TrialRecord};

/// Ordinary launches from which a night is held against them. Chosen: fewer have no range.
const LEAST_ORDINARY: usize = 20;

/// One launch of a night.
#[derive(Debug, Clone, PartialEq)]
pub struct NightLaunch {
    /// Its run.
    pub run: TrialRecord,
    /// The light with today's delay, s.
    pub light_s: Option<f64>,
    /// It was cold.
    pub cold: bool,
    /// Its practice slip: the launch timed, the pass computed; `None` where a track prints none.
    pub slip: Option<Slip>,
}

/// Ordinary launches of the same set-up, before the night.
#[derive(Debug, Clone, PartialEq)]
pub struct Ordinary {
    /// Their mean light, s.
    pub mean_s: Estimate,
    /// Nine in ten of them lie between these, s.
    pub range_s: (f64, f64),
    /// Their share of red starts.
    pub red: Estimate,
    /// The night's mean light less theirs, s; later above 0. `None` below two lights in the night.
    pub difference_s: Option<Estimate>,
    /// Lights of the night inside that range, and lights.
    pub inside: (usize, usize),
}

/// A night.
#[derive(Debug, Clone, PartialEq)]
pub struct Night {
    /// Its launches, in order; five once it is over.
    pub launches: Vec<NightLaunch>,
    /// Red starts among them.
    pub reds: usize,
    /// What was forecast before its first launch, and the night's score.
    pub forecast: Option<(Forecast, Score)>,
    /// What it is held against; `None` below twenty ordinary launches.
    pub ordinary: Option<Ordinary>,
    /// Ordinary launches there are.
    pub ordinary_launches: usize,
}

impl Night {
    /// The newest night of the lines, finished or not; `None` if there was none.
    ///
    /// # Errors
    /// [`StrategyError::Stats`] for times that are no numbers.
    pub fn newest(
        lines: &OwnLines,
        forecasts: &[ForecastLine],
    ) -> Result<Option<Self>, StrategyError> {
        let runs = newest_night(lines.trials);
        let Some(first) = runs.first() else { return Ok(None) };
        let readings = Readings::of(lines);
        let setup = OwnSetup::of(first);
        let car = OwnCar::new(lines, &setup);
        let launches: Vec<NightLaunch> = runs
            .iter()
            .map(|run| NightLaunch {
                light_s: light_s(run, &readings),
                cold: is_cold(&run.setup, place_of_day(run, &setup, lines.trials)),
                slip: slip_of(run, &car),
                run: (*run).clone(),
            })
            .collect();
        let own = OwnRuns::of(&readings, runs.iter().copied(), line_of);
        let lights = launches.iter().filter_map(|launch| launch.light_s);
        let lights_s: Vec<f64> = lights.collect();
        let reds = lights_s.iter().filter(|light| **light < 0.0).count();
        let reds = reds + own.counts.left_before_tree;
        let came = Came {
            first_id: first.id.clone(),
            lights_s: &lights_s,
            left_before_tree: own.counts.left_before_tree,
            lapses: own.counts.lapses,
        };
        let before = lines.trials.iter().take_while(|run| run.id != first.id);
        let before = before.filter(|run| setup.holds(run) && run.setup.drill != Drill::TrackNight);
        let before = OwnRuns::of(&readings, before, line_of);
        let ordinary_launches = before.counts.launches;
        Ok(Some(Self {
            forecast: forecast_of(forecasts, first, &came),
            ordinary: ordinary(&before, &lights_s)?,
            ordinary_launches,
            launches,
            reds,
        }))
    }

    /// All its launches are made.
    pub fn is_over(&self) -> bool {
        self.launches.len() >= LAUNCHES
    }
}

/// The starts of the newest night: nights of one day follow each other by fives.
fn newest_night(trials: &[TrialRecord]) -> Vec<&TrialRecord> {
    let of_nights = |run: &&TrialRecord| {
        run.setup.drill == Drill::TrackNight && !run.setup.scripted && is_start(run.outcome)
    };
    let Some(newest) = trials.iter().rev().find(of_nights) else { return Vec::new() };
    let (setup, day) = (OwnSetup::of(newest), newest.began.date());
    let of_day = trials.iter().filter(of_nights);
    let of_day = of_day.filter(|run| setup.holds(run) && run.began.date() == day);
    let of_day: Vec<&TrialRecord> = of_day.collect();
    of_day.chunks(LAUNCHES).next_back().map(<[_]>::to_vec).unwrap_or_default()
}

/// Starts of its day and set-up before a run.
fn place_of_day(run: &TrialRecord, setup: &OwnSetup, trials: &[TrialRecord]) -> usize {
    let day = run.began.date();
    let before = trials.iter().take_while(|other| other.id != run.id);
    let of_it = before
        .filter(|other| setup.holds(other) && !other.setup.scripted && !is_lit_guess_test(other));
    of_it.filter(|other| is_start(other.outcome) && other.began.date() == day).count()
}

fn light_s(run: &TrialRecord, readings: &Readings) -> Option<f64> {
    let parts = run.parts?;
    let today_s = readings.films.today(run).value / 1000.0;
    Some(parts.driver_raw.as_secs_f64() - today_s + (parts.car - parts.interval).as_secs_f64())
}

/// The practice slip of a run: the pass is computed where the car is known well enough for one.
fn slip_of(run: &TrialRecord, car: &OwnCar) -> Option<Slip> {
    let pass = |model| practice_pass(model, run, TrackLength::Quarter).ok().flatten();
    let pass = car.model.as_ref().and_then(pass);
    let dial_s = car.model.as_ref().and_then(|model| model.details().dial_s);
    let dial = dial_s.and_then(|dial_s| SlipTime::from_seconds(dial_s).ok());
    practice_slip(run, dial, pass.as_ref(), None).ok()
}

/// The newest forecast of the night's day and set-up that is older than its first launch.
fn forecast_of(
    forecasts: &[ForecastLine],
    first: &TrialRecord,
    came: &Came,
) -> Option<(Forecast, Score)> {
    let day = first.began.date()?.to_string();
    let told = Ledger::new(forecasts);
    let of_it = told.of_occasion(&day).filter(|forecast| {
        forecast.declared.occasion == Occasion::Session && forecast.declared.is_of(first)
    });
    let scored = of_it.filter_map(|f| Some((f.clone(), score(f, came).ok().flatten()?)));
    scored.max_by(|(a, _), (b, _)| a.declared.id.cmp(&b.declared.id))
}

fn ordinary(before: &OwnRuns, night_s: &[f64]) -> Result<Option<Ordinary>, StrategyError> {
    let lights = before.lights_s();
    let starts = before.counts.launches + before.counts.left_before_tree + before.counts.lapses;
    if lights.len() < LEAST_ORDINARY {
        return Ok(None);
    }
    let reds = lights.iter().filter(|light| **light < 0.0).count();
    let lights = Sample::new(lights)?;
    let sorted = lights.sorted();
    let range_s = (quantile_of_sorted(&sorted, 0.05), quantile_of_sorted(&sorted, 0.95));
    let inside = night_s.iter().filter(|x| (range_s.0..=range_s.1).contains(*x)).count();
    let night = Sample::new(night_s.to_vec()).ok();
    let difference = night.and_then(|night| {
        let evidence =
            Evidence { slips_s: &night, practice_s: &lights, days_se_s: 0.0, car_doubt_sd_s: 0.0 };
        evidence.difference(LEVEL).ok()
    });
    Ok(Some(Ordinary {
        mean_s: mean_with_interval(&lights, LEVEL)?,
        range_s,
        red: count_interval(reds + before.counts.left_before_tree, starts, LEVEL)?,
        difference_s: difference.map(|difference| difference.seconds),
        inside: (inside, night_s.len()),
    }))
}
