//! Where the front tyre stands over the beams at any mark.
//!
//! Owns the motion of a car near the start line in closed form: creep that builds, a foot that
//! eases back, the brake, rolling back, the launch. A crossing is a root of that motion, never a
//! sampled frame, so no polling rate can change it. Refuses lamps, rules, clocks and drawing.

mod motion;
mod roll;
mod zones;

pub use motion::{Handling, Pedal};
pub use roll::{LaunchLaw, Roll};
pub use zones::{BeamState, BeamZones};
