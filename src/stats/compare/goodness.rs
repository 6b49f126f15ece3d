//! How far a sample is from the law fitted to it.
//!
//! Owns the Kolmogorov–Smirnov, Anderson–Darling and Cramér–von Mises statistics and their p values
//! by the parametric bootstrap. Refuses tabulated p values: they are wrong once parameters are
//! estimated.

use super::BOOTSTRAPS;
use crate::seed::Generator;
use crate::stats::family::{Distribution, Model};
use crate::stats::fit::{Fit, refit};
use crate::stats::{Sample, StatsError};

/// Three distances between a sample and a law; or three p values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Statistics {
    /// Kolmogorov–Smirnov: the largest gap between the two distribution functions.
    pub ks: f64,
    /// Anderson–Darling A²: weighs the tails.
    pub ad: f64,
    /// Cramér–von Mises W²: the mean squared gap, times n.
    pub cvm: f64,
}

/// Distances and what they are worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Goodness {
    /// The distances of the whole sample.
    pub statistics: Statistics,
    /// The chance of distances at least as large if the law were true; from 1/(B + 1) to 1. `None` if
    /// the part of the sample that was bootstrapped has no fit.
    pub p: Option<Statistics>,
    /// Bootstrap samples B behind the p values.
    pub bootstraps: usize,
}

/// The distances of sorted values from a law:
/// KS = max(i/n − Fᵢ, Fᵢ − (i − 1)/n), W² = 1/(12n) + Σ(Fᵢ − (2i − 1)/2n)²,
/// A² = −n − Σ(2i − 1)(ln Fᵢ + ln(1 − Fₙ₊₁₋ᵢ))/n.
pub fn statistics(sorted: &[f64], model: &Model) -> Statistics {
    let n = sorted.len() as f64;
    let (mut ks, mut ad, mut cvm): (f64, f64, f64) = (0.0, 0.0, 1.0 / (12.0 * n));
    for (i, x) in sorted.iter().enumerate() {
        let i = i as f64;
        let (ln_cdf, ln_sf) = (model.ln_cdf(*x), model.ln_sf(*x));
        let cdf = ln_cdf.exp();
        ks = ks.max((i + 1.0) / n - cdf).max(cdf - i / n);
        cvm += (cdf - (i + 0.5) / n).powi(2);
        // The second logarithm's rank counted from the other end: 2(n + 1 − i) − 1.
        ad += (2.0 * i + 1.0) * ln_cdf + (2.0 * (n - i) - 1.0) * ln_sf;
    }
    Statistics { ks, ad: -n - ad / n, cvm }
}

/// The p values of a fitted law for the sample it was fitted to, or a part of it: the law is fitted to
/// that, `bootstraps` samples of the same size are drawn from the fit, fitted by the same family and
/// measured; p = (1 + those at least as far)/(1 + those measured). `None` without a fit.
///
/// # Errors
/// As [`refit`], for the sample itself.
pub fn bootstrap(
    fit: &Fit,
    sample: &Sample,
    bootstraps: usize,
    random: &mut Generator,
) -> Result<Option<(Statistics, usize)>, StatsError> {
    let family = fit.family;
    let Some(near) = fit.model else {
        return Ok(None);
    };
    let Some(model) = refit(family, &near, sample)?.model else {
        return Ok(None);
    };
    let observed = statistics(&sample.sorted(), &model);
    let (mut beyond, mut measured) = ([0usize; 3], 0);
    for _ in 0..bootstraps {
        let drawn = Sample::new((0..sample.n()).map(|_| model.sample(random)).collect())?;
        // A drawn sample may have no fit of this family, as a real one may: it is not counted.
        let Some(refitted) = refit(family, &model, &drawn)?.model else {
            continue;
        };
        let far = statistics(&drawn.sorted(), &refitted);
        measured += 1;
        beyond[0] += usize::from(far.ks >= observed.ks);
        beyond[1] += usize::from(far.ad >= observed.ad);
        beyond[2] += usize::from(far.cvm >= observed.cvm);
    }
    let [ks, ad, cvm] = beyond.map(|count| (count + 1) as f64 / (measured + 1) as f64);
    Ok(Some((Statistics { ks, ad, cvm }, measured)))
}

