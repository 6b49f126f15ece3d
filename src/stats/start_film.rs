//! The car part from a film of the start line: brake lamp, front wheel and tree in one picture.
//!
//! Owns the arithmetic from frame counts to a car part with its doubt, and the words of the guide.
//! Refuses the driver's share: what happens before the launch edge is not counted.
//!
//! On each launch the frames f from the first that shows the launch edge to the first with the own
//! stage lamp out are counted: tᵢ = fᵢ/F, F the frames a second.

use super::special::normal_quantile;
use super::summary::mean;
use super::{Caveat, Estimate, Sample, StatsError};
use crate::car::{FilmedPart, LeaveAnswer};
use crate::stats::film::FilmError;
use crate::units::Measured;

/// What is off the same way on every launch, SD, s: how long the stage lamp glows on, where the
/// camera's rows stand, what is taken as the launch edge. Assumed.
pub const SAME_EACH_TIME_S: f64 = 0.015;
/// One start differs from the next by about this much, s, as the car room has it; a spread seen in few
/// launches is mixed with it as if it were that of five. Chosen.
const USUAL_SPREAD_S: f64 = 0.014;
const USUAL_LAUNCHES: f64 = 5.0;
/// Limits of a car part, s, as the car room has them.
const CAR_PART_S: (f64, f64) = (0.1, 1.5);
/// The rate phones film slow motion at, frames a second.
pub const USUAL_FPS: f64 = 240.0;

/// Where the counting begins.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum CountedFrom {
    /// The launch edge itself, seen by the brake lamp going out or the pedal moving.
    #[default]
    LaunchEdge,
    /// The front wheel's first movement; the lag before it is added, s.
    FirstMovement {
        /// From launch edge to first movement, as the car is known.
        lag_s: Measured,
    },
}

/// A film of launches at a start line.
#[derive(Debug, Clone, PartialEq)]
pub struct StartFilm {
    fps: f64,
    frames: Vec<f64>,
    from: CountedFrom,
}

/// The car part a film shows.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmedStart {
    /// The car part, s; its `n` is the launches.
    pub seconds: Estimate,
    /// SD of what is not known about it, s.
    pub sd_s: f64,
    /// SD from launch to launch, s, the usual one mixed in.
    pub spread_s: f64,
    /// Doubts.
    pub caveats: Vec<Caveat>,
}

impl StartFilm {
    /// A film of `fps` frames a second (20–2000) with the frames counted on each launch.
    ///
    /// # Errors
    /// [`FilmError`] naming the place of what cannot be; a car part outside .1–1.5 s is a slip of
    /// counting.
    pub fn new(fps: f64, frames: Vec<f64>, from: CountedFrom) -> Result<Self, FilmError> {
        if !(20.0..=2000.0).contains(&fps) {
            return Err(FilmError::Rate(fps));
        }
        let film = Self { fps, frames, from };
        for (i, seconds) in film.seconds().into_iter().enumerate() {
            if !(CAR_PART_S.0..=CAR_PART_S.1).contains(&seconds) {
                return Err(FilmError::NoCarPart { position: i + 1, ms: 1000.0 * seconds });
            }
        }
        Ok(film)
    }

    /// The car part of each launch, s.
    pub fn seconds(&self) -> Vec<f64> {
        let lag_s = match self.from {
            CountedFrom::LaunchEdge => 0.0,
            CountedFrom::FirstMovement { lag_s } => lag_s.value,
        };
        self.frames.iter().map(|frames| frames / self.fps + lag_s).collect()
    }

    /// The car part with an interval that holds it with chance `level`.
    ///
    /// Its doubt: SD² = s²/n + .015² + lag's², with s² = (5·.014² + Σ(t − mean)²)/(5 + n − 1), never
    /// less than what cutting to whole frames leaves, 1/(6·F²) (rectangular at both ends: JCGM
    /// 100:2008, 4.3.7). Five launches of one car at 240 frames a second come to ± .016 s.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] without a launch, [`StatsError::OutOfDomain`] for the level.
    pub fn car_part(&self, level: f64) -> Result<FilmedStart, FilmError> {
        if !(level > 0.0 && level < 1.0) {
            let (name, domain) = ("level", "0 to 1 without the ends");
            return Err(StatsError::OutOfDomain { name, value: level, domain }.into());
        }
        let sample = Sample::new(self.seconds())?;
        let (value, n) = (mean(&sample), sample.n());
        let squares: f64 = sample.values().iter().map(|t| (t - value).powi(2)).sum();
        let usual = USUAL_LAUNCHES * USUAL_SPREAD_S.powi(2);
        let seen = (usual + squares) / (USUAL_LAUNCHES + n as f64 - 1.0);
        let spread_s = seen.max(1.0 / (6.0 * self.fps * self.fps)).sqrt();
        let lag_sd_s = match self.from {
            CountedFrom::LaunchEdge => 0.0,
            CountedFrom::FirstMovement { lag_s } => lag_s.sd,
        };
        let sd_s = (spread_s / (n as f64).sqrt()).hypot(SAME_EACH_TIME_S).hypot(lag_sd_s);
        let half = normal_quantile(0.5 + 0.5 * level) * sd_s;
        let seconds = Estimate { value, low: value - half, high: value + half, level, n };
        let caveats = if n < 3 { vec![Caveat::FewFilmedLaunches { n }] } else { Vec::new() };
        Ok(FilmedStart { seconds, sd_s, spread_s, caveats })
    }

    /// What goes into My car.
    pub fn part(&self, found: &FilmedStart) -> FilmedPart {
        FilmedPart {
            seconds: Measured::new(found.seconds.value, found.sd_s),
            fps: self.fps,
            frames: self.frames.clone(),
        }
    }
}

