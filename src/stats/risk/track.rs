//! What changes between home and the track, as one number per car and way of launching.
//!
//! Owns the home-to-track offset: its prior, and its posterior once there are slips. Refuses to
//! split it into rig, limb and car: slips cannot.

use super::pool::check_sd;
use crate::stats::{Sample, StatsError};
use crate::units::Measured;

/// Prior SD, s. Chosen: another car, another pedal, another stress; wide enough that ten slips
/// overrule it.
pub const HOME_TO_TRACK_PRIOR_SD_S: f64 = 0.040;
/// A spread seen in few slips is mixed with the home spread as if that were this many slips. Chosen.
const HOME_SPREAD_SLIPS: f64 = 5.0;

/// How much later launches are at the track than practice and My car say, all causes together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HomeToTrack {
    /// Best value and SD, s; covers what is not known about the car part as well.
    pub offset_s: Measured,
    /// Slips it rests on.
    pub slips: usize,
}

impl HomeToTrack {
    /// Before any slip: 0 ± √(40² + doubt²) ms.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for a doubt below 0.
    pub fn prior(car_doubt_sd_s: f64) -> Result<Self, StatsError> {
        let doubt = check_sd("car part's doubt", car_doubt_sd_s)?;
        let sd = HOME_TO_TRACK_PRIOR_SD_S.hypot(doubt);
        Ok(Self { offset_s: Measured::new(0.0, sd), slips: 0 })
    }

    /// After slips. Each difference d is a slip's RT minus what home and My car expect. Normal prior
    /// N(0, v₀), mean d̄ of m slips with variance v₁ = s²/m + h²: posterior mean d̄ v₀/(v₀ + v₁),
    /// variance v₀ v₁/(v₀ + v₁). s² mixes the slips' own variance with the home spread; h is the
    /// standard error of the expectation (the between-day spread included).
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for spreads below 0.
    pub fn from_slips(
        differences_s: &Sample,
        home_spread_sd_s: f64,
        expectation_se_s: f64,
        car_doubt_sd_s: f64,
    ) -> Result<Self, StatsError> {
        let prior = Self::prior(car_doubt_sd_s)?.offset_s.sd.powi(2);
        let home = check_sd("home spread", home_spread_sd_s)?.powi(2);
        let expectation = check_sd("expectation's SE", expectation_se_s)?;
        let m = differences_s.n() as f64;
        let mean = differences_s.values().iter().sum::<f64>() / m;
        let squares: f64 = differences_s.values().iter().map(|d| (d - mean).powi(2)).sum();
        let spread = (HOME_SPREAD_SLIPS * home + squares) / (HOME_SPREAD_SLIPS + m - 1.0);
        let data = spread / m + expectation * expectation;
        let offset_s =
            Measured::new(mean * prior / (prior + data), (prior * data / (prior + data)).sqrt());
        Ok(Self { offset_s, slips: differences_s.n() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_overrule_the_prior_as_they_come() {
        let prior = HomeToTrack::prior(0.03).unwrap();
        assert!((prior.offset_s.sd - 0.05).abs() < 1e-15);
        let slips = |n: usize| Sample::new(vec![0.030; n]).unwrap();
        let one = HomeToTrack::from_slips(&slips(1), 0.025, 0.0, 0.0).unwrap();
        // One slip of ± 25 ms against ± 40: weight 1600 / 2225.
        assert!((one.offset_s.value - 0.030 * 1600.0 / 2225.0).abs() < 1e-12);
        assert!((one.offset_s.sd - (1600.0 * 625.0 / 2225.0_f64).sqrt() / 1000.0).abs() < 1e-12);
        let twenty = HomeToTrack::from_slips(&slips(20), 0.025, 0.0, 0.0).unwrap();
        assert!(twenty.offset_s.value > 0.0298 && twenty.offset_s.sd < 0.003);
    }
}
