//! A sample beside a law, point by point, for plots.
//!
//! Owns P–P and Q–Q series. Refuses drawing.

use crate::stats::family::{Distribution, Model};
use crate::stats::summary::quantile_of_sorted;
use crate::stats::{Sample, StatsError};

/// Plotting positions (i + ½)/m of at most `points` points.
fn positions(n: usize, points: usize) -> impl Iterator<Item = f64> {
    let m = n.min(points.max(1));
    (0..m).map(move |i| (i as f64 + 0.5) / m as f64)
}

/// P–P series: (share of the sample, share by the law) at the sample's quantiles. On the diagonal
/// the two agree.
pub fn pp_series(sample: &Sample, model: &Model, points: usize) -> Vec<(f64, f64)> {
    let sorted = sample.sorted();
    positions(sorted.len(), points).map(|p| (p, model.cdf(at_position(&sorted, p)))).collect()
}

/// Q–Q series: (quantile by the law, quantile of the sample), in the unit of the times. On the
/// diagonal the two agree.
///
/// # Errors
/// None for a law of this room: every position is inside 0–1.
pub fn qq_series(
    sample: &Sample,
    model: &Model,
    points: usize,
) -> Result<Vec<(f64, f64)>, StatsError> {
    let sorted = sample.sorted();
    positions(sorted.len(), points)
        .map(|p| Ok((model.quantile(p)?, at_position(&sorted, p))))
        .collect()
}

/// The value at plotting position `p`: of n points the i-th is the i-th value itself.
fn at_position(sorted: &[f64], p: f64) -> f64 {
    let n = sorted.len() as f64;
    let place = p * n - 0.5;
    quantile_of_sorted(sorted, if n > 1.0 { place / (n - 1.0) } else { 0.0 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::family::Normal;

    #[test]
    fn a_perfect_sample_lies_on_the_diagonal() {
        let model = Model::Normal(Normal::new(0.2, 0.03).unwrap());
        let values = (0..40).map(|i| model.quantile((f64::from(i) + 0.5) / 40.0).unwrap());
        let sample = Sample::new(values.collect()).unwrap();
        let qq = qq_series(&sample, &model, 100).unwrap();
        assert_eq!(qq.len(), 40);
        assert!(qq.iter().all(|(law, value)| (law - value).abs() < 1e-12));
        let pp = pp_series(&sample, &model, 100);
        assert!(pp.iter().all(|(share, law)| (share - law).abs() < 1e-10));
        assert_eq!(pp_series(&sample, &model, 10).len(), 10);
    }
}