/// The distances of sorted values from a fit, and the p values of its family for `booted`.
pub(super) fn of_fit(
    fit: &Fit,
    sorted: &[f64],
    booted: &Sample,
    random: &mut Generator,
) -> Result<Option<Goodness>, StatsError> {
    let Some(model) = fit.model else {
        return Ok(None);
    };
    let statistics = statistics(sorted, &model);
    let found = bootstrap(fit, booted, BOOTSTRAPS, random)?;
    let (p, bootstraps) = (found.map(|f| f.0), found.map_or(0, |f| f.1));
    Ok(Some(Goodness { statistics, p, bootstraps }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;
    use crate::stats::family::{Family, Normal};
    use crate::stats::fit::fit;

    #[test]
    fn distances_follow_their_definitions() {
        // Standard normal at −1, 0, 2: F = 0.1586552539, 0.5, 0.9772498681. By hand:
        // KS = F₃ − 2/3 = 0.3105832014; W² = 1/36 + (F₁ − 1/6)² + 0 + (F₃ − 5/6)²;
        // A² = −3 − (ln F₁ + 3·ln ½ + 5·ln F₃ + 5·ln(1 − F₁) + 3·ln ½ + ln(1 − F₃))/3.
        let model = Model::Normal(Normal::new(0.0, 1.0).unwrap());
        let got = statistics(&[-1.0, 0.0, 2.0], &model);
        let (a, c) = (0.158_655_253_931_457_05, 0.977_249_868_051_820_8);
        let half = 0.5f64.ln();
        let ad = -3.0
            - (f64::ln(a)
                + 3.0 * half
                + 5.0 * f64::ln(c)
                + 5.0 * f64::ln(1.0 - a)
                + 3.0 * half
                + f64::ln(1.0 - c))
                / 3.0;
        let cvm = 1.0 / 36.0 + (a - 1.0 / 6.0).powi(2) + (c - 5.0 / 6.0).powi(2);
        assert!((got.ks - (c - 2.0 / 3.0)).abs() < 1e-14);
        assert!((got.cvm - cvm).abs() < 1e-14);
        assert!((got.ad - ad).abs() < 1e-12);
    }

    #[test]
    fn p_values_of_the_true_law_are_uniform() {
        let law = Normal::new(0.2, 0.03).unwrap();
        let mut random = generator(11);
        let (mut small, rounds) = (0, 200);
        for _ in 0..rounds {
            let sample = Sample::new((0..25).map(|_| law.sample(&mut random)).collect()).unwrap();
            let fit = fit(Family::Normal, &sample).unwrap();
            let (p, _) = bootstrap(&fit, &sample, 59, &mut random).unwrap().unwrap();
            small += usize::from(p.ad <= 0.2);
        }
        // 40 expected; three standard errors are 17.
        assert!((23..=57).contains(&small), "{small} of {rounds}");
    }

    #[test]
    fn the_gap_just_below_a_value_counts_as_much_as_the_one_just_above() {
        // F = .2 and .6: before the first value the sample's function is 0, behind the second it is
        // 1, so KS = 1 − .6; W² = 1/24 + .05² + .15²;
        // A² = −2 − (ln .2 + ln .4 + 3·(ln .6 + ln .8))/2.
        let law = Normal::new(0.0, 1.0).unwrap();
        let sorted = [0.2, 0.6].map(|p| law.quantile(p).unwrap());
        let got = statistics(&sorted, &Model::Normal(law));
        assert!((got.ks - 0.4).abs() < 1e-12, "{got:?}");
        assert!((got.cvm - (1.0 / 24.0 + 0.0025 + 0.0225)).abs() < 1e-12, "{got:?}");
        assert!((got.ad - 0.363_818_1).abs() < 1e-6, "{got:?}");
    }

    #[test]
    fn all_three_distances_of_the_true_law_are_usual_and_of_a_wrong_one_are_not() {
        let law = Normal::new(0.2, 0.03).unwrap();
        let places = |of: &dyn Fn(f64) -> f64| {
            Sample::new((1..80).map(|i| of(f64::from(i) / 80.0)).collect()).unwrap()
        };
        // Values at even steps of chance: as near to the law as a sample can be, and those of an exponential one.
        let true_law = places(&|p| law.quantile(p).unwrap());
        let wrong = places(&|p| -(1.0 - p).ln());
        for (sample, usual) in [(true_law, true), (wrong, false)] {
            let fit = fit(Family::Normal, &sample).unwrap();
            let (p, measured) = bootstrap(&fit, &sample, 99, &mut generator(3)).unwrap().unwrap();
            assert_eq!(measured, 99);
            for p in [p.ks, p.ad, p.cvm] {
                assert!(if usual { p > 0.9 } else { p < 0.05 }, "{p}");
            }
        }
    }
}
