//! The win chance of a driver whose law is known.
//!
//! Owns W(a) = ∫ f_X(x + a) h(x) dx and its slope by quadrature, the best aim, and what a millisecond
//! of spread is worth beside a millisecond of aim. Refuses doubt about the law: `drawn` has that.

use super::best::{Best, search};
use super::given_light::GivenLight;
use super::opponent::Opponent;
use super::race::Race;
use crate::strategy::StrategyError;
use crate::strategy::law::RtLaw;
use crate::strategy::pieces::{EXACT, QUICK, integral};

/// Aims are looked at from a red light in a million launches to a green one in ten thousand.
const RED_AT_THE_ENDS: (f64, f64) = (1e-6, 0.9999);
/// A millisecond, s.
pub(super) const MS: f64 = 0.001;

/// W(a) for a known law.
#[derive(Debug, Clone)]
pub struct WinChance {
    me: RtLaw,
    /// My law without what is not known about it, and the SD of that.
    certain: RtLaw,
    doubt_sd_s: f64,
    given: GivenLight,
}

impl WinChance {
    /// Of me against an opponent in a race.
    pub fn new(me: RtLaw, opponent: &Opponent, race: &Race) -> Self {
        let given = GivenLight::new(opponent, race);
        Self { certain: me.clone(), me, doubt_sd_s: 0.0, given }
    }

    /// The same where all my lights may be later or earlier together, normally by this SD, s: one
    /// round cannot tell that from scatter, several can.
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] for an SD outside 0–100 s.
    pub fn doubtful(self, sd_s: f64) -> Result<Self, StrategyError> {
        let me = self.certain.with_scatter(sd_s)?;
        Ok(Self { me, doubt_sd_s: sd_s, ..self })
    }

    /// P(win) with everything `earlier_s` earlier.
    ///
    /// `WinChance::new(normal(.045, .025), always 1.0, gap N(−.94, .035²)).win(.01)` is
    /// .640657507027, one bivariate normal rectangle (mpmath).
    pub fn win(&self, earlier_s: f64) -> f64 {
        let fixed = self.me.fixed().map(|(w, x)| w * self.given.win(x - earlier_s));
        fixed.sum::<f64>() + self.average_of(&self.me, earlier_s, RtLaw::pdf)
    }

    /// dW/da, per second: ∫ f′_X(x + a) h(x) dx. Without a meaning where my lights are fixed.
    pub fn slope(&self, earlier_s: f64) -> f64 {
        self.average_of(&self.me, earlier_s, RtLaw::pdf_slope)
    }

    /// P(red) with everything `earlier_s` earlier.
    pub fn red(&self, earlier_s: f64) -> f64 {
        self.me.below(earlier_s)
    }

    /// P(win) in each of `rounds` rounds against the same opponent: W^R, averaged over what is not
    /// known.
    pub fn survive(&self, earlier_s: f64, rounds: u32) -> f64 {
        let power = f64::from(rounds);
        if self.doubt_sd_s == 0.0 || rounds < 2 {
            return self.win(earlier_s).powf(power);
        }
        let certain = |earlier_s: f64| self.average_of(&self.certain, earlier_s, RtLaw::pdf);
        let f = |z: f64| {
            let density = (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt();
            density * certain(earlier_s - self.doubt_sd_s * z).powf(power)
        };
        integral(f, -7.0, 7.0, &[-3.5, 0.0, 3.5], QUICK)
    }

    /// The best aim and its flat top.
    ///
    /// # Errors
    /// None for a law that has a spread.
    pub fn best(&self) -> Result<Best, StrategyError> {
        let (first, last) = RED_AT_THE_ENDS;
        let (low, high) = (self.me.quantile(first)?, self.me.quantile(last)?);
        let step = (self.me.sd() / 8.0).max((high - low) / 400.0);
        Ok(search(&|a| self.win(a), &|a| self.slope(a), (low, high), step))
    }

    /// How much the best win chance grows if my lights scatter 1 ms less: the law drawn together
    /// about its mean, half a millisecond to either side (a law with less spread than 2 ms: a quarter
    /// of it).
    ///
    /// # Errors
    /// As [`WinChance::best`].
    pub fn worth_of_1ms_spread(&self) -> Result<f64, StrategyError> {
        let sd = self.certain.sd();
        let half = (0.5 * MS).min(0.25 * sd);
        if half <= 0.0 {
            return Ok(0.0);
        }
        let with = |by: f64| {
            let me = self.certain.spread_by(1.0 + by / sd)?.with_scatter(self.doubt_sd_s)?;
            let given = self.given.clone();
            let other = Self { certain: me.clone(), me, doubt_sd_s: 0.0, given };
            Ok::<f64, StrategyError>(other.best()?.win)
        };
        Ok((with(-half)? - with(half)?) * 0.5 * MS / half)
    }

    /// How much is lost by aiming 1 ms beside the best aim, the mean of both sides.
    pub fn worth_of_1ms_aim(&self, best: &Best) -> f64 {
        let beside = 0.5 * (self.win(best.earlier_s - MS) + self.win(best.earlier_s + MS));
        best.win - beside
    }

    /// My law.
    pub fn me(&self) -> &RtLaw {
        &self.me
    }

    /// h.
    pub fn given_light(&self) -> &GivenLight {
        &self.given
    }

    /// ∫ weight(x + a) h(x) dx, the weight a density's or its slope's.
    fn average_of(&self, me: &RtLaw, earlier_s: f64, weight: fn(&RtLaw, f64) -> f64) -> f64 {
        let (low, high) = me.range();
        let mine = me.knots().into_iter().map(|x| x - earlier_s);
        let knots: Vec<f64> = mine.chain(self.given.knots().iter().copied()).collect();
        let f = |x: f64| weight(me, x + earlier_s) * self.given.win(x);
        integral(f, low - earlier_s, high - earlier_s, &knots, EXACT)
    }
}
