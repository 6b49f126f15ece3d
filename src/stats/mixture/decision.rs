//! One part or two?
//!
//! Owns the bootstrap likelihood-ratio decision. Refuses tabulated p values: under one part the
//! second one's share is zero, at the edge of its domain, and no table applies.

use super::small_part;
use crate::seed::{generator, seed_of_run};
use crate::stats::family::{Distribution, Family};
use crate::stats::fit::{Fit, fit, gain_of_second_part};
use crate::stats::{Caveat, Sample, StatsError};

/// Values a decision looks at; above, a seeded part of them is enough and named in a caveat.
const MOST_FOR_DECISION: usize = 2000;
/// Chance of calling one part two that is accepted. Chosen.
const LEVEL: f64 = 0.05;

/// The decision between one ex-Gaussian and two parts.
#[derive(Debug, Clone, PartialEq)]
pub struct PartsDecision {
    /// The two-part fit of all values.
    pub fit: Fit,
    /// Twice the gain in log-likelihood from the second part.
    pub ratio: f64,
    /// (1 + samples of one part with a ratio at least as large) / (1 + samples).
    pub p_value: f64,
    /// Samples drawn.
    pub samples: usize,
    /// Whether two parts describe the launches better than chance explains: p ≤ .05.
    pub two_parts: bool,
    /// What to say beside it.
    pub caveats: Vec<Caveat>,
}

/// Draws `samples` samples from the best single ex-Gaussian, fits both laws to each and compares.
///
/// # Errors
/// As [`fit`], [`StatsError::TooFew`] below 30 values, and [`StatsError::OutOfDomain`] for fewer than
/// 19 samples (the p value could not reach .05) or more than 9999.
pub fn decide(sample: &Sample, samples: usize, seed: u64) -> Result<PartsDecision, StatsError> {
    if !(19..=9999).contains(&samples) {
        return Err(StatsError::OutOfDomain {
            name: "number of bootstrap samples",
            value: samples as f64,
            domain: "19 to 9999",
        });
    }
    let fit = fit(Family::AnticipateReact, sample)?;
    let mut caveats = Vec::from_iter(small_part(&fit));
    let random = &mut generator(seed_of_run(seed, 1));
    let looked_at = sample.part(MOST_FOR_DECISION, random);
    let (n, of) = (looked_at.n(), sample.n());
    if n < of {
        caveats.push(Caveat::DecisionSubsample { used: n, n: of });
    }
    let (ratio, one) = gain_of_second_part(&looked_at)?;
    let mut as_large = 0;
    for _ in 0..samples {
        let drawn = Sample::new((0..n).map(|_| one.sample(random)).collect())?;
        as_large += usize::from(gain_of_second_part(&drawn)?.0 >= ratio);
    }
    let p_value = (1 + as_large) as f64 / (1 + samples) as f64;
    let two_parts = p_value <= LEVEL;
    Ok(PartsDecision { fit, ratio, p_value, samples, two_parts, caveats })
}
