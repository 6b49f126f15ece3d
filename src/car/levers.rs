//! What a driver could change about a car, and what it does to RT and to ET.
//!
//! Owns sensitivities, the guard beam's cap, the trade of staging depth and levers as pairs
//! (ΔRT, ΔET). Refuses to recommend: less car part is the same for the red light, not for the race.

use super::launch::STANDARD_GRAVITY_M_S2;
use super::launch::seconds_to_roll;
use super::pass::{CarBody, Pass, StartPlace, drive};
use super::rollout::remaining_in;
use super::{CarError, CarModel, prestage_out_depth};
use crate::rules::{FEET_A_SECOND_TO_MPH, TrackLength};
use crate::units::Inches;

/// Something about the car part that can be moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LeverKind {
    /// A taller front tyre, in.
    Tyre,
    /// More front tyre pressure, psi.
    Pressure,
    /// Staging deeper, in.
    Depth,
    /// More lag of the launch edge, ms.
    Lag,
    /// A 60-foot time longer by a tenth of a second.
    SixtyFoot,
}

impl LeverKind {
    /// The unit of one step.
    pub const fn per(self) -> &'static str {
        match self {
            LeverKind::Tyre | LeverKind::Depth => "in",
            LeverKind::Pressure => "psi",
            LeverKind::Lag => "ms",
            LeverKind::SixtyFoot => "tenth",
        }
    }
}

/// What one step of a lever does, to first order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lever {
    /// Which.
    pub kind: LeverKind,
    /// Change of the car part and so of RT, s for one step.
    pub rt_s: f64,
    /// Change of the time at the finish, s for one step.
    pub et_s: f64,
}

/// One row of the trade of staging depth, against the shallow position.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DepthRow {
    /// How far past the point where the stage lamp lights.
    pub depth: Inches,
    /// The roll left.
    pub remaining: Inches,
    /// The pre-stage lamp is out: staged deep.
    pub deep: bool,
    /// The car part here, s.
    pub car_part_s: f64,
    /// Change of RT, s.
    pub rt_s: f64,
    /// Change of the 60-foot time, s.
    pub sixty_foot_s: f64,
    /// Change of the time at the finish, s.
    pub et_s: f64,
}

/// What the guard beam does to this car.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GuardCap {
    /// The guard beam, not the stage beam, starts the clock.
    pub ends_roll: bool,
    /// What it takes off the roll, ≥ 0.
    pub cut: Inches,
    /// A taller tyre than this gains no roll.
    pub from_diameter: Inches,
}

/// Without weight and power a tenth at 60 ft is worth this much at the finish: chosen, what our own
/// passes have (.149–.177; common practice says .15–.2).
const ET_FOR_SIXTY_FOOT: f64 = 1.6;
/// The trap speed taken where nothing else is known, mph. Chosen, an ordinary car's.
const USUAL_TRAP_MPH: f64 = 95.0;

impl CarModel {
    /// The car's body where weight and power are known.
    pub fn body(&self) -> Option<CarBody> {
        let details = self.details();
        Some(CarBody::street(details.weight_lb?, details.power_hp?))
    }

    /// The whole pass from this depth, where weight and power are known.
    ///
    /// # Errors
    /// [`CarError::OutOfRange`] for a launch outside .05–6 g.
    pub fn pass(&self, depth: Inches, length: TrackLength) -> Result<Option<Pass>, CarError> {
        let Some(body) = self.body() else { return Ok(None) };
        let start = StartPlace::new(self.tyre(), self.beams(), depth);
        drive(&body.forces(self.launch_g().value)?, start, length).map(Some)
    }

    /// What the guard beam does: it ends the roll when the chord c is longer than the way to it,
    /// g; c = g at D = g²/(4·(h + δ)) + h + δ, with D the diameter, h the beam's height and δ the
    /// deflection.
    pub fn guard_cap(&self) -> GuardCap {
        let guard = self.beams().stage_to_guard();
        let height = self.beams().beam_height() + self.tyre().deflection();
        let chord = self.tyre().chord_or_zero(self.beams().beam_height());
        GuardCap {
            ends_roll: chord > guard,
            cut: Inches((chord - guard).0.max(0.0)),
            from_diameter: Inches(guard.0 * guard.0 / (4.0 * height.0) + height.0),
        }
    }

    /// The trade of staging depth at an unchanged launch: a row every half inch from the shallow
    /// position to half an inch of roll. With `trap_mph` v at the finish,
    /// ΔET = −ΔRT − depth/v: what the roll gains the clock starts earlier, and what lies behind the
    /// car already need not be driven.
    pub fn depth_trade(&self, trap_mph: f64) -> Vec<DepthRow> {
        let whole_in = self.roll_left_in(0.0);
        let rows = ((whole_in - 0.5) / 0.5).floor().max(0.0) as u32;
        (0..=rows).map(|i| self.depth_row(Inches(f64::from(i) * 0.5), trap_mph)).collect()
    }

