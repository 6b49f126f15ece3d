//! The driver's eye before the screen.
//!
//! Owns what the driver said of screen and distance, and the pixels a radian has there: with both the
//! tree is as large to the eye as at the track. Refuses drawing.

use super::settings::InForce;

/// Names of the choices.
const DIAGONAL: &str = "screen-diagonal-in";
const DISTANCE: &str = "eye-to-screen-cm";
/// What can be set: a screen's diagonal, in (half inches), and the distance of the eye, cm (fives).
const DIAGONALS_IN: (f64, f64) = (5.0, 100.0);
const DISTANCES_CM: (f64, f64) = (20.0, 500.0);
/// Where both begin: a usual desk screen at arm's length. Chosen.
const USUAL: Sight = Sight { diagonal_in: 24.0, distance_cm: 65.0 };

/// A screen and how far the eye is from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sight {
    /// The screen's diagonal, in.
    pub diagonal_in: f64,
    /// From eye to screen, cm.
    pub distance_cm: f64,
}

impl Sight {
    /// What the driver said; none while nothing was said, or nothing that can be.
    pub fn of(in_force: &InForce) -> Option<Self> {
        let number = |name, (low, high): (f64, f64)| {
            let given: f64 = in_force.choice(name)?.parse().ok()?;
            (low..=high).contains(&given).then_some(given)
        };
        let diagonal_in = number(DIAGONAL, DIAGONALS_IN)?;
        Some(Self { diagonal_in, distance_cm: number(DISTANCE, DISTANCES_CM)? })
    }

    /// Says it, or takes it back.
    pub fn set(sight: Option<Self>, in_force: &mut InForce) {
        match sight {
            Some(sight) => {
                in_force.choose(DIAGONAL, sight.diagonal_in.to_string());
                in_force.choose(DISTANCE, sight.distance_cm.to_string());
            }
            None => [DIAGONAL, DISTANCE].into_iter().for_each(|name| in_force.forget(name)),
        }
    }

    /// On, as it was begun with, or off again.
    pub fn toggled(now: Option<Self>) -> Option<Self> {
        now.is_none().then_some(USUAL)
    }

    /// The screen larger or smaller by so many half inches, the eye farther or nearer by so many fives
    /// of centimetres.
    pub fn moved(self, half_inches: f64, fives_cm: f64) -> Self {
        let (least_in, most_in) = DIAGONALS_IN;
        let (least_cm, most_cm) = DISTANCES_CM;
        Self {
            diagonal_in: (self.diagonal_in + 0.5 * half_inches).clamp(least_in, most_in),
            distance_cm: (self.distance_cm + 5.0 * fives_cm).clamp(least_cm, most_cm),
        }
    }

    /// Pixels of a radian near the middle of the screen, which has so many pixels: distance over pixel
    /// pitch.
    pub fn px_a_radian(self, (width, height): (u32, u32)) -> f32 {
        let diagonal_px = f64::from(width).hypot(f64::from(height)).max(1.0);
        let pitch_cm = 2.54 * self.diagonal_in / diagonal_px;
        (self.distance_cm / pitch_cm) as f32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_radian_on_a_screen_is_distance_over_pitch() {
        // 24 in, 1920 × 1080: 2203 px diagonal, .2767 mm each; at 650 mm a radian has 2349.
        let px = USUAL.px_a_radian((1920, 1080));
        assert!((px - 2349.0).abs() < 1.0, "{px}");
        // Twice as near it has half as many.
        let near = Sight { distance_cm: 32.5, ..USUAL };
        assert!((near.px_a_radian((1920, 1080)) - px / 2.0).abs() < 0.01);
    }

    #[test]
    fn what_is_said_is_kept_and_nonsense_is_not_taken() {
        let mut in_force = InForce::default();
        assert_eq!(Sight::of(&in_force), None);
        let sight = USUAL.moved(3.0, -2.0);
        Sight::set(Some(sight), &mut in_force);
        assert_eq!(Sight::of(&in_force), Some(Sight { diagonal_in: 25.5, distance_cm: 55.0 }));
        for nonsense in ["-3", "1e9", "NaN", "near"] {
            in_force.choose(DISTANCE, nonsense);
            assert_eq!(Sight::of(&in_force), None, "{nonsense}");
        }
        Sight::set(None, &mut in_force);
        assert_eq!(in_force.choice(DIAGONAL), None);
    }
}
