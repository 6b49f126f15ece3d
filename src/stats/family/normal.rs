//! The normal law: times of one who goes by rhythm.
//!
//! Owns its evaluation. Refuses fitting.

use super::{Distribution, StatsError, finite, inside_unit, positive};
use crate::seed::Generator;
use crate::stats::special::{
    ln_normal_cdf, ln_normal_pdf, ln_normal_sf, normal_cdf, normal_quantile, normal_sf,
};
use rand::RngExt;
use rand_distr::StandardNormal;

/// X ~ N(mean, sd²).
///
/// Density f(x) = φ(z)/sd with z = (x − mean)/sd and φ the standard normal density; every x is
/// possible.
///
/// `Normal::new(0.03, 0.025)?.cdf(0.0)` is 0.11506967022170828 (mpmath `ncdf(-1.2)`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Normal {
    mean: f64,
    sd: f64,
}

impl Normal {
    /// The law with this mean and standard deviation, both in the unit of the times.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for a mean that is not finite or an sd that is not positive and
    /// finite.
    pub fn new(mean: f64, sd: f64) -> Result<Self, StatsError> {
        Ok(Self { mean: finite("mean", mean)?, sd: positive("sd", sd)? })
    }

    fn z(&self, x: f64) -> f64 {
        (x - self.mean) / self.sd
    }
}

impl Distribution for Normal {
    /// ln φ(z) − ln sd.
    fn ln_pdf(&self, x: f64) -> f64 {
        ln_normal_pdf(self.z(x)) - self.sd.ln()
    }

    fn ln_cdf(&self, x: f64) -> f64 {
        ln_normal_cdf(self.z(x))
    }

    fn ln_sf(&self, x: f64) -> f64 {
        ln_normal_sf(self.z(x))
    }

    fn cdf(&self, x: f64) -> f64 {
        normal_cdf(self.z(x))
    }

    fn sf(&self, x: f64) -> f64 {
        normal_sf(self.z(x))
    }

    fn mean(&self) -> f64 {
        self.mean
    }

    fn sd(&self) -> f64 {
        self.sd
    }

    fn quantile(&self, p: f64) -> Result<f64, StatsError> {
        Ok(self.mean + self.sd * normal_quantile(inside_unit(p)?))
    }

    fn sample(&self, generator: &mut Generator) -> f64 {
        let z: f64 = generator.sample(StandardNormal);
        self.mean + self.sd * z
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_normal_law_needs_a_spread() {
        assert!(Normal::new(0.2, 0.0).is_err());
        assert!(Normal::new(f64::NAN, 0.02).is_err());
        assert!(Normal::new(0.2, f64::INFINITY).is_err());
    }

    #[test]
    fn tails_and_quantiles_fit_together() {
        let law = Normal::new(0.03, 0.025).unwrap();
        assert!((law.cdf(0.0) - 0.115_069_670_221_708_28).abs() < 1e-16);
        assert!((law.quantile(law.cdf(0.01)).unwrap() - 0.01).abs() < 1e-15);
        assert!(law.quantile(0.0).is_err() && law.quantile(1.0).is_err());
    }
}
