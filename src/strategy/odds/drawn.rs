//! The win chance of a driver as far as the launches tell.
//!
//! Owns W(a) with its interval at any aim, the best aim by the mean of all draws, its flat top,
//! survival of rounds and the worth of a millisecond, all from one set of draws. Refuses laws that
//! are known: `known` has ten digits for them.

use super::best::{Best, search};
use super::given_light::GivenLight;
use super::known::MS;
use super::opponent::Opponent;
use super::race::Race;
use crate::stats::Estimate;
use crate::strategy::StrategyError;
use crate::strategy::error::{AIM, LEVEL, within};
use crate::strategy::expect::{Moments, OnGrid, Payoff, spread_of, step_for};
use crate::strategy::lights::Lights;
use crate::strategy::pieces::QUICK;

/// Best aims are looked for from a red light in a thousand launches to a green one in a hundred.
const RED_AT_THE_ENDS: (f64, f64) = (0.001, 0.99);

/// W(a) over drawn lights.
pub struct DrawnOdds<'a> {
    grid: OnGrid<'a>,
    payoff: Payoff,
}

impl<'a> DrawnOdds<'a> {
    /// Of drawn lights against an opponent in a race. Aims that will be asked for, if known, are put
    /// on the grid where they have a step in common.
    pub fn new(lights: &'a Lights, opponent: &Opponent, race: &Race, earlier_s: &[f64]) -> Self {
        let given = GivenLight::to(opponent, race, QUICK);
        Self::given(lights, &given, earlier_s)
    }

    /// The same with h at hand.
    pub(in crate::strategy) fn given(
        lights: &'a Lights,
        given: &GivenLight,
        earlier_s: &[f64],
    ) -> Self {
        let step = step_for(lights, earlier_s);
        let payoff = Payoff::smooth(step, given.range(), |x| given.win(x));
        Self { grid: OnGrid::new(lights, step), payoff }
    }

    /// The chance of a light from 0 up to `better_than_s` in place of a win.
    pub(in crate::strategy) fn of_good_light(
        lights: &'a Lights,
        better_than_s: f64,
        earlier_s: &[f64],
    ) -> Self {
        let step = step_for(lights, earlier_s);
        let payoff = Payoff::between(step, 0.0, better_than_s.max(0.0));
        Self { grid: OnGrid::new(lights, step), payoff }
    }

    /// The chance of a red light in place of a win.
    pub(in crate::strategy) fn of_red(lights: &'a Lights, earlier_s: &[f64]) -> Self {
        let step = step_for(lights, earlier_s);
        let payoff = Payoff::smooth(step, (-step, step), |x| f64::from(x < 0.0));
        Self { grid: OnGrid::new(lights, step), payoff }
    }

