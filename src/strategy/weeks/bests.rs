//! Personal bests.
//!
//! Owns what a best is: an even session, ten good lights in a row. Refuses single launches: one good
//! light may be a lucky guess.

use super::session::{SeenLaunch, Session};
use crate::stats::Estimate;
use crate::stats::summary::quantile_of_sorted;
use jiff::civil::Date;

/// Launches in a row.
const IN_A_ROW: usize = 10;
/// Launches a session needs to be the steadiest.
const LEAST: usize = 20;
/// Personal bests.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Bests {
    /// The session with the smallest upper limit of its spread: its place, and the spread, s. A small
    /// spread by luck has a wide interval.
    pub steadiest: Option<(usize, Estimate)>,
    /// The best ten launches in a row without a red and without a guess.
    pub ten: Option<BestTen>,
}

/// Ten launches in a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BestTen {
    /// Their session, by place.
    pub session: usize,
    /// Its day.
    pub day: Option<Date>,
    /// Their median light, s.
    pub median_s: f64,
    /// The earliest of them, s.
    pub earliest_s: f64,
    /// The latest, s.
    pub latest_s: f64,
}

impl Bests {
    pub(super) fn new(sessions: &[Session]) -> Self {
        let spreads = sessions.iter().enumerate().filter_map(|(i, s)| Some((i, s.spread_s?)));
        let steadiest = spreads
            .filter(|(_, spread)| spread.n >= LEAST)
            .min_by(|a, b| a.1.high.total_cmp(&b.1.high));
        let tens = sessions.iter().enumerate().flat_map(|(i, session)| tens(i, session));
        let ten = tens.min_by(|a, b| a.median_s.total_cmp(&b.median_s));
        Self { steadiest, ten }
    }
}

/// Every ten in a row of a session that may be a best.
fn tens(place: usize, session: &Session) -> Vec<BestTen> {
    let mut tens = Vec::new();
    for row in unbroken(session) {
        for ten in row.windows(IN_A_ROW) {
            let mut lights: Vec<f64> = ten.iter().map(|launch| launch.light_s).collect();
            lights.sort_by(f64::total_cmp);
            tens.push(BestTen {
                session: place,
                day: session.day,
                median_s: quantile_of_sorted(&lights, 0.5),
                earliest_s: lights[0],
                latest_s: lights[IN_A_ROW - 1],
            });
        }
    }
    tens
}

/// Launches between reds, guesses, starts without a time and what was left out.
fn unbroken(session: &Session) -> Vec<Vec<SeenLaunch>> {
    let mut rows = vec![Vec::new()];
    let mut others = session.other_starts.iter().peekable();
    for launch in &session.launches {
        let mut broken = launch.light_s < 0.0 || launch.guess || launch.excluded;
        let fine = !broken;
        while others.next_if(|place| **place < launch.run).is_some() {
            broken = true;
        }
        if broken {
            rows.push(Vec::new());
        }
        if let (true, Some(row)) = (fine, rows.last_mut()) {
            row.push(*launch);
        }
    }
    rows
}
