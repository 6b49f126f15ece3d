//! The law a driver's lights follow, as far as it is known or drawn.
//!
//! Owns mixtures of normal and ex-Gaussian parts, tails to either side, and of fixed lights: their
//! density, its slope, both tails, quantiles, and where a quadrature has to look. Refuses fitting.

use super::error::{LIGHT, SPREAD, StrategyError, within};
use crate::seed::Generator;
use crate::stats::family::{Distribution, ExGaussian, Normal};
use rand::RngExt;

/// One part of a law.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Part {
    /// Always the same light.
    Fixed(f64),
    Normal(Normal),
    /// Late launches scatter more.
    LateTail(ExGaussian),
    /// Early launches scatter more: minus an ex-Gaussian.
    EarlyTail(ExGaussian),
}

/// A law of lights, s: weighted parts.
#[derive(Debug, Clone, PartialEq)]
pub struct RtLaw {
    parts: Vec<(f64, Part)>,
}

/// Distances from the middle, in SDs, where the density changes character; beyond the outermost
/// there is less than 10⁻¹⁸.
const NORMAL_KNOTS: [f64; 7] = [-9.0, -4.0, -1.5, 0.0, 1.5, 4.0, 9.0];
/// The same along an exponential tail, in its mean, beyond the normal part's own knots.
const TAIL_KNOTS: [f64; 4] = [2.0, 6.0, 16.0, 38.0];

