//! A car as its owner knows it, for the whole way down the track: weight, power, air, gears.
//!
//! Owns the step from pounds and horsepower to forces. Refuses to know how it launches: that comes
//! with the question.

use super::forces::Forces;
use super::gearbox::Gearbox;
use crate::car::error::Limits;
use crate::car::launch::LAUNCH_G;
use crate::car::{Air, CarError, STANDARD_GRAVITY_M_S2};
use crate::rules::TrackLength;

/// Kilograms in one pound, exact by definition (international pound, 1959).
pub const POUND_KG: f64 = 0.453_592_37;
/// Watts in one mechanical horsepower: 550 ft·lbf/s, from the exact foot, pound and gravity.
pub const HORSEPOWER_W: f64 = 745.699_871_582_270_2;
/// Metres in a quarter mile, exact.
pub(super) const QUARTER_M: f64 = 402.336;

/// What a pass needs to know of a car, but for its launch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CarBody {
    /// With driver and fuel, lb; 300–12 000.
    pub weight_lb: f64,
    /// At the crank, in the air engines are rated in, hp; 3–15 000.
    pub power_hp: f64,
    /// Share of the power that reaches the road, averaged over a gear, .3–1.
    pub efficiency: f64,
    /// Drag coefficient × frontal area, m²; 0–5.
    pub drag_area_m2: f64,
    /// Rolling resistance over weight, 0–.1.
    pub rolling: f64,
    /// The gears.
    pub gearbox: Gearbox,
    /// The air of the day.
    pub air: Air,
    /// Whether power rises and falls with the air, as without a blower or a battery it does.
    pub power_follows_air: bool,
}

impl CarBody {
    /// A street car of this weight and power.
    ///
    /// - 80 % of the power reach the road: chosen, 14 % of loss (10–20 % are common practice, no
    ///   single source) from an average between two shifts of 93 % of the best; with it the printed
    ///   runs of [`super`] lie within the three published power/weight formulas.
    /// - drag area .70 m²: chosen, an ordinary car's .33 × 2.1 m².
    /// - rolling resistance .015: common practice, ordinary tyres on a hard road.
    pub const fn street(weight_lb: f64, power_hp: f64) -> Self {
        Self {
            weight_lb,
            power_hp,
            efficiency: 0.80,
            drag_area_m2: 0.70,
            rolling: 0.015,
            gearbox: Gearbox::STREET,
            air: Air::RATED,
            power_follows_air: true,
        }
    }

    /// The forces with a launch of `launch_g` times standard gravity (.05–6).
    ///
    /// # Errors
    /// [`CarError::OutOfRange`] for a number outside its limits.
    pub fn forces(&self, launch_g: f64) -> Result<Forces, CarError> {
        self.check()?;
        let launch_g = LAUNCH_G.check(launch_g)?;
        let mass_kg = self.weight_lb * POUND_KG;
        let power_w_kg = self.wheel_power_w() / mass_kg;
        let gears = self.gearbox.gears((3.0 * power_w_kg * QUARTER_M).cbrt());
        Ok(Forces {
            launch_m_s2: launch_g * STANDARD_GRAVITY_M_S2,
            power_w_kg,
            drag_per_m: self.air.density_kg_m3() * self.drag_area_m2 / (2.0 * mass_kg),
            rolling_m_s2: self.rolling * STANDARD_GRAVITY_M_S2,
            gears,
            shift_s: self.gearbox.shift_s,
        })
    }

    /// The 60-foot time to expect of a car of which only weight and power are known, s: .15 of the
    /// quarter mile by Huntington's formula. Chosen: printed runs of cars with tyres to match have
    /// .138–.152 of their quarter.
    pub fn usual_sixty_foot_s(&self) -> f64 {
        let et_s = crate::car::PowerWeight::HUNTINGTON.et_s(self.weight_lb, self.power_hp);
        (0.15 * et_s).clamp(0.8, 5.0)
    }

    /// Refuses what is no car.
    fn check(&self) -> Result<(), CarError> {
        let limits = |what, low, high, unit| Limits { what, low, high, unit };
        limits("the weight", 300.0, 12_000.0, "lb").check(self.weight_lb)?;
        limits("the power", 3.0, 15_000.0, "hp").check(self.power_hp)?;
        limits("the share of power that reaches the road", 0.3, 1.0, "").check(self.efficiency)?;
        limits("the drag area", 0.0, 5.0, "m²").check(self.drag_area_m2)?;
        limits("the rolling resistance", 0.0, 0.1, "of the weight").check(self.rolling)?;
        limits("the number of shifts", 0.0, 4.0, "").check(f64::from(self.gearbox.shifts))?;
        limits("the time of a shift", 0.0, 1.0, "s").check(self.gearbox.shift_s)?;
        Ok(())
    }

    fn wheel_power_w(&self) -> f64 {
        let share = if self.power_follows_air { self.air.power_share() } else { 1.0 };
        self.power_hp * HORSEPOWER_W * self.efficiency * share
    }
}

/// The length a time at the finish belongs to, in words.
pub(super) const fn et_name(length: TrackLength) -> &'static str {
    match length {
        TrackLength::Eighth => "an eighth-mile time",
        TrackLength::Quarter => "a quarter-mile time",
    }
}
