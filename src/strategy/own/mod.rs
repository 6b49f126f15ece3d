//! A driver's own launches, out of the lines of a history.
//!
//! Owns which runs and slips belong to a set-up and in what pools they come: practice read with
//! today's delay, cold launches, slips, blocks in turn, the car and the way to the track. Refuses
//! advice, and to leave anything out unsaid: whatever does not count is counted.

mod blocks;
mod bridge;
mod car;
mod cold;
mod launches;
mod runs;
mod setup;
mod slips;
mod track;

pub use blocks::fair_blocks;
pub use bridge::{Bridge, LikelyReason, Reason, WANTED_S};
pub use car::OwnCar;
pub use cold::{COLD_OF_A_DAY, LEAST_COLD, is_cold};
pub use launches::OwnLaunches;
pub(super) use launches::{as_believed, enough};
pub use runs::{GuessTest, OwnRuns, RunCounts};
pub(super) use runs::{Readings, is_lit_guess_test, line_of};
pub(super) use setup::local_date;
pub use setup::{OwnLines, OwnSetup, SetupCount, setups};
pub use slips::{OwnSlips, SlipCounts};
pub use track::{Way, way_to_the_track};
