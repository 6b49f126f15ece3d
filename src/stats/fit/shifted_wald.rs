//! The shifted Wald law's fit: one search over the threshold, the rest in closed form.
//!
//! Owns the profile likelihood and the observed information. Its profile falls at both ends for
//! more than three values, so an optimum is a true one.

use super::newton::Symmetric;
use super::threshold::Profile;
use crate::stats::StatsError;
use crate::stats::family::{Model, ShiftedWald};
use crate::stats::special::LN_SQRT_2PI;

/// 1/shape at distance D, its derivative in D, and the mean of 1/(D + u).
///
/// 1/shape = mean(1/y) − 1/mean(y) cancels far out; as mean(u) = 0 it equals the mean of
/// u²/(D²·(D + u)), a sum of positive terms.
fn inverse_shape(values: &[f64], distance: f64) -> (f64, f64, f64) {
    let n = values.len() as f64;
    let (mut sum, mut slope, mut inverse) = (0.0, 0.0, 0.0);
    for u in values {
        let w = 1.0 / (distance + u);
        let term = u * u * w;
        sum += term;
        slope -= term * w;
        inverse += w;
    }
    let square = distance * distance;
    let value = sum / n / square;
    (value, slope / n / square - 2.0 * value / distance, inverse / n)
}

impl Profile for ShiftedWald {
    /// −n·(½·ln(1/shape) + 1.5·(mean ln(1 + u/D) + ln D) + ½ + ln √(2π)).
    fn value(values: &[f64], distance: f64) -> f64 {
        let n = values.len() as f64;
        let logs = values.iter().map(|u| (u / distance).ln_1p()).sum::<f64>() / n + distance.ln();
        -n * (0.5 * inverse_shape(values, distance).0.ln() + 1.5 * logs + LN_SQRT_2PI + 0.5)
    }

    /// −n·(½·shape·(1/shape)′ + 1.5·mean 1/y) with y = D + u.
    fn slope(values: &[f64], distance: f64) -> f64 {
        let (inverse_shape, derivative, inverse) = inverse_shape(values, distance);
        -(values.len() as f64) * (0.5 * derivative / inverse_shape + 1.5 * inverse)
    }

    fn at(values: &[f64], distance: f64) -> Result<(Model, Symmetric), StatsError> {
        let shape = 1.0 / inverse_shape(values, distance).0;
        let law = Self::new(-distance, distance, shape)?;
        Ok((Model::ShiftedWald(law), information(values, distance, shape)))
    }
}

/// Minus the second derivatives of the ln-likelihood in (shift, mean, shape). The best mean is
/// the distance itself.
fn information(values: &[f64], mean: f64, shape: f64) -> Symmetric {
    let mut sum = [0.0; 6];
    for u in values {
        let y = mean + u;
        let w = 1.0 / y;
        sum[0] += shape * w * w * w - 1.5 * w * w;
        sum[1] += shape / mean.powi(3);
        sum[2] += 0.5 * (w * w - 1.0 / (mean * mean));
        sum[3] += shape * (3.0 * y / mean.powi(4) - 2.0 / mean.powi(3));
        sum[4] += 1.0 / (mean * mean) - y / mean.powi(3);
        sum[5] += 0.5 / (shape * shape);
    }
    sum
}
