//! From the launch edge to the clock: a lag, then constant acceleration over the roll.
//!
//! Owns that motion and how strong a launch a 60-foot time stands for. Refuses everything past
//! 60 feet: constant acceleration is good for the first yards only.

use super::error::Limits;
use super::rollout::remaining_in;
use super::{BeamLine, CarError, Tyre};
use crate::units::{Inches, Span};

/// Standard gravity, m/s²: exact by definition (3rd General Conference on Weights and Measures,
/// 1901).
pub const STANDARD_GRAVITY_M_S2: f64 = 9.80665;

/// From stage beam to 60-foot beam, in: 60 feet, the name of the split.
const SIXTY_FEET_IN: f64 = 720.0;

/// A launch: what lies between the launch edge and the first movement, and the push after it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Launch {
    g: f64,
    lag: Span,
}

impl Launch {
    /// A launch of `g` (0.05–6 times standard gravity) that begins `lag` (0–0.5 s) after the
    /// launch edge. Limits chosen: a lawn tractor to beyond the quickest cars.
    ///
    /// # Errors
    /// [`CarError::OutOfRange`] outside these limits.
    pub fn new(g: f64, lag: Span) -> Result<Self, CarError> {
        LAG_S.check(lag.as_secs_f64())?;
        Ok(Self { g: LAUNCH_G.check(g)?, lag })
    }

    /// The acceleration in units of standard gravity.
    pub const fn g(&self) -> f64 {
        self.g
    }

    /// From the launch edge to the first movement.
    pub const fn lag(&self) -> Span {
        self.lag
    }

    /// The car part of a car at rest with `remaining` to roll: lag, then √(2·r/a).
    pub fn time_to_clear(&self, remaining: Inches) -> Span {
        self.lag + time_to_roll(remaining, self.g, 0.0)
    }
}

/// The time to roll `remaining` from `speed_m_s` at `g` times standard gravity: the positive root
/// of r = v·t + a·t²/2, written as t = 2·r / (v + √(v² + 2·a·r)) so that nothing cancels for a car
/// already rolling.
///
/// No way to go takes no time. `Span::from_ns(i64::MAX)` stands for never: no speed and no push,
/// a braked car that stops short, or an argument that is not a number.
pub fn time_to_roll(remaining: Inches, g: f64, speed_m_s: f64) -> Span {
    let seconds = seconds_to_roll(remaining.metres(), g * STANDARD_GRAVITY_M_S2, speed_m_s);
    if seconds.is_nan() { Span::from_ns(i64::MAX) } else { Span::from_secs_f64(seconds) }
}

/// [`time_to_roll`] in metres, m/s² and seconds; infinite or not a number for never.
pub(super) fn seconds_to_roll(remaining_m: f64, a_m_s2: f64, speed_m_s: f64) -> f64 {
    if remaining_m <= 0.0 {
        return 0.0;
    }
    let root = (speed_m_s * speed_m_s + 2.0 * a_m_s2 * remaining_m).sqrt();
    if speed_m_s >= 0.0 {
        2.0 * remaining_m / (speed_m_s + root)
    } else if a_m_s2 > 0.0 {
        // Rolling backwards: here the other form of the root is the one without cancellation.
        (root - speed_m_s) / a_m_s2
    } else {
        f64::INFINITY
    }
}

/// What the car travels while its 60-foot time runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SixtyFootConvention {
    /// 60.0 ft from the shallow rest position to the end of the split, as if the tyre were a point:
    /// a\[g\] = 2.847 / t60² with 11.5 in of roll. For comparison with printed rules of thumb.
    Simple,
    /// The tyre's front edge trips both beams, each at its own height: with a 25 in tyre and a
    /// 60-foot beam 10 in high the car travels 59.5 ft. The program computes with this one.
    Geometric,
}

