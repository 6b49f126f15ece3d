//! What an owner may know of a car beyond the five questions.
//!
//! Owns these facts, their limits and the doubt each carries. Refuses to combine them: `model` does.
//! Whatever is not given stays with the answer to its question.

use super::error::Limits;
use super::launch::{DEPTH_IN, LAG_S, LAUNCH_G, SIXTY_FOOT_S};
use super::{CarError, Traction};
use crate::units::Measured;

/// Further facts; none has to be known.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Details {
    /// How far the load has lowered the front axle, in.
    pub deflection_in: Option<Measured>,
    /// Front tyre pressure, psi; only says how the deflection changes with it.
    pub front_pressure_psi: Option<f64>,
    /// How strong the launch is, better than by its question.
    pub strength: Option<Strength>,
    /// From the launch edge to the first movement, s.
    pub lag_s: Option<Measured>,
    /// Where the driver really stops.
    pub depth: Option<DepthHabit>,
    /// With driver and fuel, lb.
    pub weight_lb: Option<f64>,
    /// At the crank, hp.
    pub power_hp: Option<f64>,
    /// The time on the window, s.
    pub dial_s: Option<f64>,
    /// The car part itself, measured at a start line.
    pub filmed: Option<FilmedPart>,
}

/// The car part as a film of real launches shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmedPart {
    /// The car part with its doubt, s.
    pub seconds: Measured,
    /// Frames a second of the film.
    pub fps: f64,
    /// Frames counted, a number for each launch.
    pub frames: Vec<f64>,
}

/// Where a driver stops, past the point where the stage lamp lights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DepthHabit {
    /// The average with its doubt, in.
    pub mean_in: Measured,
    /// How much one start differs from the next (SD), in.
    pub spread_in: f64,
}

/// How a strong launch is known.
#[derive(Debug, Clone, PartialEq)]
pub enum Strength {
    /// By a 60-foot time, s.
    SixtyFoot(Measured),
    /// By its acceleration, in units of standard gravity.
    Launch(Measured),
    /// By grip and weight.
    Traction(Traction),
    /// By the 60-foot times of real slips, s.
    Slips(Vec<f64>),
}

/// What a strength comes to: a 60-foot time or an acceleration, and how much runs differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Known {
    pub as_sixty_foot: bool,
    /// s or g.
    pub value: Measured,
    /// Run-to-run standard deviation of the acceleration, as a share of it.
    pub run_share: f64,
}

/// Runs of one car differ by this share of the launch, unless slips say otherwise. Chosen: ± 3 % is
/// ± .03 s of a 2.0 s 60-foot time.
pub const LAUNCH_RUN_SHARE: f64 = 0.03;
/// One 60-foot time differs from the next by this much, s: the same, for a slip's times.
const SIXTY_FOOT_RUN_S: f64 = 0.03;
/// A spread seen in few slips is mixed with the usual one as if that were this many slips. Chosen.
const USUAL_SPREAD_SLIPS: f64 = 5.0;
/// Grip and weight give the launch to a tenth: chosen, a track's grip is nobody's secret and
/// nobody's knowledge.
const TRACTION_DOUBT_SHARE: f64 = 0.10;
/// Standard error of a median over that of a mean, for normal values: √(π/2).
const MEDIAN_OVER_MEAN: f64 = 1.253_314_137_315_5;

impl Strength {
    /// What it comes to.
    ///
    /// Slips: the median of their n times; their spread s is mixed with the usual .03 s as
    /// s² = (5·.03² + Σ(t − mean)²) / (5 + n − 1), and the median's doubt is 1.2533·s/√n.
    ///
    /// # Errors
    /// [`CarError::OutOfRange`] for a 60-foot time outside .8–5 s or a launch outside .05–6 g;
    /// [`CarError::NoSlips`] without a slip.
    pub(super) fn known(&self) -> Result<Known, CarError> {
        let usual =
            |as_sixty_foot, value| Known { as_sixty_foot, value, run_share: LAUNCH_RUN_SHARE };
        let known = match self {
            Strength::SixtyFoot(seconds) => usual(true, *seconds),
            Strength::Launch(g) => usual(false, *g),
            Strength::Traction(traction) => {
                let g = traction.launch_g();
                usual(false, Measured::new(g, TRACTION_DOUBT_SHARE * g))
            }
            Strength::Slips(times_s) => of_slips(times_s)?,
        };
        let limits = if known.as_sixty_foot { SIXTY_FOOT_S } else { LAUNCH_G };
        limits.check(known.value.value)?;
        spread_check("the doubt about the launch", known.value.sd)?;
        Ok(known)
    }
}

