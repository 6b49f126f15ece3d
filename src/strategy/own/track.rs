//! What slips say of the way from home to the track.
//!
//! Owns what practice and slips of a set-up are held against each other with: the same launches that
//! stand for the track, and how much days differ. Refuses the arithmetic: `stats::home_to_track`.

use super::slips::OwnSlips;
use crate::stats::home_to_track::Evidence;
use crate::stats::over_time::days::days;
use crate::stats::risk::{HomeToTrack, Pool, RedLine};
use crate::stats::{Sample, StatsError};
use std::collections::BTreeMap;

/// Spread between days where days are too few to tell, s; as the risk assumes it.
pub(super) const ASSUMED_DAY_SD_S: f64 = 0.010;

/// What slips leave of the way to the track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// The offset; before any slip its prior.
    pub home: HomeToTrack,
    /// Slips that waited for green though nobody marked them so, set aside for it.
    pub left_on_green: usize,
}

impl Way {
    /// What these slips' lights, s, say against practice; `days` of the slips, where they are known. The
    /// prior without slips or with fewer than two launches.
    ///
    /// # Errors
    /// [`StatsError`] for numbers outside their domains.
    pub fn new(
        practice: &Pool,
        line: &RedLine,
        slips_s: &[f64],
        days: &[u32],
    ) -> Result<Self, StatsError> {
        let lights = practice.driver_parts().values().iter().map(|part| part - line.at_s());
        let practice_s = Sample::new(lights.collect())?;
        if slips_s.is_empty() || practice_s.n() < 2 {
            return Ok(Self { home: HomeToTrack::prior(line.doubt_sd_s())?, left_on_green: 0 });
        }
        let slips_s = Sample::new(slips_s.to_vec())?;
        let home_days = practice.days().unwrap_or_default();
        let evidence = Evidence {
            slips_s: &slips_s,
            practice_s: &practice_s,
            days_se_s: between_days_s(&practice_s, home_days)
                * (shared(home_days) + shared(days)).sqrt(),
            car_doubt_sd_s: line.doubt_sd_s(),
        };
        let left_on_green = evidence.left_on_green()?.iter().filter(|aside| **aside).count();
        Ok(Self { home: evidence.offset()?, left_on_green })
    }
}

/// The home-to-track offset with what the slips of a set-up say.
///
/// # Errors
/// As [`Way::new`].
pub fn way_to_the_track(
    practice: &Pool,
    line: &RedLine,
    slips: &OwnSlips,
) -> Result<HomeToTrack, StatsError> {
    Ok(Way::new(practice, line, slips.rts_s(), slips.day_of_each())?.home)
}

/// How much one day differs from the next at home, SD, s; what is assumed where days are too few.
///
/// What that leaves open about the difference of two means is s_b √(Σnᵢ²/N² + Σmᵢ²/M²), n the launches
/// of a day at home, m at the track ([`shared`] is one of the sums).
pub(super) fn between_days_s(practice_s: &Sample, home: &[u32]) -> f64 {
    let mut by_day: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
    for (light, day) in practice_s.values().iter().zip(home) {
        by_day.entry(*day).or_default().push(*light);
    }
    let samples: Result<Vec<Sample>, _> = by_day.into_values().map(Sample::new).collect();
    // Too few days, or days without a spread, have nothing to say.
    let measured = samples.and_then(|samples| days(&samples, 0.9)).ok();
    measured.map_or(ASSUMED_DAY_SD_S, |days| days.between.value)
}

/// Σnᵢ²/N² over the days of some launches.
pub(super) fn shared(days: &[u32]) -> f64 {
    let mut counts: BTreeMap<u32, f64> = BTreeMap::new();
    for day in days {
        *counts.entry(*day).or_default() += 1.0;
    }
    let squares: f64 = counts.values().map(|n| n * n).sum();
    squares / (days.len().max(1) as f64).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_launches_of_one_day_share_it_and_of_four_days_do_not() {
        assert_eq!(shared(&[3, 3, 3, 3]), 1.0);
        assert_eq!(shared(&[0, 1, 2, 3]), 0.25);
        let lights = Sample::new(vec![0.02, 0.03, 0.04, 0.05]).unwrap();
        // Two days are too few to tell how much days differ.
        assert_eq!(between_days_s(&lights, &[0, 0, 1, 1]), ASSUMED_DAY_SD_S);
    }
}
