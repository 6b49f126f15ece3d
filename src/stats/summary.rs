//! A sample in a few numbers.
//!
//! Owns mean, spread, quantiles and serial dependence, each with its interval where one follows
//! from the counts or from normal theory. Refuses models.

use super::{Estimate, Sample, StatsError};
use statrs::distribution::{Binomial, ChiSquared, ContinuousCDF, DiscreteCDF, StudentsT};

/// A sample in a few numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// Values.
    pub n: usize,
    /// Mean, with Student's interval.
    pub mean: Estimate,
    /// Standard deviation (divisor n − 1), with the chi-squared interval of normal values.
    pub sd: Estimate,
    /// Median, with the interval between two order statistics.
    pub median: Estimate,
    /// Median of the distances from the median, not scaled.
    pub mad: f64,
    /// Skewness Σ(x − x̄)³/n / (Σ(x − x̄)²/n)^1.5.
    pub skewness: f64,
    /// Correlation of each value with the next.
    pub lag_1: f64,
    /// How many independent values these are worth.
    pub effective_n: f64,
}

impl Summary {
    /// Summarises a sample; intervals hold with chance `level`.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] below 3 values, [`StatsError::NoSpread`] if all are the same,
    /// [`StatsError::OutOfDomain`] for a level outside 0–1 or values too large to square.
    pub fn new(sample: &Sample, level: f64) -> Result<Self, StatsError> {
        sample.at_least(3)?;
        let lag_1 = lag_1(sample)?;
        Ok(Self {
            n: sample.n(),
            mean: mean_with_interval(sample, level)?,
            sd: sd_with_interval(sample, level)?,
            median: quantile_with_interval(sample, 0.5, level)?,
            mad: mad(sample),
            skewness: skewness(sample)?,
            lag_1,
            effective_n: effective_n(sample.n(), lag_1),
        })
    }
}

/// The mean, x̄ = Σx/n, corrected by the mean of what its rounding left.
///
/// NIST StRD Michelso: 299.8524.
pub fn mean(sample: &Sample) -> f64 {
    mean_of(sample.values())
}

/// The same of values that were checked elsewhere.
pub(super) fn mean_of(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    // Divided before summing, so that no finite sample overflows.
    let rough: f64 = values.iter().map(|x| x / n).sum();
    rough + values.iter().map(|x| (x - rough) / n).sum::<f64>()
}

/// The standard deviation √(Σ(x − x̄)²/(n − 1)), in the unit of the values; two passes.
///
/// NIST StRD Michelso: 0.0790105478190518.
///
/// # Errors
/// [`StatsError::TooFew`] below 2 values, [`StatsError::OutOfDomain`] if a square overflows.
pub fn sd(sample: &Sample) -> Result<f64, StatsError> {
    sample.at_least(2)?;
    let (square, _) = central_sums(sample.values())?;
    Ok((square / (sample.n() - 1) as f64).sqrt())
}

/// The skewness m₃/m₂^1.5 with mₖ = Σ(x − x̄)ᵏ/n; no unit.
///
/// # Errors
/// [`StatsError::NoSpread`] if all values are the same, [`StatsError::OutOfDomain`] if a square
/// overflows.
pub fn skewness(sample: &Sample) -> Result<f64, StatsError> {
    let (square, _) = central_sums(sample.values())?;
    let n = sample.n() as f64;
    let spread = (square / n).sqrt();
    if spread == 0.0 {
        return Err(StatsError::NoSpread);
    }
    let mean = mean(sample);
    Ok(sample.values().iter().map(|x| ((x - mean) / spread).powi(3)).sum::<f64>() / n)
}

/// The lag-1 autocorrelation Σᵢ(xᵢ − x̄)(xᵢ₊₁ − x̄) / Σᵢ(xᵢ − x̄)², as NIST defines it; −1…1.
///
/// NIST StRD Lew: −0.307304800605679.
///
/// # Errors
/// [`StatsError::NoSpread`] if all values are the same, [`StatsError::OutOfDomain`] if a square
/// overflows.
pub fn lag_1(sample: &Sample) -> Result<f64, StatsError> {
    let (square, product) = central_sums(sample.values())?;
    if square == 0.0 { Err(StatsError::NoSpread) } else { Ok(product / square) }
}

/// How many independent values `n` values with lag-1 autocorrelation `rho` are worth for a mean:
/// n·(1 − ρ)/(1 + ρ), the value for a first-order chain. Never above n: values that alternate are
/// not taken as more than they are.
pub fn effective_n(n: usize, rho: f64) -> f64 {
    let rho = rho.clamp(0.0, 1.0);
    (n as f64 * (1.0 - rho) / (1.0 + rho)).max(1.0)
}

/// The median of the distances from the median, in the unit of the values. For normal values it is
/// 0.6745 standard deviations.
pub fn mad(sample: &Sample) -> f64 {
    let middle = quantile_of_sorted(&sample.sorted(), 0.5);
    let mut distances: Vec<f64> = sample.values().iter().map(|x| (x - middle).abs()).collect();
    distances.sort_by(f64::total_cmp);
    quantile_of_sorted(&distances, 0.5)
}

