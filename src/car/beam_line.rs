//! Where the beams of one lane are: pre-stage, stage, guard and the 60-foot beam's height.
//!
//! Owns these four lengths and their limits. Refuses the tyre.

use super::CarError;
use super::error::Limits;
use crate::units::Inches;

/// The beams of one lane, measured from the stage beam, which is the start line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BeamLine {
    prestage_to_stage: Inches,
    stage_to_guard: Inches,
    beam_height: Inches,
    sixty_foot_beam_height: Inches,
}

impl Default for BeamLine {
    /// The usual beam line.
    ///
    /// - pre-stage → stage 7.0 in: published, NHRA "101" page (others print 6 or about 12).
    /// - stage → guard 13.375 in: published, a track's set-up guideline (16 in elsewhere).
    /// - height 1 5/8 in: published, the same guideline (1 9/16 is also printed); it gives 11½ in
    ///   of roll with a rigid 22 in wheel.
    /// - 60-foot beam 10 in high: chosen, an ordinary height for timing beams down the track; an
    ///   inch either way moves the launch found from a 60-foot time by less than 0.1 %.
    fn default() -> Self {
        Self {
            prestage_to_stage: Inches(7.0),
            stage_to_guard: Inches(13.375),
            beam_height: Inches(1.625),
            sixty_foot_beam_height: Inches(10.0),
        }
    }
}

impl BeamLine {
    const PRESTAGE: Limits =
        Limits { what: "the way from pre-stage to stage beam", low: 3.0, high: 15.0, unit: "in" };
    const GUARD: Limits =
        Limits { what: "the way from stage to guard beam", low: 8.0, high: 30.0, unit: "in" };
    const HEIGHT: Limits = Limits { what: "the beams' height", low: 0.5, high: 4.0, unit: "in" };
    const SIXTY_FOOT_HEIGHT: Limits =
        Limits { what: "the 60-foot beam's height", low: 1.0, high: 14.0, unit: "in" };

    /// A beam line set by hand.
    ///
    /// Limits, chosen around every published value: pre-stage → stage 3–15 in, stage → guard
    /// 8–30 in, beams 0.5–4 in high, 60-foot beam 1–14 in high. With the limits of
    /// [`Tyre`](super::Tyre) every beam meets every tyre.
    ///
    /// # Errors
    /// [`CarError::OutOfRange`] outside these limits.
    pub fn new(
        prestage_to_stage: Inches,
        stage_to_guard: Inches,
        beam_height: Inches,
        sixty_foot_beam_height: Inches,
    ) -> Result<Self, CarError> {
        Ok(Self {
            prestage_to_stage: Inches(Self::PRESTAGE.check(prestage_to_stage.0)?),
            stage_to_guard: Inches(Self::GUARD.check(stage_to_guard.0)?),
            beam_height: Inches(Self::HEIGHT.check(beam_height.0)?),
            sixty_foot_beam_height: Inches(
                Self::SIXTY_FOOT_HEIGHT.check(sixty_foot_beam_height.0)?,
            ),
        })
    }

    /// From the pre-stage beam to the stage beam.
    pub const fn prestage_to_stage(&self) -> Inches {
        self.prestage_to_stage
    }

    /// From the stage beam to the guard beam.
    pub const fn stage_to_guard(&self) -> Inches {
        self.stage_to_guard
    }

    /// Height of the pre-stage, stage and guard beams above the ground.
    pub const fn beam_height(&self) -> Inches {
        self.beam_height
    }

    /// Height of the 60-foot beam above the ground.
    pub const fn sixty_foot_beam_height(&self) -> Inches {
        self.sixty_foot_beam_height
    }
}

#[cfg(test)]
mod tests {
    use super::super::Tyre;
    use super::*;

    #[test]
    fn every_beam_within_its_limits_meets_every_tyre_within_its_own() {
        for diameter in [18.0, 40.0] {
            for deflection in [0.0, 2.0] {
                let tyre = Tyre::new(Inches(diameter), Inches(deflection)).unwrap();
                for height in [0.5, 4.0, 14.0] {
                    assert!(tyre.chord(Inches(height)).unwrap().0 > 0.0);
                }
            }
        }
    }

    #[test]
    fn a_beam_line_nobody_could_set_up_is_refused() {
        let new = |a, b, c, d| BeamLine::new(Inches(a), Inches(b), Inches(c), Inches(d));
        assert_eq!(new(7.0, 13.375, 1.625, 10.0), Ok(BeamLine::default()));
        for (a, b, c, d) in [
            (0.0, 13.0, 1.6, 10.0),
            (7.0, f64::NAN, 1.6, 10.0),
            (7.0, 13.0, -1.6, 10.0),
            (7.0, 13.0, 1.6, 40.0),
        ] {
            assert!(new(a, b, c, d).is_err(), "{a} {b} {c} {d}");
        }
    }
}
