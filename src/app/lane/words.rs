//! Words for traces.
//!
//! Owns one spelling per thing, as robots read it. Refuses words for people.

use crate::tree::{Lamp, Lane, Outcome};
use crate::trial::Drill;

/// A lane.
pub fn lane_word(lane: Lane) -> &'static str {
    match lane {
        Lane::Left => "left",
        Lane::Right => "right",
    }
}

/// A lamp.
pub fn lamp_word(lamp: Lamp) -> String {
    match lamp {
        Lamp::PreStage => "pre-stage".to_owned(),
        Lamp::Stage => "stage".to_owned(),
        Lamp::Amber(i) => format!("amber-{}", i + 1),
        Lamp::Green => "green".to_owned(),
        Lamp::Red => "red".to_owned(),
    }
}

/// A drill.
pub fn drill_word(drill: Drill) -> &'static str {
    match drill {
        Drill::RollUp => "roll-up",
        Drill::TreeOnly => "tree-only",
        Drill::ReactOrTime => "react-or-time",
        Drill::GuessTest => "guess-test",
        Drill::OtherLaneFirst => "other-lane-first",
    }
}

/// An outcome.
pub fn outcome_word(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Green => "green",
        Outcome::Red => "red",
        Outcome::LeftBeforeTree => "left-before-tree",
        Outcome::TimedOut => "timed-out",
        Outcome::Lapse => "lapse",
        Outcome::Stayed => "stayed",
        Outcome::Guessed { .. } => "guessed",
        Outcome::Abandoned(_) => "abandoned",
        Outcome::Void(_) => "void",
    }
}