    /// One row of [`CarModel::depth_trade`].
    pub fn depth_row(&self, depth: Inches, trap_mph: f64) -> DepthRow {
        let at = |depth_in: f64| self.car_part_with_s(|start| start.depth_in = depth_in);
        let (car_part_s, shallow_s) = (at(depth.0), at(0.0));
        let rt_s = car_part_s - shallow_s;
        DepthRow {
            depth,
            remaining: Inches(self.roll_left_in(depth.0)),
            deep: depth > prestage_out_depth(self.tyre(), self.beams()),
            car_part_s,
            rt_s,
            sixty_foot_s: self.sixty_foot_at_s(depth.0) - self.sixty_foot_at_s(0.0),
            et_s: -rt_s - depth.feet() / (trap_mph / FEET_A_SECOND_TO_MPH),
        }
    }

    /// The speed at the finish to trade with, mph: the pass's where weight and power are known,
    /// else an ordinary car's.
    ///
    /// # Errors
    /// As [`CarModel::pass`].
    pub fn trap_mph(&self, length: TrackLength) -> Result<f64, CarError> {
        let pass = self.pass(Inches(self.depth_in().value), length)?;
        Ok(pass.map_or(USUAL_TRAP_MPH, |pass| pass.mph()))
    }

    /// Every lever's pair. Pressure only where deflection and pressure are known.
    ///
    /// - tyre, depth, pressure change the roll: ET pays back what RT gains, less the depth already
    ///   driven;
    /// - lag changes RT alone;
    /// - the launch changes both the same way: ET by the passes' own slope, or 1.6 times the
    ///   60-foot time without weight and power.
    ///
    /// Pressure acts through the deflection alone, taken as inverse to it (an air spring; the
    /// carcass makes it less, so this is a bound).
    ///
    /// # Errors
    /// As [`CarModel::pass`].
    pub fn levers(&self, length: TrackLength) -> Result<Vec<Lever>, CarError> {
        let slope = |step: f64, change: &dyn Fn(&mut super::model::Start, f64)| {
            let at = |by: f64| self.car_part_with_s(|start| change(start, by));
            (at(step) - at(-step)) / (2.0 * step)
        };
        let feet_a_second = self.trap_mph(length)? / FEET_A_SECOND_TO_MPH;
        let tyre_s = slope(0.01, &|start, by| start.diameter_in += by);
        let depth_s = self.slope_in_depth_s();
        let mut levers = vec![
            Lever { kind: LeverKind::Tyre, rt_s: tyre_s, et_s: -tyre_s },
            Lever {
                kind: LeverKind::Depth,
                rt_s: depth_s,
                et_s: -depth_s - 1.0 / 12.0 / feet_a_second,
            },
            Lever { kind: LeverKind::Lag, rt_s: 0.001, et_s: 0.0 },
            self.launch_lever(length)?,
        ];
        if let (Some(deflection), Some(psi)) =
            (self.details().deflection_in, self.details().front_pressure_psi)
        {
            let inches_a_psi = -deflection.value / psi;
            let inch_s = slope(0.01, &|start, by| start.deflection_in += by);
            let rt_s = inch_s * inches_a_psi;
            levers.push(Lever { kind: LeverKind::Pressure, rt_s, et_s: -rt_s });
        }
        Ok(levers)
    }

    fn launch_lever(&self, length: TrackLength) -> Result<Lever, CarError> {
        let depth = self.depth_in().value;
        let sixty_s = self.sixty_foot_at_s(depth);
        // a ∝ 1/t² at an unchanged way: .1 s more of t.
        let change = |by_s: f64| (sixty_s / (sixty_s + by_s)).powi(2);
        let part = |by_s: f64| self.car_part_with_s(|start| start.launch_g *= change(by_s));
        let rt_s = part(0.05) - part(-0.05);
        let Some(body) = self.body() else {
            return Ok(Lever { kind: LeverKind::SixtyFoot, rt_s, et_s: 0.1 * ET_FOR_SIXTY_FOOT });
        };
        let start = StartPlace::new(self.tyre(), self.beams(), Inches(depth));
        let pass = |by_s: f64| {
            let g = (self.launch_g().value * change(by_s)).clamp(0.05, 6.0);
            drive(&body.forces(g)?, start, length)
        };
        let (slower, quicker) = (pass(0.05)?, pass(-0.05)?);
        let sixty_by_s = slower.t60_s - quicker.t60_s;
        let et_s = 0.1 * (slower.et_s() - quicker.et_s()) / sixty_by_s.max(1e-9);
        Ok(Lever { kind: LeverKind::SixtyFoot, rt_s, et_s })
    }

    fn roll_left_in(&self, depth_in: f64) -> f64 {
        let chord = self.tyre().chord_or_zero(self.beams().beam_height());
        remaining_in(chord.0, self.beams().stage_to_guard().0, depth_in)
    }

    /// The 60-foot time from this depth at an unchanged launch, s.
    fn sixty_foot_at_s(&self, depth_in: f64) -> f64 {
        let chord = |height| self.tyre().chord_or_zero(height).0;
        let (near, far) = (self.beams().beam_height(), self.beams().sixty_foot_beam_height());
        let travel = super::launch::travel_in(chord(near), chord(far)) - depth_in;
        let a_m_s2 = self.launch_g().value * STANDARD_GRAVITY_M_S2;
        let roll = |inches: f64| seconds_to_roll(Inches(inches).metres(), a_m_s2, 0.0);
        roll(travel) - roll(self.roll_left_in(depth_in))
    }
}