/// The mean with Student's interval x̄ ± t·s/√n.
///
/// # Errors
/// [`StatsError::TooFew`] below 2 values, [`StatsError::OutOfDomain`] for a level outside 0–1.
pub fn mean_with_interval(sample: &Sample, level: f64) -> Result<Estimate, StatsError> {
    let (value, sd, n) = (mean(sample), sd(sample)?, sample.n());
    let half = student_quantile(level, (n - 1) as f64)? * sd / (n as f64).sqrt();
    Ok(Estimate { value, low: value - half, high: value + half, level, n })
}

/// How many standard errors an interval of Student's law reaches to either side, for `freedom` > 0
/// degrees of freedom, whole or not.
///
/// # Errors
/// [`StatsError::OutOfDomain`] for a level outside 0–1 or no freedom.
pub fn student_quantile(level: f64, freedom: f64) -> Result<f64, StatsError> {
    let tail = tail_of(level)?;
    let none = StatsError::OutOfDomain { name: "freedom", value: freedom, domain: "above 0" };
    let student = StudentsT::new(0.0, 1.0, freedom).map_err(|_| none)?;
    Ok(student.inverse_cdf(1.0 - tail))
}

/// The standard deviation with the interval s·√((n − 1)/χ²), exact for normal values only.
///
/// # Errors
/// [`StatsError::TooFew`] below 2 values, [`StatsError::OutOfDomain`] for a level outside 0–1.
pub fn sd_with_interval(sample: &Sample, level: f64) -> Result<Estimate, StatsError> {
    let tail = tail_of(level)?;
    let (value, n) = (sd(sample)?, sample.n());
    let freedom = (n - 1) as f64;
    let chi = ChiSquared::new(freedom).map_err(|_| StatsError::NoSpread)?;
    let limit = |p: f64| value * (freedom / chi.inverse_cdf(p)).sqrt();
    Ok(Estimate { value, low: limit(1.0 - tail), high: limit(tail), level, n })
}

/// The `p` quantile (linear between order statistics, the definition of R's type 7) with the
/// interval between the two order statistics X₍ₗ₎ and X₍ᵤ₎ whose ranks follow from the binomial law:
/// P(X₍ₗ₎ ≤ quantile ≤ X₍ᵤ₎) ≥ level whatever the law of the values, wherever the sample has such
/// ranks; else the limit is the sample's end and the chance is less.
///
/// # Errors
/// [`StatsError::OutOfDomain`] unless 0 < p < 1 and 0 < level < 1.
pub fn quantile_with_interval(sample: &Sample, p: f64, level: f64) -> Result<Estimate, StatsError> {
    let tail = tail_of(level)?;
    let n = sample.n();
    let outside = StatsError::OutOfDomain { name: "p", value: p, domain: "0 to 1" };
    if !(p > 0.0 && p < 1.0) {
        return Err(outside);
    }
    let below = Binomial::new(p, n as u64).map_err(|_| outside)?;
    let sorted = sample.sorted();
    // K values lie below the quantile. X₍ₗ₎ is above it when K < l, so the largest rank l with
    // P(K ≤ l − 1) ≤ tail is safe; X₍ᵤ₎ is below it when K ≥ u, so P(K ≥ u) ≤ tail.
    let low_rank = first_true(n, |l| below.cdf(l as u64) > tail);
    let high_rank = first_true(n, |u| 1.0 - below.cdf(u as u64) <= tail) + 1;
    Ok(Estimate {
        value: quantile_of_sorted(&sorted, p),
        low: sorted[low_rank.max(1) - 1],
        high: sorted[high_rank.min(n) - 1],
        level,
        n,
    })
}

/// The `p` quantile of sorted values, linear between order statistics (R's type 7); `p` is clamped
/// to 0–1 and there is at least one value.
pub fn quantile_of_sorted(sorted: &[f64], p: f64) -> f64 {
    let place = (sorted.len() - 1) as f64 * p.clamp(0.0, 1.0);
    let index = place.floor() as usize;
    let (here, next) = (sorted[index], sorted[(index + 1).min(sorted.len() - 1)]);
    let share = place - index as f64;
    // As a weighted sum: a difference of two huge values could overflow.
    if here == next { here } else { here * (1.0 - share) + next * share }
}

/// The first of 0..n for which the growing condition holds, or n.
fn first_true(n: usize, holds: impl Fn(usize) -> bool) -> usize {
    let (mut low, mut high) = (0, n);
    while low < high {
        let middle = (low + high) / 2;
        if holds(middle) { high = middle } else { low = middle + 1 }
    }
    low
}

/// The chance on each side of an interval with this level.
fn tail_of(level: f64) -> Result<f64, StatsError> {
    let domain = "0 to 1 without the ends";
    if level > 0.0 && level < 1.0 {
        Ok(0.5 * (1.0 - level))
    } else {
        Err(StatsError::OutOfDomain { name: "level", value: level, domain })
    }
}

