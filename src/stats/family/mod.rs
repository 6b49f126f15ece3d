//! The laws a driver's times may follow.
//!
//! Owns the one shape every law has ([`Distribution`]), their names and the names of their
//! parameters. Refuses fitting: a law here is given its parameters. Times are in one unit
//! throughout, whichever it is; the room uses seconds.

mod anticipate_react;
mod ex_gaussian;
mod normal;
mod shifted_lognormal;
mod shifted_wald;

pub use anticipate_react::AnticipateReact;
pub use ex_gaussian::ExGaussian;
pub use normal::Normal;
pub use shifted_lognormal::ShiftedLognormal;
pub use shifted_wald::ShiftedWald;

use super::StatsError;
use crate::seed::Generator;
use std::fmt;

/// What every law can be asked. Tails keep their relative precision; the logarithms are finite far
/// beyond where the plain values underflow.
pub trait Distribution {
    /// ln of the density at `x`, per unit of `x`; minus infinity outside the support.
    fn ln_pdf(&self, x: f64) -> f64;
    /// ln P(X ≤ x).
    fn ln_cdf(&self, x: f64) -> f64;
    /// ln P(X > x).
    fn ln_sf(&self, x: f64) -> f64;
    /// The mean, in the unit of `x`.
    fn mean(&self) -> f64;
    /// The standard deviation, in the unit of `x`.
    fn sd(&self) -> f64;
    /// The x with P(X ≤ x) = `p`.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] unless 0 < `p` < 1.
    fn quantile(&self, p: f64) -> Result<f64, StatsError>;
    /// One random value.
    fn sample(&self, generator: &mut Generator) -> f64;

    /// The density at `x`, per unit of `x`.
    fn pdf(&self, x: f64) -> f64 {
        self.ln_pdf(x).exp()
    }

    /// P(X ≤ x), with full relative precision on the left.
    fn cdf(&self, x: f64) -> f64 {
        self.ln_cdf(x).exp()
    }

    /// P(X > x), with full relative precision on the right.
    fn sf(&self, x: f64) -> f64 {
        self.ln_sf(x).exp()
    }
}

/// Which law.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Family {
    /// Normal.
    Normal,
    /// Normal plus exponential.
    ExGaussian,
    /// Lognormal from a threshold on.
    ShiftedLognormal,
    /// Inverse Gaussian from a threshold on.
    ShiftedWald,
    /// A normal part and an ex-Gaussian one.
    AnticipateReact,
}

impl Family {
    /// All, the simplest first.
    pub const ALL: [Self; 5] = [
        Self::Normal,
        Self::ExGaussian,
        Self::ShiftedLognormal,
        Self::ShiftedWald,
        Self::AnticipateReact,
    ];

    /// The name in reports and on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Normal => "normal",
            Self::ExGaussian => "ex-gaussian",
            Self::ShiftedLognormal => "shifted-lognormal",
            Self::ShiftedWald => "shifted-wald",
            Self::AnticipateReact => "anticipate-react",
        }
    }

    /// The names of the parameters, in order.
    pub fn parameter_names(self) -> &'static [&'static str] {
        match self {
            Self::Normal => &["mean", "sd"],
            Self::ExGaussian => &["mu", "sigma", "tau"],
            Self::ShiftedLognormal => &["shift", "log_mean", "log_sd"],
            Self::ShiftedWald => &["shift", "mean", "shape"],
            Self::AnticipateReact => {
                &["anticipate_share", "anticipate_mean", "anticipate_sd", "mu", "sigma", "tau"]
            }
        }
    }

    /// How many parameters.
    pub fn parameter_count(self) -> usize {
        self.parameter_names().len()
    }

    /// Whether the law gives no chance at all to times below a threshold. Such a law must not be
    /// asked for a risk: below its threshold it says exactly 0.
    pub fn has_threshold(self) -> bool {
        matches!(self, Self::ShiftedLognormal | Self::ShiftedWald)
    }
}

impl fmt::Display for Family {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A law with its parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Model {
    /// Normal.
    Normal(Normal),
    /// Normal plus exponential.
    ExGaussian(ExGaussian),
    /// Lognormal from a threshold on.
    ShiftedLognormal(ShiftedLognormal),
    /// Inverse Gaussian from a threshold on.
    ShiftedWald(ShiftedWald),
    /// A normal part and an ex-Gaussian one.
    AnticipateReact(AnticipateReact),
}

impl Model {
    /// Which law it is.
    pub fn family(&self) -> Family {
        match self {
            Self::Normal(_) => Family::Normal,
            Self::ExGaussian(_) => Family::ExGaussian,
            Self::ShiftedLognormal(_) => Family::ShiftedLognormal,
            Self::ShiftedWald(_) => Family::ShiftedWald,
            Self::AnticipateReact(_) => Family::AnticipateReact,
        }
    }

    /// The parameters, in the order of [`Family::parameter_names`].
    pub fn parameters(&self) -> Vec<f64> {
        match self {
            Self::Normal(law) => vec![law.mean(), law.sd()],
            Self::ExGaussian(law) => vec![law.mu(), law.sigma(), law.tau()],
            Self::ShiftedLognormal(law) => vec![law.shift(), law.log_mean(), law.log_sd()],
            Self::ShiftedWald(law) => vec![law.shift(), law.mean_above_shift(), law.shape()],
            Self::AnticipateReact(law) => {
                let (a, b) = (law.anticipate(), law.react());
                vec![law.share(), a.mean(), a.sd(), b.mu(), b.sigma(), b.tau()]
            }
        }
    }

