//! What changes with time: odd points, drifts, changes, learning, days, sessions, holds.
//!
//! Owns the questions a driver asks of a history, one file each; every answer is an estimate or a
//! plain outcome, and "nothing to see" is one. Refuses risk and advice. Values may be in any one
//! unit (seconds for reactions); answers are in the same.

pub mod change_point;
pub mod curves;
pub mod cusum;
mod cuts;
pub mod days;
pub mod ewma;
pub mod hold;
pub mod in_control;
pub mod individuals;
pub mod learning;
pub mod pacing;
mod regression;
pub mod sessions;
pub mod spread;
pub mod within_session;
