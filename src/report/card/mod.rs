//! A card of one's own numbers, the size of a time slip, to pin up or to share.
//!
//! Owns what stands on it and the words for what cannot be told yet. Refuses computing, and to look
//! like a slip somebody official handed out: it says what it is.

mod drawing;
mod layout;
mod painted;
mod rows;

use super::desk::{counts_words, start_words};
use super::page::Form;
use super::picture::PictureError;
use crate::strategy::desk::Desk;
use crate::strategy::own::OwnSetup;
use crate::strategy::weeks::Weeks;
use rows::{Row, rows};

/// Sessions that have room on the plot.
const MOST_SESSIONS: usize = 24;
/// Millimetres a unit of the drawing: 90 mm × 160 mm.
const MM_PER_UNIT: f64 = 0.25;
/// Pixels a unit of the drawing: 1080 × 1920, 305 to the inch.
const PIXELS_PER_UNIT: u16 = 3;

/// The ground a card is printed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Ground {
    /// Paper.
    #[default]
    Light,
    /// A screen in the dark.
    Dark,
}

/// What stands on a card.
#[derive(Debug, Clone, PartialEq)]
pub struct Card {
    driver: String,
    car: String,
    start: String,
    covers: String,
    demo: bool,
    rows: Vec<Row>,
    plot: Result<Sessions, String>,
    left_out: Option<String>,
}

/// Sessions on the plot, oldest first.
#[derive(Debug, Clone, PartialEq)]
struct Sessions {
    title: String,
    /// `[median, spread]`, s.
    at: Vec<[f64; 2]>,
    first: String,
    last: String,
}

impl Card {
    /// The card of a set-up; `desk` where there is an answer to how things stand at the track.
    pub fn new(setup: &OwnSetup, weeks: &Weeks, desk: Option<&Desk>, demo: bool) -> Self {
        let said = |text: &str, otherwise: &str| match text.trim() {
            "" => otherwise.to_owned(),
            text => text.to_owned(),
        };
        let counts = counts_words(&weeks.counts, &weeks.guess_test);
        Self {
            driver: said(&setup.driver, "A driver without a name"),
            car: said(&setup.car, "a car without a name"),
            start: start_words(setup),
            covers: covers(weeks),
            demo,
            rows: rows(weeks, desk),
            plot: sessions(weeks),
            left_out: (!counts.is_empty()).then(|| format!("Of the runs: {}.", counts.join(", "))),
        }
    }

    /// The card as one SVG file without script and without anything to fetch.
    pub fn svg(&self, ground: Ground) -> String {
        layout::drawn(self, ground).svg(MM_PER_UNIT)
    }

    /// The same picture as a PNG file.
    ///
    /// # Errors
    /// [`PictureError`] if the picture cannot be made into a file.
    pub fn png(&self, ground: Ground) -> Result<Vec<u8>, PictureError> {
        painted::png(&layout::drawn(self, ground), PIXELS_PER_UNIT)
    }
}

/// `2026-05-01 to 2026-06-11: 312 runs in 18 sessions`.
fn covers(weeks: &Weeks) -> String {
    let runs: usize = weeks.sessions.iter().map(|session| session.runs.len()).sum();
    let counted = |n: usize, what: &str| format!("{n} {what}{}", if n == 1 { "" } else { "s" });
    let sum = format!("{} in {}", counted(runs, "run"), counted(weeks.sessions.len(), "session"));
    match (weeks.calendar.first(), weeks.calendar.last()) {
        (Some((first, _)), Some((last, _))) if first == last => format!("{first}: {sum}"),
        (Some((first, _)), Some((last, _))) => format!("{first} to {last}: {sum}"),
        _ => sum,
    }
}

/// Median and spread of the newest sessions that have both.
fn sessions(weeks: &Weeks) -> Result<Sessions, String> {
    if let Some(unlike) = rows::unlike(weeks) {
        return Err(format!("{unlike}: not drawn as one course."));
    }
    let told = weeks.sessions.iter().filter_map(|session| {
        Some((session, session.median_s.as_ref()?.value, session.spread_s.as_ref()?.value))
    });
    let told: Vec<_> = told.collect();
    let newest = &told[told.len().saturating_sub(MOST_SESSIONS)..];
    let ([(first, ..), ..], [.., (last, ..)]) = (newest, newest) else {
        return Err(format!("No session to draw yet: {}.", rows::WARM_WORDS));
    };
    let day = |session: &crate::strategy::weeks::Session| {
        session.day.map_or_else(String::new, |day| day.to_string())
    };
    let which = match told.len() {
        1 => "the session".to_owned(),
        n if n > MOST_SESSIONS => format!("the newest {MOST_SESSIONS} of {n} sessions"),
        n => format!("{n} sessions"),
    };
    Ok(Sessions {
        title: format!("Median \u{b1} spread of {which}, ms"),
        at: newest.iter().map(|(_, median, spread)| [*median, *spread]).collect(),
        first: day(first),
        last: day(last),
    })
}

/// The number of a tick, ms.
fn tick_words(seconds: f64) -> String {
    Form::Millis.words(seconds)
}

#[cfg(test)]
mod tests;
