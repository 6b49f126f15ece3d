//! The shifted Wald law's fit: one search over the threshold, the rest in closed form.
//!
//! Owns the profile likelihood and the observed information. Its profile falls at both ends for
//! more than three values, so an optimum is a true one.

use super::standard::Standardised;
use super::threshold::{Threshold, search};
use super::{Found, Status, newton, normal};
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

/// ln-likelihood at the best other parameters.
fn value(values: &[f64], distance: f64) -> f64 {
    let n = values.len() as f64;
    let logs = values.iter().map(|u| (u / distance).ln_1p()).sum::<f64>() / n + distance.ln();
    -n * (0.5 * inverse_shape(values, distance).0.ln() + 1.5 * logs + LN_SQRT_2PI + 0.5)
}

/// Its slope in the distance D: −n·(½·shape·(1/shape)′ + 1.5·mean 1/y) with y = D + u.
fn slope(values: &[f64], distance: f64) -> f64 {
    let (inverse_shape, derivative, inverse) = inverse_shape(values, distance);
    -(values.len() as f64) * (0.5 * derivative / inverse_shape + 1.5 * inverse)
}

/// `None` if there is no optimum at all.
pub(super) fn fit(data: &Standardised) -> Result<Option<Found>, StatsError> {
    let distance = match search(data, value, slope) {
        Threshold::At(distance) => distance,
        Threshold::NormalLimit => return normal::as_limit(data).map(Some),
        Threshold::None => return Ok(None),
    };
    let shape = 1.0 / inverse_shape(&data.values, distance).0;
    Ok(Some(Found {
        status: Status::Interior,
        model: Model::ShiftedWald(ShiftedWald::new(-distance, distance, shape)?),
        standard_errors: newton::standard_errors(&information(data, distance, shape)),
        log_likelihood: value(&data.values, distance),
    }))
}

/// Minus the second derivatives of the ln-likelihood in (shift, mean, shape). The best mean is
/// the distance itself.
fn information(data: &Standardised, mean: f64, shape: f64) -> newton::Symmetric {
    let mut sum = [0.0; 6];
    for u in &data.values {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_slope_is_the_derivative_of_the_profile() {
        let data = Standardised::new(&[0.1, 0.13, 0.15, 0.2, 0.22, 0.4]).unwrap();
        for distance in [1.5, 3.0, 40.0] {
            let step = 1e-5 * distance;
            let up = value(&data.values, distance + step);
            let down = value(&data.values, distance - step);
            let slope = slope(&data.values, distance);
            assert!(((up - down) / (2.0 * step) - slope).abs() < 1e-5 * slope.abs().max(1e-2));
        }
    }
}
