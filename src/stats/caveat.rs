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
    /// Launches that follow each other are alike, so they tell less than their number.
    SerialDependence {
        /// Values there are.
        n: usize,
        /// Independent ones they are worth.
        effective: usize,
    },
    /// Too few days to tell the spread between them.
    DaySpreadAssumed {
        /// Days there are.
        days: usize,
    },
    /// One of two parts has so few launches that it may be chance.
    SmallPart {
        /// Launches in it, about.
        launches: usize,
    },
    /// The decision between one part and two looked at some of the values.
    DecisionSubsample {
        /// Values used.
        used: usize,
        /// Values there are.
        n: usize,
    },
    /// No slip yet tells how the track differs from home.
    TrackUnknown,
    /// The shape of the distribution comes from some of the values, the counts from all.
    PosteriorSubsample {
        /// Values used.
        used: usize,
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
            Caveat::SerialDependence { n, effective } => write!(
                f,
                "launches follow each other: {n} tell as much as {effective}; breaks between them \
                 tell more"
            ),
            Caveat::DaySpreadAssumed { days } => write!(
                f,
                "the spread between days is assumed to be 10 ms ({days} here); three days and more \
                 measure it"
            ),
            Caveat::SmallPart { launches } => write!(
                f,
                "about {launches} launches in the smaller part; fifteen and more make it worth reading"
            ),
            Caveat::DecisionSubsample { used, n } => {
                write!(
                    f,
                    "one part or two was decided on {used} of {n} values, drawn with the seed"
                )
            }
            Caveat::TrackUnknown => {
                write!(
                    f,
                    "home to track is assumed to be 0 ± 40 ms; slips from the track measure it"
                )
            }
            Caveat::PosteriorSubsample { used, n } => write!(
                f,
                "the shape comes from {used} of {n} values, recent ones more likely, drawn with the \
                 seed; the counts come from all"
            ),
        }
    }
}
