//! A report as JSON.
//!
//! Owns its keys. Refuses to compute.

use crate::report::Document;
use crate::report::page::Block;
use crate::stats::Estimate;
use crate::stats::over_time::sessions::Changed;
use crate::strategy::weeks::{Session, Weeks};
use serde::Serialize;

/// A report for programs.
#[derive(Debug, Serialize)]
pub struct Answer {
    demo: bool,
    about: Vec<String>,
    from: Option<String>,
    to: Option<String>,
    headline: String,
    reds: usize,
    red: Option<Number>,
    red_without_exclusions: Option<Number>,
    spread_changed: Option<Change>,
    level_changed: Option<Change>,
    sessions: Vec<SessionAnswer>,
    pages: Vec<PageAnswer>,
}

/// A value with its interval; times in milliseconds where the key says so, else as they are.
#[derive(Debug, Serialize)]
struct Number {
    value: f64,
    low: f64,
    high: f64,
    level: f64,
    n: usize,
}

impl Number {
    fn of(e: &Estimate, unit: f64) -> Self {
        let Estimate { value, low, high, level, n } = *e;
        Self { value: unit * value, low: unit * low, high: unit * high, level, n }
    }
}

#[derive(Debug, Serialize)]
struct Change {
    sessions: usize,
    before: usize,
    by_ms: Number,
}

#[derive(Debug, Serialize)]
struct SessionAnswer {
    began: String,
    launches: usize,
    reds: usize,
    red: Option<Number>,
    red_without_exclusions: Option<Number>,
    median_ms: Option<Number>,
    spread_ms: Option<Number>,
    light_s: Option<Number>,
    excluded: usize,
    void: usize,
    abandoned: usize,
    lapsed: usize,
    left_before_tree: usize,
    timed_out: usize,
}

#[derive(Debug, Serialize)]
struct PageAnswer {
    name: String,
    headline: String,
    said: Vec<String>,
}

/// The answer of a report and the numbers under it.
pub fn answer(document: &Document, weeks: &Weeks) -> Answer {
    let change = |c: Changed| Change {
        sessions: c.sessions,
        before: c.before,
        by_ms: Number::of(&c.by, 1e3),
    };
    let share = |e: &Option<Estimate>| e.as_ref().map(|e| Number::of(e, 1.0));
    let compared = weeks.compared.as_ref();
    let pages = document.pages.iter().map(|(name, page)| PageAnswer {
        name: name.clone(),
        headline: page.headline.clone(),
        said: page.blocks.iter().flat_map(said).collect(),
    });
    Answer {
        demo: document.demo,
        about: document.about.clone(),
        from: weeks.calendar.first().map(|(day, _)| day.to_string()),
        to: weeks.calendar.last().map(|(day, _)| day.to_string()),
        headline: crate::report::weeks::headline(weeks),
        reds: weeks.reds,
        red: share(&weeks.red),
        red_without_exclusions: share(&weeks.red_without_exclusions),
        spread_changed: compared.and_then(|c| c.spread.changed).map(change),
        level_changed: compared.and_then(|c| c.level.changed).map(change),
        sessions: weeks.sessions.iter().map(session_answer).collect(),
        pages: pages.collect(),
    }
}

/// The sentences of a block; plots and tables are in the numbers.
fn said(block: &Block) -> Vec<String> {
    match block {
        Block::Text(text) | Block::Note(text) | Block::Caution(text) => vec![text.clone()],
        Block::Points(points) => points.clone(),
        _ => Vec::new(),
    }
}

fn session_answer(session: &Session) -> SessionAnswer {
    let counts = &session.own.counts;
    let number = |e: &Option<Estimate>, unit| e.as_ref().map(|e| Number::of(e, unit));
    SessionAnswer {
        began: session.began.clone(),
        launches: counts.launches,
        reds: session.reds,
        red: number(&session.red, 1.0),
        red_without_exclusions: number(&session.red_without_exclusions, 1.0),
        median_ms: number(&session.median_s, 1e3),
        spread_ms: number(&session.spread_s, 1e3),
        light_s: number(&session.light_s, 1.0),
        excluded: counts.excluded,
        void: counts.void,
        abandoned: counts.abandoned,
        lapsed: counts.lapses,
        left_before_tree: counts.left_before_tree,
        timed_out: counts.timed_out,
    }
}
