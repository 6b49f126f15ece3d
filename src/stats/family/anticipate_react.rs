//! Two ways of launching in one law: some launches are anticipated, the others reactions.
//!
//! Owns its evaluation and each launch's chance of having been a guess. Refuses fitting, and to read
//! minds: the parts describe times, not intentions.

use super::{Distribution, ExGaussian, Normal, StatsError, inside_unit, solve_quantile};
use crate::seed::Generator;
use rand::RngExt;

/// X is normal with chance w and ex-Gaussian otherwise: f(x) = w·N(x) + (1 − w)·exG(x). Every x is
/// possible. Sums are formed from logarithms, so that both tails keep their precision.
///
/// `AnticipateReact::new(0.7, Normal::new(0.035, 0.022)?, ExGaussian::new(0.14, 0.018, 0.028)?)?.cdf(0.0)`
/// is 0.03907051272442164 (mpmath 1.4.1, 40 digits).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AnticipateReact {
    share: f64,
    anticipate: Normal,
    react: ExGaussian,
}

impl AnticipateReact {
    /// The law under which a launch is anticipated with chance `share`.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] unless the share lies inside 0–1.
    pub fn new(share: f64, anticipate: Normal, react: ExGaussian) -> Result<Self, StatsError> {
        if share > 0.0 && share < 1.0 {
            return Ok(Self { share, anticipate, react });
        }
        let domain = "0 to 1 without the ends";
        Err(StatsError::OutOfDomain { name: "anticipate_share", value: share, domain })
    }

    /// The law with the parameters in the order of [`super::Family::parameter_names`].
    pub(in crate::stats) fn from_parameters(p: &[f64; 6]) -> Result<Self, StatsError> {
        Self::new(p[0], Normal::new(p[1], p[2])?, ExGaussian::new(p[3], p[4], p[5])?)
    }

    /// Share of anticipated launches, 0–1.
    pub fn share(&self) -> f64 {
        self.share
    }

    /// The anticipated launches.
    pub fn anticipate(&self) -> &Normal {
        &self.anticipate
    }

    /// The reactions.
    pub fn react(&self) -> &ExGaussian {
        &self.react
    }

    /// The chance that a launch at `x` was anticipated: w·N(x)/f(x).
    pub fn guess_probability(&self, x: f64) -> f64 {
        self.weigh(self.anticipate.ln_pdf(x), self.react.ln_pdf(x)).1
    }

    /// ln(w·eᵃ + (1 − w)·eᵇ), and the first term's share of the sum.
    fn weigh(&self, a: f64, b: f64) -> (f64, f64) {
        let (a, b) = (a + self.share.ln(), b + (-self.share).ln_1p());
        let (top, other) = (a.max(b), (-(a - b).abs()).exp());
        if top == f64::NEG_INFINITY {
            return (top, 0.5);
        }
        (top + other.ln_1p(), if a >= b { 1.0 } else { other } / (1.0 + other))
    }
}

impl Distribution for AnticipateReact {
    fn ln_pdf(&self, x: f64) -> f64 {
        self.weigh(self.anticipate.ln_pdf(x), self.react.ln_pdf(x)).0
    }

    /// Near 1 from the other tail, which keeps the digits there.
    fn ln_cdf(&self, x: f64) -> f64 {
        let sf = self.sf(x);
        if sf < 0.5 {
            return (-sf).ln_1p();
        }
        self.weigh(self.anticipate.ln_cdf(x), self.react.ln_cdf(x)).0
    }

    fn ln_sf(&self, x: f64) -> f64 {
        let cdf = self.cdf(x);
        if cdf < 0.5 {
            return (-cdf).ln_1p();
        }
        self.weigh(self.anticipate.ln_sf(x), self.react.ln_sf(x)).0
    }

    fn cdf(&self, x: f64) -> f64 {
        self.share * self.anticipate.cdf(x) + (1.0 - self.share) * self.react.cdf(x)
    }

    fn sf(&self, x: f64) -> f64 {
        self.share * self.anticipate.sf(x) + (1.0 - self.share) * self.react.sf(x)
    }

    /// The parts' means, weighted.
    fn mean(&self) -> f64 {
        self.share * self.anticipate.mean() + (1.0 - self.share) * self.react.mean()
    }