    /// P(win) at each aim with its interval.
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] for an aim outside ±10 s or a level outside 0.01–0.999.
    pub fn win(&self, earlier_s: &[f64], level: f64) -> Result<Vec<Estimate>, StrategyError> {
        within("level", level, LEVEL)?;
        let moments = self.moments(earlier_s)?;
        Ok(moments.iter().map(|m| m.estimate(self.grid.lights, level)).collect())
    }

    /// P(win) at each aim, the mean over the draws.
    pub(in crate::strategy) fn means(&self, earlier_s: &[f64]) -> Vec<f64> {
        self.grid.moments(&self.payoff, earlier_s).iter().map(Moments::value).collect()
    }

    /// P(win) at one aim in every draw.
    pub(in crate::strategy) fn chances(&self, earlier_s: f64) -> Result<Vec<f64>, StrategyError> {
        Ok(self.moments(&[earlier_s])?[0].chances(self.grid.lights))
    }

    /// The best aim by the mean of all draws, and its flat top.
    ///
    /// # Errors
    /// None for lights that have a spread.
    pub fn best(&self) -> Result<Best, StrategyError> {
        let lights = self.grid.lights;
        let (low, high) = (lights.quantile(RED_AT_THE_ENDS.0), lights.quantile(RED_AT_THE_ENDS.1));
        let step = self.grid.step;
        let first = (low.max(-10.0) / step).floor() as i64;
        let last = ((high.min(10.0) / step).ceil() as i64).max(first + 4);
        let values = self.grid.mean_curve(&self.payoff, first - 2, last + 2);
        let win = |a: f64| cubic(&values, a / step - (first - 2) as f64);
        let slope = |a: f64| win(a + 0.25 * step) - win(a - 0.25 * step);
        Ok(search(&win, &slope, (first as f64 * step, last as f64 * step), step))
    }

    /// P(win) in each of `rounds` rounds against such an opponent: the mean of W^R over the draws.
    ///
    /// # Errors
    /// As [`DrawnOdds::win`].
    pub fn survive(
        &self,
        earlier_s: f64,
        rounds: u32,
        level: f64,
    ) -> Result<Estimate, StrategyError> {
        within("level", level, LEVEL)?;
        let power = f64::from(rounds);
        let all: Vec<f64> = self.chances(earlier_s)?.iter().map(|w| w.powf(power)).collect();
        let mean = all.iter().sum::<f64>() / all.len() as f64;
        Ok(spread_of(all, mean, level, self.grid.lights.n()))
    }

    /// What the best aim brings over the aim as it is: the difference in every draw.
    ///
    /// # Errors
    /// As [`DrawnOdds::win`].
    pub fn worth_of_best_aim(&self, best: &Best, level: f64) -> Result<Estimate, StrategyError> {
        within("level", level, LEVEL)?;
        let lights = self.grid.lights;
        let at = self.moments(&[0.0, best.earlier_s])?;
        let [now, there] = [0, 1].map(|i| at[i].chances(lights));
        let gains = there.iter().zip(now).map(|(there, now)| there - now).collect();
        Ok(spread_of(gains, at[1].value() - at[0].value(), level, lights.n()))
    }

    /// How much the win chance at the best aim grows if my lights scatter 1 ms less: every draw drawn
    /// together about its mean, half a millisecond to either side.
    ///
    /// # Errors
    /// As [`DrawnOdds::win`].
    pub fn worth_of_1ms_spread(&self, best: &Best, level: f64) -> Result<Estimate, StrategyError> {
        within("level", level, LEVEL)?;
        let lights = self.grid.lights;
        let sd = lights.launch_sd();
        let half = (0.5 * MS).min(0.25 * sd);
        let with = |by: f64| {
            let spread = lights.spread_by(1.0 + by / sd);
            let grid = OnGrid::new(&spread, self.grid.step);
            grid.moments(&self.payoff, &[best.earlier_s]).remove(0).mean
        };
        let gain = |(less, more): (f32, f32)| f64::from(less - more) * 0.5 * MS / half;
        let all: Vec<f64> = with(-half).into_iter().zip(with(half)).map(gain).collect();
        let mean = all.iter().sum::<f64>() / all.len() as f64;
        Ok(spread_of(all, mean, level, lights.n()))
    }

    /// How much is lost by aiming 1 ms beside the best aim, the mean of both sides.
    ///
    /// # Errors
    /// As [`DrawnOdds::win`].
    pub fn worth_of_1ms_aim(&self, best: &Best, level: f64) -> Result<Estimate, StrategyError> {
        within("level", level, LEVEL)?;
        let a = best.earlier_s;
        let around = self.moments(&[a, a - MS, a + MS])?;
        let mean = |i: usize| around[i].mean.iter();
        let loss = |((at, low), high): ((&f32, &f32), &f32)| f64::from(at - 0.5 * (low + high));
        let all: Vec<f64> = mean(0).zip(mean(1)).zip(mean(2)).map(loss).collect();
        let value = all.iter().sum::<f64>() / all.len() as f64;
        Ok(spread_of(all, value, level, self.grid.lights.n()))
    }

    fn moments(&self, earlier_s: &[f64]) -> Result<Vec<Moments>, StrategyError> {
        for aim in earlier_s {
            within("aim", *aim, AIM)?;
        }
        Ok(self.grid.moments(&self.payoff, earlier_s))
    }
}

