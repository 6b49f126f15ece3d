//! The shifted lognormal law's fit: one search over the threshold, the rest in closed form.
//!
//! Owns the profile likelihood and the observed information. Refuses the infinite likelihood of a
//! threshold at the fastest value: only an interior local optimum counts (Hill 1963).

use super::newton::Symmetric;
use super::threshold::Profile;
use crate::stats::StatsError;
use crate::stats::family::{Model, ShiftedLognormal};
use crate::stats::special::LN_SQRT_2PI;

/// Mean and variance (divisor n) of v = ln(1 + u/D), and the mean of 1/(D + u) and its covariance
/// with v.
struct Logs {
    mean: f64,
    variance: f64,
    inverse: f64,
    covariance: f64,
}

impl Logs {
    fn new(values: &[f64], distance: f64) -> Self {
        let n = values.len() as f64;
        let (mut sum, mut square, mut inverse, mut product) = (0.0, 0.0, 0.0, 0.0);
        let per_distance = 1.0 / distance;
        for u in values {
            let w = 1.0 / (distance + u);
            // v = ln(1 + q) to the last digits of q: the logarithm of the rounded sum, less what
            // the rounding added. Several times faster than ln_1p. It is within a few s of 0
            // because ln D is taken out, so plain sums keep their digits.
            let q = u * per_distance;
            let one = 1.0 + q;
            let v = one.ln() - ((one - 1.0) - q) * (distance * w);
            sum += v;
            square += v * v;
            inverse += w;
            product += v * w;
        }
        let (mean, inverse) = (sum / n, inverse / n);
        let variance = square / n - mean * mean;
        Self { mean, variance, inverse, covariance: product / n - mean * inverse }
    }
}

impl Profile for ShiftedLognormal {
    /// −n·(½·ln s² + mean v + ln D + ½ + ln √(2π)).
    fn value(values: &[f64], distance: f64) -> f64 {
        let logs = Logs::new(values, distance);
        let sum = 0.5 * logs.variance.ln() + logs.mean + distance.ln() + LN_SQRT_2PI + 0.5;
        -(values.len() as f64) * sum
    }

    /// −n·(cov(v, 1/y)/s² + mean 1/y) with y = D + u.
    fn slope(values: &[f64], distance: f64) -> f64 {
        let logs = Logs::new(values, distance);
        -(values.len() as f64) * (logs.covariance / logs.variance + logs.inverse)
    }

    fn at(values: &[f64], distance: f64) -> Result<(Model, Symmetric), StatsError> {
        let logs = Logs::new(values, distance);
        let (log_mean, log_sd) = (distance.ln() + logs.mean, logs.variance.sqrt());
        let law = Self::new(-distance, log_mean, log_sd)?;
        Ok((Model::ShiftedLognormal(law), information(values, distance, log_mean, log_sd)))
    }
}

/// Minus the second derivatives of the ln-likelihood in (shift, log_mean, log_sd), where log_mean is the
/// best: that in the last two is 2·Σz/s², which is 0 there.
fn information(values: &[f64], distance: f64, m: f64, s: f64) -> Symmetric {
    let mut sum = [0.0; 6];
    for u in values {
        let y = distance + u;
        let (w, z) = (1.0 / y, (y.ln() - m) / s);
        sum[0] += w * w * (1.0 / (s * s) - z / s - 1.0);
        sum[1] += w / (s * s);
        sum[2] += 2.0 * z * w / (s * s);
        sum[3] += 1.0 / (s * s);
        sum[5] += (3.0 * z * z - 1.0) / (s * s);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fit::standard::Standardised;
    use crate::stats::fit::threshold::fit;

    #[test]
    fn three_values_have_no_optimum() {
        // The first three of `rt20_example.csv`: the profile falls all the way from the fastest.
        let data = Standardised::new(&[36.7, 35.4, 50.2]).unwrap();
        assert!(fit::<ShiftedLognormal>(&data).unwrap().is_none());
    }
}
