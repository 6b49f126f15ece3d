//! Home held against the slips: what differs, how well that is known, and what may be behind it.
//!
//! Owns the figures of that comparison for one set-up and the order of the likely reasons. Refuses to
//! move the car part or the rig's delay: slips know only the sum.

use super::setup::{OwnLines, OwnSetup};
use super::slips::Fit;
use super::track::{ASSUMED_DAY_SD_S, between_days_s, shared};
use super::{OwnCar, OwnRuns, OwnSlips};
use crate::car::Source;
use crate::rules::RtScale;
use crate::slips::{LampKind, Slip};
use crate::stats::home_to_track::{Difference, Evidence, Wanted};
use crate::stats::left_on_green::GREEN_LIGHT_S;
use crate::stats::over_time::spread::spread;
use crate::stats::risk::{HomeToTrack, RedLine};
use crate::stats::summary::{mean_with_interval, sd};
use crate::stats::{Estimate, Sample, StatsError};

/// How narrow the offset may be wanted, s, half to either side.
pub const WANTED_S: [f64; 2] = [0.025, 0.010];
/// A night at the track gives at least this many slips: common practice, no single source (four to six).
const SLIPS_A_NIGHT: f64 = 4.0;
/// A bulb needs some hundredths of a second to be bright, s; from memory, not looked up.
const BULB_S: f64 = 0.030;
/// A first launch of a day differs by about this much, s. Chosen.
const FIRST_LAUNCH_S: f64 = 0.020;
/// What pedals, seat and nerves of the track may be worth on their own, s. Chosen: half the prior.
const TRACK_ITSELF_S: f64 = 0.020;
/// Delays known to this are no reason, s.
const WELL_KNOWN_S: f64 = 0.003;

/// What may be behind a difference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// One launch differs from the next.
    Chance,
    /// The slip's launch waited for green.
    WaitedForGreen,
    /// The slip may be on an older scale.
    OlderScale,
    /// The car part is not known this well, most of it from here.
    Car(Source),
    /// The rig's delay was never filmed.
    RigDelay,
    /// Bulbs light slower than the lamps here.
    Bulbs,
    /// The car stood elsewhere than My car says.
    Depth,
    /// It was the first launch of the day.
    FirstLaunch,
    /// Days differ.
    OtherDay,
    /// Another pedal, another seat, other nerves.
    TrackItself,
}

/// A reason with what it could be worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LikelyReason {
    /// Which.
    pub reason: Reason,
    /// How much of the difference it could explain, s, ≥ 0: an SD, or the shift itself where one is
    /// known.
    pub worth_s: f64,
}

/// Home against the slips of one set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Bridge {
    /// Lights of practice with today's delay and the car as believed, s: mean with its interval.
    pub home_s: Estimate,
    /// Their spread, SD, s.
    pub home_sd_s: f64,
    /// The same with its interval; `None` below five launches or where all are alike.
    pub home_spread_s: Option<Estimate>,
    /// Lights of the slips, s, in order.
    pub slips_s: Vec<f64>,
    /// How many of them waited for green though nobody marked them so: set aside for the difference and
    /// the offset.
    pub left_on_green: usize,
    /// The newest slip with a light.
    pub newest: Slip,
    /// Slips less home, where there are two slips and more.
    pub difference: Option<Difference>,
    /// The offset after these slips, s, prior and car's doubt included.
    pub offset_s: Estimate,
    /// SD of the offset before any slip, s.
    pub prior_sd_s: f64,
    /// For each of [`WANTED_S`] how many slips it takes in all; none if no number is enough.
    pub slips_wanted: [Option<u64>; 2],
    /// The spread these rest on is the slips' own, not practice's.
    pub slips_own_spread: bool,
    /// Likely reasons for the newest slip's difference, the likeliest first.
    pub reasons: Vec<LikelyReason>,
}

