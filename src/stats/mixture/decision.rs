//! One part or two?
//!
//! Owns the bootstrap likelihood-ratio decision. Refuses tabulated p values: under one part the
//! second one's share is zero, at the edge of its domain, and no table applies.

use super::density::{one_nll, one_part, one_point};
use super::descent::descend;
use super::{MixtureFit, Standard, best, fit, moments, two_means};
use crate::seed::{Generator, generator, seed_of_run};
use crate::stats::{Caveat, Sample, StatsError};
use rand_distr::{Distribution, Exp1, StandardNormal};

/// Values a decision looks at; above, a seeded part of them is enough and named in a caveat.
const MOST_FOR_DECISION: usize = 2000;
/// Chance of calling one part two that is accepted. Chosen.
const LEVEL: f64 = 0.05;

/// The decision between one ex-Gaussian and two parts.
#[derive(Debug, Clone, PartialEq)]
pub struct PartsDecision {
    /// The two-part fit of all values.
    pub fit: MixtureFit,
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

/// Draws `samples` samples from the best single ex-Gaussian, fits both models to each and compares.
///
/// # Errors
/// As [`fit`], and [`StatsError::OutOfDomain`] for fewer than 19 samples (the p value could not
/// reach .05) or more than 9999.
pub fn decide(sample: &Sample, samples: usize, seed: u64) -> Result<PartsDecision, StatsError> {
    if !(19..=9999).contains(&samples) {
        return Err(StatsError::OutOfDomain {
            name: "number of bootstrap samples",
            value: samples as f64,
            domain: "19 to 9999",
        });
    }
    let fit = fit(sample, seed)?;
    let mut caveats = fit.caveats.clone();
    let n = sample.n().min(MOST_FOR_DECISION);
    let rng = &mut generator(seed_of_run(seed, 1));
    let looked_at = if n < sample.n() {
        caveats.push(Caveat::DecisionSubsample { used: n, n: sample.n() });
        let mut values = sample.values().to_vec();
        // The first n of a partial shuffle.
        for i in 0..n {
            values.swap(i, rand::RngExt::random_range(rng, i..sample.n()));
        }
        values.truncate(n);
        Sample::new(values)?
    } else {
        sample.clone()
    };
    let x = Standard::new(&looked_at)?.x;
    let ratio = |x: &[f64], shares: &[f64]| {
        let (one, nll) = best_one(x);
        let two = best(x, shares).map_or(nll, |(_, nll, _)| nll);
        (one, (2.0 * (nll - two)).max(0.0))
    };
    let (one, observed) = ratio(&x, &[0.5, 0.75, 0.2, two_means(&x)]);
    let mut as_large = 0;
    for _ in 0..samples {
        let drawn = draw(&one, n, rng);
        as_large += usize::from(ratio(&drawn, &[0.5, 0.8, 0.15]).1 >= observed);
    }
    let p_value = (1 + as_large) as f64 / (1 + samples) as f64;
    let two_parts = p_value <= LEVEL;
    Ok(PartsDecision { fit, ratio: observed, p_value, samples, two_parts, caveats })
}

/// The best ex-Gaussian of three starts.
fn best_one(x: &[f64]) -> ([f64; 3], f64) {
    let (mean, sd) = moments(x);
    [0.3, 0.6, 0.9]
        .map(|share: f64| {
            let tau = share * sd;
            let sigma = sd * (1.0 - share * share).sqrt();
            descend(|p| one_nll(x, p), one_point(mean - tau, sigma, tau))
        })
        .into_iter()
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .expect("there are three starts")
}

/// `n` sorted values of one ex-Gaussian.
fn draw(point: &[f64; 3], n: usize, rng: &mut Generator) -> Vec<f64> {
    let ([mu, sigma, tau], _) = one_part(point);
    let mut x: Vec<f64> = (0..n)
        .map(|_| {
            let (z, e): (f64, f64) = (StandardNormal.sample(rng), Exp1.sample(rng));
            mu + sigma * z + tau * e
        })
        .collect();
    x.sort_by(f64::total_cmp);
    x
}
