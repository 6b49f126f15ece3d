//! The sport as data: trees, start procedures, fouls, winners, head starts and what tech asks for, each
//! number with its source.
//!
//! Owns numbers, their limits and the rulings that need nothing but numbers. Refuses behaviour
//! over time (the tree's machine) and lanes by name: a pair is `[T; 2]`, a lane is 0 or 1.

mod error;
mod fouls;
mod judge;
mod procedure;
mod scale;
mod slip_time;
mod tech;
mod track_length;
mod tree_kind;

pub use error::RulesError;
pub use fouls::{Foul, FoulRule, LONGEST_DIAL_S, foul_loser, head_start};
pub use judge::{Judgement, LaneRun, Reason, judge};
pub use procedure::{Extra, Procedure};
pub use scale::RtScale;
pub use slip_time::SlipTime;
pub use tech::{Applies, BodyKind, TECH_CAUTION, TechItem, TechQuestion, ask_tech};
pub use track_length::{FEET_A_SECOND_TO_MPH, TRAP_FT, TrackLength, trap_mph};
pub use tree_kind::TreeKind;