fn of_slips(times_s: &[f64]) -> Result<Known, CarError> {
    for time_s in times_s {
        SIXTY_FOOT_S.check(*time_s)?;
    }
    let mut sorted = times_s.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    let (Some(low), Some(high)) = (sorted.get(n.saturating_sub(1) / 2), sorted.get(n / 2)) else {
        return Err(CarError::NoSlips);
    };
    let median = (low + high) / 2.0;
    let mean = sorted.iter().sum::<f64>() / n as f64;
    let squares: f64 = sorted.iter().map(|t| (t - mean).powi(2)).sum();
    let usual = USUAL_SPREAD_SLIPS * SIXTY_FOOT_RUN_S.powi(2);
    let spread = ((usual + squares) / (USUAL_SPREAD_SLIPS + n as f64 - 1.0)).sqrt();
    Ok(Known {
        as_sixty_foot: true,
        value: Measured::new(median, MEDIAN_OVER_MEAN * spread / (n as f64).sqrt()),
        // a ∝ 1/t², so twice the share of the time.
        run_share: 2.0 * spread / median,
    })
}

fn spread_check(what: &'static str, sd: f64) -> Result<f64, CarError> {
    Limits { what, low: 0.0, high: 10.0, unit: "" }.check(sd)
}

impl Details {
    /// Refuses what no car has; the strength is checked where it is used.
    pub(super) fn check(&self) -> Result<(), CarError> {
        let limits = |what, low, high, unit| Limits { what, low, high, unit };
        if let Some(deflection) = self.deflection_in {
            spread_check("the doubt about the deflection", deflection.sd)?;
        }
        if let Some(psi) = self.front_pressure_psi {
            limits("the front tyres' pressure", 3.0, 80.0, "psi").check(psi)?;
        }
        if let Some(lag) = self.lag_s {
            LAG_S.check(lag.value)?;
            spread_check("the doubt about the lag", lag.sd)?;
        }
        if let Some(depth) = self.depth {
            DEPTH_IN.check(depth.mean_in.value)?;
            spread_check("the doubt about the depth", depth.mean_in.sd)?;
            spread_check("the spread of the depth", depth.spread_in)?;
        }
        if let Some(filmed) = &self.filmed {
            limits("the filmed car part", 0.1, 1.5, "s").check(filmed.seconds.value)?;
            spread_check("the doubt about the filmed car part", filmed.seconds.sd)?;
        }
        if let Some(weight_lb) = self.weight_lb {
            limits("the weight", 300.0, 12_000.0, "lb").check(weight_lb)?;
        }
        if let Some(power_hp) = self.power_hp {
            limits("the power", 3.0, 15_000.0, "hp").check(power_hp)?;
        }
        if let Some(dial_s) = self.dial_s {
            limits("the dial-in", 0.0, crate::rules::LONGEST_DIAL_S, "s").check(dial_s)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_give_a_median_and_a_spread_that_starts_from_the_usual_one() {
        let one = Strength::Slips(vec![2.05]).known().unwrap();
        assert!((one.value.value - 2.05).abs() < 1e-12);
        assert!((one.value.sd - 0.03 * MEDIAN_OVER_MEAN).abs() < 1e-12);
        // By hand: mean 2.06, squares .0118, s² = (.0045 + .0118)/8 = .0020375.
        let four = Strength::Slips(vec![2.02, 2.05, 2.01, 2.16]).known().unwrap();
        assert!((four.value.value - 2.035).abs() < 1e-12);
        let s = ((5.0 * 0.0009 + 0.0142_f64) / 8.0).sqrt();
        assert!((four.value.sd - MEDIAN_OVER_MEAN * s / 2.0).abs() < 1e-9, "{}", four.value.sd);
        assert_eq!(Strength::Slips(Vec::new()).known(), Err(CarError::NoSlips));
        assert!(Strength::Slips(vec![2.0, f64::NAN]).known().is_err());
    }

    #[test]
    fn facts_no_car_has_are_refused() {
        let refuse = |details: Details| details.check().unwrap_err().to_string();
        let message = refuse(Details { weight_lb: Some(35.0), ..Details::default() });
        assert_eq!(message, "the weight is 35 lb; give 300 to 12000 lb");
        for bad in [
            Details { power_hp: Some(f64::NAN), ..Details::default() },
            Details { dial_s: Some(-1.0), ..Details::default() },
            Details { lag_s: Some(Measured::new(0.1, -1.0)), ..Details::default() },
            Details { front_pressure_psi: Some(0.0), ..Details::default() },
        ] {
            assert!(bad.check().is_err(), "{bad:?}");
        }
        assert!(Strength::Launch(Measured::new(9.0, 0.1)).known().is_err());
    }
}
