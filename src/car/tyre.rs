//! The front tyre as the beams see it: a circle of some diameter, pressed flat by some deflection.
//!
//! Owns the chord a beam cuts. Refuses where the tyre is and how it rolls.

use super::CarError;
use super::error::Limits;
use crate::units::Inches;

/// A front tyre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tyre {
    diameter: Inches,
    deflection: Inches,
}

impl Tyre {
    /// Limits of the diameter: 18 to 40 in, chosen: a junior dragster's to a tall truck's.
    pub(super) const DIAMETER: Limits =
        Limits { what: "the tyre's diameter", low: 18.0, high: 40.0, unit: "in" };
    /// Limits of the deflection: 0 to 2 in, chosen: a road tyre under load is some half an inch.
    const DEFLECTION: Limits =
        Limits { what: "the tyre's static deflection", low: 0.0, high: 2.0, unit: "in" };

    /// The reference wheel of published set-up guidelines: rigid, 22 in.
    pub const REFERENCE: Self = Self { diameter: Inches(22.0), deflection: Inches(0.0) };

    /// A tyre of `diameter` (unloaded, 18–40 in) whose axle the load has lowered by `deflection`
    /// (0–2 in).
    ///
    /// # Errors
    /// [`CarError::OutOfRange`] outside these limits.
    pub fn new(diameter: Inches, deflection: Inches) -> Result<Self, CarError> {
        Ok(Self {
            diameter: Inches(Self::DIAMETER.check(diameter.0)?),
            deflection: Inches(Self::DEFLECTION.check(deflection.0)?),
        })
    }

    /// A tyre without deflection.
    ///
    /// # Errors
    /// As [`Tyre::new`].
    pub fn rigid(diameter: Inches) -> Result<Self, CarError> {
        Self::new(diameter, Inches(0.0))
    }

    /// The unloaded diameter.
    pub const fn diameter(&self) -> Inches {
        self.diameter
    }

    /// How far the load has lowered the axle.
    pub const fn deflection(&self) -> Inches {
        self.deflection
    }

    /// How much tyre a beam `beam_height` above the ground has to look through:
    /// c = 2·√((h + δ)·(D − h − δ)), with D the diameter, h the beam's height and δ the
    /// deflection (a chord of a circle whose lowest point lies δ below the ground).
    ///
    /// A rigid 22 in wheel and a beam 1 5/8 in high give 11½ in (published: a track's set-up
    /// guideline; the formula gives 11.508).
    ///
    /// # Errors
    /// [`CarError::BeamMissesTyre`] for a beam at or below the ground, or above the tyre.
    pub fn chord(&self, beam_height: Inches) -> Result<Inches, CarError> {
        let top_in = (self.diameter - self.deflection).0;
        if beam_height.0 > 0.0 && beam_height.0 < top_in {
            Ok(self.chord_or_zero(beam_height))
        } else {
            Err(CarError::BeamMissesTyre { beam_in: beam_height.0, top_in })
        }
    }

    /// From the axle's plumb line to the edge of the tyre at the beam: half of [`Tyre::chord`].
    ///
    /// # Errors
    /// As [`Tyre::chord`].
    pub fn half_chord(&self, beam_height: Inches) -> Result<Inches, CarError> {
        self.chord(beam_height).map(|chord| Inches(chord.0 / 2.0))
    }

    /// The chord where the limits of tyre and beam line already rule a miss out.
    pub(super) fn chord_or_zero(&self, beam_height: Inches) -> Inches {
        Inches(chord_in(self.diameter.0, self.deflection.0, beam_height.0))
    }
}

/// The chord in inches of a tyre of any size; 0 where the beam misses.
pub(super) fn chord_in(diameter_in: f64, deflection_in: f64, beam_height_in: f64) -> f64 {
    let height = beam_height_in + deflection_in;
    2.0 * (height * (diameter_in - height)).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_loaded_tyre_shows_the_beam_a_longer_chord() {
        // 2·√(2.125 · 22.875) = 13.9442 by the formula; rigid 12.3263.
        let chord = |deflection| {
            let tyre = Tyre::new(Inches(25.0), Inches(deflection)).unwrap();
            tyre.chord(Inches(1.625)).unwrap().0
        };
        assert!((chord(0.5) - 13.944).abs() < 5e-4, "{}", chord(0.5));
        assert!((chord(0.0) - 12.326).abs() < 5e-4, "{}", chord(0.0));
    }

    #[test]
    fn a_beam_over_the_tyre_is_refused() {
        let tyre = Tyre::new(Inches(20.0), Inches(1.0)).unwrap();
        for missing in [-1.0, 0.0, 19.0, 25.0, f64::NAN, f64::INFINITY] {
            let refused = tyre.chord(Inches(missing));
            assert!(matches!(refused, Err(CarError::BeamMissesTyre { .. })), "{missing}");
        }
        assert!(tyre.chord(Inches(18.9)).is_ok());
    }

    #[test]
    fn a_tyre_nobody_could_mount_is_refused() {
        for bad in [17.9, 40.1, -25.0, f64::NAN, f64::INFINITY] {
            assert!(Tyre::rigid(Inches(bad)).is_err(), "{bad}");
        }
        assert!(Tyre::new(Inches(25.0), Inches(-0.1)).is_err());
        let message = Tyre::rigid(Inches(660.0)).unwrap_err().to_string();
        assert_eq!(message, "the tyre's diameter is 660 in; give 18 to 40 in");
    }
}
