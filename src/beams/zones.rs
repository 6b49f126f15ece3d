//! The beams as thresholds of depth.
//!
//! Owns what a depth means: out, pre-staged, staged, deep, past. Depth is how far the tyre's
//! leading edge at beam height has gone past the stage beam. Refuses tyres (a chord is handed in)
//! and motion.

use crate::units::Inches;

/// Where the front tyre stands over the beams.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BeamState {
    /// Short of the pre-stage beam.
    Out,
    /// In the pre-stage beam only.
    PreStaged,
    /// In both beams.
    Staged,
    /// In the stage beam only: rolled on until the pre-stage lamp went out.
    Deep,
    /// Through the stage beam, or on the guard beam.
    Past,
}

impl BeamState {
    /// Whether the pre-stage lamp is lit.
    pub fn lights_pre_stage(self) -> bool {
        matches!(self, BeamState::PreStaged | BeamState::Staged)
    }

    /// Whether the stage lamp is lit.
    pub fn lights_stage(self) -> bool {
        matches!(self, BeamState::Staged | BeamState::Deep)
    }
}

/// The depths at which a lane's beams see a tyre of one chord.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BeamZones {
    pre_stage_on: f64,
    pre_stage_off: f64,
    end: f64,
    chord: f64,
    guard: f64,
}

impl BeamZones {
    /// Zones of a tyre whose chord at beam height is `chord`, over beams `spacing` (pre-stage to
    /// stage) and `guard` (stage to guard) apart.
    pub fn new(chord: Inches, spacing: Inches, guard: Inches) -> Self {
        Self {
            pre_stage_on: -spacing.0,
            pre_stage_off: chord.0 - spacing.0,
            end: chord.0.min(guard.0),
            chord: chord.0,
            guard: guard.0,
        }
    }

    /// The depth at which the clock of the pass starts: the tyre clears the stage beam or reaches
    /// the guard beam, whichever is first.
    pub fn end(&self) -> Inches {
        Inches(self.end)
    }

    /// The tyre's chord at beam height.
    pub fn chord(&self) -> Inches {
        Inches(self.chord)
    }

    /// From the stage beam to the guard beam.
    pub fn guard(&self) -> Inches {
        Inches(self.guard)
    }

    /// From the pre-stage beam to the stage beam.
    pub fn spacing(&self) -> Inches {
        Inches(-self.pre_stage_on)
    }

    /// What is left to roll from `depth` before the clock starts, never negative.
    pub fn remaining(&self, depth: Inches) -> Inches {
        Inches((self.end - depth.0).max(0.0))
    }

    /// Where a tyre at `depth` stands.
    pub fn state(&self, depth: Inches) -> BeamState {
        let d = depth.0;
        if d < self.pre_stage_on {
            BeamState::Out
        } else if d < 0.0 {
            BeamState::PreStaged
        } else if d >= self.end {
            BeamState::Past
        } else if d < self.pre_stage_off {
            BeamState::Staged
        } else {
            BeamState::Deep
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn zones() -> BeamZones {
        BeamZones::new(Inches(11.5), Inches(7.0), Inches(13.375))
    }

    #[test]
    fn the_five_places_follow_from_depth_alone() {
        let z = zones();
        let at = |d| z.state(Inches(d));
        assert_eq!(at(-7.001), BeamState::Out);
        assert_eq!(at(-7.0), BeamState::PreStaged);
        assert_eq!(at(-0.001), BeamState::PreStaged);
        assert_eq!(at(0.0), BeamState::Staged);
        assert_eq!(at(4.499), BeamState::Staged);
        assert_eq!(at(4.5), BeamState::Deep);
        assert_eq!(at(11.499), BeamState::Deep);
        assert_eq!(at(11.5), BeamState::Past);
    }

    #[test]
    fn a_large_tyre_meets_the_guard_beam_before_it_clears_the_stage_beam() {
        let z = BeamZones::new(Inches(13.56), Inches(7.0), Inches(13.375));
        assert_eq!(z.end(), Inches(13.375));
        assert_eq!(z.state(Inches(13.4)), BeamState::Past);
    }
}
