//! The numbers of a card, each with its interval and count, or why there is none yet.
//!
//! Owns which numbers and their words. Refuses a number without an interval.

use crate::report::advice::percent;
use crate::report::page::{Form, Hue};
use crate::report::weeks::unlike_words;
use crate::report::words::ms;
use crate::stats::Estimate;
use crate::stats::over_time::sessions::LEAST_LAUNCHES;
use crate::stats::risk::LEAST_FOR_RISK;
use crate::strategy::aim::Headline;
use crate::strategy::desk::Desk;
use crate::strategy::ledger::Occasion;
use crate::strategy::weeks::{Compared, Weeks};

/// What a median and a spread of a session need.
pub const WARM_WORDS: &str = "eight launches after a day's first three tell";
const _: () = assert!(LEAST_LAUNCHES == 8, "the words above say eight");

/// A number with its name.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// What it is.
    pub name: String,
    /// The number as it is read; `None` while it is not known.
    pub value: Option<String>,
    /// Its interval and count, or why there is none.
    pub detail: String,
    /// Whose it is.
    pub hue: Hue,
}

impl Row {
    fn told(name: &str, value: String, detail: String) -> Self {
        Self { name: name.to_owned(), value: Some(value), detail, hue: Hue::Text }
    }

    fn not_yet(name: &str, why: String) -> Self {
        Self { name: name.to_owned(), value: None, detail: why, hue: Hue::Text }
    }

    fn hued(self, hue: Hue) -> Self {
        Self { hue, ..self }
    }
}

/// In what the runs differ that should be alike, where nobody said they may be taken together.
pub fn unlike(weeks: &Weeks) -> Option<String> {
    let kinds = || weeks.unlike.iter().map(unlike_words).collect::<Vec<_>>().join(" and ");
    weeks.compared.is_none().then(kinds)
}

/// All rows, in order.
pub fn rows(weeks: &Weeks, desk: Option<&Desk>) -> Vec<Row> {
    vec![
        median(weeks).hued(Hue::Driver),
        spread(weeks).hued(Hue::Driver),
        reds(weeks).hued(Hue::Risk),
        light(weeks),
        at_the_track(desk).hued(Hue::Risk),
        forecast(weeks).hued(Hue::Risk),
    ]
}

/// A number of sessions taken together, or why they are not.
fn of_compared<'a, T>(
    weeks: &'a Weeks,
    number: impl Fn(&'a Compared) -> Option<T>,
    otherwise: &str,
) -> Result<T, String> {
    match &weeks.compared {
        None => Err(unlike(weeks).unwrap_or_default()),
        Some(compared) => number(compared).ok_or_else(|| otherwise.to_owned()),
    }
}

/// A median of a few launches is none.
fn enough(e: &Option<Estimate>) -> Option<&Estimate> {
    e.as_ref().filter(|e| e.n >= LEAST_LAUNCHES)
}

fn millis(name: &str, e: &Estimate) -> Row {
    let detail = format!("{} to {}, n = {}", ms(e.low), ms(e.high), e.n);
    Row::told(name, format!("{} ms", ms(e.value)), detail)
}

fn median(weeks: &Weeks) -> Row {
    let name = "Last amber to launch, median";
    let told = of_compared(weeks, |c| enough(&c.warm_s), WARM_WORDS);
    told.map_or_else(|why| Row::not_yet(name, why), |e| millis(name, e))
}

fn spread(weeks: &Weeks) -> Row {
    let of_days = of_compared(weeks, |c| c.days.as_ref().map(|days| &days.within), WARM_WORDS);
    let newest = weeks.sessions.iter().rev().find_map(|session| session.spread_s.as_ref());
    match (of_days, newest) {
        (Ok(e), _) => millis("Spread within a session", e),
        (Err(_), Some(e)) if weeks.compared.is_some() => millis("Spread of the newest session", e),
        (Err(why), _) => Row::not_yet("Spread within a session", why),
    }
}

fn reds(weeks: &Weeks) -> Row {
    let name = "Red lights at home";
    let Some(e) = &weeks.red else {
        return Row::not_yet(name, "no start yet".to_owned());
    };
    let back_in = weeks
        .red_without_exclusions
        .as_ref()
        .map_or_else(String::new, |all| format!("; with what was left out {}", percent(all.value)));
    let detail = format!("{}, {} of {} starts{back_in}", interval(e), weeks.reds, e.n);
    Row::told(name, percent(e.value), detail)
}

fn light(weeks: &Weeks) -> Row {
    let name = "Light at home, median";
    let words = |x: f64| Form::Light.words(x);
    match of_compared(weeks, |c| enough(&c.light_s), "eight launches tell") {
        Ok(e) => {
            let detail = format!("{} to {}, n = {}", words(e.low), words(e.high), e.n);
            Row::told(name, words(e.value), detail)
        }
        Err(why) => Row::not_yet(name, why),
    }
}

fn at_the_track(desk: Option<&Desk>) -> Row {
    let name = "Red at the track in this car";
    let Some(told) = desk.and_then(Desk::main) else {
        let more = desk.map_or(LEAST_FOR_RISK, Desk::missing);
        return Row::not_yet(name, format!("{more} more launches tell"));
    };
    let risk = told.headline.risk();
    let range = format!("{}, n = {}", interval(&risk), risk.n);
    match told.headline {
        Headline::Known(risk) => Row::told(name, percent(risk.value), range),
        Headline::NotKnown { .. } => Row::not_yet(name, format!("anything from {range}")),
    }
}

fn forecast(weeks: &Weeks) -> Row {
    let Some(board) = &weeks.board else {
        return Row::not_yet("Forecast of reds", "none was made and came to an end".to_owned());
    };
    let first = &board.first;
    let name = match first.occasion {
        Occasion::TrackNight => "Forecast of the newest track night",
        Occasion::Session => "Forecast of the newest session",
    };
    let (low, high) = first.expected_reds;
    let value = if low == high { format!("{low} red") } else { format!("{low} to {high} red") };
    let detail = format!(
        "{} red was told; of {} starts {} came",
        percent(first.forecast),
        first.starts,
        first.reds
    );
    Row::told(name, value, detail)
}

fn interval(e: &Estimate) -> String {
    format!("{} to {}", percent(e.low).trim_end_matches(" %"), percent(e.high))
}
