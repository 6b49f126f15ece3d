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
    /// Chart limits rest on so few values that false alarms are commoner than promised.
    ShortBaseline {
        /// Values the limits rest on.
        n: usize,
    },
    /// Neighbouring values resemble one another, so there is less news in them than their count.
    NeighboursAlike,
    /// Values were averaged in blocks before the search.
    Blocks {
        /// Values in a block.
        size: usize,
    },
    /// The curve has not levelled off, so the level it heads for is unknown.
    PlateauNotReached,
    /// Few days: the spread between days is hardly known.
    FewDays {
        /// Days there are.
        days: usize,
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
            Caveat::ShortBaseline { n } => {
                write!(f, "limits rest on {n} values: expect more false alarms; 100 calm them")
            }
            Caveat::NeighboursAlike => {
                write!(f, "neighbouring values are alike: a wave can pass for a change")
            }
            Caveat::Blocks { size } => {
                write!(f, "looked at in blocks of {size}: places are good to one block")
            }
            Caveat::PlateauNotReached => {
                write!(f, "no plateau to see yet: go on, and look again after more launches")
            }
            Caveat::FewDays { days } => {
                write!(f, "{days} days: more days, not more launches a day, narrow this")
            }
        }
    }
}
