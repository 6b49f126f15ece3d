//! Doubts about an answer, each with what to do about it.
//!
//! Owns their words. Refuses errors: a caveat comes with an answer.

use std::fmt;

/// A doubt about an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Caveat {
    /// Below 40 values shapes are guesses.
    Rough {
        /// Values there are.
        n: usize,
    },
    /// Below 10 values only counts are given.
    CountsOnly {
        /// Values there are.
        n: usize,
    },
}

impl fmt::Display for Caveat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Caveat::Rough { n } => {
                write!(f, "rough: {n} values; 40 and more make the shape worth reading")
            }
            Caveat::CountsOnly { n } => {
                write!(f, "only counts: {n} values; from 10 on there is an estimate")
            }
        }
    }
}