impl RtLaw {
    /// A normal law; with `sd_s` = 0 always the same light.
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] for a mean outside ±100 s or an SD outside 0–100 s.
    pub fn normal(mean_s: f64, sd_s: f64) -> Result<Self, StrategyError> {
        let mean = within("mean light", mean_s, LIGHT)?;
        let sd = within("spread of lights", sd_s, SPREAD)?;
        let part = if sd == 0.0 { Part::Fixed(mean) } else { Part::Normal(Normal::new(mean, sd)?) };
        Ok(Self { parts: vec![(1.0, part)] })
    }

    /// A normal part with an exponential tail of mean `tau_s`; to the early side where `tau_s` is
    /// below 0: mu + N(0, sigma²) − Exp(|tau|).
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] outside ±100 s; [`StrategyError::Stats`] for a sigma or tau
    /// of 0.
    pub fn ex_gaussian(mu_s: f64, sigma_s: f64, tau_s: f64) -> Result<Self, StrategyError> {
        let mu = within("mu", mu_s, LIGHT)?;
        let sigma = within("sigma", sigma_s, SPREAD)?;
        let tau = within("tau", tau_s, LIGHT)?;
        let part = if tau < 0.0 {
            Part::EarlyTail(ExGaussian::new(-mu, sigma, -tau)?)
        } else {
            Part::LateTail(ExGaussian::new(mu, sigma, tau)?)
        };
        Ok(Self { parts: vec![(1.0, part)] })
    }

    /// Several laws, each with its weight; weights count relative to their sum.
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] for a weight below 0 or weights that add up to 0.
    pub fn mixture(laws: Vec<(f64, Self)>) -> Result<Self, StrategyError> {
        let total: f64 = laws.iter().map(|(weight, _)| weight).sum();
        let bad = laws.iter().map(|(w, _)| *w).find(|w| w.is_nan() || *w < 0.0);
        let bad = bad.or((total <= 0.0 || !total.is_finite()).then_some(total));
        if let Some(value) = bad {
            let domain = "the positive finite numbers";
            return Err(StrategyError::OutOfDomain { name: "weight of a part", value, domain });
        }
        let parts = laws.into_iter().flat_map(|(weight, law)| {
            law.parts.into_iter().map(move |(w, part)| (w * weight / total, part))
        });
        Ok(Self { parts: parts.filter(|(weight, _)| *weight > 0.0).collect() })
    }

    /// Density at `x`, per second; fixed lights have none.
    pub fn pdf(&self, x: f64) -> f64 {
        self.sum(|part| match part {
            Part::Fixed(_) => 0.0,
            Part::Normal(law) => law.pdf(x),
            Part::LateTail(law) => law.pdf(x),
            Part::EarlyTail(law) => law.pdf(-x),
        })
    }

    /// Slope of the density at `x`: −z/sd · f for a normal part, (φ(z)/sigma − f)/tau for one with
    /// a tail.
    pub fn pdf_slope(&self, x: f64) -> f64 {
        let tailed = |law: &ExGaussian, x: f64| {
            let z = (x - law.mu()) / law.sigma();
            let normal = (-0.5 * z * z).exp() / (law.sigma() * (2.0 * std::f64::consts::PI).sqrt());
            (normal - law.pdf(x)) / law.tau()
        };
        self.sum(|part| match part {
            Part::Fixed(_) => 0.0,
            Part::Normal(law) => -(x - law.mean()) / law.sd().powi(2) * law.pdf(x),
            Part::LateTail(law) => tailed(law, x),
            Part::EarlyTail(law) => -tailed(law, -x),
        })
    }

    /// P(X < x).
    pub fn below(&self, x: f64) -> f64 {
        self.sum(|part| match part {
            Part::Fixed(at) => f64::from(*at < x),
            Part::Normal(law) => law.cdf(x),
            Part::LateTail(law) => law.cdf(x),
            Part::EarlyTail(law) => law.sf(-x),
        })
    }

    /// Mean, s.
    pub fn mean(&self) -> f64 {
        self.sum(Part::mean)
    }

    /// Standard deviation, s.
    pub fn sd(&self) -> f64 {
        let mean = self.mean();
        self.sum(|part| part.sd().powi(2) + (part.mean() - mean).powi(2)).sqrt()
    }

    /// The x with P(X < x) = `p`, by bisection to a nanosecond.
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] unless 0 < `p` < 1.
    pub fn quantile(&self, p: f64) -> Result<f64, StrategyError> {
        if !(p > 0.0 && p < 1.0) {
            let domain = "0 to 1 without the ends";
            return Err(StrategyError::OutOfDomain { name: "p", value: p, domain });
        }
        let (mut low, mut high) = self.range();
        while high - low > 1e-9 {
            let middle = 0.5 * (low + high);
            if self.below(middle) < p { low = middle } else { high = middle }
        }
        Ok(0.5 * (low + high))
    }

    /// One random light, s.
    pub fn sample(&self, rng: &mut Generator) -> f64 {
        let mut left: f64 = rng.random();
        let chosen = self.parts.iter().find(|(weight, _)| {
            left -= weight;
            left < 0.0
        });
        match chosen.or(self.parts.last()).expect("a law has a part").1 {
            Part::Fixed(at) => at,
            Part::Normal(law) => law.sample(rng),
            Part::LateTail(law) => law.sample(rng),
            Part::EarlyTail(law) => -law.sample(rng),
        }
    }

    /// The law of X + `later_s`.
    ///
    /// # Errors
    /// As the constructors.
    pub fn later(&self, later_s: f64) -> Result<Self, StrategyError> {
        self.map(|part| part.moved(1.0, later_s))
    }

    /// The same mean, everything `factor` times as far from it.
    ///
    /// # Errors
    /// [`StrategyError::Stats`] unless the factor is positive.
    pub fn spread_by(&self, factor: f64) -> Result<Self, StrategyError> {
        let shift = self.mean() * (1.0 - factor);
        self.map(|part| part.moved(factor, shift))
    }

    /// The law of X plus a normal scatter of its own.
    ///
    /// # Errors
    /// As the constructors.
    pub fn with_scatter(&self, sd_s: f64) -> Result<Self, StrategyError> {
        let sd = within("run-to-run spread", sd_s, SPREAD)?;
        if sd == 0.0 { Ok(self.clone()) } else { self.map(|part| part.scattered(sd)) }
    }

    /// Fixed lights with their weights.
    pub(super) fn fixed(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.parts.iter().filter_map(|(weight, part)| match part {
            Part::Fixed(at) => Some((*weight, *at)),
            _ => None,
        })
    }

    /// Where a quadrature has to look, unsorted.
    pub(super) fn knots(&self) -> Vec<f64> {
        self.parts.iter().flat_map(|(_, part)| part.knots()).collect()
    }

    /// From where to where there is anything to speak of.
    pub(super) fn range(&self) -> (f64, f64) {
        let knots = self.knots();
        let low = knots.iter().copied().fold(f64::INFINITY, f64::min);
        (low, knots.iter().copied().fold(f64::NEG_INFINITY, f64::max))
    }

    fn sum(&self, of: impl Fn(&Part) -> f64) -> f64 {
        self.parts.iter().map(|(weight, part)| weight * of(part)).sum()
    }

    fn map(
        &self,
        to: impl Fn(&Part) -> Result<Part, StrategyError>,
    ) -> Result<Self, StrategyError> {
        let parts = self.parts.iter().map(|(weight, part)| Ok((*weight, to(part)?)));
        Ok(Self { parts: parts.collect::<Result<_, StrategyError>>()? })
    }
}

