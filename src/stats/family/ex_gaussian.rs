//! The ex-Gaussian law: a normal time plus an exponential one, the usual shape of reactions.
//!
//! Owns its evaluation without overflow or cancellation. Refuses fitting, and any reading of its
//! parameters as stages of the mind (Matzke & Wagenmakers 2009, Psychon. Bull. Rev. 16, 798–817,
//! found no such mapping).

use super::{Distribution, StatsError, finite, inside_unit, positive, solve_quantile};
use crate::seed::Generator;
use crate::stats::special::{LN_SQRT_2PI, ln_normal_sf, mills, normal_quantile, normal_sf};
use rand::RngExt;
use rand_distr::{Exp1, StandardNormal};

/// X = N(mu, sigma²) + an exponential time with mean tau.
///
/// With z = (x − mu)/sigma, r = sigma/tau and m the Mills ratio, the density is
/// f(x) = φ(z)·m(r − z)/tau, which equals the textbook form exp(r²/2 − r·z)·Φ(z − r)/tau and
/// neither overflows nor cancels. Every x is possible.
///
/// `ExGaussian::new(0.19, 0.02, 0.035)?.cdf(0.13)` is 1.8936747626296152e-4 (mpmath).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExGaussian {
    mu: f64,
    sigma: f64,
    tau: f64,
}

impl ExGaussian {
    /// The law with the normal part's mean `mu` and standard deviation `sigma` and the exponential
    /// part's mean `tau`, all in the unit of the times.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for a mu that is not finite, or a sigma or tau that is not
    /// positive and finite.
    pub fn new(mu: f64, sigma: f64, tau: f64) -> Result<Self, StatsError> {
        Ok(Self {
            mu: finite("mu", mu)?,
            sigma: positive("sigma", sigma)?,
            tau: positive("tau", tau)?,
        })
    }

    /// Mean of the normal part.
    pub fn mu(&self) -> f64 {
        self.mu
    }

    /// Standard deviation of the normal part.
    pub fn sigma(&self) -> f64 {
        self.sigma
    }

    /// Mean of the exponential part.
    pub fn tau(&self) -> f64 {
        self.tau
    }

    /// Skewness, 2·tau³/(sigma² + tau²)^1.5: never above 2.
    pub fn skewness(&self) -> f64 {
        2.0 * (self.tau / self.sd()).powi(3)
    }

    fn z(&self, x: f64) -> f64 {
        (x - self.mu) / self.sigma
    }

    fn r(&self) -> f64 {
        self.sigma / self.tau
    }

    /// ln(tau·f(x)): the exponential part's share of the upper tail.
    fn ln_tail_share(&self, z: f64) -> f64 {
        let r = self.r();
        let y = r - z;
        if y > -5.0 {
            -0.5 * z * z - LN_SQRT_2PI + mills(y).ln()
        } else {
            // φ(z)·m(y) = exp(r²/2 − r·z)·Φ(−y): here both factors are tame.
            r * (0.5 * r - z) + ln_normal_sf(y)
        }
    }
}

impl Distribution for ExGaussian {
    fn ln_pdf(&self, x: f64) -> f64 {
        self.ln_tail_share(self.z(x)) - self.tau.ln()
    }

    /// Left of mu, Φ(z) − tau·f cancels; there F = φ(z)·(m(−z) − m(r − z)).
    fn ln_cdf(&self, x: f64) -> f64 {
        let z = self.z(x);
        if z >= 0.0 {
            return (-self.sf(x)).ln_1p();
        }
        if z < -1e8 {
            // The bracket is r/(|z|·(|z| + r)) to the last digit; its parts may be equal here.
            let r = self.r();
            return -0.5 * z * z - LN_SQRT_2PI + (r / (r - z) / -z).ln();
        }
        -0.5 * z * z - LN_SQRT_2PI + (mills(-z) - mills(self.r() - z)).ln()
    }

    fn ln_sf(&self, x: f64) -> f64 {
        let z = self.z(x);
        if z < 0.0 {
            return (-self.ln_cdf(x).exp()).ln_1p();
        }
        let (normal, share) = (ln_normal_sf(z), self.ln_tail_share(z));
        let larger = normal.max(share);
        larger + (-(normal - share).abs()).exp().ln_1p()
    }

    fn sf(&self, x: f64) -> f64 {
        let z = self.z(x);
        if z < 0.0 {
            1.0 - self.ln_cdf(x).exp()
        } else {
            normal_sf(z) + self.ln_tail_share(z).exp()
        }
    }

    fn cdf(&self, x: f64) -> f64 {
        if self.z(x) < 0.0 { self.ln_cdf(x).exp() } else { 1.0 - self.sf(x) }
    }

    /// mu + tau.
    fn mean(&self) -> f64 {
        self.mu + self.tau
    }

    /// √(sigma² + tau²).
    fn sd(&self) -> f64 {
        self.sigma.hypot(self.tau)
    }

