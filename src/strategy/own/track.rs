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

/// The home-to-track offset with what these slips say; the prior without slips or with fewer than
/// two launches.
///
/// # Errors
/// [`StatsError`] for numbers outside their domains.
pub fn way_to_the_track(
    practice: &Pool,
    line: &RedLine,
    slips: &OwnSlips,
) -> Result<HomeToTrack, StatsError> {
    let lights = practice.driver_parts().values().iter().map(|part| part - line.at_s());
    let practice_s = Sample::new(lights.collect())?;
    if slips.rts_s().is_empty() || practice_s.n() < 2 {
        return HomeToTrack::prior(line.doubt_sd_s());
    }
    let slips_s = Sample::new(slips.rts_s().to_vec())?;
    let home_days = practice.days().unwrap_or_default();
    let evidence = Evidence {
        slips_s: &slips_s,
        practice_s: &practice_s,
        days_se_s: between_days_s(&practice_s, home_days)
            * (shared(home_days) + shared(slips.day_of_each())).sqrt(),
        car_doubt_sd_s: line.doubt_sd_s(),
    };
    evidence.offset()
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
