//! The win chance of a driver whose law is known.
//!
//! Owns W(a) = ∫ f_X(x + a) h(x) dx and its slope by quadrature, the best aim, and what a millisecond
//! of spread is worth beside a millisecond of aim. Refuses doubt about the law: `drawn` has that.

use super::best::{Best, search};
use super::given_light::GivenLight;
use super::opponent::Opponent;
use super::pieces::integral;
use super::race::Race;
use crate::strategy::StrategyError;
use crate::strategy::law::RtLaw;

/// Aims are looked at from a red light in a million launches to a green one in ten thousand.
const RED_AT_THE_ENDS: (f64, f64) = (1e-6, 0.9999);
/// A millisecond, s.
pub(super) const MS: f64 = 0.001;

/// W(a) for a known law.
#[derive(Debug, Clone)]
pub struct WinChance {
    me: RtLaw,
    given: GivenLight,
}

impl WinChance {
    /// Of me against an opponent in a race.
    pub fn new(me: RtLaw, opponent: &Opponent, race: &Race) -> Self {
        Self { me, given: GivenLight::new(opponent, race) }
    }

    /// P(win) with everything `earlier_s` earlier.
    ///
    /// `WinChance::new(normal(.045, .025), always 1.0, gap N(−.94, .035²)).win(.01)` is
    /// .640657507027, one bivariate normal rectangle (mpmath).
    pub fn win(&self, earlier_s: f64) -> f64 {
        let fixed = self.me.fixed().map(|(w, x)| w * self.given.win(x - earlier_s));
        fixed.sum::<f64>() + self.average(earlier_s, |x| self.me.pdf(x))
    }

    /// dW/da, per second: ∫ f′_X(x + a) h(x) dx. Without a meaning where my lights are fixed.
    pub fn slope(&self, earlier_s: f64) -> f64 {
        self.average(earlier_s, |x| self.me.pdf_slope(x))
    }

    /// P(red) with everything `earlier_s` earlier.
    pub fn red(&self, earlier_s: f64) -> f64 {
        self.me.below(earlier_s)
    }

    /// P(win) in each of `rounds` rounds against the same opponent.
    pub fn survive(&self, earlier_s: f64, rounds: u32) -> f64 {
        self.win(earlier_s).powf(f64::from(rounds))
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
    /// about its mean, half a millisecond to either side. NaN never: a law with less spread than 1 ms
    /// is drawn together by half its spread.
    ///
    /// # Errors
    /// As [`WinChance::best`].
    pub fn worth_of_1ms_spread(&self) -> Result<f64, StrategyError> {
        let sd = self.me.sd();
        let half = (0.5 * MS).min(0.25 * sd);
        if half <= 0.0 {
            return Ok(0.0);
        }
        let with = |by: f64| {
            let me = self.me.spread_by(1.0 + by / sd)?;
            Ok::<f64, StrategyError>(Self { me, given: self.given.clone() }.best()?.win)
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

    /// ∫ weight(x + a) h(x) dx.
    fn average(&self, earlier_s: f64, weight: impl Fn(f64) -> f64) -> f64 {
        let (low, high) = self.me.range();
        let mine = self.me.knots().into_iter().map(|x| x - earlier_s);
        let knots: Vec<f64> = mine.chain(self.given.knots().iter().copied()).collect();
        let f = |x: f64| weight(x + earlier_s) * self.given.win(x);
        integral(f, low - earlier_s, high - earlier_s, &knots)
    }
}