    /// By Newton steps in a bracket: X is never far left of its normal part, and its upper tail is
    /// no longer than both parts' tails together.
    fn quantile(&self, p: f64) -> Result<f64, StatsError> {
        let p = inside_unit(p)?;
        let z = normal_quantile(p);
        let low = self.mu + self.sigma * (z - 1.0);
        let half = 0.5 * (1.0 - p).max(f64::MIN_POSITIVE);
        let high = self.mu - self.sigma * normal_quantile(half) - self.tau * half.ln();
        Ok(solve_quantile(self, p, low, high))
    }

    fn sample(&self, generator: &mut Generator) -> f64 {
        let z: f64 = generator.sample(StandardNormal);
        let e: f64 = generator.sample(Exp1);
        self.mu + self.sigma * z + self.tau * e
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::special::ln_mills;

    /// The density through ln m alone, to test the switch of forms.
    fn ln_pdf_by_mills(law: &ExGaussian, x: f64) -> f64 {
        let z = law.z(x);
        -law.tau.ln() - 0.5 * z * z - LN_SQRT_2PI + ln_mills(law.r() - z)
    }

    /// mpmath: moments and mode of ex-Gaussians with (mu, sigma, tau).
    #[test]
    fn moments_agree_with_high_precision_values() {
        let cases = [
            ((0.19, 0.02, 0.035), 0.040_311_288_741_492_75, 1.309_043_506_587_646_2),
            ((0.06, 0.015, 0.012), 0.019_209_372_712_298_546, 0.487_566_863_840_889_4),
            ((300.0, 35.0, 90.0), 96.566_039_579_139_83, 1.619_139_482_999_356),
        ];
        for ((mu, sigma, tau), sd, skew) in cases {
            let law = ExGaussian::new(mu, sigma, tau).unwrap();
            assert!((law.sd() / sd - 1.0).abs() < 1e-14);
            assert!((law.skewness() / skew - 1.0).abs() < 1e-7, "{}", law.skewness());
        }
    }

    /// mpmath: modes.
    #[test]
    fn the_density_is_highest_at_the_mode_of_high_precision() {
        for ((mu, sigma, tau), mode) in [
            ((0.19, 0.02, 0.035), 0.209_076_819_376_806_4),
            ((0.06, 0.015, 0.012), 0.069_051_250_418_917_32),
            ((300.0, 35.0, 90.0), 339.900_031_282_692_98),
        ] {
            let law = ExGaussian::new(mu, sigma, tau).unwrap();
            let step = 1e-3 * sigma;
            let (up, down) = (law.ln_pdf(mode + step), law.ln_pdf(mode - step));
            let bend = (2.0 * law.ln_pdf(mode) - up - down) / (step * step);
            // How far the vertex of the parabola through the three lies from the mode.
            let off = (up - down) / (2.0 * step) / bend;
            assert!(bend > 0.0 && off.abs() < 1e-6 * sigma, "{off}");
        }
    }

    #[test]
    fn the_two_forms_of_the_density_agree() {
        let law = ExGaussian::new(0.19, 0.02, 0.035).unwrap();
        for i in 0..400 {
            let x = f64::from(i) * 0.002;
            let other = ln_pdf_by_mills(&law, x);
            assert!((law.ln_pdf(x) - other).abs() < 1e-11 * (1.0 + other.abs()), "at {x}");
        }
    }

    #[test]
    fn tails_add_up_and_quantiles_invert() {
        for (sigma, tau) in [(0.02, 0.035), (0.03, 1e-6), (1e-4, 0.1)] {
            let law = ExGaussian::new(0.2, sigma, tau).unwrap();
            for p in [1e-12, 1e-4, 0.03, 0.5, 0.9, 0.9999] {
                let x = law.quantile(p).unwrap();
                assert!((law.cdf(x) / p - 1.0).abs() < 1e-10, "{sigma} {tau} {p}");
                assert!((law.cdf(x) + law.sf(x) - 1.0).abs() < 1e-14);
            }
        }
    }

    #[test]
    fn very_far_out_there_is_still_a_logarithm() {
        let law = ExGaussian::new(0.2, 0.02, 0.03).unwrap();
        for x in [-1e12, -1e6, -100.0, 100.0, 1e6, 1e12] {
            assert!(law.ln_pdf(x).is_finite() && law.ln_cdf(x).is_finite(), "{x}");
            assert!(law.ln_sf(x).is_finite(), "{x}");
        }
    }

    #[test]
    fn the_far_left_tail_is_the_closed_form_to_the_last_unit() {
        // With mu 0, sigma = tau = 1: −z²/2 − ln √(2π) − ln(|z|·(|z| + 1)), whose last two come to
        // −37.951 at −1.1·10⁸, where doubles are one unit apart.
        let law = ExGaussian::new(0.0, 1.0, 1.0).unwrap();
        let rest = law.ln_cdf(-1.1e8) + 6.05e15;
        assert!((rest + 37.951).abs() <= 2.0, "{rest}");
    }
}
