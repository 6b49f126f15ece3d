//! Which law describes a sample, and how well.
//!
//! Owns information criteria, fold scores and goodness of fit, and what they say together. Refuses
//! to call a law true: the preferred one is the best of those asked.

mod folds;
mod goodness;
mod series;

pub use folds::{FoldScore, fold_score};
pub use goodness::{Goodness, Statistics, bootstrap, statistics};
pub use series::{pp_series, qq_series};

use super::dependence::doubt;
use super::family::{Family, Model};
use super::fit::{Fit, Status, fit_all};
use super::mixture::{decide, small_part};
use super::{Caveat, Sample, StatsError};
use crate::seed::{generator, seed_of_run};

/// Below this many values there is no fit, only counts.
pub const COUNTS_BELOW: usize = 10;
/// Below this many values a fit is rough.
pub const ROUGH_BELOW: usize = 40;
/// Above this many values the bootstrap looks at a subsample of this size.
pub const BOOTSTRAP_VALUES: usize = 2_000;
/// Above this many values fold scores look at a subsample of this size; chosen, because ten refits
/// of every law then take about a second.
pub const FOLD_VALUES: usize = 20_000;
/// Above this many values the goodness-of-fit distances are those of the fold scores' subsample.
pub const DISTANCE_VALUES: usize = 1_000_000;
/// Folds of the fold score.
pub const FOLDS: usize = 10;
/// Bootstrap samples behind a p value; chosen, because p is then known to 0.03 at worst.
pub const BOOTSTRAPS: usize = 199;
/// Bootstrap samples behind the choice of two parts over one. Chosen: p = .01 is within reach.
const DECISION_SAMPLES: usize = 99;
/// The goodness-of-fit p value below which a law is called a poor description.
const POOR_BELOW: f64 = 0.05;

/// Information criteria of a fit; the least is the best, only differences mean anything.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Criteria {
    /// Akaike's: 2k − 2·ln L.
    pub aic: f64,
    /// Akaike's with the small-sample term 2k(k + 1)/(n − k − 1).
    pub aicc: f64,
    /// Schwarz's: k·ln n − 2·ln L.
    pub bic: f64,
}

impl Criteria {
    /// The criteria of `k` parameters fitted to `n` values with this ln-likelihood. `aicc` is
    /// infinite for n ≤ k + 1.
    pub fn new(log_likelihood: f64, k: usize, n: usize) -> Self {
        let (k, n) = (k as f64, n as f64);
        let aic = 2.0 * (k - log_likelihood);
        let room = n - k - 1.0;
        let aicc = if room > 0.0 { aic + 2.0 * k * (k + 1.0) / room } else { f64::INFINITY };
        Self { aic, aicc, bic: k * n.ln() - 2.0 * log_likelihood }
    }
}

/// One law against a sample. What a law without a fit cannot have is `None`.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its fit; `None` below [`COUNTS_BELOW`] values.
    pub fit: Option<Fit>,
    /// The law.
    pub family: Family,
    /// Information criteria.
    pub criteria: Option<Criteria>,
    /// Sum of the ln-densities of held-out values.
    pub fold_score: Option<FoldScore>,
    /// Goodness of fit.
    pub goodness: Option<Goodness>,
}

/// Several laws against a sample.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// One row for every law asked.
    pub rows: Vec<Row>,
    /// The law with a proper fit and the least AICc; two parts only if a bootstrap tells them from one.
    pub preferred: Option<Family>,
    /// Doubts.
    pub caveats: Vec<Caveat>,
}