/// The launch, in units of standard gravity, that a 60-foot time stands for.
///
/// The clock runs from the end of the roll r to the end of the whole travel T, both counted from
/// rest, so t60 = (√(2·T) − √(2·r)) / √a and a = ((√(2·T) − √(2·r)) / t60)². A car that stood
/// `depth` past the shallow position has that much less of both T and r.
///
/// T from the shallow position is 60 ft for [`SixtyFootConvention::Simple`], else 60 ft + c/2 −
/// c60/2 with c and c60 the chords at the stage beam and at the 60-foot beam: the axle starts c/2
/// before the line and ends c60/2 before 60 ft.
///
/// # Errors
/// [`CarError::OutOfRange`] for a time outside 0.8–5 s (chosen: the quickest cars to a
/// very soft start) or a depth outside 0–30 in.
pub fn g_from_sixty_foot(
    t60_s: f64,
    tyre: Tyre,
    beams: BeamLine,
    depth: Inches,
    convention: SixtyFootConvention,
) -> Result<f64, CarError> {
    SIXTY_FOOT_S.check(t60_s)?;
    DEPTH_IN.check(depth.0)?;
    let chord_in = tyre.chord_or_zero(beams.beam_height()).0;
    let far_chord_in = match convention {
        SixtyFootConvention::Simple => chord_in,
        SixtyFootConvention::Geometric => tyre.chord_or_zero(beams.sixty_foot_beam_height()).0,
    };
    let travel_in = travel_in(chord_in, far_chord_in) - depth.0;
    let roll_in = remaining_in(chord_in, beams.stage_to_guard().0, depth.0);
    Ok(acceleration_m_s2(t60_s, travel_in, roll_in) / STANDARD_GRAVITY_M_S2)
}

/// Limits of a 60-foot time.
pub(super) const SIXTY_FOOT_S: Limits =
    Limits { what: "the 60-foot time", low: 0.8, high: 5.0, unit: "s" };
/// Limits of a launch.
pub(super) const LAUNCH_G: Limits = Limits { what: "the launch", low: 0.05, high: 6.0, unit: "g" };
/// Limits of the lag.
pub(super) const LAG_S: Limits =
    Limits { what: "the lag before the car moves", low: 0.0, high: 0.5, unit: "s" };
/// Limits of a staging depth.
pub(super) const DEPTH_IN: Limits =
    Limits { what: "the staging depth", low: 0.0, high: 30.0, unit: "in" };

/// A staging depth of 0–30 in.
///
/// # Errors
/// [`CarError::OutOfRange`] outside these limits.
pub fn staging_depth(depth_in: f64) -> Result<Inches, CarError> {
    DEPTH_IN.check(depth_in).map(Inches)
}

/// From the shallow rest position to the end of the 60-foot split, in.
pub(super) fn travel_in(chord_in: f64, far_chord_in: f64) -> f64 {
    SIXTY_FEET_IN + (chord_in - far_chord_in) / 2.0
}

/// The constant acceleration that covers `travel_in` from rest `t60_s` after covering `roll_in`.
pub(super) fn acceleration_m_s2(t60_s: f64, travel_in: f64, roll_in: f64) -> f64 {
    let root = |inches: f64| (2.0 * Inches(inches).metres()).sqrt();
    ((root(travel_in) - root(roll_in)) / t60_s).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_car_already_rolling_is_solved_without_cancellation() {
        // At 10 m/s and a billionth of a g, 1 in takes 2.54 ms to better than a nanosecond.
        assert_eq!(time_to_roll(Inches(1.0), 1e-9, 10.0), Span::from_us(2540));
        // v = 2 m/s, a = 1 g, r = 1 m: t = (√(4 + 19.6133) − 2) / 9.80665 = .291573 s.
        let t = time_to_roll(Inches::from_metres(1.0), 1.0, 2.0).as_secs_f64();
        assert!((t - 0.291_573).abs() < 1e-6, "{t}");
        // Rolling back at 2 m/s first: (√23.6133 + 2) / 9.80665 = .699459 s.
        let t = time_to_roll(Inches::from_metres(1.0), 1.0, -2.0).as_secs_f64();
        assert!((t - 0.699_459).abs() < 1e-6, "{t}");
    }

    #[test]
    fn a_car_that_never_gets_there_takes_for_ever() {
        let never = Span::from_ns(i64::MAX);
        assert_eq!(time_to_roll(Inches(1.0), 0.0, 0.0), never);
        assert_eq!(time_to_roll(Inches(1.0), -1.0, 0.1), never);
        assert_eq!(time_to_roll(Inches(1.0), 0.0, -1.0), never);
        assert_eq!(time_to_roll(Inches(1.0), f64::NAN, 0.0), never);
        assert_eq!(time_to_roll(Inches(0.0), 0.0, 0.0), Span::ZERO);
        assert_eq!(time_to_roll(Inches(-1.0), 0.5, 0.0), Span::ZERO);
    }

    #[test]
    fn a_launch_no_car_could_make_is_refused() {
        assert!(Launch::new(0.0, Span::ZERO).is_err());
        assert!(Launch::new(f64::NAN, Span::ZERO).is_err());
        assert!(Launch::new(0.7, Span::from_ms(-1)).is_err());
        assert!(Launch::new(0.7, Span::from_ms(501)).is_err());
    }
}
