//! Sentences of the page Weeks.
//!
//! Owns how a change, a plateau and an odd session are said. Refuses to claim a change the search did
//! not find, and praise.

use crate::report::words::{ms, ms_with_interval};
use crate::stats::Estimate;
use crate::stats::over_time::days::DayToDay;
use crate::stats::over_time::in_control::Direction;
use crate::stats::over_time::learning::Learning;
use crate::stats::over_time::sessions::{Changed, LEAST_LAUNCHES, LEAST_SESSIONS};
use crate::strategy::weeks::{Compared, Unlike, Weeks, What};

/// The answer in a sentence or two.
pub fn headline(weeks: &Weeks) -> String {
    let Some(compared) = &weeks.compared else {
        let asked: Vec<String> = weeks.unlike.iter().map(unlike_words).collect();
        return format!(
            "{} in these runs: choose one, or say that they may be looked at together.",
            capital(&asked.join(" and "))
        );
    };
    if weeks.sessions.is_empty() {
        return "Nothing to look back on yet.".to_owned();
    }
    let spread = compared.spread.changed.map(|c| changed_words(&c, ["less steady", "steadier"]));
    let level = compared.level.changed.map(|c| changed_words(&c, ["later", "earlier"]));
    let said: Vec<String> = spread.into_iter().chain(level).collect();
    if !said.is_empty() {
        return said.join(" ");
    }
    if let Some(learning) = &compared.learning
        && learning.outcome != Learning::NoneToSee
    {
        return "No step to see, but a slow change over all sessions.".to_owned();
    }
    match compared.charted.len() {
        n if n < LEAST_SESSIONS => format!(
            "{} so far: from {LEAST_SESSIONS} on, with {LEAST_LAUNCHES} launches and more each, a change can \
             be told.",
            sessions(n)
        ),
        n => match &compared.days {
            Some(days) => format!(
                "No change to see over {}: your spread is {}.",
                sessions(n),
                ms_with_interval(&days.within)
            ),
            None => format!("No change to see over {}.", sessions(n)),
        },
    }
}

/// `The last 3 sessions are steadier than the 15 before by 6 to 11 ms.` `words`: for more, for less.
pub fn changed_words(changed: &Changed, words: [&str; 2]) -> String {
    let [more, less] = words;
    let (word, by) = match changed.direction {
        Direction::Up => (more, changed.by),
        Direction::Down => (less, flipped(&changed.by)),
    };
    let (n, before) = (changed.sessions, changed.before);
    let of = format!("The last {n} sessions are {word} than the {before} before by");
    if by.low > 0.0 {
        format!("{of} {} to {} ms.", ms(by.low), ms(by.high))
    } else {
        format!("{of} about {} ms ({} to {}).", ms(by.value), ms(by.low), ms(by.high))
    }
}

fn flipped(by: &Estimate) -> Estimate {
    Estimate { value: -by.value, low: -by.high, high: -by.low, ..*by }
}

/// The spread: what it is, whether it changed, how much days differ.
pub fn spread_sentence(compared: &Compared) -> String {
    let mut said = Vec::new();
    if let Some(changed) = &compared.spread.changed {
        said.push(changed_words(changed, ["less steady", "steadier"]));
    } else if compared.charted.len() >= LEAST_SESSIONS {
        said.push("No change to see.".to_owned());
    }
    if let Some(days) = &compared.days {
        said.push(format!(
            "Within a session your launches spread by {} (standard deviation).",
            ms_with_interval(&days.within)
        ));
        said.push(match days.outcome {
            DayToDay::Seen => format!(
                "Sessions differ on top of that by {}: good days and bad days.",
                ms_with_interval(&days.between)
            ),
            DayToDay::NoneToSee => "That alone explains how sessions differ.".to_owned(),
        });
    }
    match said.is_empty() {
        true => format!(
            "Sessions with {LEAST_LAUNCHES} launches and more, cold ones apart, stand here."
        ),
        false => said.join(" "),
    }
}

