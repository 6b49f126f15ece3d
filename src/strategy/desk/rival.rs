//! Against whom Odds are asked.
//!
//! Owns the ways to name an opponent: a level, like me, a typed light, typed slips. Refuses the
//! opponent's car: that is the race's finish.

use crate::stats::Sample;
use crate::stats::risk::{LEAST_FOR_RISK, Pool};
use crate::stats::summary::mean;
use crate::strategy::StrategyError;
use crate::strategy::launches::{Launches, View};
use crate::strategy::lights::Lights;
use crate::strategy::odds::{Level, Opponent, Race};

/// A few slips are mixed with this spread, s, as if it came from this many slips. Chosen: the
/// weekend band's middle half.
const USUAL_SPREAD: (f64, f64) = (0.040, 5.0);

/// Who stands in the other lane.
#[derive(Debug, Clone, PartialEq)]
pub enum Rival {
    /// One of a level.
    Level(Level),
    /// One whose lights could be mine.
    LikeMe,
    /// One with this mean light and spread, s.
    Light {
        /// Mean.
        mean_s: f64,
        /// SD.
        sd_s: f64,
    },
    /// One of whom these lights are known, s: ten and more are taken as mine are, fewer as normal.
    Slips(Vec<f64>),
}

/// An opponent in a race.
#[derive(Debug, Clone, PartialEq)]
pub struct Against {
    /// Who.
    pub rival: Rival,
    /// How it is judged.
    pub race: Race,
    /// Rounds to survive against such opponents.
    pub rounds: u32,
}

impl Against {
    /// The opponent; `me` are my lights.
    ///
    /// # Errors
    /// [`StrategyError`] for lights nobody has, and for no slips at all.
    pub(super) fn opponent(&self, me: &Lights) -> Result<Opponent, StrategyError> {
        match &self.rival {
            Rival::Level(level) => Ok(Opponent::level(*level)),
            Rival::LikeMe => Ok(Opponent::drawn(me)),
            Rival::Light { mean_s, sd_s } => Opponent::normal(*mean_s, *sd_s),
            Rival::Slips(rts_s) => of_slips(rts_s),
        }
    }
}

/// Below ten: normal about their mean, the spread mixed with a usual one, the mean's own doubt in it.
fn of_slips(rts_s: &[f64]) -> Result<Opponent, StrategyError> {
    let sample = Sample::new(rts_s.to_vec())?;
    if sample.n() >= LEAST_FOR_RISK {
        let launches = Launches::slips(Pool::new(sample))?;
        return Ok(Opponent::drawn(launches.seen(View::ThisForm, 1, 0)?.lights()));
    }
    let (centre, n) = (mean(&sample), sample.n() as f64);
    let squares: f64 = sample.values().iter().map(|rt| (rt - centre).powi(2)).sum();
    let (usual, weight) = USUAL_SPREAD;
    let variance = (weight * usual * usual + squares) / (weight + n - 1.0);
    Opponent::normal(centre, (variance * (1.0 + 1.0 / n)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_slip_is_a_mean_with_a_wide_spread() {
        let one = of_slips(&[0.080]).unwrap();
        // Half of the lights lie above the one seen, and the spread is √2 · 40 ms.
        assert!((one.below(0.080) - 0.5).abs() < 1e-9);
        assert!((one.below(0.080 - 0.040 * 2.0_f64.sqrt()) - 0.158_655).abs() < 1e-5);
        assert!(of_slips(&[]).is_err() && of_slips(&[f64::NAN]).is_err());
    }
}
