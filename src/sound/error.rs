//! What can be wrong with an engine or a rate.
//!
//! Owns the wording. Refuses the limits: each type knows its own.

use thiserror::Error;

/// A sound that could not be computed.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SoundError {
    /// A number outside its limits, or not a number.
    #[error("{what} is {got}; give {low} to {high}")]
    OutOfRange {
        /// Which number.
        what: &'static str,
        /// What was given.
        got: f64,
        /// The least allowed.
        low: f64,
        /// The most allowed.
        high: f64,
    },
    /// A sample rate nobody plays.
    #[error("{got} samples a second is no rate of a sound; give {low} to {high}")]
    Rate {
        /// What was given, Hz.
        got: u32,
        /// The least allowed, Hz.
        low: u32,
        /// The most allowed, Hz.
        high: u32,
    },
}