/// Fits laws to a sample and compares them. Everything random follows from `seed`, for each law
/// apart, so the same law gets the same answer whichever others are asked.
///
/// # Errors
/// From [`COUNTS_BELOW`] values on: [`StatsError::NoSpread`] if all are the same,
/// [`StatsError::OutOfDomain`] if they are too large to square.
pub fn compare(families: &[Family], sample: &Sample, seed: u64) -> Result<Comparison, StatsError> {
    let n = sample.n();
    if n < COUNTS_BELOW {
        let rows = families.iter().map(|family| Row::without_fit(*family, None)).collect();
        let caveats = vec![Caveat::CountsOnly { n }];
        return Ok(Comparison { rows, preferred: None, caveats });
    }
    let fits = fit_all(families, sample)?;
    let part = |limit, index| sample.part(limit, &mut generator(seed_of_run(seed, index)));
    let (folded, booted) = (part(FOLD_VALUES, 0), part(BOOTSTRAP_VALUES, 1));
    let sorted = if n > DISTANCE_VALUES { folded.sorted() } else { sample.sorted() };
    let mut rows = Vec::with_capacity(fits.len());
    for fit in fits {
        rows.push(Row::new(fit, &sorted, &folded, &booted, seed)?);
    }
    let (preferred, of_the_choice) = preferred(&rows, &booted, seed);
    let mut caveats = caveats(&rows, preferred, sample);
    caveats.extend(of_the_choice);
    if n > BOOTSTRAP_VALUES {
        caveats.push(Caveat::BootstrapSubsample { used: BOOTSTRAP_VALUES, of: n });
    }
    if n > DISTANCE_VALUES {
        caveats.push(Caveat::DistanceSubsample { used: FOLD_VALUES, of: n });
    }
    if n > FOLD_VALUES {
        caveats.push(Caveat::FoldSubsample { used: FOLD_VALUES, of: n });
    }
    Ok(Comparison { rows, preferred, caveats })
}

impl Row {
    fn without_fit(family: Family, fit: Option<Fit>) -> Self {
        Self { fit, family, criteria: None, fold_score: None, goodness: None }
    }

    fn new(
        fit: Fit,
        sorted: &[f64],
        folded: &Sample,
        booted: &Sample,
        seed: u64,
    ) -> Result<Self, StatsError> {
        let (family, n) = (fit.family, fit.n);
        let Some(log_likelihood) = fit.log_likelihood else {
            return Ok(Self::without_fit(family, Some(fit)));
        };
        // Streams 0 and 1 draw the subsamples; each law has two of its own from 2 on.
        let stream = 2 + 2 * family as u64;
        let mut random = generator(seed_of_run(seed, stream));
        let fold_score = fold_score(&fit, folded, FOLDS, &mut random)
            .map(|score| score.scaled(n as f64 / folded.n() as f64));
        let mut random = generator(seed_of_run(seed, stream + 1));
        let goodness = goodness::of_fit(&fit, sorted, booted, &mut random)?;
        let criteria = Some(Criteria::new(log_likelihood, family.parameter_count(), n));
        Ok(Self { fit: Some(fit), family, criteria, fold_score, goodness })
    }

    /// Whether the law has a proper optimum: an interior one, or two parts without a tail, which no
    /// simpler law of the room describes.
    pub fn is_proper(&self) -> bool {
        self.fit.as_ref().is_some_and(|fit| {
            fit.status == Status::Interior || matches!(fit.model, Some(Model::AnticipateReact(_)))
        })
    }
}

/// The law with a proper fit and the least AICc; two parts only if one would hardly gain as much from a
/// second by chance, since criteria judge them too kindly: without a second part its parameters mean
/// nothing. Beside it what to say of that choice.
fn preferred(rows: &[Row], booted: &Sample, seed: u64) -> (Option<Family>, Vec<Caveat>) {
    let best_without = |barred: Option<Family>| {
        rows.iter()
            .filter(|row| row.is_proper() && Some(row.family) != barred)
            .filter_map(|row| row.criteria.map(|criteria| (row.family, criteria.aicc)))
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(family, _)| family)
    };
    let two_parts = Some(Family::AnticipateReact);
    let best = best_without(None);
    if best != two_parts {
        return (best, Vec::new());
    }
    let n = rows.iter().find_map(|row| row.fit.as_ref()).map_or(0, |fit| fit.n);
    let used = booted.n();
    let part = (used < n).then_some(Caveat::DecisionSubsample { used, n });
    if decide(booted, DECISION_SAMPLES, seed).is_ok_and(|decision| decision.two_parts) {
        return (best, Vec::from_iter(part));
    }
    (best_without(two_parts), Vec::from_iter([Caveat::OnePartWillDo].into_iter().chain(part)))
}

