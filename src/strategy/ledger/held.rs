//! Forecasts held against what came, out of a driver's own lines.
//!
//! Owns which runs and which slips a forecast was made of, and what stands for every one: a score, or
//! why there is none. Refuses to show a forecast whose occasion still runs, and slips for a session
//! or practice for a night.

use super::{Came, Forecast, Ledger, Occasion, Score, score};
use crate::strategy::own::{OwnLines, OwnRuns, OwnSetup, OwnSlips, Readings, line_of, local_date};
use crate::trial::{Id, TrialRecord};
use jiff::civil::{Date, DateTime, Time};
use std::collections::HashMap;

/// How a forecast stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// What came, against it.
    Scored(Score),
    /// Nothing came that counts; for a night: no slip of it was typed in.
    NothingYet,
    /// It is not older than its first launch.
    MadeTooLate,
}

impl Standing {
    /// The score, where there is one.
    pub fn score(self) -> Option<Score> {
        match self {
            Self::Scored(score) => Some(score),
            Self::NothingYet | Self::MadeTooLate => None,
        }
    }
}

/// A forecast and what came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// What was expected.
    pub forecast: Forecast,
    /// What came.
    pub standing: Standing,
}

impl Ledger {
    /// Every forecast whose occasion is over, in the order they were saved; `running` is the occasion
    /// that is not.
    pub fn held_against(&self, lines: &OwnLines, running: Option<&str>) -> Vec<Held> {
        let readings = Readings::of(lines);
        let mut days: HashMap<Option<Date>, Vec<&TrialRecord>> = HashMap::new();
        for run in lines.trials {
            days.entry(run.began.date()).or_default().push(run);
        }
        let held = |forecast: &Forecast| {
            let standing = match forecast.declared.occasion {
                Occasion::TrackNight => of_night(lines, forecast),
                Occasion::Session => {
                    let day = local_date(&forecast.declared.occasion_id);
                    let runs = day.and_then(|day| days.get(&Some(day)));
                    of_session(&readings, runs.map_or(&[], Vec::as_slice), forecast)
                }
            };
            Held { forecast: forecast.clone(), standing }
        };
        self.shown(running).map(held).collect()
    }
}

/// A forecast of a session against the runs of its day.
fn of_session(readings: &Readings, of_day: &[&TrialRecord], forecast: &Forecast) -> Standing {
    let runs = of_day.iter().filter(|run| forecast.declared.is_of(run) && !run.setup.scripted);
    let Some(first_id) = runs.clone().map(|run| run.id.clone()).min() else {
        return Standing::NothingYet;
    };
    let own = OwnRuns::of(readings, runs.copied(), line_of);
    let lights_s = own.lights_s();
    let (left_before_tree, lapses) = (own.counts.left_before_tree, own.counts.lapses);
    standing(forecast, &Came { first_id, lights_s: &lights_s, left_before_tree, lapses })
}

/// A forecast of a night against its slips.
pub(in crate::strategy) fn of_night(lines: &OwnLines, forecast: &Forecast) -> Standing {
    let told = &forecast.declared;
    let of_it = lines.trials.iter().rev().find(|run| told.is_of(run));
    let (Some(run), Some(night)) = (of_it, local_date(&told.occasion_id)) else {
        return Standing::NothingYet;
    };
    // Lines that were corrected later too: the night was known from the first of them on.
    let typed = || {
        let of_night = |line: &&crate::history::SlipLine| line.slip.date == Some(night);
        lines.slips.iter().filter(of_night).filter(|line| !line.slip.is_simulated())
    };
    let Some(first_id) = typed().map(|line| Id::from(line.id.as_str())).min() else {
        return Standing::NothingYet;
    };
    let first_pass = typed().filter_map(|line| line.slip.time).min();
    if !is_before(&told.saved_at, night, first_pass) {
        return Standing::MadeTooLate;
    }
    let slips = OwnSlips::on(lines, &OwnSetup::of(run), night);
    let left_before_tree = slips.counts.reds_without_number;
    let lights_s = slips.rts_s();
    standing(forecast, &Came { first_id, lights_s, left_before_tree, lapses: 0 })
}

fn standing(forecast: &Forecast, came: &Came) -> Standing {
    match score(forecast, came) {
        Ok(Some(score)) => Standing::Scored(score),
        Ok(None) => Standing::NothingYet,
        Err(_) => Standing::MadeTooLate,
    }
}

/// Whether wall time `saved_at` lies before the first pass of a night, at its end where no slip says
/// when.
fn is_before(saved_at: &str, night: Date, first_pass: Option<Time>) -> bool {
    let saved: Option<DateTime> = saved_at.get(..19).and_then(|time| time.parse().ok());
    saved.is_some_and(|saved| saved < night.to_datetime(first_pass.unwrap_or(Time::MAX)))
}
