//! A run seen again, in words.
//!
//! Owns how its moments are called and what is said below. Refuses the time line itself.

use super::words::light_floored;
use crate::tree::Lamp;
use crate::trial::{Moment, Replay, What};
use crate::units::Span;

/// A green this far from its due mark is worth a sentence, ns.
const SEEN_OFF_NS: i64 = 1_000_000;

/// What happened, in a few words.
pub fn moment_words(what: What, ambers: u8) -> String {
    match what {
        What::Lit { lamp: Lamp::Amber(i), .. } if i + 1 == ambers => "last amber".to_owned(),
        What::Lit { lamp: Lamp::Amber(i), .. } => format!("amber {}", i + 1),
        What::Lit { lamp: Lamp::Green, .. } => "green".to_owned(),
        What::Lit { lamp: Lamp::Red, .. } => "red".to_owned(),
        What::Lit { .. } => "staging lamp".to_owned(),
        What::Launch => "you leave".to_owned(),
        What::Clear => "front tyre out".to_owned(),
    }
}

/// A mark of the time line: seconds after the last amber, with its sign.
pub fn mark_words(at: Span) -> String {
    format!("{:+.3}", at.as_secs_f64())
}

/// Everything that happened with its mark.
pub fn moments_words(replay: &Replay) -> Vec<String> {
    let said = |moment: &Moment| {
        format!("{} {}", mark_words(moment.at), moment_words(moment.what, replay.ambers()))
    };
    replay.moments().iter().map(said).collect()
}

/// What has happened last at a mark, and how the run came out once that is seen.
pub fn now_words(replay: &Replay, at: Span, light_s: Option<f64>) -> String {
    let last = replay.moments().iter().rev().find(|moment| moment.at <= at);
    let Some(last) = last else {
        return format!("{}: waiting.", mark_words(at));
    };
    let words = moment_words(last.what, replay.ambers());
    let green = replay.when(|what| matches!(what, What::Lit { lamp: Lamp::Green, .. }));
    let over = replay
        .when(|what| what == What::Clear)
        .is_some_and(|clear| at >= clear.max(green.unwrap_or(clear)));
    match light_s.filter(|_| over) {
        Some(light) => format!("{}: {words}; light {}.", mark_words(at), light_floored(light)),
        None => format!("{}: {words}.", mark_words(at)),
    }
}

/// What the picture leaves to be said.
pub fn standing_words(replay: &Replay) -> Vec<String> {
    let mut said = Vec::new();
    if replay.when(|what| what == What::Launch).is_some() {
        said.push(format!(
            "Your launch stands where it was with the delay of control and screen taken off, {:.0} ms.",
            replay.delay().as_ms_f64()
        ));
    }
    let green = replay.when(|what| matches!(what, What::Lit { lamp: Lamp::Green, .. }));
    let off =
        green.map(|green| green - replay.interval()).filter(|off| off.ns().abs() > SEEN_OFF_NS);
    if let Some(off) = off {
        said.push(format!(
            "The display showed green {:.0} ms {} than it was due; the light counts from when it was due.",
            off.as_ms_f64().abs(),
            if off.ns() > 0 { "later" } else { "earlier" }
        ));
    }
    if replay.is_blank() {
        said.push("A blank run: the last amber was withheld, staying was right.".to_owned());
    }
    let unconfirmed = replay
        .moments()
        .iter()
        .any(|moment| matches!(moment.what, What::Lit { confirmed: false, .. }));
    if unconfirmed {
        said.push("Dashed: when it was due; the display never confirmed it.".to_owned());
    }
    said
}