fn caveats(rows: &[Row], preferred: Option<Family>, sample: &Sample) -> Vec<Caveat> {
    let n = sample.n();
    let mut caveats = Vec::new();
    if n < ROUGH_BELOW {
        caveats.push(Caveat::Rough { n });
    }
    for row in rows {
        let family = row.family;
        match row.fit.as_ref().map(|fit| fit.status) {
            Some(Status::Boundary) if row.is_proper() => caveats.push(Caveat::NoTail),
            Some(Status::Boundary) => caveats.push(Caveat::AtBoundary { family }),
            Some(Status::None) => caveats.push(Caveat::NoOptimum { family }),
            _ => {}
        }
        if let Some(score) = row.fold_score
            && score.impossible > 0
        {
            caveats.push(Caveat::CalledImpossible { family, values: score.impossible });
        }
        if preferred == Some(family)
            && let Some(fit) = &row.fit
        {
            caveats.extend(small_part(fit));
        }
        if preferred == Some(family)
            && row.goodness.and_then(|g| g.p).is_some_and(|p| p.ad < POOR_BELOW)
        {
            caveats.push(Caveat::PoorFit { family });
        }
    }
    caveats.extend(doubt(sample.values()));
    caveats
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::family::{Distribution, ExGaussian};

    fn drawn(n: usize, seed: u64) -> Sample {
        let law = ExGaussian::new(0.19, 0.02, 0.035).unwrap();
        let mut random = generator(seed);
        Sample::new((0..n).map(|_| law.sample(&mut random)).collect()).unwrap()
    }

    #[test]
    fn criteria_are_those_of_the_textbook() {
        let criteria = Criteria::new(-100.0, 3, 20);
        assert_eq!(criteria.aic, 206.0);
        assert_eq!(criteria.aicc, 207.5);
        assert!((criteria.bic - (200.0 + 3.0 * 20f64.ln())).abs() < 1e-12);
        assert_eq!(Criteria::new(-1.0, 3, 4).aicc, f64::INFINITY);
    }

    #[test]
    fn the_law_values_were_drawn_from_is_preferred() {
        let comparison = compare(&Family::ALL, &drawn(400, 9), 1).unwrap();
        assert_eq!(comparison.preferred, Some(Family::ExGaussian));
        let normal = &comparison.rows[0];
        assert!(normal.goodness.unwrap().p.unwrap().ad < 0.01, "a normal law is rejected");
        let right = &comparison.rows[1];
        assert!(right.goodness.unwrap().p.unwrap().ad > 0.05, "the true law is not");
        assert!(right.fold_score.unwrap().total > normal.fold_score.unwrap().total);
    }

    #[test]
    fn few_values_give_counts_only() {
        let comparison = compare(&Family::ALL, &drawn(9, 2), 1).unwrap();
        assert_eq!(comparison.caveats, [Caveat::CountsOnly { n: 9 }]);
        assert!(comparison.rows.iter().all(|row| row.fit.is_none()));
        let rough = compare(&[Family::Normal], &drawn(10, 2), 1).unwrap();
        assert!(rough.caveats.contains(&Caveat::Rough { n: 10 }));
    }

    #[test]
    fn the_same_seed_gives_the_same_answer_whichever_laws_are_asked() {
        let sample = drawn(60, 4);
        let all = compare(&Family::ALL, &sample, 7).unwrap();
        let one = compare(&[Family::ExGaussian], &sample, 7).unwrap();
        assert_eq!(all.rows[1], one.rows[0]);
        let other = compare(&[Family::ExGaussian], &sample, 8).unwrap();
        assert_ne!(one.rows[0].fold_score, other.rows[0].fold_score);
    }

    #[test]
    fn a_subsample_is_named() {
        let comparison = compare(&[Family::Normal], &drawn(2_500, 6), 1).unwrap();
        assert!(
            comparison.caveats.contains(&Caveat::BootstrapSubsample { used: 2_000, of: 2_500 })
        );
    }

    #[test]
    fn a_law_is_doubted_for_values_it_called_impossible_and_for_a_poor_fit_below_the_bar() {
        let sample = drawn(60, 4);
        let row = compare(&[Family::Normal], &sample, 7).unwrap().rows.remove(0);
        let of = |impossible: usize, ad: f64| {
            let mut row = row.clone();
            row.fold_score.as_mut().unwrap().impossible = impossible;
            row.goodness.as_mut().unwrap().p.as_mut().unwrap().ad = ad;
            caveats(&[row], Some(Family::Normal), &sample)
        };
        let family = Family::Normal;
        assert_eq!(of(0, 0.5), []);
        assert_eq!(of(3, 0.5), [Caveat::CalledImpossible { family, values: 3 }]);
        // One in twenty is what a true law has in one sample of twenty: not poor yet.
        assert_eq!(of(0, 0.05), []);
        assert_eq!(of(0, 0.045), [Caveat::PoorFit { family }]);
    }
}