impl Part {
    fn mean(&self) -> f64 {
        match self {
            Part::Fixed(at) => *at,
            Part::Normal(law) => law.mean(),
            Part::LateTail(law) => law.mean(),
            Part::EarlyTail(law) => -law.mean(),
        }
    }

    fn sd(&self) -> f64 {
        match self {
            Part::Fixed(_) => 0.0,
            Part::Normal(law) => law.sd(),
            Part::LateTail(law) | Part::EarlyTail(law) => law.sd(),
        }
    }

    /// factor·X + shift.
    fn moved(&self, factor: f64, shift: f64) -> Result<Self, StrategyError> {
        let tailed = |law: &ExGaussian, shift: f64| {
            ExGaussian::new(law.mu() * factor + shift, law.sigma() * factor, law.tau() * factor)
        };
        Ok(match self {
            Part::Fixed(at) => Part::Fixed(at * factor + shift),
            Part::Normal(law) => {
                Part::Normal(Normal::new(law.mean() * factor + shift, law.sd() * factor)?)
            }
            Part::LateTail(law) => Part::LateTail(tailed(law, shift)?),
            Part::EarlyTail(law) => Part::EarlyTail(tailed(law, -shift)?),
        })
    }

    fn scattered(&self, sd: f64) -> Result<Self, StrategyError> {
        let tailed = |law: &ExGaussian| ExGaussian::new(law.mu(), law.sigma().hypot(sd), law.tau());
        Ok(match self {
            Part::Fixed(at) => Part::Normal(Normal::new(*at, sd)?),
            Part::Normal(law) => Part::Normal(Normal::new(law.mean(), law.sd().hypot(sd))?),
            Part::LateTail(law) => Part::LateTail(tailed(law)?),
            Part::EarlyTail(law) => Part::EarlyTail(tailed(law)?),
        })
    }