/// The level, and whether it changed.
pub fn level_sentence(compared: &Compared) -> String {
    let mut said = Vec::new();
    if let Some(changed) = &compared.level.changed {
        said.push(changed_words(changed, ["later", "earlier"]));
    } else if compared.charted.len() >= LEAST_SESSIONS {
        said.push("No change to see.".to_owned());
    }
    if let (Some(cold), Some(warm)) = (&compared.cold_s, &compared.warm_s) {
        said.push(format!(
            "Last amber to launch: {}; the first three launches of a day, cold as at the track: {}.",
            ms_with_interval(warm),
            ms_with_interval(cold)
        ));
    }
    said.join(" ")
}

/// Learning and its plateau.
pub fn learning_sentence(weeks: &Weeks, compared: &Compared) -> String {
    let Some(curve) = &compared.learning else {
        return "From ten sessions on there is a learning curve.".to_owned();
    };
    let direction = match curve.outcome {
        Learning::NoneToSee => {
            return "No learning curve stands out from the scatter of sessions. That is no proof of \
                    standing still."
                .to_owned();
        }
        Learning::Seen { direction: Direction::Down, .. } => "earlier",
        Learning::Seen { direction: Direction::Up, .. } => "later",
    };
    match (&curve.plateau, compared.plateau_since) {
        (Some(plateau), Some(date)) => format!(
            "You grew {direction} and have levelled off at {} since {date}: nine tenths of what there was to \
             learn that way are learnt.",
            ms_with_interval(plateau)
        ),
        (Some(plateau), None) => format!(
            "You grow {direction}, heading for {}; after {} not there yet.",
            ms_with_interval(plateau),
            sessions(weeks.sessions.len())
        ),
        (None, _) => format!("You grow {direction}; where it levels off cannot be told yet."),
    }
}

/// Sessions outside the limits.
pub fn odd_notes(weeks: &Weeks, compared: &Compared) -> Vec<String> {
    let day = |place: &usize| session_name(weeks, compared.charted[*place]);
    let note = |odd: &[usize], what: &str| {
        let days: Vec<String> = odd.iter().map(day).collect();
        (!days.is_empty()).then(|| {
            format!(
                "Odd in {what}, outside the limits of a steady driver: {}. One session in a hundred or so \
                 is by chance; no change is claimed from it.",
                days.join(", ")
            )
        })
    };
    let spread = note(&compared.spread.odd, "spread");
    spread.into_iter().chain(note(&compared.level.odd, "level")).collect()
}

/// `3 trees (full, pro)`.
pub fn unlike_words(unlike: &Unlike) -> String {
    let names = match unlike.what {
        What::Driver => "drivers",
        What::Car => "cars",
        What::Tree => "trees",
        What::LaunchEdge => "launch edges",
        What::Style => "ways to leave",
        What::Rig => "rigs",
    };
    format!("{} {names} ({})", unlike.kinds.len(), unlike.kinds.join("; "))
}

/// A session's day, or its place where that is not known.
pub fn session_name(weeks: &Weeks, place: usize) -> String {
    let session = &weeks.sessions[place];
    match session.day {
        Some(day) => {
            let same = |other: &usize| weeks.sessions[*other].day == Some(day);
            match (0..weeks.sessions.len()).filter(same).count() {
                1 => day.to_string(),
                _ => format!("{day} #{}", (0..=place).filter(same).count()),
            }
        }
        None => format!("session {}", place + 1),
    }
}

pub fn sessions(n: usize) -> String {
    format!("{n} session{}", if n == 1 { "" } else { "s" })
}

/// With a capital.
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    first + letters.as_str()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_is_said_with_its_size_and_its_sessions() {
        let by = Estimate { value: -0.0085, low: -0.011, high: -0.006, level: 0.9, n: 600 };
        let changed = Changed {
            direction: Direction::Down,
            since: 15,
            sessions: 3,
            before: 15,
            by,
            chance: 0.001,
        };
        assert_eq!(
            changed_words(&changed, ["less steady", "steadier"]),
            "The last 3 sessions are steadier than the 15 before by 6 to 11 ms."
        );
        let later = Changed {
            direction: Direction::Up,
            by: Estimate { value: 0.004, low: -0.001, high: 0.009, ..by },
            ..changed
        };
        assert_eq!(
            changed_words(&later, ["later", "earlier"]),
            "The last 3 sessions are later than the 15 before by about 4 ms (-1 to 9)."
        );
    }
}