impl Bridge {
    /// Home against the slips; `None` without a slip that has a light, or with fewer than two launches
    /// at home.
    ///
    /// # Errors
    /// [`StatsError`] for numbers outside their domains.
    pub fn new(lines: &OwnLines, setup: &OwnSetup, level: f64) -> Result<Option<Self>, StatsError> {
        let car = OwnCar::new(lines, setup);
        let line = RedLine::of_car(car.part, setup.interval.as_secs_f64())?;
        let runs = OwnRuns::new(lines, setup, line.at_s());
        let slips = OwnSlips::new(lines, setup);
        let (Some(pool), Some(newest)) = (runs.pool()?, slips.newest(lines, setup)) else {
            return Ok(None);
        };
        let lights = pool.driver_parts().values().iter().map(|part| part - line.at_s());
        let practice_s = Sample::new(lights.collect())?;
        if practice_s.n() < 2 {
            return Ok(None);
        }
        let slips_s = Sample::new(slips.rts_s().to_vec())?;
        let home_days = pool.days().unwrap_or_default();
        let between_s = between_days_s(&practice_s, home_days);
        let evidence = Evidence {
            slips_s: &slips_s,
            practice_s: &practice_s,
            days_se_s: between_s * (shared(home_days) + shared(slips.day_of_each())).sqrt(),
            car_doubt_sd_s: line.doubt_sd_s(),
        };
        let home_s = mean_with_interval(&practice_s, level)?;
        let home_sd_s = sd(&practice_s)?;
        let aside = evidence.left_on_green()?;
        let counted = slips_s.values().iter().zip(&aside).filter(|(_, aside)| !**aside);
        let counted = Sample::new(counted.map(|(rt, _)| *rt).collect());
        let ordinary = counted.as_ref().ok().map(|slips_s| Evidence { slips_s, ..evidence });
        // Five slips and more say their own spread better than home does.
        let told = counted.as_ref().ok().filter(|slips| slips.n() >= 5);
        let own = told.and_then(|slips| sd(slips).ok()).filter(|sd| *sd > 0.0);
        let prior_sd_s = HomeToTrack::prior(line.doubt_sd_s())?.offset_s.sd;
        // m slips, p a night: s²/m + s_b²·p/m.
        let a_night = (slips_s.n() as f64 / slips.days as f64).max(SLIPS_A_NIGHT);
        let home_se_s = home_sd_s / (practice_s.n() as f64).sqrt();
        let wanted = |half_width_s| Wanted {
            half_width_s,
            level,
            slip_sd_s: own.unwrap_or(home_sd_s).hypot(a_night.sqrt() * between_s),
            practice_se_s: home_se_s.hypot(between_s * shared(home_days).sqrt()),
            prior_sd_s,
        };
        let at_home =
            AtHome { car: &car, home_s: home_s.value, home_sd_s, delay_sd_s: runs.delay_sd_s };
        Ok(Some(Self {
            reasons: at_home.reasons(newest),
            home_s,
            home_sd_s,
            home_spread_s: spread(&practice_s, level).ok(),
            newest: newest.clone(),
            difference: ordinary.and_then(|evidence| evidence.difference(level).ok()),
            left_on_green: aside.iter().filter(|aside| **aside).count(),
            offset_s: evidence.offset_s(level)?,
            prior_sd_s,
            slips_wanted: [
                wanted(WANTED_S[0]).slips().unwrap_or(None),
                wanted(WANTED_S[1]).slips().unwrap_or(None),
            ],
            slips_own_spread: own.is_some(),
            slips_s: slips_s.values().to_vec(),
        }))
    }

    /// How much later the newest slip is than home, s.
    pub fn gap_s(&self) -> f64 {
        self.newest.rt().map_or(0.0, |rt| rt.seconds()) - self.home_s.value
    }
}

/// What a slip's light is held against.
struct AtHome<'a> {
    car: &'a OwnCar,
    home_s: f64,
    home_sd_s: f64,
    delay_sd_s: f64,
}

impl AtHome<'_> {
    /// Everything that could be behind this slip's light, the largest first; chance before all if the
    /// difference is no more than launches differ anyway.
    fn reasons(&self, slip: &Slip) -> Vec<LikelyReason> {
        let light_s = slip.rt().map_or(0.0, |rt| rt.seconds());
        let gap_s = light_s - self.home_s;
        let likely = |reason, worth_s| LikelyReason { reason, worth_s };
        let mut all = vec![
            likely(Reason::OtherDay, ASSUMED_DAY_SD_S),
            likely(Reason::TrackItself, TRACK_ITSELF_S),
        ];
        let contributions = self.car.model.as_ref().map(|model| model.car_part().contributions);
        let largest = contributions
            .and_then(|all| all.into_iter().max_by(|a, b| a.sd_s.total_cmp(&b.sd_s)))
            .map_or(Source::Strength, |largest| largest.source);
        all.push(likely(Reason::Car(largest), self.car.part.doubt_sd_s));
        if self.delay_sd_s > WELL_KNOWN_S {
            all.push(likely(Reason::RigDelay, self.delay_sd_s));
        }
        if gap_s > 0.2 && (GREEN_LIGHT_S.0..=GREEN_LIGHT_S.1).contains(&light_s) {
            all.push(likely(Reason::WaitedForGreen, gap_s.abs()));
        }
        if gap_s > 0.2 && slip.scale == RtScale::Modern && slip.manner.is_none() {
            all.push(likely(Reason::OlderScale, 0.9 * gap_s));
        }
        if slip.lamps == Some(LampKind::Bulb) && gap_s > 0.0 {
            all.push(likely(Reason::Bulbs, BULB_S));
        }
        if slip.first_of_day == Some(true) {
            all.push(likely(Reason::FirstLaunch, FIRST_LAUNCH_S));
        }
        if let (Some(model), Some(depth_in)) = (&self.car.model, slip.depth_in) {
            let at = |inches| model.depth_row(crate::units::Inches(inches), 95.0).rt_s;
            let shift_s = at(depth_in) - at(model.depth_in().value);
            // Only what moves the light the way it moved.
            if shift_s * gap_s > 0.0 {
                all.push(likely(Reason::Depth, shift_s.abs()));
            }
        }
        all.sort_by(|a, b| b.worth_s.total_cmp(&a.worth_s));
        let chance = likely(Reason::Chance, self.home_sd_s);
        let place = if gap_s.abs() <= 1.645 * self.home_sd_s {
            0
        } else {
            all.iter().position(|r| r.worth_s < self.home_sd_s).unwrap_or(all.len())
        };
        all.insert(place, chance);
        all
    }
}

impl OwnSlips {
    /// The newest slip of a set-up with a light, by its day and time, then by when it was entered.
    fn newest<'a>(&self, lines: &OwnLines<'a>, setup: &OwnSetup) -> Option<&'a Slip> {
        let edge = super::car::edge_of(lines.cars, &setup.car);
        lines
            .real_slips()
            .filter(|slip| slip.rt().is_some() && Fit::of(slip, setup, edge) != Fit::Other)
            .max_by_key(|slip| (slip.date, slip.time))
    }
}
