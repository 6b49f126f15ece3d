//! What can be wrong with a rule somebody sets by hand.
//!
//! Owns the wording. Refuses to decide what is in range: each rule does that for itself.

use thiserror::Error;

use crate::units::Span;

/// A setting of the start line that no start could be run with.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum RulesError {
    /// The tree has no amber, or more than the program draws.
    #[error("a tree has 1 to 5 ambers, not {got}")]
    Ambers {
        /// How many were asked for.
        got: u8,
    },
    /// A time outside its limits.
    #[error("{what} is {got_s} s; give {low_s} to {high_s} s")]
    Time {
        /// Which setting.
        what: &'static str,
        /// What was given, s.
        got_s: f64,
        /// The least allowed, s.
        low_s: f64,
        /// The most allowed, s.
        high_s: f64,
    },
    /// Ambers neither all at once nor far enough apart to be told apart.
    #[error("ambers are {got_s} s apart; give 0 (all at once) or 0.1 to 2 s")]
    AmberGap {
        /// What was given, s.
        got_s: f64,
    },
    /// A random wait that ends before it begins.
    #[error(
        "the random wait runs from {from_s} s to {to_s} s; the end must not be before the start"
    )]
    WaitBackwards {
        /// Where it begins, s.
        from_s: f64,
        /// Where it ends, s.
        to_s: f64,
    },
    /// A dial-in nobody could write on a window.
    #[error("the dial-in of lane {lane} is {got_s} s; give 0 to 99.999 s", lane = .lane + 1)]
    Dial {
        /// 0 or 1.
        lane: usize,
        /// What was given, s.
        got_s: f64,
    },
    /// A time no slip could hold.
    #[error("`{text}` is not a time; write seconds like 13.464 or -.033")]
    SlipTime {
        /// What was written.
        text: String,
    },
    /// A race the numbers given do not decide.
    #[error("the {lane} lane's {what} is missing; without it the packages cannot be compared", lane = lane_name(*.lane))]
    Missing {
        /// 0 or 1.
        lane: usize,
        /// Which number.
        what: &'static str,
    },
}

fn lane_name(lane: usize) -> &'static str {
    if lane == 0 { "left" } else { "right" }
}

/// Seconds for a message: dividing rounds once, so 120 s does not print as 120.00000000000001.
pub(super) fn printed_s(span: Span) -> f64 {
    span.ns() as f64 / 1e9
}
