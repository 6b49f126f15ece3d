//! A whole pass as the clocks of a track see it.
//!
//! Owns where each clock stands and what it prints. Refuses noise and the driver.

use super::forces::Forces;
use super::walk::{Energy, Walk};
use crate::car::launch::travel_in;
use crate::car::rollout::{remaining_in, rollout};
use crate::car::{BeamLine, CarError, Tyre};
use crate::rules::{TRAP_FT, TrackLength, trap_mph};
use crate::units::Inches;

/// Metres in one foot, exact by definition (international foot, 1959).
const FOOT_M: f64 = 0.3048;
/// Where the clocks stand, ft.
const SIXTY_FT: f64 = 60.0;
const THREE_THIRTY_FT: f64 = 330.0;
const THOUSAND_FT: f64 = 1000.0;

/// Where the car stands and where the beams down the track meet it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StartPlace {
    roll_m: f64,
    line_m: f64,
}

impl StartPlace {
    /// A car on these tyres, `depth` past the shallow position. Its tyre's front edge trips the
    /// beams down the track, all as high as the 60-foot beam.
    pub fn new(tyre: Tyre, beams: BeamLine, depth: Inches) -> Self {
        let near = tyre.chord_or_zero(beams.beam_height()).0;
        let far = tyre.chord_or_zero(beams.sixty_foot_beam_height()).0;
        let line = Inches(travel_in(near, far) - depth.0.max(0.0)).metres() - SIXTY_FT * FOOT_M;
        Self { roll_m: rollout(tyre, beams, depth).remaining.metres(), line_m: line }
    }

    /// A point of a car with `roll` to the end of the stage beam from the shallow position, that
    /// stands `depth` deeper: distances count from the shallow position.
    pub fn point(roll: Inches, depth: Inches) -> Self {
        let roll_in = remaining_in(roll.0, f64::INFINITY, depth.0);
        Self { roll_m: Inches(roll_in).metres(), line_m: -depth.metres() }
    }

    /// From where the car stands to the end of its roll.
    pub fn roll(&self) -> Inches {
        Inches::from_metres(self.roll_m)
    }

    /// From where the car stands to where it trips a beam `feet` down the track, m.
    fn place_m(&self, feet: f64) -> f64 {
        self.line_m + feet * FOOT_M
    }
}

/// What the clocks of a track print, and the roll before they start. Times from the stage beam, s;
/// speeds the average over the last 66 ft, mph.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pass {
    /// From the car's first movement to the start of the clocks, s.
    pub roll_s: f64,
    /// 60 ft.
    pub t60_s: f64,
    /// 330 ft.
    pub t330_s: f64,
    /// 660 ft.
    pub t660_s: f64,
    /// At 660 ft.
    pub mph660: f64,
    /// 1000 ft; a quarter-mile track has it.
    pub t1000_s: Option<f64>,
    /// 1320 ft.
    pub t1320_s: Option<f64>,
    /// At 1320 ft.
    pub mph1320: Option<f64>,
    /// Where the energy went up to the finish or a little beyond it.
    pub energy: Energy,
}

impl Pass {
    /// The time at the finish, s.
    pub fn et_s(&self) -> f64 {
        self.t1320_s.unwrap_or(self.t660_s)
    }

    /// The speed at the finish, mph.
    pub fn mph(&self) -> f64 {
        self.mph1320.unwrap_or(self.mph660)
    }
}

/// Drives `forces` from a standstill at `start` over a track of this length.
///
/// Between the shifts the motion is a = a(v); times and distances are the integrals of dv/a and
/// v·dv/a by a Gauss–Legendre rule whose pieces are halved until they agree to 1e-11, and the
/// moment a beam is passed is the root of "how far" in the speed.
///
/// # Errors
/// [`CarError`] for forces that are not numbers, or where nothing limits the car.
pub fn drive(forces: &Forces, start: StartPlace, length: TrackLength) -> Result<Pass, CarError> {
    forces.check()?;
    let walk = Walk::drive(forces, start.place_m(length.feet()));
    let clock_s = walk.at(start.roll_m).0;
    let at_s = |feet: f64| walk.at(start.place_m(feet)).0 - clock_s;
    let finish = |length: TrackLength| {
        let end_s = at_s(length.feet());
        (end_s, trap_mph(end_s - at_s(length.feet() - TRAP_FT)))
    };
    let (t660_s, mph660) = finish(TrackLength::Eighth);
    let quarter = (length == TrackLength::Quarter).then(|| finish(length));
    Ok(Pass {
        roll_s: clock_s,
        t60_s: at_s(SIXTY_FT),
        t330_s: at_s(THREE_THIRTY_FT),
        t660_s,
        mph660,
        t1000_s: quarter.map(|_| at_s(THOUSAND_FT)),
        t1320_s: quarter.map(|(end_s, _)| end_s),
        mph1320: quarter.map(|(_, mph)| mph),
        energy: walk.energy(),
    })
}
