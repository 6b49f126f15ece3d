//! The timed machine of the start line, two lanes.
//!
//! Owns staging, the countdown, outcomes and the trace, all by marks handed in. Verdicts come from
//! stamps of what the screen showed and when the control moved. Refuses clocks, engines, storage
//! and statistics.

mod company;
mod countdown;
mod facts;
mod lane_state;
mod machine;
mod other_driver;
mod setup;
mod staging;
mod temper;
mod verdict;

pub use company::Company;
pub use countdown::{BLANK_ENDS_AFTER, GUESS_WINDOW, LAPSE_AFTER_GREEN, LampSet, ONSET_LIMIT};
pub use facts::{
    AbandonReason, Lamp, Lane, Outcome, Parts, SentBack, Staging, TraceLine, TreeEvent, VoidReason,
};
pub use lane_state::{LaneResult, LaunchTaken};
pub use machine::{BreakOff, Machine};
pub use other_driver::{LEAST_LIGHTS, OtherDriver};
pub use setup::{Entry, LaneSetup, StartSetup};
pub use temper::{Habits, Temper};
