//! Parts of the page Weeks: reds, days, a session's course, bests, the table.
//!
//! Owns what is in them. Refuses to hide what does not count.

use super::plots::calendar_plot;
use super::words::{capital, session_name, sessions, unlike_words};
use crate::report::advice::{chance, percent};
use crate::report::desk::counts_words;
use crate::report::page::{Block, Form, Page, Table};
use crate::report::words::{light_with_interval, ms, ms_with_interval};
use crate::stats::Estimate;
use crate::stats::over_time::within_session::{Effect, Trend};
use crate::strategy::ledger::Occasion;
use crate::strategy::weeks::{Bests, Compared, Session, Weeks};
use std::collections::HashSet;

/// Sessions listed; the others are counted.
const MOST_SESSIONS: usize = 40;

/// That unlike runs are looked at together.
pub fn push_unlike(page: &mut Page, weeks: &Weeks) {
    for unlike in &weeks.unlike {
        let what = capital(&unlike_words(unlike));
        page.caution(match weeks.compared {
            Some(_) => {
                format!("{what} together, as you said: what differs may be theirs, not yours.")
            }
            None => format!("{what}: a difference between them is not one of yours."),
        });
    }
}

/// Reds with and without exclusions, against forecasts, beside slips.
pub fn push_reds(page: &mut Page, weeks: &Weeks) {
    match &weeks.red {
        Some(red) => {
            page.text(format!("Here: {} of {} starts red, {}.", weeks.reds, red.n, chance(red)))
        }
        None => page.text("No start yet."),
    };
    if let Some(all) = &weeks.red_without_exclusions {
        page.note(format!(
            "With the runs you left out back in: {} of {}, {}. A red stays counted either way.",
            weeks.reds,
            all.n,
            chance(all)
        ));
    }
    if let Some(slips) = &weeks.slips {
        let said = match (&slips.red, &slips.light_s) {
            (None, _) => "No slip of this set-up.".to_owned(),
            (Some(red), None) => {
                format!("On slips: {} of {} red, {}.", slips.reds, red.n, chance(red))
            }
            (Some(red), Some(light)) => format!(
                "On slips: {} of {} red, {}; median R/T {}. Practice and slips stand side by side and \
                 are never mixed.",
                slips.reds,
                red.n,
                chance(red),
                light_with_interval(light)
            ),
        };
        page.text(said);
    }
    if let Some(light) = weeks.compared.as_ref().and_then(|c| c.light_s.as_ref()) {
        page.note(format!("Median light here: {}.", light_with_interval(light)));
    }
    push_forecasts(page, weeks);
    if let Ok(Some(guesses)) = weeks.guess_test.share(crate::strategy::weeks::LEVEL) {
        page.text(format!(
            "Guess test: left in {} of {} blank runs; at least {} of your launches are guesses.",
            weeks.guess_test.guesses,
            weeks.guess_test.blanks,
            chance(&guesses)
        ));
    }
}

fn push_forecasts(page: &mut Page, weeks: &Weeks) {
    let Some(board) = &weeks.board else { return };
    let first = &board.first;
    let (low, high) = first.expected_reds;
    let of = match first.occasion {
        Occasion::TrackNight => "your newest night at the track",
        Occasion::Session => "the newest session it was made for",
    };
    page.text(format!(
        "Forecast of {of}: {} red, so {low} to {high} of {}; {} came. Of all \
         forecasts {} held (nine in ten should).",
        percent(first.forecast),
        first.starts,
        first.reds,
        chance(&board.hits)
    ));
}

/// Days and their launches.
pub fn push_calendar(page: &mut Page, weeks: &Weeks) {
    let (Some((first, _)), Some((last, _))) = (weeks.calendar.first(), weeks.calendar.last())
    else {
        page.text("No day with a launch yet.");
        return;
    };
    let days = weeks.calendar.len();
    let launches: usize = weeks.calendar.iter().map(|(_, launches)| launches).sum();
    let span = first.until(*last).map_or(0, |span| span.get_days()) + 1;
    page.text(format!(
        "Practised on {days} of {span} days, about {} launches each. Days beat volume: ten launches on \
         three days tell and teach more than thirty on one.",
        (launches as f64 / days as f64).round()
    ));
    page.push(Block::Plot(calendar_plot(weeks)));
}

/// Warm-up and fatigue.
pub fn push_within(page: &mut Page, compared: &Compared) {
    let Some(within) = &compared.within else {
        page.text("From twenty launches on, warm-up and fatigue are told.");
        return;
    };
    let points = vec![
        effect("The first three launches of a session", &within.warm_up_level, false),
        effect("Every ten launches after them", &within.fatigue_level, false),
        effect("The first three launches of a session", &within.warm_up_spread, true),
        effect("Every ten launches after them", &within.fatigue_spread, true),
    ];
    page.push(Block::Points(points));
}

