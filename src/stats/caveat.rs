//! Doubts about an answer, each with what to do about it.
//!
//! Owns their words. Refuses errors: a caveat comes with an answer.

use super::family::Family;
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
    /// The bootstrap looked at a part of the values.
    BootstrapSubsample {
        /// Values drawn.
        used: usize,
        /// Values there are.
        of: usize,
    },
    /// The goodness-of-fit distances looked at a part of the values.
    DistanceSubsample {
        /// Values drawn.
        used: usize,
        /// Values there are.
        of: usize,
    },
    /// The fold scores looked at a part of the values.
    FoldSubsample {
        /// Values drawn.
        used: usize,
        /// Values there are.
        of: usize,
    },
    /// A law's best parameters lie at the edge of its domain.
    AtBoundary {
        /// Which law.
        family: Family,
    },
    /// A law has no best parameters for these values.
    NoOptimum {
        /// Which law.
        family: Family,
    },
    /// A law called values impossible that it had not been fitted to.
    CalledImpossible {
        /// Which law.
        family: Family,
        /// How many values.
        values: usize,
    },
    /// The preferred law is a poor description all the same.
    PoorFit {
        /// Which law.
        family: Family,
    },
    /// Neighbouring values are alike, so they are worth fewer independent ones.
    Dependent {
        /// Values there are.
        n: usize,
        /// Independent values they are worth.
        worth: usize,
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
            Caveat::BootstrapSubsample { used, of } => {
                write!(f, "p values: bootstrapped on {used} of the {of} values, drawn by the seed")
            }
            Caveat::DistanceSubsample { used, of } => {
                write!(f, "ks, ad, cvm: from {used} of the {of} values, drawn by the seed")
            }
            Caveat::FoldSubsample { used, of } => write!(
                f,
                "fold scores: from {used} of the {of} values, drawn by the seed, scaled to all"
            ),
            Caveat::AtBoundary { family } => write!(
                f,
                "{family}: the best fit is at the edge of the family; a simpler law would do"
            ),
            Caveat::NoOptimum { family } => {
                write!(f, "{family}: no best fit; these values do not show such a threshold")
            }
            Caveat::CalledImpossible { family, values } => write!(
                f,
                "{family}: called {values} held-out values impossible; do not read risks from it"
            ),
            Caveat::PoorFit { family } => write!(
                f,
                "{family}: the best of these and still a poor description; look at the plots"
            ),
            Caveat::Dependent { n, worth } => write!(
                f,
                "dependent: neighbours are alike, {n} values are worth about {worth}; spread runs out"
            ),
        }
    }
}
