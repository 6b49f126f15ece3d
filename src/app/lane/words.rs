//! Words for traces.
//!
//! Owns one spelling per thing, as robots read it. Refuses words for people.

use super::drill::DRILLS;
use crate::tree::{Lamp, Lane, Outcome};
use crate::trial::{Drill, Style};

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
        Drill::HoldAnAim => "hold-an-aim",
        Drill::TrackNight => "track-night",
    }
}

/// The drill of a word.
pub fn drill_of_word(word: &str) -> Option<Drill> {
    DRILLS.into_iter().find(|drill| drill_word(*drill) == word)
}

/// A declared style.
pub fn style_word(style: Style) -> &'static str {
    match style {
        Style::React => "react",
        Style::TimeIt => "time-it",
    }
}

/// The style of a word.
pub fn style_of_word(word: &str) -> Option<Style> {
    [Style::React, Style::TimeIt].into_iter().find(|style| style_word(*style) == word)
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