/// The guide, step by step.
pub const HOW_TO_FILM: [&str; 5] = [
    "Ask a friend, and ask the track where he may stand: behind the start line, off the lane, never \
     where officials work.",
    "Film at 240 frames a second, so that brake lamp, front wheel and your side of the tree are in one \
     picture. From behind and to the side works; rest the phone on something.",
    "Begin when you are pre-staged and film until the car is gone. Three launches are enough, more are \
     better.",
    "At home go through it frame by frame. Frame zero is the first that shows your launch.",
    "Count to the first frame in which your own stage lamp is out. Write down one number for each launch.",
];

/// What to take as frame zero, for a way to leave.
pub const fn frame_zero(leave: LeaveAnswer) -> &'static str {
    match leave {
        LeaveAnswer::TwoFeetConverter | LeaveAnswer::LaunchControl => {
            "Your launch is letting the brake go: the first frame in which the brake lamp is out."
        }
        LeaveAnswer::Button | LeaveAnswer::Clutch => {
            "Your launch shows on no lamp: count from the front wheel's first movement; the lag before \
             it is added as My car has it. Or have a lamp wired to the control."
        }
        LeaveAnswer::OneFoot | LeaveAnswer::TwoFeetIdle | LeaveAnswer::DontKnow => {
            "Your launch is pressing the gas, which shows on no lamp: count from the front wheel's first \
             movement; the lag before it is added as My car has it."
        }
    }
}

/// Whether frame zero is the launch edge itself.
pub const fn shows_on_a_lamp(leave: LeaveAnswer) -> bool {
    matches!(leave, LeaveAnswer::TwoFeetConverter | LeaveAnswer::LaunchControl)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn film(frames: &[f64]) -> FilmedStart {
        let film = StartFilm::new(240.0, frames.to_vec(), CountedFrom::LaunchEdge).unwrap();
        film.car_part(0.90).unwrap()
    }

    #[test]
    fn frame_zero_is_told_for_every_way_to_leave() {
        for (leave, words, edge) in [
            (LeaveAnswer::TwoFeetConverter, "brake lamp is out", true),
            (LeaveAnswer::LaunchControl, "brake lamp is out", true),
            (LeaveAnswer::Button, "wired to the control", false),
            (LeaveAnswer::Clutch, "wired to the control", false),
            (LeaveAnswer::OneFoot, "pressing the gas", false),
            (LeaveAnswer::TwoFeetIdle, "pressing the gas", false),
            (LeaveAnswer::DontKnow, "pressing the gas", false),
        ] {
            assert!(frame_zero(leave).contains(words), "{leave:?}");
            assert_eq!(shows_on_a_lamp(leave), edge, "{leave:?}");
        }
    }

    #[test]
    fn frames_become_a_car_part_and_its_doubt() {
        let one = film(&[75.0]);
        assert!((one.seconds.value - 0.3125).abs() < 1e-12);
        assert!((one.sd_s - 0.014_f64.hypot(0.015)).abs() < 1e-12);
        assert_eq!(one.caveats, [Caveat::FewFilmedLaunches { n: 1 }]);
        // By hand: mean 75, squares (1 + 1)/240², s² = (5·.014² + 2/57600)/7.
        let three = film(&[74.0, 75.0, 76.0]);
        let s = ((5.0 * 0.000_196 + 2.0 / 57_600.0) / 7.0_f64).sqrt();
        assert!((three.spread_s - s).abs() < 1e-12);
        assert!((three.sd_s - (s / 3.0_f64.sqrt()).hypot(0.015)).abs() < 1e-12);
        // However many launches: what is off each time stays.
        assert!(film(&[75.0; 1000]).sd_s >= 0.015);
        assert!(film(&[75.0; 5]).sd_s < 0.0165);
    }

    #[test]
    fn a_count_from_the_first_movement_has_the_lag_added_with_its_doubt() {
        let from = CountedFrom::FirstMovement { lag_s: Measured::new(0.10, 0.03) };
        let got = StartFilm::new(240.0, vec![60.0], from).unwrap().car_part(0.90).unwrap();
        assert!((got.seconds.value - 0.35).abs() < 1e-12);
        assert!((got.sd_s - 0.014_f64.hypot(0.015).hypot(0.03)).abs() < 1e-12);
    }

    #[test]
    fn a_slip_of_counting_is_named_with_its_place() {
        let wrong = |fps, frames: &[f64]| {
            StartFilm::new(fps, frames.to_vec(), CountedFrom::LaunchEdge).unwrap_err().to_string()
        };
        assert!(wrong(240.0, &[75.0, 7.5]).starts_with("launch 2: 31 ms is no car part"));
        assert!(wrong(240.0, &[f64::NAN]).contains("launch 1"));
        assert!(wrong(5.0, &[75.0]).contains("5 frames a second"));
        let none = StartFilm::new(240.0, Vec::new(), CountedFrom::LaunchEdge).unwrap();
        assert!(none.car_part(0.9).is_err());
    }

    #[test]
    fn the_interval_reaches_as_far_to_either_side() {
        // 1.644854 standard deviations hold nine in ten of a normal law (any table).
        let found = film(&[74.0, 75.0, 76.0]);
        let (low, high) = (found.seconds.low, found.seconds.high);
        assert!((high - found.seconds.value - 1.644_854 * found.sd_s).abs() < 1e-8);
        assert!((found.seconds.value - low - 1.644_854 * found.sd_s).abs() < 1e-8);
    }
}
