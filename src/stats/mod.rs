//! What is true of a driver's times, and how far it can be trusted.
//!
//! Owns samples, estimates and models of *driver parts* and of slips. No bare number leaves this
//! room: an answer is an [`Estimate`] with its interval, level and count, doubts are [`Caveat`]s,
//! and too few values are an error. Refuses advice (that is strategy's) and drawing.

mod caveat;
pub mod compare;
mod dependence;
mod error;
mod estimate;
pub mod family;
pub mod film;
pub mod fit;
pub mod held;
pub mod home_to_track;
pub mod instrument;
pub mod left_on_green;
mod matrix;
mod mills_table;
pub mod mixture;
mod normal_tail;
mod numeric;
pub mod offset;
pub mod over_time;
pub mod parabola;
pub mod risk;
mod sample;
pub mod special;
pub mod start_film;
pub mod summary;

pub use caveat::Caveat;
pub use error::StatsError;
pub use estimate::Estimate;
pub use normal_tail::{NormalTail, normal_tail};
pub use sample::Sample;
