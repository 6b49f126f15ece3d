//! What can be pulled to be earlier, and what it costs.
//!
//! Owns levers as pairs (ΔRT, ΔET) and their price: risk and win chance with the lever pulled.
//! Refuses to know how a car does it: the pair comes from outside.

use super::StrategyError;
use super::error::{AIM, GAP, LEVEL, within};
use super::launches::Seen;
use super::odds::{DrawnOdds, Finish, Opponent, Race};
use crate::stats::Estimate;
use crate::units::Inches;

/// Feet per second in a mile per hour, exact: 5280 ft / 3600 s.
const FT_PER_S_PER_MPH: f64 = 22.0 / 15.0;

/// Kinds of lever.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LeverKind {
    /// The driver times it earlier: free of ET, possible only for one who anticipates. A pure
    /// reaction cannot be willed earlier.
    Timing,
    /// The delay box, where the class allows one: free of ET.
    DelayBox,
    /// Staging depth: ET pays the RT back but for the way already gone.
    Depth,
    /// A shorter or softer front tyre: RT bought, ET pays it back.
    Tyre,
    /// A stronger launch: better RT and better ET.
    Strength,
}

/// A lever: how much RT and ET change; below 0 is sooner and quicker, s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lever {
    /// Which.
    pub kind: LeverKind,
    /// ΔRT, s.
    pub rt_s: f64,
    /// ΔET, s.
    pub et_s: f64,
}

impl Lever {
    /// Timing or box `earlier_s` earlier.
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] outside ±10 s.
    pub fn free(kind: LeverKind, earlier_s: f64) -> Result<Self, StrategyError> {
        Self::pair(kind, -earlier_s, 0.0)
    }

    /// Rolling in `depth` further, which makes the car part `rt_gain_s` shorter: the clock of the ET
    /// starts so much sooner, and the finish comes sooner by the way already gone. ΔET ≈ −ΔRT −
    /// depth ÷ trap speed.
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] for a gain outside ±10 s, a depth outside 0–30 in, or a trap
    /// speed outside 20–400 mph.
    pub fn deeper(rt_gain_s: f64, depth: Inches, trap_mph: f64) -> Result<Self, StrategyError> {
        let outside = |name, value, domain| StrategyError::OutOfDomain { name, value, domain };
        if !(0.0..=30.0).contains(&depth.0) {
            return Err(outside("depth", depth.0, "0 to 30 in"));
        }
        if !(20.0..=400.0).contains(&trap_mph) {
            return Err(outside("trap speed", trap_mph, "20 to 400 mph"));
        }
        let gone_s = depth.feet() / (trap_mph * FT_PER_S_PER_MPH);
        Self::pair(LeverKind::Depth, -rt_gain_s, rt_gain_s - gone_s)
    }

    /// Any pair.
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] outside ±10 s of RT or ±1000 s of ET.
    pub fn pair(kind: LeverKind, rt_s: f64, et_s: f64) -> Result<Self, StrategyError> {
        let (rt_s, et_s) = (within("change of RT", rt_s, AIM)?, within("change of ET", et_s, GAP)?);
        Ok(Self { kind, rt_s, et_s })
    }

    /// Whether it can be pulled by somebody who leaves by reaction.
    pub fn for_a_reaction(&self) -> bool {
        self.kind != LeverKind::Timing
    }
}

/// What a lever comes to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Price {
    /// P(red) with the lever pulled.
    pub red: Estimate,
    /// P(win) with the same dial-in, or without one: RT and ET count.
    pub win: Estimate,
    /// P(win) once the change of ET is dialled in: only the RT counts. `None` without a dial-in.
    pub win_redialled: Option<Estimate>,
}

/// The price of a lever.
///
/// # Errors
/// [`StrategyError::OutOfDomain`] for a level outside 0.01–0.999.
pub fn price(
    seen: &Seen,
    opponent: &Opponent,
    race: &Race,
    lever: &Lever,
    level: f64,
) -> Result<Price, StrategyError> {
    within("level", level, LEVEL)?;
    let earlier = -lever.rt_s;
    let win = |race: &Race| {
        let odds = DrawnOdds::new(seen.lights(), opponent, race, &[earlier]);
        Ok::<_, StrategyError>(odds.win(&[earlier], level)?[0])
    };
    let as_it_is = Race { finish: race.finish.with_my_et_longer(lever.et_s)?, ..*race };
    let win_redialled = match race.finish {
        Finish::OverDial { .. } => Some(win(race)?),
        Finish::Gap(_) => None,
    };
    Ok(Price { red: seen.red(&[earlier], level)?[0], win: win(&as_it_is)?, win_redialled })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn depth_is_paid_back_but_for_the_way_gone() {
        // 4.5 in deeper at a 95 mph trap: RT −.064, ET +.061 (a constant-acceleration start).
        let lever = Lever::deeper(0.064, Inches(4.5), 95.0).unwrap();
        assert_eq!(lever.rt_s, -0.064);
        assert!((lever.et_s - 0.0613).abs() < 1e-4, "{}", lever.et_s);
        assert!((lever.rt_s + lever.et_s + 0.375 / 139.333).abs() < 1e-6);
    }

    #[test]
    fn only_timing_needs_anticipation() {
        assert!(!Lever::free(LeverKind::Timing, 0.01).unwrap().for_a_reaction());
        assert!(Lever::free(LeverKind::DelayBox, 0.01).unwrap().for_a_reaction());
        assert!(Lever::deeper(0.1, Inches(40.0), 95.0).is_err());
        assert!(Lever::deeper(0.1, Inches(4.0), 0.0).is_err());
        assert!(Lever::pair(LeverKind::Tyre, f64::NAN, 0.0).is_err());
    }
}
