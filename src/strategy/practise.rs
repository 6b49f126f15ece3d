//! What to practise next: one thing, why, and what it would bring.
//!
//! Owns the order in which doubts are worth removing and the counts it takes. Refuses a list: who is
//! told five things does none.

use super::StrategyError;
use super::aim::Headline;
use super::verdict::{Choice, More, Verdict};
use crate::stats::{Estimate, StatsError};

/// Launches below which there is nothing to advise on.
const LEAST: usize = crate::stats::risk::LEAST_FOR_RISK;
/// z of a two-sided 90 % interval.
const Z_OF_90: f64 = 1.644_853_626_951_472_7;
/// The risk is useful once known to ± this. Chosen: five points tell one in ten from one in five.
pub const USEFUL_TO: f64 = 0.05;
/// Gains below this are not worth a recommendation. Chosen: half a race in a hundred.
const WORTH_WHILE: f64 = 0.005;
/// How much of the spread a driver can be expected to lose by practice, ms. Chosen.
const SPREAD_GOAL_MS: f64 = 3.0;

/// Launches (or slips) until a mean with this SD is known to ± `target` at 90 %:
/// n = (1.645·SD/target)², rounded up.
///
/// # Errors
/// [`StrategyError::Stats`] unless the SD is 0 or more and the target positive.
pub fn launches_until(sd: f64, target: f64) -> Result<usize, StrategyError> {
    let check = |name, value: f64, fine: bool| {
        let domain = "the positive finite numbers";
        if fine && value.is_finite() {
            Ok(())
        } else {
            Err(StatsError::OutOfDomain { name, value, domain })
        }
    };
    check("SD", sd, sd >= 0.0)?;
    check("target", target, target > 0.0)?;
    // A billionth less, so that a whole number stays itself.
    Ok(((Z_OF_90 * sd / target).powi(2) * (1.0 - 1e-9)).ceil() as usize)
}

/// Launches until a risk near `risk` is known to ± `target`: its SD is √(p (1 − p)).
///
/// # Errors
/// As [`launches_until`].
pub fn launches_until_risk_known(risk: f64, target: f64) -> Result<usize, StrategyError> {
    launches_until((risk * (1.0 - risk)).max(0.0).sqrt(), target)
}

/// What is known, for a recommendation.
#[derive(Debug, Clone, PartialEq)]
pub struct Known {
    /// Measured launches.
    pub launches: usize,
    /// Days they were made on.
    pub days: usize,
    /// The risk at the track, known or not.
    pub headline: Option<Headline>,
    /// The risk in this form.
    pub red: Option<Estimate>,
    /// React or time it, where that was asked.
    pub verdict: Option<Verdict>,
    /// Win chance (or chance of a good light) as things are, at the best aim, and per millisecond of
    /// spread.
    pub stakes: Option<AtStake>,
}

/// What could be gained.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtStake {
    /// The best aim, s earlier.
    pub best_earlier_s: f64,
    /// What it brings over the aim as it is.
    pub of_best_aim: Estimate,
    /// The worth of a millisecond less spread.
    pub of_1ms_spread: Estimate,
}

/// One recommendation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Practise {
    /// Make launches: there are too few to say anything.
    Launch {
        /// How many more.
        more: usize,
    },
    /// Film a launch, or enter slips: the way to the track is the largest doubt.
    FilmOrSlips {
        /// Slips that would tell; `None`: the days differ too much, more days would tell.
        slips: Option<usize>,
        /// Width of the interval now, in points of risk (0–1).
        width: f64,
    },
    /// Go on with blocks in turn: react or time it is open.
    Blocks {
        /// Launches it takes.
        more: More,
    },
    /// Practise on another day: the spread between days is assumed.
    AnotherDay {
        /// Days there are.
        days: usize,
    },
    /// Move the aim.
    Aim {
        /// s earlier.
        earlier_s: f64,
        /// What it brings.
        gain: Estimate,
    },
    /// Work on an even launch.
    Spread {
        /// By how much, ms.
        by_ms: f64,
        /// What it brings.
        gain: Estimate,
    },
    /// Launch until the risk is known usefully.
    KnowTheRisk {
        /// How many more.
        more: usize,
        /// To ± this.
        to: f64,
    },
    /// Nothing stands out: keep the form.
    KeepTheForm,
}

