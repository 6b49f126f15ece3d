//! Why a question has no answer.
//!
//! Owns the errors of the room. Refuses doubts about an answer that exists: those are caveats.

use crate::rules::RulesError;
use crate::stats::StatsError;
use thiserror::Error;

/// Why there is no advice.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum StrategyError {
    /// The launches do not carry an answer.
    #[error("{0}")]
    Stats(#[from] StatsError),
    /// A dial-in nobody could write on a window.
    #[error("{0}")]
    Rules(#[from] RulesError),
    /// A tree on which nothing can be timed.
    #[error(
        "the {tree} tree lights its ambers at once: there is no rhythm to time by; ask on a full tree"
    )]
    NoRhythm {
        /// Its name.
        tree: String,
    },
    /// Blocks that do not compare two styles fairly.
    #[error(
        "blocks do not take turns ({react} of reacting, {time_it} of timing, {longest_row} of one in a row); \
         drive two of each and more, in turn"
    )]
    NotAlternating {
        /// Blocks of reacting.
        react: usize,
        /// Blocks of timing.
        time_it: usize,
        /// The most of one style in a row.
        longest_row: usize,
    },
    /// A forecast that is not older than the launches it is to be held against.
    #[error("the forecast {id} was not made before its first launch, so it is not scored")]
    MadeTooLate {
        /// Id of the forecast.
        id: String,
    },
    /// A number outside its domain.
    #[error("{name} is {value}, outside {domain}")]
    OutOfDomain {
        /// Which.
        name: &'static str,
        /// What was given.
        value: f64,
        /// What is allowed.
        domain: &'static str,
    },
}

/// `value` if it lies within ± `limit`.
pub(super) fn within(name: &'static str, value: f64, limit: Limit) -> Result<f64, StrategyError> {
    let Limit(low, high, domain) = limit;
    if value >= low && value <= high {
        Ok(value)
    } else {
        Err(StrategyError::OutOfDomain { name, value, domain })
    }
}

/// The least and the most allowed, and both in words.
pub(super) struct Limit(f64, f64, &'static str);

/// A light: no start takes longer.
pub(super) const LIGHT: Limit = Limit(-100.0, 100.0, "±100 s");
/// A spread of lights or of elapsed times.
pub(super) const SPREAD: Limit = Limit(0.0, 100.0, "0 to 100 s");
/// A difference of elapsed times.
pub(super) const GAP: Limit = Limit(-1000.0, 1000.0, "±1000 s");
/// An aim.
pub(super) const AIM: Limit = Limit(-10.0, 10.0, "±10 s");
/// The level of an interval.
pub(super) const LEVEL: Limit = Limit(0.01, 0.999, "0.01 to 0.999");
/// An elapsed time.
pub(super) const ELAPSED: Limit = Limit(0.1, 1000.0, "0.1 to 1000 s");
/// A spread of elapsed times that has to show.
pub(super) const SOME_SPREAD: Limit = Limit(1e-6, 100.0, "0.000001 to 100 s");
