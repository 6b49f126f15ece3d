//! How far a staged car rolls before the clock starts, and what starts it.
//!
//! Owns the geometry of the three beams against one tyre. Refuses time.

use super::{BeamLine, Tyre};
use crate::units::Inches;

/// Which beam ends the roll.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum EndedBy {
    /// The tyre's back edge leaves the stage beam.
    StageBeam,
    /// The tyre's front edge reaches the guard beam while still in the stage beam.
    GuardBeam,
}

/// What is left to roll.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rollout {
    /// From where the car stands to where the clock starts, ≥ 0.
    pub remaining: Inches,
    /// What starts it.
    pub ended_by: EndedBy,
}

/// The roll left to a car that stands `depth` past the point where its tyre first lit the stage
/// lamp: r = min(c, stage → guard) − depth, never below 0, with c the chord at the stage beam.
///
/// A depth below 0 (not staged) or not a number counts as 0. When both beams end the roll at the
/// same place the stage beam is named.
pub fn rollout(tyre: Tyre, beams: BeamLine, depth: Inches) -> Rollout {
    let chord = tyre.chord_or_zero(beams.beam_height());
    let guard = beams.stage_to_guard();
    let ended_by = if chord <= guard { EndedBy::StageBeam } else { EndedBy::GuardBeam };
    Rollout { remaining: Inches(remaining_in(chord.0, guard.0, depth.0)), ended_by }
}

/// The depth past which the pre-stage lamp is out: chord − (pre-stage → stage).
///
/// Zero or below when the tyre is too small to stand in both beams at once: such a car is deep as
/// soon as it is staged. At this depth the roll left equals the beams' distance (7.0 in) whatever
/// the tyre, as long as the stage beam ends the roll.
pub fn prestage_out_depth(tyre: Tyre, beams: BeamLine) -> Inches {
    tyre.chord_or_zero(beams.beam_height()) - beams.prestage_to_stage()
}

/// [`rollout`] in bare inches.
pub(super) fn remaining_in(chord_in: f64, stage_to_guard_in: f64, depth_in: f64) -> f64 {
    (chord_in.min(stage_to_guard_in) - depth_in.max(0.0)).max(0.0)
}