/// The one thing to practise next: first what makes anything known, then what wins most.
///
/// # Errors
/// None for numbers that are.
pub fn practise_next(known: &Known) -> Result<Practise, StrategyError> {
    if known.launches < LEAST {
        return Ok(Practise::Launch { more: LEAST - known.launches });
    }
    if let Some(Headline::NotKnown { risk, slips }) = known.headline {
        return Ok(Practise::FilmOrSlips { slips, width: risk.high - risk.low });
    }
    if let Some(Verdict { choice: Choice::NotEnough(more), .. }) = known.verdict
        && more != More::TooClose
    {
        return Ok(Practise::Blocks { more });
    }
    if known.days < 3 {
        return Ok(Practise::AnotherDay { days: known.days });
    }
    if let Some(stake) = known.stakes {
        let by_aim = stake.of_best_aim;
        let by_spread = times(stake.of_1ms_spread, SPREAD_GOAL_MS);
        if by_aim.value.max(by_spread.value) >= WORTH_WHILE {
            return Ok(if by_aim.value >= by_spread.value {
                Practise::Aim { earlier_s: stake.best_earlier_s, gain: by_aim }
            } else {
                Practise::Spread { by_ms: SPREAD_GOAL_MS, gain: by_spread }
            });
        }
    }
    if let Some(red) = known.red {
        let needed = launches_until_risk_known(red.value, USEFUL_TO)?;
        if needed > known.launches {
            return Ok(Practise::KnowTheRisk { more: needed - known.launches, to: USEFUL_TO });
        }
    }
    Ok(Practise::KeepTheForm)
}

/// So many times an amount that grows in proportion.
fn times(of_one: Estimate, n: f64) -> Estimate {
    let Estimate { value, low, high, .. } = of_one;
    Estimate { value: n * value, low: n * low, high: n * high, ..of_one }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn risk(value: f64, half: f64) -> Estimate {
        let (low, high) = ((value - half).max(0.0), value + half);
        Estimate { value, low, high, level: 0.9, n: 50 }
    }

    fn well_known() -> Known {
        Known {
            launches: 200,
            days: 6,
            headline: Some(Headline::Known(risk(0.06, 0.05))),
            red: Some(risk(0.05, 0.03)),
            verdict: None,
            stakes: Some(AtStake {
                best_earlier_s: 0.002,
                of_best_aim: risk(0.003, 0.001),
                of_1ms_spread: risk(0.001, 0.001),
            }),
        }
    }

    #[test]
    fn the_count_is_the_formulas() {
        // (1.645 · 25 / 5)² = 67.6.
        assert_eq!(launches_until(25.0, 5.0).unwrap(), 68);
        assert_eq!(launches_until(1.0, Z_OF_90).unwrap(), 1);
        // √(.1 · .9) = .3: (1.645 · .3 / .05)² = 97.4.
        assert_eq!(launches_until_risk_known(0.1, 0.05).unwrap(), 98);
        assert!(launches_until(f64::NAN, 1.0).is_err() && launches_until(1.0, 0.0).is_err());
    }

    #[test]
    fn first_what_makes_anything_known() {
        let few = Known { launches: 7, ..well_known() };
        assert_eq!(practise_next(&few).unwrap(), Practise::Launch { more: 3 });
        let unknown = Headline::NotKnown { risk: risk(0.3, 0.25), slips: Some(4) };
        let unknown = Known { headline: Some(unknown), days: 1, ..well_known() };
        let next = practise_next(&unknown).unwrap();
        assert!(matches!(next, Practise::FilmOrSlips { slips: Some(4), .. }), "{next:?}");
        let one_day = Known { days: 1, ..well_known() };
        assert_eq!(practise_next(&one_day).unwrap(), Practise::AnotherDay { days: 1 });
    }

    #[test]
    fn then_what_wins_most() {
        let with = |of_best_aim, of_1ms_spread| {
            let [of_best_aim, of_1ms_spread] =
                [of_best_aim, of_1ms_spread].map(|worth| risk(worth, 0.004));
            let stakes = Some(AtStake { best_earlier_s: 0.012, of_best_aim, of_1ms_spread });
            practise_next(&Known { stakes, ..well_known() }).unwrap()
        };
        let gain = risk(0.06, 0.004);
        assert_eq!(with(0.06, 0.011), Practise::Aim { earlier_s: 0.012, gain });
        let Practise::Spread { by_ms, gain } = with(0.01, 0.011) else { panic!("not the spread") };
        // Three milliseconds bring three times one: 3.3 points (2.1 to 4.5).
        assert_eq!((by_ms, gain.level, gain.n), (3.0, 0.9, 50));
        for (told, wanted) in [(gain.value, 0.033), (gain.low, 0.021), (gain.high, 0.045)] {
            assert!((told - wanted).abs() < 1e-12, "{gain:?}");
        }
        assert_eq!(with(0.001, 0.001), Practise::KeepTheForm);
        let vague = Known { launches: 40, stakes: None, ..well_known() };
        // p = .05 to ± .05: 52 launches, 12 more.
        let next = practise_next(&vague).unwrap();
        assert_eq!(next, Practise::KnowTheRisk { more: 12, to: 0.05 });
    }
}