fn effect(what: &str, effect: &Effect, of_spread: bool) -> String {
    let words = match of_spread {
        true => ["more uneven", "more even", "spread"],
        false => ["later", "earlier", "level"],
    };
    let size = |x: f64| match of_spread {
        true => percent(x.abs()),
        false => format!("{} ms", ms(x.abs())),
    };
    let e = &effect.size;
    let range = |of: f64| match of_spread {
        true => format!("{:.0} %", 100.0 * of),
        false => format!("{} ms", ms(of)),
    };
    let word = match effect.trend {
        Trend::More => words[0],
        Trend::Less => words[1],
        Trend::NoneToSee => {
            return format!(
                "{what}: no difference of the {} to see ({} to {}, n = {}).",
                words[2],
                range(e.low),
                range(e.high),
                e.n
            );
        }
    };
    let (low, high) = (range(e.low), range(e.high));
    format!("{what}: {} {word} ({low} to {high}, n = {}).", size(e.value), e.n)
}

/// Personal bests.
pub fn push_bests(page: &mut Page, weeks: &Weeks, bests: &Bests) {
    let mut points = Vec::new();
    if let Some((place, spread)) = &bests.steadiest {
        let day = session_name(weeks, *place);
        points.push(format!("Steadiest session: {day}, spread {}.", ms_with_interval(spread)));
    }
    if let Some(ten) = &bests.ten {
        let light = |x: f64| Form::Light.words(x);
        points.push(format!(
            "Best ten in a row, no red and no guess among them: {}, median light {} ({} to {}).",
            session_name(weeks, ten.session),
            light(ten.median_s),
            light(ten.earliest_s),
            light(ten.latest_s)
        ));
    }
    if !points.is_empty() {
        page.heading("Personal bests");
        page.push(Block::Points(points));
        page.note("One good light is no best: it may be a lucky guess.");
    }
}

/// The newest sessions, newest first.
pub fn sessions_table(weeks: &Weeks) -> Table {
    let columns = ["", "launches", "median, ms", "spread, ms", "red", "forecast red", "left out"];
    let all = weeks.sessions.len();
    let title = match all {
        n if n > MOST_SESSIONS => format!("The newest {MOST_SESSIONS} of {}", sessions(n)),
        n => sessions(n),
    };
    let mut table = Table::new(title, &columns);
    for place in (0..all).rev().take(MOST_SESSIONS) {
        let session = &weeks.sessions[place];
        let of = |e: &Option<Estimate>| {
            e.as_ref().map_or_else(String::new, |e| {
                format!("{} ({} to {})", ms(e.value), ms(e.low), ms(e.high))
            })
        };
        let starts = session.red.as_ref().map_or(0, |red| red.n);
        let expected = session.score.map_or_else(String::new, |score| {
            format!("{} to {}", score.expected_reds.0, score.expected_reds.1)
        });
        table.push([
            session_name(weeks, place),
            session.own.counts.launches.to_string(),
            of(&session.median_s),
            of(&session.spread_s),
            format!("{} of {starts}", session.reds),
            expected,
            left_out(session),
        ]);
    }
    table
}

fn left_out(session: &Session) -> String {
    let counts = &session.own.counts;
    let kinds = [
        (counts.excluded, "excluded"),
        (counts.void, "void"),
        (counts.abandoned, "abandoned"),
        (counts.lapses, "lapsed"),
    ];
    let said = kinds.iter().filter(|(n, _)| *n > 0).map(|(n, word)| format!("{n} {word}"));
    said.collect::<Vec<String>>().join(", ")
}

/// What did not count, and every doubt.
pub fn push_end(page: &mut Page, weeks: &Weeks) {
    let counts = counts_words(&weeks.counts, &weeks.guess_test);
    if !counts.is_empty() {
        page.note(format!("Of your runs: {}.", counts.join(", ")));
    }
    page.note(
        "Medians and spreads are of launches after a day's first three, with the delay of today.",
    );
    let Some(compared) = &weeks.compared else { return };
    let mut doubts: Vec<String> = Vec::new();
    let limits = [&compared.level.limits, &compared.spread.limits];
    doubts
        .extend(limits.iter().copied().flatten().flat_map(|l| &l.caveats).map(ToString::to_string));
    doubts.extend(compared.days.iter().flat_map(|d| &d.caveats).map(ToString::to_string));
    doubts.extend(compared.learning.iter().flat_map(|l| &l.caveats).map(ToString::to_string));
    let mut seen = HashSet::new();
    for doubt in doubts.into_iter().filter(|doubt| seen.insert(doubt.clone())) {
        page.note(format!("{}.", capital(&doubt)));
    }
}
