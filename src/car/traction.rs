//! How hard tyres can push, from grip and weight.
//!
//! Owns the three drives' formulas. Refuses wheel spin and engines.

use super::CarError;
use super::error::Limits;

/// Which wheels push.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DrivenEnd {
    /// The front wheels.
    Front,
    /// The rear wheels.
    Rear,
    /// All four.
    All,
}

/// Grip and weight of a car at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Traction {
    grip: f64,
    driven: DrivenEnd,
    weight_share: f64,
    height_over_wheelbase: f64,
}

impl Traction {
    /// Tyres with a friction coefficient of `grip` (.2–4) on the end that carries `weight_share` of
    /// the weight at rest (.2–.8; nothing to do with all four driven), centre of gravity
    /// `height_over_wheelbase` high in wheelbases (0–.4). Limits chosen around road and race cars.
    ///
    /// # Errors
    /// [`CarError::OutOfRange`] outside these limits.
    pub fn new(
        grip: f64,
        driven: DrivenEnd,
        weight_share: f64,
        height_over_wheelbase: f64,
    ) -> Result<Self, CarError> {
        let limits = |what, low, high| Limits { what, low, high, unit: "" };
        Ok(Self {
            grip: limits("the tyres' grip", 0.2, 4.0).check(grip)?,
            driven,
            weight_share: limits("the weight's share on the driven end", 0.2, 0.8)
                .check(weight_share)?,
            height_over_wheelbase: limits(
                "the centre of gravity's height over wheelbase",
                0.0,
                0.4,
            )
            .check(height_over_wheelbase)?,
        })
    }

    /// The tyres' friction coefficient.
    pub const fn grip(&self) -> f64 {
        self.grip
    }

    /// Which wheels push.
    pub const fn driven(&self) -> DrivenEnd {
        self.driven
    }

    /// The weight's share on the driven end at rest.
    pub const fn weight_share(&self) -> f64 {
        self.weight_share
    }

    /// Height of the centre of gravity over the wheelbase.
    pub const fn height_over_wheelbase(&self) -> f64 {
        self.height_over_wheelbase
    }

    /// The acceleration the tyres allow, in units of standard gravity: μ·b/(1 − μ·h/L) rear drive,
    /// μ·b/(1 + μ·h/L) front drive, μ with all four driven. Standard vehicle dynamics, from memory.
    /// Never more than μ: then the other end hangs in the air.
    pub fn launch_g(&self) -> f64 {
        let (mu, moved) = (self.grip, self.grip * self.height_over_wheelbase);
        match self.driven {
            DrivenEnd::All => mu,
            DrivenEnd::Front => mu * self.weight_share / (1.0 + moved),
            // All the weight on the driven wheels: more cannot come.
            DrivenEnd::Rear if moved >= 1.0 - self.weight_share => mu,
            DrivenEnd::Rear => mu * self.weight_share / (1.0 - moved),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rear_drive_gains_by_the_weight_it_moves_and_front_drive_loses() {
        // μ 1, b .48, h/L .20 → .60 g (derived, as printed with the formula).
        let launch = |driven| Traction::new(1.0, driven, 0.48, 0.20).unwrap().launch_g();
        assert!((launch(DrivenEnd::Rear) - 0.60).abs() < 1e-12);
        assert!((launch(DrivenEnd::Front) - 0.40).abs() < 1e-12);
        assert!((launch(DrivenEnd::All) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn no_tyre_pushes_more_than_its_grip() {
        for grip in [0.5, 1.0, 2.0, 3.9] {
            for height in [0.0, 0.1, 0.25, 0.4] {
                for driven in [DrivenEnd::Front, DrivenEnd::Rear, DrivenEnd::All] {
                    let launch = Traction::new(grip, driven, 0.5, height).unwrap().launch_g();
                    assert!(launch > 0.0 && launch <= grip + 1e-12, "{grip} {height} {driven:?}");
                }
            }
        }
        assert!(Traction::new(9.0, DrivenEnd::Rear, 0.5, 0.2).is_err());
    }
}
