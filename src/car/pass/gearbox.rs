//! The gears of a car nobody has described: how many shifts, how long each takes.
//!
//! Owns where the gears end and how heavy turning parts make the car in each. Refuses torque
//! curves: power is taken as even over a gear.

use super::forces::Gear;

/// The shifts of a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gearbox {
    /// How many shifts from start to finish, 0–4.
    pub shifts: u8,
    /// How long the power is off at each, s.
    pub shift_s: f64,
}

/// Where the gears end, as a share of the speed constant power would reach in a quarter mile. All
/// chosen: the last gear ends a little above the trap (cars are geared to finish near the top of
/// it), and the steps shrink towards it as in ordinary gearboxes (1.7, 1.5, 1.33 for three shifts).
const TOPS: [&[f64]; 5] = [
    &[0.955],
    &[0.57, 0.955],
    &[0.38, 0.63, 0.955],
    &[0.28, 0.48, 0.72, 0.955],
    &[0.22, 0.36, 0.53, 0.73, 0.955],
];

/// The speed of the tyres' tread were they turned by the engine directly: 5500 turns a minute and a
/// tyre 25 in tall, m/s. Chosen; only the mass of turning parts depends on it.
const DIRECT_M_S: f64 = 184.0;

impl Gearbox {
    /// Three shifts of .3 s: an ordinary driver in an ordinary car. Chosen; see the model error in
    /// [`super`].
    pub const STREET: Self = Self { shifts: 3, shift_s: 0.3 };
    /// Two shifts of .1 s: a race car's automatic or clutchless gearbox. Chosen.
    pub const RACE: Self = Self { shifts: 2, shift_s: 0.1 };
    /// One gear, as electric cars have it.
    pub const NONE: Self = Self { shifts: 0, shift_s: 0.0 };

    /// The gears of a car that constant power would bring to `reached_m_s` in a quarter mile.
    ///
    /// The mass factor is 1 + .04 + .0025·N², with N the overall ratio (T. D. Gillespie,
    /// Fundamentals of Vehicle Dynamics, 1992; quoted from memory, the book not at hand).
    pub(super) fn gears(&self, reached_m_s: f64) -> Vec<Gear> {
        let gear = |share: &f64| {
            let top_m_s = share * reached_m_s;
            let ratio = DIRECT_M_S / top_m_s;
            Gear { top_m_s, mass_factor: (1.04 + 0.0025 * ratio * ratio).min(MOST_MASS) }
        };
        TOPS[usize::from(self.shifts).min(TOPS.len() - 1)].iter().map(gear).collect()
    }
}

/// The most that turning parts may add, for cars so slow that the formula was never meant for them.
const MOST_MASS: f64 = 2.0;