    /// √(w·sd₁² + (1 − w)·sd₂² + w·(1 − w)·d²), d the distance of the parts' means.
    fn sd(&self) -> f64 {
        let (w, rest) = (self.share, 1.0 - self.share);
        let (a, b) = (self.anticipate.sd(), self.react.sd());
        let apart = self.react.mean() - self.anticipate.mean();
        (w * a * a + rest * b * b + w * rest * apart * apart).sqrt()
    }

    /// By Newton steps between the parts' own quantiles.
    fn quantile(&self, p: f64) -> Result<f64, StatsError> {
        let p = inside_unit(p)?;
        let (a, b) = (self.anticipate.quantile(p)?, self.react.quantile(p)?);
        Ok(solve_quantile(self, p, a.min(b), a.max(b)))
    }

    fn sample(&self, generator: &mut Generator) -> f64 {
        if generator.random::<f64>() < self.share {
            self.anticipate.sample(generator)
        } else {
            self.react.sample(generator)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;

    fn law() -> AnticipateReact {
        AnticipateReact::from_parameters(&[0.7, 0.035, 0.022, 0.14, 0.018, 0.028]).unwrap()
    }

    /// mpmath 1.4.1 at 40 digits: .7 N(.035, .022) + .3 exG(.14, .018, .028).
    #[test]
    fn the_distribution_agrees_with_high_precision_values() {
        for (x, ln_cdf, ln_sf) in [
            (-0.3, -119.937_886_135_648_63, -8.159_017_791_446_098e-53),
            (-0.02, -5.438_323_221_217_423, -0.004_356_240_380_221_333),
            (0.0, -3.242_387_246_775_732, -0.039_854_247_026_891_28),
            (0.05, -0.641_264_403_191_667_8, -0.747_869_790_728_352),
            (0.17, -0.129_371_900_110_691_24, -2.109_052_744_354_459_7),
            (0.3, -0.001_217_425_111_757_173, -6.711_625_865_550_426),
        ] {
            let close =
                |got: f64, want: f64| assert!((got / want - 1.0).abs() < 1e-12, "{x}: {got}");
            close(law().ln_cdf(x), ln_cdf);
            close(law().ln_sf(x), ln_sf);
            close(law().cdf(x), ln_cdf.exp());
            assert!((law().cdf(x) + law().sf(x) - 1.0).abs() < 1e-15);
        }
    }

    #[test]
    fn far_out_each_tail_is_that_of_the_part_that_reaches_there() {
        let law = law();
        for x in [-1.0, -5.0, -1e6] {
            let alone = law.anticipate().ln_cdf(x) + 0.7f64.ln();
            assert!((law.ln_cdf(x) / alone - 1.0).abs() < 1e-12, "{x}");
        }
        for x in [1.0, 20.0, 1e6] {
            let alone = law.react().ln_sf(x) + 0.3f64.ln();
            assert!((law.ln_sf(x) / alone - 1.0).abs() < 1e-12, "{x}");
        }
        assert!(law.guess_probability(-0.1) > 0.999 && law.guess_probability(0.3) < 0.001);
    }

    #[test]
    fn quantiles_invert_and_samples_have_the_laws_moments() {
        let law = law();
        for p in [1e-12, 1e-3, 0.3, 0.69, 0.72, 0.99, 1.0 - 1e-9] {
            let x = law.quantile(p).unwrap();
            assert!((law.cdf(x) / p - 1.0).abs() < 1e-9, "{p}: {x}");
        }
        let (n, mut random) = (40_000, generator(4));
        let drawn: Vec<f64> = (0..n).map(|_| law.sample(&mut random)).collect();
        let mean = drawn.iter().sum::<f64>() / f64::from(n);
        let sd = (drawn.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / f64::from(n)).sqrt();
        // Four standard errors.
        assert!((mean - law.mean()).abs() < 4.0 * law.sd() / f64::from(n).sqrt());
        assert!((sd / law.sd() - 1.0).abs() < 0.02);
    }

    #[test]
    fn a_share_without_a_second_part_is_refused() {
        for share in [0.0, 1.0, -0.1, f64::NAN] {
            assert!(AnticipateReact::new(share, *law().anticipate(), *law().react()).is_err());
        }
    }
}