/// A row of values between its entries, by Lagrange's cubic.
fn cubic(values: &[f64], at: f64) -> f64 {
    let cell = (at.floor() as usize).clamp(1, values.len() - 3);
    let t = at - cell as f64;
    let weights = [
        -t * (t - 1.0) * (t - 2.0) / 6.0,
        (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0,
        -(t + 1.0) * t * (t - 2.0) / 2.0,
        (t + 1.0) * t * (t - 1.0) / 6.0,
    ];
    weights.iter().zip(&values[cell - 1..]).map(|(w, v)| w * v).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::strategy::law::RtLaw;
    use crate::strategy::lights::Driver;
    use crate::strategy::lights::tests::lights_of;
    use crate::strategy::odds::{Finish, WinChance};

    #[test]
    fn a_row_of_a_cubic_is_that_cubic_between_its_entries() {
        let of = |x: f64| 0.3 + x * (0.2 - x * (0.05 - 0.004 * x));
        let values: Vec<f64> = (0..9).map(|i| of(f64::from(i))).collect();
        for i in 10..70 {
            let x = f64::from(i) * 0.1 + 0.003;
            assert!((cubic(&values, x) - of(x)).abs() < 1e-12, "{x}");
        }
    }

    /// Draws of one and the same driver, and the law they are: that has ten digits.
    fn alike(mu: f64, sigma: f64, tau: f64) -> (Lights, RtLaw) {
        let mut lights = lights_of(60, 0.0);
        (lights.concentration, lights.shares) = (1e9, [1.0, 0.0, 0.0]);
        for driver in &mut lights.drivers {
            *driver = Driver { mu, sigma, tau, wide: 0.0, ..*driver };
        }
        let by = mu + tau - lights.middle();
        lights.launched.iter_mut().for_each(|x| *x += by);
        (lights, RtLaw::ex_gaussian(mu, sigma, tau).unwrap())
    }

    #[test]
    fn a_driver_who_is_drawn_always_alike_has_the_odds_of_that_law() {
        let opponent = Opponent::normal(0.04, 0.02).unwrap();
        let race = Race::heads_up(Finish::gap(0.01, 0.01).unwrap());
        // The second of them always red as things are.
        for (mu, sigma, tau) in [(0.03, 0.018, 0.015), (-0.4, 0.02, 0.01)] {
            let (lights, law) = alike(mu, sigma, tau);
            let drawn = DrawnOdds::new(&lights, &opponent, &race, &[]);
            let known = WinChance::new(law, &opponent, &race);
            let (best, wanted) = (drawn.best().unwrap(), known.best().unwrap());
            let sd = sigma.hypot(tau);
            assert!((best.win - wanted.win).abs() < 1e-3, "{best:?} {wanted:?}");
            assert!((best.earlier_s - wanted.earlier_s).abs() < 0.02 * sd, "{best:?} {wanted:?}");
            let worth = drawn.worth_of_1ms_spread(&best, 0.9).unwrap().value;
            let wanted = known.worth_of_1ms_spread().unwrap();
            assert!((worth / wanted - 1.0).abs() < 0.05, "{worth} {wanted}");
        }
    }

    /// All of .36 ms of spread gone wins at most what is not won yet, and a millisecond is told in
    /// proportion.
    #[test]
    fn who_scatters_less_than_half_a_millisecond_has_a_worth_of_it_all_the_same() {
        let opponent = Opponent::normal(0.04, 0.02).unwrap();
        let race = Race::heads_up(Finish::gap(0.01, 0.01).unwrap());
        let (lights, law) = alike(0.03, 0.000_3, 0.000_2);
        let best = WinChance::new(law, &opponent, &race).best().unwrap();
        let drawn = DrawnOdds::new(&lights, &opponent, &race, &[]);
        let worth = drawn.worth_of_1ms_spread(&best, 0.9).unwrap();
        assert!(worth.low <= worth.value && worth.value <= worth.high, "{worth:?}");
        let most = (1.0 - best.win) * MS / 0.000_36;
        assert!(worth.value > 0.0 && worth.value < most, "{worth:?} {best:?}");
    }
}
