//! No two passes of a car are alike.
//!
//! Owns how much launch, power and shifts differ from run to run. Refuses what is not known about
//! the car: that is doubt, not scatter.

use rand_distr::{Distribution, StandardNormal};

use super::forces::Forces;
use crate::seed::Generator;

/// Run-to-run standard deviations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassScatter {
    /// Of the launch, as a share of it.
    pub launch: f64,
    /// Of the power, as a share of it.
    pub power: f64,
    /// Of the time of every shift, s.
    pub shift_s: f64,
}

impl Default for PassScatter {
    /// Chosen: a launch of ± 3 % moves a 2.0 s 60-foot time by .03 s, as one slip's differs from
    /// the next; ± .4 % of power and ± .04 s of a shift make a quarter mile of 13 s scatter by some
    /// .05 s, a steady street car's.
    fn default() -> Self {
        Self { launch: 0.03, power: 0.004, shift_s: 0.04 }
    }
}

/// No draw lies further out than this many standard deviations: nobody's car does.
const FURTHEST_SDS: f64 = 3.0;

impl PassScatter {
    /// The forces of one run of the car that has `forces` on the average. Three draws of the
    /// generator's normal numbers are used, whatever the car.
    pub fn draw(&self, forces: &Forces, generator: &mut Generator) -> Forces {
        let mut normal = || -> f64 {
            let z: f64 = StandardNormal.sample(generator);
            z.clamp(-FURTHEST_SDS, FURTHEST_SDS)
        };
        let (launch, power, shift) = (normal(), normal(), normal());
        Forces {
            launch_m_s2: forces.launch_m_s2 * (1.0 + self.launch * launch).max(0.2),
            power_w_kg: forces.power_w_kg * (1.0 + self.power * power).max(0.2),
            shift_s: (forces.shift_s + self.shift_s * shift).clamp(0.0, 2.0),
            ..forces.clone()
        }
    }
}
