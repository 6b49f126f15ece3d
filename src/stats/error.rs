//! Why a question has no answer.
//!
//! Owns the errors of the room. Refuses doubts about an answer that exists: those are caveats.

use thiserror::Error;

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum StatsError {
    /// Fewer values than the question needs.
    #[error("too few values: {have} of the {need} this needs")]
    TooFew {
        /// Values there are.
        have: usize,
        /// Values it takes.
        need: usize,
    },
    /// A value is no finite number.
    #[error("value {position} is not a finite number")]
    NotFinite {
        /// Its place, from 1.
        position: usize,
    },
    /// All values are the same, so nothing can be said of their spread.
    #[error("all values are the same")]
    NoSpread,
    /// A parameter is outside its domain.
    #[error("{name} is {value}, outside {domain}")]
    OutOfDomain {
        /// Which.
        name: &'static str,
        /// What was given.
        value: f64,
        /// What is allowed.
        domain: &'static str,
    },
    /// No optimum inside the domain was found.
    #[error("no fit was found: {0}")]
    NoFit(&'static str),
}
