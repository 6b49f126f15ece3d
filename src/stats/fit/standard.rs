//! A sample moved to mean 0 and standard deviation 1.
//!
//! Owns the moments the fits start from. Refuses samples without spread.

use crate::stats::StatsError;

/// A sample in standard units and how it got there: x = mean + sd·u.
pub(super) struct Standardised {
    /// The values u, in their order: mean 0, mean square 1.
    pub(super) values: Vec<f64>,
    /// Mean of x.
    pub(super) mean: f64,
    /// Standard deviation of x with divisor n.
    pub(super) sd: f64,
    /// The smallest u.
    pub(super) min: f64,
    /// Mean of u³.
    pub(super) skewness: f64,
}

impl Standardised {
    /// Standardises values.
    ///
    /// # Errors
    /// [`StatsError::NoSpread`] if they differ by no more than rounding,
    /// [`StatsError::OutOfDomain`] if they are too large to square.
    pub(super) fn new(values: &[f64]) -> Result<Self, StatsError> {
        let n = values.len() as f64;
        let rough = values.iter().sum::<f64>() / n;
        let mean = rough + values.iter().map(|x| x - rough).sum::<f64>() / n;
        let variance = values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n;
        if !(mean.is_finite() && variance.is_finite()) {
            let value =
                values.iter().fold(0.0, |far: f64, x| if x.abs() > far.abs() { *x } else { far });
            let domain = "what can be squared and summed";
            return Err(StatsError::OutOfDomain { name: "a value", value, domain });
        }
        let sd = variance.sqrt();
        if sd <= 1e-13 * mean.abs() || sd < f64::MIN_POSITIVE {
            return Err(StatsError::NoSpread);
        }
        Ok(Self::from_moments(values, mean, sd))
    }

    fn from_moments(values: &[f64], mean: f64, sd: f64) -> Self {
        let values: Vec<f64> = values.iter().map(|x| (x - mean) / sd).collect();
        let min = values.iter().copied().fold(f64::INFINITY, f64::min);
        let skewness = values.iter().map(|u| u * u * u).sum::<f64>() / values.len() as f64;
        Self { values, mean, sd, min, skewness }
    }

    /// About `count` of the values, evenly spaced through the sample, always with the smallest.
    pub(super) fn thinned(&self, count: usize) -> Vec<f64> {
        let step = self.values.len().div_ceil(count).max(1);
        let mut thin: Vec<f64> = self.values.iter().copied().step_by(step).collect();
        if step > 1 {
            thin.push(self.min);
        }
        thin
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn standard_units_have_mean_0_and_spread_1() {
        let data = Standardised::new(&[1e6 + 1.0, 1e6 + 2.0, 1e6 + 6.0]).unwrap();
        assert!(data.values.iter().sum::<f64>().abs() < 1e-12);
        assert!((data.values.iter().map(|u| u * u).sum::<f64>() - 3.0).abs() < 1e-9);
        assert!(data.skewness > 0.0 && data.min < -0.9);
    }

    #[test]
    fn values_without_spread_or_beyond_squaring_are_refused() {
        assert_eq!(Standardised::new(&[0.1; 9]).err(), Some(StatsError::NoSpread));
        let huge = Standardised::new(&[1e308, -1e308, 0.2]);
        assert!(matches!(huge.err(), Some(StatsError::OutOfDomain { .. })));
    }
}
