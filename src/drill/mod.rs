//! Drills that have a course of their own: what comes next, told by the facts of the runs.
//!
//! Owns the schedule of a track night and the steps of the guided first run, as small machines that are
//! told everything. Refuses clocks, drawing and words: the report room has them.

pub mod night;
pub mod welcome;

pub use night::{Moment, TrackNight};
pub use welcome::{Ending, Fact, Step, Welcome};
