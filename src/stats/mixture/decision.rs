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
/// So many samples of one part with a ratio at least as large end the drawing: one part it is, however
/// many more were drawn. Chosen, as Besag & Clifford (1991, "Sequential Monte Carlo p-values", Biometrika
/// 78, 301–304) advise.
const ENOUGH: usize = 10;

/// The decision between one ex-Gaussian and two parts.
#[derive(Debug, Clone, PartialEq)]
pub struct PartsDecision {
    /// The two-part fit of all values.
    pub fit: Fit,
    /// Twice the gain in log-likelihood from the second part.
    pub ratio: f64,
    /// The chance of a ratio at least as large under one part: (1 + samples that reach it) / (1 + samples),
    /// or, where ten reached it before all were drawn, ten / samples.
    pub p_value: f64,
    /// Samples drawn: what was asked for, or fewer where one part was clear before.
    pub samples: usize,
    /// Whether two parts describe the launches better than chance explains: p ≤ .05.
    pub two_parts: bool,
    /// What to say beside it.
    pub caveats: Vec<Caveat>,
}

/// Draws up to `samples` samples from the best single ex-Gaussian, fits both laws to each and compares.
///
/// The drawing ends with the tenth sample whose ratio is at least as large (Besag & Clifford 1991). The
/// decision is the one all samples would have given wherever ten of them already exceed the level, which
/// they do up to 199 samples; above, the p value at the stop, ten / samples drawn, is what decides, and
/// it is as honest as the full one: under one part P(p ≤ a) ≤ a.
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
    let (mut as_large, mut drawn) = (0, 0);
    while drawn < samples && as_large < ENOUGH {
        let of_one = Sample::new((0..n).map(|_| one.sample(random)).collect())?;
        as_large += usize::from(gain_of_second_part(&of_one)?.0 >= ratio);
        drawn += 1;
    }
    let p_value = if as_large == ENOUGH {
        as_large as f64 / drawn as f64
    } else {
        (1 + as_large) as f64 / (1 + drawn) as f64
    };
    let two_parts = p_value <= LEVEL;
    Ok(PartsDecision { fit, ratio, p_value, samples: drawn, two_parts, caveats })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::family::{AnticipateReact, ExGaussian, Model};

    fn drawn(law: &Model, n: usize, seed: u64) -> Sample {
        let random = &mut generator(seed);
        Sample::new((0..n).map(|_| law.sample(random)).collect()).unwrap()
    }

    #[test]
    fn two_clear_parts_take_every_sample_that_was_asked_for() {
        let p = [0.5, 0.02, 0.01, 0.25, 0.015, 0.02];
        let law = Model::AnticipateReact(AnticipateReact::from_parameters(&p).unwrap());
        let found = decide(&drawn(&law, 60, 2), 19, 1).unwrap();
        assert_eq!((found.samples, found.p_value, found.two_parts), (19, 0.05, true));
        assert_eq!(found.caveats, []);
    }

    #[test]
    fn more_values_than_are_looked_at_are_told_of() {
        let law = Model::ExGaussian(ExGaussian::new(0.19, 0.02, 0.035).unwrap());
        let of = |n: usize| decide(&drawn(&law, n, 2), 19, 1).unwrap();
        let part = Caveat::DecisionSubsample { used: 2_000, n: 2_001 };
        assert!(of(2_001).caveats.contains(&part));
        let whole = of(60).caveats;
        assert!(!whole.iter().any(|c| matches!(c, Caveat::DecisionSubsample { .. })), "{whole:?}");
    }

    #[test]
    fn one_part_that_is_clear_early_has_the_share_of_the_samples_drawn() {
        let law = Model::ExGaussian(ExGaussian::new(0.19, 0.02, 0.035).unwrap());
        let early = (0..8).filter(|seed| {
            let found = decide(&drawn(&law, 60, *seed), 19, 1).unwrap();
            assert!(0.05 <= found.p_value && found.p_value <= 1.0, "{found:?}");
            let stopped = found.samples < 19;
            assert!(!stopped || found.p_value == 10.0 / found.samples as f64, "{found:?}");
            stopped
        });
        assert!(early.count() > 0);
    }
}
