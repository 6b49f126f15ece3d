//! The lognormal law from a threshold on.
//!
//! Owns its evaluation. Refuses fitting, and risks below its threshold: there it says exactly 0.

use super::{Distribution, StatsError, finite, inside_unit, positive};
use crate::seed::Generator;
use crate::stats::special::{
    ln_normal_cdf, ln_normal_pdf, ln_normal_sf, normal_cdf, normal_quantile, normal_sf,
};
use rand::RngExt;
use rand_distr::StandardNormal;

/// X = shift + exp(N(log_mean, log_sd²)).
///
/// With y = x − shift and z = (ln y − log_mean)/log_sd, the density is f(x) = φ(z)/(log_sd·y) for
/// y > 0 and 0 otherwise; F(x) = Φ(z).
///
/// `ShiftedLognormal::new(0.1, -2.3, 0.4)?.quantile(0.01)?` is 0.13953617712640316 (mpmath).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShiftedLognormal {
    shift: f64,
    log_mean: f64,
    log_sd: f64,
}

impl ShiftedLognormal {
    /// The law above `shift` (in the unit of the times) whose logarithm of the time above it has
    /// this mean and standard deviation.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for a shift or log mean that is not finite, or a log sd that is
    /// not positive and finite.
    pub fn new(shift: f64, log_mean: f64, log_sd: f64) -> Result<Self, StatsError> {
        Ok(Self {
            shift: finite("shift", shift)?,
            log_mean: finite("log_mean", log_mean)?,
            log_sd: positive("log_sd", log_sd)?,
        })
    }

    /// The threshold.
    pub fn shift(&self) -> f64 {
        self.shift
    }

    /// Mean of ln(X − shift).
    pub fn log_mean(&self) -> f64 {
        self.log_mean
    }

    /// Standard deviation of ln(X − shift).
    pub fn log_sd(&self) -> f64 {
        self.log_sd
    }

    /// z at `x`; minus infinity at and below the threshold.
    fn z(&self, x: f64) -> f64 {
        let y = x - self.shift;
        if y > 0.0 { (y.ln() - self.log_mean) / self.log_sd } else { f64::NEG_INFINITY }
    }
}

impl Distribution for ShiftedLognormal {
    fn ln_pdf(&self, x: f64) -> f64 {
        let z = self.z(x);
        if z == f64::NEG_INFINITY {
            return z;
        }
        ln_normal_pdf(z) - self.log_sd.ln() - (x - self.shift).ln()
    }

    fn ln_cdf(&self, x: f64) -> f64 {
        let z = self.z(x);
        if z == f64::NEG_INFINITY { z } else { ln_normal_cdf(z) }
    }

    fn ln_sf(&self, x: f64) -> f64 {
        let z = self.z(x);
        if z == f64::NEG_INFINITY { 0.0 } else { ln_normal_sf(z) }
    }

    fn cdf(&self, x: f64) -> f64 {
        let z = self.z(x);
        if z == f64::NEG_INFINITY { 0.0 } else { normal_cdf(z) }
    }

    fn sf(&self, x: f64) -> f64 {
        let z = self.z(x);
        if z == f64::NEG_INFINITY { 1.0 } else { normal_sf(z) }
    }

    /// shift + exp(log_mean + log_sd²/2).
    fn mean(&self) -> f64 {
        self.shift + (self.log_mean + 0.5 * self.log_sd * self.log_sd).exp()
    }

    /// exp(log_mean + log_sd²/2)·√(exp(log_sd²) − 1).
    fn sd(&self) -> f64 {
        let square = self.log_sd * self.log_sd;
        (self.log_mean + 0.5 * square).exp() * square.exp_m1().sqrt()
    }

    fn quantile(&self, p: f64) -> Result<f64, StatsError> {
        let z = normal_quantile(inside_unit(p)?);
        Ok(self.shift + (self.log_mean + self.log_sd * z).exp())
    }

    fn sample(&self, generator: &mut Generator) -> f64 {
        let z: f64 = generator.sample(StandardNormal);
        self.shift + (self.log_mean + self.log_sd * z).exp()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_happens_below_the_threshold() {
        let law = ShiftedLognormal::new(0.1, -2.3, 0.4).unwrap();
        for x in [0.1, 0.0, -5.0] {
            assert_eq!((law.pdf(x), law.cdf(x), law.sf(x)), (0.0, 0.0, 1.0));
            assert_eq!((law.ln_cdf(x), law.ln_sf(x)), (f64::NEG_INFINITY, 0.0));
        }
    }

    #[test]
    fn quantiles_agree_with_high_precision_values() {
        let law = ShiftedLognormal::new(0.1, -2.3, 0.4).unwrap();
        assert!((law.quantile(0.01).unwrap() - 0.139_536_177_126_403_16).abs() < 1e-15);
        assert!((law.quantile(0.75).unwrap() - 0.231_308_718_314_248_9).abs() < 1e-15);
    }
}