    fn knots(&self) -> Vec<f64> {
        let tailed = |law: &ExGaussian| {
            let from = law.mu() + 4.0 * law.sigma();
            let normal = NORMAL_KNOTS.iter().map(|k| law.mu() + k * law.sigma());
            normal.chain(TAIL_KNOTS.iter().map(|k| from + k * law.tau())).collect::<Vec<f64>>()
        };
        match self {
            Part::Fixed(at) => vec![*at],
            Part::Normal(law) => NORMAL_KNOTS.iter().map(|k| law.mean() + k * law.sd()).collect(),
            Part::LateTail(law) => tailed(law),
            Part::EarlyTail(law) => tailed(law).iter().map(|x| -x).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;

    fn odd_law() -> RtLaw {
        RtLaw::mixture(vec![
            (3.0, RtLaw::normal(0.035, 0.022).unwrap()),
            (1.0, RtLaw::ex_gaussian(0.14, 0.018, 0.028).unwrap()),
            (1.0, RtLaw::ex_gaussian(0.05, 0.02, -0.03).unwrap()),
        ])
        .unwrap()
    }

    #[test]
    fn an_early_tail_is_a_late_one_in_the_mirror() {
        let late = RtLaw::ex_gaussian(0.02, 0.01, 0.03).unwrap();
        let early = RtLaw::ex_gaussian(-0.02, 0.01, -0.03).unwrap();
        for x in [-0.05, 0.0, 0.013, 0.2] {
            assert!((late.pdf(x) - early.pdf(-x)).abs() < 1e-12);
            assert!((late.pdf_slope(x) + early.pdf_slope(-x)).abs() < 1e-9);
            assert!((late.below(x) + early.below(-x) - 1.0).abs() < 1e-14);
        }
        assert!((early.mean() + 0.05).abs() < 1e-15);
    }

    #[test]
    fn density_slope_and_distribution_fit_together() {
        let law = odd_law();
        for i in -10..25 {
            let (x, step) = (f64::from(i) * 0.01, 1e-6);
            let slope = (law.below(x + step) - law.below(x - step)) / (2.0 * step);
            assert!((slope - law.pdf(x)).abs() < 1e-5, "{x}");
            let bend = (law.pdf(x + step) - law.pdf(x - step)) / (2.0 * step);
            assert!((bend - law.pdf_slope(x)).abs() < 1e-4 * (1.0 + bend.abs()), "{x}");
        }
        // A normal one-in-a-million of a tail far from 0: 1 + .03 ln 10⁶ beyond what the normal part adds,
        // σ²/2τ.
        let far = RtLaw::ex_gaussian(1.0, 0.02, 0.03).unwrap().quantile(1.0 - 1e-6).unwrap();
        assert!((far - (1.0 + 0.03 * 1e6_f64.ln() + 0.0004 / 0.06)).abs() < 1e-5, "{far}");
        let x = law.quantile(0.03).unwrap();
        assert!((law.below(x) - 0.03).abs() < 1e-7);
        assert!(law.quantile(1.0).is_err());
    }

    #[test]
    fn a_law_is_moved_spread_and_scattered_as_its_lights_are() {
        let law = odd_law();
        let moved = law.later(0.03).unwrap().spread_by(0.8).unwrap().with_scatter(0.01).unwrap();
        assert!((moved.mean() - law.mean() - 0.03).abs() < 1e-14);
        assert!((moved.sd() - (0.8 * law.sd()).hypot(0.01)).abs() < 1e-14);
        let fixed = RtLaw::normal(0.02, 0.0).unwrap();
        assert_eq!(fixed.later(0.03).unwrap(), RtLaw::normal(0.05, 0.0).unwrap());
        let rng = &mut generator(4);
        let mean = (0..40_000).map(|_| moved.sample(rng)).sum::<f64>() / 40_000.0;
        assert!((mean - moved.mean()).abs() < 4.0 * moved.sd() / 200.0, "{mean}");
    }

    #[test]
    fn laws_without_sense_are_refused() {
        assert!(RtLaw::normal(f64::NAN, 0.1).is_err() && RtLaw::normal(0.1, -0.1).is_err());
        assert!(RtLaw::ex_gaussian(0.1, 0.0, 0.1).is_err());
        assert!(RtLaw::mixture(vec![]).is_err());
        let nothing = (0.0, RtLaw::normal(9.0, 0.1).unwrap());
        assert_eq!(RtLaw::mixture(vec![(2.0, odd_law()), nothing]).unwrap(), odd_law());
        assert!(RtLaw::mixture(vec![(-1.0, RtLaw::normal(0.0, 0.1).unwrap())]).is_err());
        assert_eq!(RtLaw::normal(0.02, 0.0).unwrap().below(0.02), 0.0);
    }
}