    /// The law of `factor`·X + `shift`.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] unless the factor is positive and the result has finite
    /// parameters.
    pub fn moved(&self, factor: f64, shift: f64) -> Result<Self, StatsError> {
        let p = self.parameters();
        let place = |i: usize| p[i] * factor + shift;
        let scale = |i: usize| p[i] * factor;
        Ok(match self {
            Self::Normal(_) => Self::Normal(Normal::new(place(0), scale(1))?),
            Self::ExGaussian(_) => Self::ExGaussian(ExGaussian::new(place(0), scale(1), scale(2))?),
            Self::ShiftedLognormal(_) => {
                let law = ShiftedLognormal::new(place(0), p[1] + factor.ln(), p[2])?;
                Self::ShiftedLognormal(law)
            }
            Self::ShiftedWald(_) => {
                Self::ShiftedWald(ShiftedWald::new(place(0), scale(1), scale(2))?)
            }
            Self::AnticipateReact(_) => {
                let p = [p[0], place(1), scale(2), place(3), scale(4), scale(5)];
                Self::AnticipateReact(AnticipateReact::from_parameters(&p)?)
            }
        })
    }

    fn law(&self) -> &dyn Distribution {
        match self {
            Self::Normal(law) => law,
            Self::ExGaussian(law) => law,
            Self::ShiftedLognormal(law) => law,
            Self::ShiftedWald(law) => law,
            Self::AnticipateReact(law) => law,
        }
    }
}

impl Distribution for Model {
    fn ln_pdf(&self, x: f64) -> f64 {
        self.law().ln_pdf(x)
    }

    fn ln_cdf(&self, x: f64) -> f64 {
        self.law().ln_cdf(x)
    }

    fn ln_sf(&self, x: f64) -> f64 {
        self.law().ln_sf(x)
    }

    fn mean(&self) -> f64 {
        self.law().mean()
    }

    fn sd(&self) -> f64 {
        self.law().sd()
    }

    fn quantile(&self, p: f64) -> Result<f64, StatsError> {
        self.law().quantile(p)
    }

    fn sample(&self, generator: &mut Generator) -> f64 {
        self.law().sample(generator)
    }

    fn cdf(&self, x: f64) -> f64 {
        self.law().cdf(x)
    }

    fn sf(&self, x: f64) -> f64 {
        self.law().sf(x)
    }
}

/// `value` if it is finite.
fn finite(name: &'static str, value: f64) -> Result<f64, StatsError> {
    let domain = "the finite numbers";
    if value.is_finite() { Ok(value) } else { Err(StatsError::OutOfDomain { name, value, domain }) }
}

/// `value` if it is positive and finite.
fn positive(name: &'static str, value: f64) -> Result<f64, StatsError> {
    let domain = "the positive finite numbers";
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(StatsError::OutOfDomain { name, value, domain })
    }
}

/// `p` if it is a probability that has a finite quantile.
fn inside_unit(p: f64) -> Result<f64, StatsError> {
    let domain = "0 to 1 without the ends";
    if p > 0.0 && p < 1.0 {
        Ok(p)
    } else {
        Err(StatsError::OutOfDomain { name: "p", value: p, domain })
    }
}

/// The x in `low..high` with P(X ≤ x) = `p`: Newton steps on the logarithm of the nearer tail,
/// kept inside a bracket that only shrinks.
fn solve_quantile(law: &dyn Distribution, p: f64, low: f64, high: f64) -> f64 {
    let (mut low, mut high) = (low, high);
    let left = p <= 0.5;
    let target = if left { p.ln() } else { (-p).ln_1p() };
    let mut x = 0.5 * (low + high);
    for _ in 0..200 {
        let ln_tail = if left { law.ln_cdf(x) } else { law.ln_sf(x) };
        let excess = if left { ln_tail - target } else { target - ln_tail };
        if excess > 0.0 {
            high = x
        } else {
            low = x
        }
        let step = excess / (law.ln_pdf(x) - ln_tail).exp();
        let newton = x - step;
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        if (next - x).abs() <= 2.0 * f64::EPSILON * x.abs() {
            return next;
        }
        x = next;
    }
    x
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_laws_with_a_threshold_are_those_that_call_early_times_impossible() {
        let laws = [
            Model::Normal(Normal::new(0.2, 0.03).unwrap()),
            Model::ExGaussian(ExGaussian::new(0.2, 0.02, 0.03).unwrap()),
            Model::ShiftedLognormal(ShiftedLognormal::new(0.1, -2.0, 0.4).unwrap()),
            Model::ShiftedWald(ShiftedWald::new(0.1, 0.12, 0.6).unwrap()),
            Model::AnticipateReact(
                AnticipateReact::from_parameters(&[0.3, 0.1, 0.02, 0.2, 0.02, 0.03]).unwrap(),
            ),
        ];
        for (law, family) in laws.iter().zip(Family::ALL) {
            assert_eq!(law.family(), family);
            assert_eq!(law.ln_cdf(-0.1) == f64::NEG_INFINITY, family.has_threshold(), "{family}");
        }
    }
}
