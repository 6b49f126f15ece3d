//! Practice and slips of a set-up, ready to be seen.
//!
//! Owns how runs, slips, the car and the way to the track come together, once for everybody who asks.
//! Refuses questions.

use super::{OwnCar, OwnLines, OwnRuns, OwnSetup, OwnSlips, way_to_the_track};
use crate::stats::risk::{CarPart, HomeToTrack, LEAST_FOR_RISK, Pool, RedLine};
use crate::strategy::StrategyError;
use crate::strategy::launches::Launches;

/// What a set-up has to be looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnLaunches {
    /// The car.
    pub car: OwnCar,
    /// The runs, counted.
    pub runs: OwnRuns,
    /// The slips, counted.
    pub slips: OwnSlips,
    /// What is known of the way to the track.
    pub home: HomeToTrack,
    /// Below this a launch is red, in the car as it is believed in.
    pub believed_line: RedLine,
    /// The same with what is not known of car and delay.
    pub line: RedLine,
    /// Practice, however little.
    pub pool: Option<Pool>,
    /// Slips, however few.
    pub slip_pool: Option<Pool>,
    /// Practice; `None` below ten launches.
    pub practice: Option<Launches>,
    /// Slips on their own, never pooled with practice; `None` below ten lights.
    pub slips_alone: Option<Launches>,
}

impl OwnLaunches {
    /// Everything the lines have of a set-up.
    ///
    /// # Errors
    /// [`StrategyError`] for times that are no numbers. Too few launches are no error.
    pub fn new(lines: &OwnLines, setup: &OwnSetup) -> Result<Self, StrategyError> {
        let car = OwnCar::new(lines, setup);
        let interval_s = setup.interval.as_secs_f64();
        let believed_line = RedLine::of_car(as_believed(car.part), interval_s)?;
        let runs = OwnRuns::new(lines, setup, believed_line.at_s());
        let slips = OwnSlips::new(lines, setup);
        // What is not known of the delay moves every launch alike, as what is not known of the car.
        let part = with_delay(car.part, runs.delay_sd_s);
        let line = RedLine::of_car(part, interval_s)?;
        let (pool, cold, slip_pool) = (runs.pool()?, runs.cold_pool()?, slips.pool()?);
        let home = match cold.as_ref().or(pool.as_ref()) {
            Some(stands_for_track) => way_to_the_track(stands_for_track, &line, &slips)?,
            None => HomeToTrack::prior(line.doubt_sd_s())?,
        };
        let practice = enough(&pool).map(|pool| {
            let launches = Launches::practice(pool, as_believed(part), interval_s, home)?;
            Ok::<_, StrategyError>(match cold {
                Some(cold) => launches.with_cold(cold),
                None => launches,
            })
        });
        let practice = practice.transpose()?;
        let slips_alone = enough(&slip_pool).map(Launches::slips).transpose()?;
        Ok(Self {
            car,
            runs,
            slips,
            home,
            believed_line,
            line,
            pool,
            slip_pool,
            practice,
            slips_alone,
        })
    }
}

/// At home the car is the one that is believed in, by the program as by the driver: what is not known of
/// it, and of the delay, comes in on the way to the track.
pub(in crate::strategy) fn as_believed(part: CarPart) -> CarPart {
    CarPart { doubt_sd_s: 0.0, ..part }
}

fn with_delay(part: CarPart, delay_sd_s: f64) -> CarPart {
    CarPart { doubt_sd_s: part.doubt_sd_s.hypot(delay_sd_s), ..part }
}

/// A pool that tells more than counts.
pub(in crate::strategy) fn enough(pool: &Option<Pool>) -> Option<Pool> {
    pool.clone().filter(|pool| pool.driver_parts().n() >= LEAST_FOR_RISK)
}