/// Σ(x − x̄)² and Σ(xᵢ − x̄)(xᵢ₊₁ − x̄).
pub(super) fn central_sums(values: &[f64]) -> Result<(f64, f64), StatsError> {
    let mean = mean_of(values);
    let square: f64 = values.iter().map(|x| (x - mean) * (x - mean)).sum();
    if !square.is_finite() {
        let value =
            values.iter().fold(0.0, |far: f64, x| if x.abs() > far.abs() { *x } else { far });
        let domain = "what can be squared and summed";
        return Err(StatsError::OutOfDomain { name: "a value", value, domain });
    }
    let product = values.windows(2).map(|pair| (pair[0] - mean) * (pair[1] - mean)).sum();
    Ok((square, product))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(values: &[f64]) -> Sample {
        Sample::new(values.to_vec()).unwrap()
    }

    #[test]
    fn quantiles_are_those_of_type_7() {
        // By hand: place 3·p, so 0.3 between 1 and 2, 1.5 between 2 and 4, 2.7 between 4 and 8.
        let sorted = [1.0, 2.0, 4.0, 8.0];
        for (p, want) in [(0.1, 1.3), (0.5, 3.0), (0.9, 6.8), (0.0, 1.0), (1.0, 8.0)] {
            assert!((quantile_of_sorted(&sorted, p) - want).abs() < 1e-14);
        }
    }

    #[test]
    fn the_interval_of_a_median_runs_between_the_binomial_ranks() {
        // For n = 20, P(K ≤ 5) = 0.0207 and P(K ≤ 6) = 0.0577: ranks 6 and 15 for 95 %.
        let twenty: Vec<f64> = (1..=20).map(f64::from).collect();
        let median = quantile_with_interval(&sample(&twenty), 0.5, 0.95).unwrap();
        assert_eq!((median.value, median.low, median.high), (10.5, 6.0, 15.0));
        // For 90 %: P(K ≤ 5) is still the last below 0.05.
        let median = quantile_with_interval(&sample(&twenty), 0.5, 0.90).unwrap();
        assert_eq!((median.low, median.high), (6.0, 15.0));
    }

    #[test]
    fn order_statistics_hold_the_quantile_as_often_as_said() {
        // Uniform values: the true quantile is p itself.
        use rand::RngExt;
        let mut random = crate::seed::generator(3);
        let (mut held, rounds) = (0, 2_000);
        for _ in 0..rounds {
            let values: Vec<f64> = (0..60).map(|_| random.random()).collect();
            let e = quantile_with_interval(&sample(&values), 0.1, 0.9).unwrap();
            held += usize::from(e.low <= 0.1 && 0.1 <= e.high);
        }
        let share = held as f64 / f64::from(rounds);
        // Discrete ranks make it conservative; three standard errors below, 0.07 above.
        assert!((0.88..0.97).contains(&share), "{share}");
    }

    #[test]
    fn huge_values_are_an_error_or_an_answer_but_never_nan() {
        let huge = sample(&[1e308, -1e308, 1e308, 2.0]);
        assert!(mean(&huge).is_finite());
        assert!(matches!(Summary::new(&huge, 0.9), Err(StatsError::OutOfDomain { .. })));
        let same = sample(&[0.2, 0.2, 0.2]);
        assert_eq!(Summary::new(&same, 0.9), Err(StatsError::NoSpread));
    }

    #[test]
    fn dependence_lowers_what_values_are_worth() {
        assert_eq!(effective_n(100, 0.0), 100.0);
        assert_eq!(effective_n(100, -0.5), 100.0);
        assert!((effective_n(100, 0.5) - 100.0 / 3.0).abs() < 1e-12);
        assert_eq!(effective_n(100, 1.0), 1.0);
    }

    #[test]
    fn the_skewness_is_that_of_its_definition() {
        // 0, 0, 3: mean 1, m₂ = 2, m₃ = 2, so 2/2^1.5. An exponential's is 2, a mirror turns it over.
        let few = skewness(&sample(&[0.0, 0.0, 3.0])).unwrap();
        assert!((few - 0.5_f64.sqrt()).abs() < 1e-14, "{few}");
        let many: Vec<f64> = (0..20_000).map(|i| -((f64::from(i) + 0.5) / 2e4).ln()).collect();
        assert!((skewness(&sample(&many)).unwrap() - 2.0).abs() < 0.02);
        let mirrored = many.iter().map(|x| 0.3 - 0.01 * x).collect::<Vec<f64>>();
        assert!((skewness(&sample(&mirrored)).unwrap() + 2.0).abs() < 0.02);
    }

    #[test]
    fn what_cannot_be_asked_or_squared_is_named() {
        let few = sample(&[0.1, 0.2, 0.3]);
        for p in [0.0, 1.0, f64::NAN] {
            let refused = quantile_with_interval(&few, p, 0.9);
            assert!(matches!(refused, Err(StatsError::OutOfDomain { name: "p", .. })), "{p}");
        }
        // The value that is farthest off.
        let Err(StatsError::OutOfDomain { value, .. }) = sd(&sample(&[3.0, -1.5e308, 1e308]))
        else {
            panic!("its square is beyond the doubles");
        };
        assert_eq!(value, -1.5e308);
    }
}
