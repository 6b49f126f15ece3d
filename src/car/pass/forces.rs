//! What pushes a car down the track and what holds it back, for each kilogram of it.
//!
//! Owns the accelerations of every way of driving and the speeds where one ends. Refuses time and
//! distance. Fields are plain numbers so that a limit can be infinite.

use crate::car::CarError;
use crate::car::error::Limits;

/// One gear: how far it reaches, and how much heavier the turning parts make the car in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gear {
    /// The speed at which it is left for the next, m/s; the last gear is never left.
    pub top_m_s: f64,
    /// Apparent mass over mass, ≥ 1.
    pub mass_factor: f64,
}

/// Forces and powers per kilogram of car.
#[derive(Debug, Clone, PartialEq)]
pub struct Forces {
    /// Acceleration the tyres can put down at a standstill, m/s²; may be infinite.
    pub launch_m_s2: f64,
    /// Power at the driven wheels, W/kg; may be infinite.
    pub power_w_kg: f64,
    /// ρ·Cd·A / 2m, 1/m.
    pub drag_per_m: f64,
    /// Rolling resistance, m/s².
    pub rolling_m_s2: f64,
    /// The gears, lowest first; none stands for one gear without turning parts.
    pub gears: Vec<Gear>,
    /// How long the power is off at each shift, s.
    pub shift_s: f64,
}

/// One way of driving.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Way {
    /// The tyres set the limit.
    Traction,
    /// The engine sets the limit.
    Power,
    /// Between two gears.
    Coast,
}

impl Forces {
    /// How many gears there are, at least one.
    pub(super) fn gear_count(&self) -> usize {
        self.gears.len().max(1)
    }

    /// The speed at which `gear` is left; infinite for the last.
    pub(super) fn gear_top(&self, gear: usize) -> f64 {
        if gear + 1 >= self.gear_count() { f64::INFINITY } else { self.gears[gear].top_m_s }
    }

    pub(super) fn mass_factor(&self, gear: usize) -> f64 {
        self.gears.get(gear).map_or(1.0, |gear| gear.mass_factor)
    }

    /// Refuses what no car could be driven with.
    pub(super) fn check(&self) -> Result<(), CarError> {
        let positive = |what, got: f64, unit| {
            let limits = Limits { what, low: 0.0, high: f64::INFINITY, unit };
            limits.check(if got > 0.0 { got } else { f64::NAN }).map(drop)
        };
        positive("the launch", self.launch_m_s2, "m/s²")?;
        positive("the power", self.power_w_kg, "W/kg")?;
        for gear in &self.gears {
            positive("the top of a gear", gear.top_m_s, "m/s")?;
            Limits { what: "the mass factor", low: 1.0, high: 10.0, unit: "" }
                .check(gear.mass_factor)?;
        }
        Limits { what: "the drag", low: 0.0, high: 1.0, unit: "1/m" }.check(self.drag_per_m)?;
        let rolling = Limits { what: "the rolling resistance", low: 0.0, high: 2.0, unit: "m/s²" };
        rolling.check(self.rolling_m_s2)?;
        Limits { what: "the time of a shift", low: 0.0, high: 2.0, unit: "s" }
            .check(self.shift_s)?;
        if self.launch_m_s2.is_infinite() && self.power_w_kg.is_infinite() {
            return Err(CarError::NoLimit);
        }
        Ok(())
    }

    /// Air and rolling resistance, m/s².
    pub(super) fn resistance(&self, v: f64) -> f64 {
        self.drag_per_m * v * v + self.rolling_m_s2
    }

    /// The acceleration at speed `v` > 0:
    ///
    /// - tyres: a = a₀ − k·v², with a₀ the launch and k the drag (rolling resistance is part of a₀);
    /// - engine: a = (p/v − k·v² − r) / γ, with p the power, r the rolling resistance and γ the
    ///   mass factor of the gear;
    /// - between gears: a = −k·v² − r.
    pub(super) fn acceleration(&self, way: Way, gear: usize, v: f64) -> f64 {
        match way {
            Way::Traction => self.launch_m_s2 - self.drag_per_m * v * v,
            Way::Power => (self.power_w_kg / v - self.resistance(v)) / self.mass_factor(gear),
            Way::Coast => -self.resistance(v),
        }
    }

    /// 1/a and v/a at once, both finite at a standstill, where the engine's push has no limit.
    pub(super) fn slowness(&self, way: Way, gear: usize, v: f64) -> (f64, f64) {
        if way == Way::Power && self.power_w_kg.is_finite() {
            let left = self.power_w_kg - v * self.resistance(v);
            let dt = self.mass_factor(gear) * v / left;
            (dt, dt * v)
        } else {
            let dt = 1.0 / self.acceleration(way, gear, v);
            (dt, dt * v)
        }
    }

    /// Whether the tyres, not the engine, set the limit at speed `v`.
    pub(super) fn traction_limits(&self, gear: usize, v: f64) -> bool {
        if !self.launch_m_s2.is_finite() {
            return false;
        }
        !self.power_w_kg.is_finite()
            || v <= 0.0
            || self.acceleration(Way::Traction, gear, v) < self.acceleration(Way::Power, gear, v)
    }

    /// The first speed above `from` and below `to` at which the engine becomes the limit.
    pub(super) fn end_of_traction(&self, gear: usize, from: f64, to: f64) -> f64 {
        let mut high = if to.is_finite() { to } else { self.terminal(Way::Power) };
        if !high.is_finite() {
            // Without resistance a = p/(γ·v) falls below the launch at the latest here.
            high = self.power_w_kg / self.launch_m_s2;
        }
        if !high.is_finite() || self.traction_limits(gear, high) {
            return to;
        }
        bisect(from, high, |v| self.traction_limits(gear, v))
    }

    /// The speed a way of driving never quite reaches; infinite without resistance.
    pub(super) fn terminal(&self, way: Way) -> f64 {
        match way {
            Way::Traction => (self.launch_m_s2 / self.drag_per_m).sqrt(),
            Way::Power if self.drag_per_m > 0.0 || self.rolling_m_s2 > 0.0 => {
                let by_air = (self.power_w_kg / self.drag_per_m).cbrt();
                let by_rolling = self.power_w_kg / self.rolling_m_s2;
                let high = by_air.min(by_rolling);
                if !high.is_finite() {
                    return f64::INFINITY;
                }
                bisect(0.0, high, |v| v * self.resistance(v) < self.power_w_kg)
            }
            Way::Power | Way::Coast => f64::INFINITY,
        }
    }
}

/// The first place in `low..high` where `below` is false, to the last bit; it is true at `low`.
fn bisect(mut low: f64, mut high: f64, below: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..200 {
        let middle = low + (high - low) / 2.0;
        if middle <= low || middle >= high {
            break;
        }
        if below(middle) { low = middle } else { high = middle }
    }
    high
}
