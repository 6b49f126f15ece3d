//! The Wald (inverse Gaussian) law from a threshold on: the time a noisy climb takes to a level.
//!
//! Owns its evaluation without overflow. Refuses fitting, and risks below its threshold: there it
//! says exactly 0.

use super::{Distribution, StatsError, finite, inside_unit, positive, solve_quantile};
use crate::seed::Generator;
use crate::stats::special::{LN_SQRT_2PI, mills, normal_quantile};
use rand::RngExt;
use rand_distr::StandardNormal;

/// X = shift + IG(mean, shape).
///
/// With y = x − shift, the density is f(x) = √(shape/(2π·y³))·exp(−shape·(y − mean)²/(2·mean²·y))
/// for y > 0 and 0 otherwise. With A = √(shape/y), a = A·(y/mean − 1), b = A·(y/mean + 1) and m the
/// Mills ratio, F(x) = φ(a)·(m(−a) + m(b)) for a ≤ 0 and 1 − F(x) = φ(a)·(m(a) − m(b)) for a > 0:
/// the textbook's exp(2·shape/mean) is never formed.
///
/// `ShiftedWald::new(0.1, 0.12, 0.6)?.quantile(0.01)?` is 0.14159143700264116 (mpmath).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShiftedWald {
    shift: f64,
    mean: f64,
    shape: f64,
}

impl ShiftedWald {
    /// The law above `shift` with this mean above the shift and this shape, all in the unit of the
    /// times.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for a shift that is not finite, or a mean or shape that is not
    /// positive and finite.
    pub fn new(shift: f64, mean: f64, shape: f64) -> Result<Self, StatsError> {
        Ok(Self {
            shift: finite("shift", shift)?,
            mean: positive("mean", mean)?,
            shape: positive("shape", shape)?,
        })
    }

    /// The threshold.
    pub fn shift(&self) -> f64 {
        self.shift
    }

    /// Mean of X − shift.
    pub fn mean_above_shift(&self) -> f64 {
        self.mean
    }

    /// The shape: mean³/variance.
    pub fn shape(&self) -> f64 {
        self.shape
    }

    /// (a, b) of the type's formula; `y` is positive.
    fn ends(&self, y: f64) -> (f64, f64) {
        let root = (self.shape / y).sqrt();
        (root * (y - self.mean) / self.mean, root * (y + self.mean) / self.mean)
    }

    /// ln F for a ≤ 0.
    fn ln_lower(a: f64, b: f64) -> f64 {
        -0.5 * a * a - LN_SQRT_2PI + (mills(-a) + mills(b)).ln()
    }

    /// ln(1 − F) for a > 0.
    fn ln_upper(a: f64, b: f64) -> f64 {
        -0.5 * a * a - LN_SQRT_2PI + (mills(a) - mills(b)).ln()
    }
}

impl Distribution for ShiftedWald {
    fn ln_pdf(&self, x: f64) -> f64 {
        let y = x - self.shift;
        if y <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let (a, _) = self.ends(y);
        0.5 * (self.shape / y).ln() - y.ln() - LN_SQRT_2PI - 0.5 * a * a
    }

    fn ln_cdf(&self, x: f64) -> f64 {
        let y = x - self.shift;
        if y <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let (a, b) = self.ends(y);
        if a <= 0.0 { Self::ln_lower(a, b) } else { (-Self::ln_upper(a, b).exp()).ln_1p() }
    }

    fn ln_sf(&self, x: f64) -> f64 {
        let y = x - self.shift;
        if y <= 0.0 {
            return 0.0;
        }
        let (a, b) = self.ends(y);
        if a <= 0.0 { (-Self::ln_lower(a, b).exp()).ln_1p() } else { Self::ln_upper(a, b) }
    }

    /// shift + mean.
    fn mean(&self) -> f64 {
        self.shift + self.mean
    }

    /// √(mean³/shape).
    fn sd(&self) -> f64 {
        self.mean * (self.mean / self.shape).sqrt()
    }

    /// By Newton steps in a bracket that doubles until it holds `p`.
    fn quantile(&self, p: f64) -> Result<f64, StatsError> {
        let p = inside_unit(p)?;
        let step = self.sd() * (1.0 + normal_quantile(p).abs());
        let (mut high, mut width) = (self.shift + self.mean + step, step);
        // The median lies below the mean: smaller quantiles are inside from the beginning.
        while self.ln_sf(high) > (-p).ln_1p() {
            width *= 2.0;
            high += width;
        }
        Ok(solve_quantile(self, p, self.shift, high))
    }

    /// The transformation with multiple roots of Michael, Schucany & Haas 1976 (The American
    /// Statistician 30, 88–90).
    fn sample(&self, generator: &mut Generator) -> f64 {
        let z: f64 = generator.sample(StandardNormal);
        let u: f64 = generator.random();
        let (m, v) = (self.mean, 0.5 * self.mean * z * z / self.shape);
        // The smaller root m·(1 + v − √(v·(v + 2))), written without cancellation.
        let small = m / (1.0 + v + (v * (v + 2.0)).sqrt());
        self.shift + if u * (m + small) <= m { small } else { m * (m / small) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;

    #[test]
    fn quantiles_agree_with_high_precision_values() {
        let law = ShiftedWald::new(0.1, 0.12, 0.6).unwrap();
        let table = [
            (1e-12, 0.109_953_942_482_537_83),
            (0.01, 0.141_591_437_002_641_16),
            (0.25, 0.181_564_950_373_278_8),
            (0.99, 0.394_162_455_332_783_3),
        ];
        for (p, x) in table {
            assert!((law.quantile(p).unwrap() - x).abs() < 1e-13, "{p}");
        }
    }

    #[test]
    fn nothing_happens_below_the_threshold() {
        let law = ShiftedWald::new(0.1, 0.12, 0.6).unwrap();
        assert_eq!((law.pdf(0.1), law.cdf(0.05), law.sf(-1.0)), (0.0, 0.0, 1.0));
    }

    #[test]
    fn samples_have_the_law_they_say() {
        let law = ShiftedWald::new(0.1, 0.12, 0.6).unwrap();
        let mut random = generator(5);
        let n = 40_000;
        let values: Vec<f64> = (0..n).map(|_| law.sample(&mut random)).collect();
        let mean = values.iter().sum::<f64>() / f64::from(n);
        let below = values.iter().filter(|x| **x < law.quantile(0.25).unwrap()).count();
        // Four standard errors.
        assert!((mean - law.mean()).abs() < 4.0 * law.sd() / f64::from(n).sqrt());
        assert!((below as f64 / f64::from(n) - 0.25).abs() < 4.0 * (0.1875 / f64::from(n)).sqrt());
    }
}
