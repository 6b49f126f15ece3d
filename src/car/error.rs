//! What can be wrong with a car or a beam line somebody describes.
//!
//! Owns the wording and the one range check. Refuses to know the limits: each type does.

use thiserror::Error;

/// A car or a beam line no start could be computed with.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum CarError {
    /// A number outside its limits, or not a number.
    #[error("{what} is {got}{u}; give {low} to {high}{u}", u = after_number(unit))]
    OutOfRange {
        /// Which number.
        what: &'static str,
        /// What was given.
        got: f64,
        /// The least allowed.
        low: f64,
        /// The most allowed.
        high: f64,
        /// The unit of all three.
        unit: &'static str,
    },
    /// A beam that passes over the tyre.
    #[error("a beam {beam_in} in high misses a tyre that stands {top_in} in tall")]
    BeamMissesTyre {
        /// Height of the beam, in.
        beam_in: f64,
        /// Height of the tyre's top, in.
        top_in: f64,
    },
    /// A tyre size that could not be read.
    #[error(
        "tyre size '{text}' not understood: {why}; write it as on the sidewall, e.g. 225/45R17, \
         28x10.5-15, or give the diameter in inches"
    )]
    TyreSize {
        /// What was written.
        text: String,
        /// What is wrong with it.
        why: &'static str,
    },
    /// A launch to be known by slips, and no slip.
    #[error("no 60-foot time to know the launch by; give at least one")]
    NoSlips,
    /// Neither tyres nor engine set a limit.
    #[error("neither the tyres nor the engine limit this car; give a launch or a power")]
    NoLimit,
    /// No power makes that time with that launch, or no launch with that power.
    #[error("{what} of {got_s} s cannot be had: {why}")]
    OutOfReach {
        /// Which time.
        what: &'static str,
        /// What was asked for, s.
        got_s: f64,
        /// What stands against it, and what to do.
        why: String,
    },
}

/// A unit behind its number; nothing where there is none.
fn after_number(unit: &str) -> String {
    if unit.is_empty() { String::new() } else { format!(" {unit}") }
}

/// A quantity with the limits it must keep.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limits {
    pub what: &'static str,
    pub low: f64,
    pub high: f64,
    pub unit: &'static str,
}

impl Limits {
    /// The value itself if it is a number within the limits.
    pub(super) fn check(self, got: f64) -> Result<f64, CarError> {
        let Self { what, low, high, unit } = self;
        if (low..=high).contains(&got) {
            Ok(got)
        } else {
            Err(CarError::OutOfRange { what, got, low, high, unit })
        }
    }
}
