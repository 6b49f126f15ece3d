//! What is decided before a start: kind of tree, procedure, who stands in which lane.
//!
//! Owns the machine's inputs that never change during a run. Refuses time and state.

use super::facts::Lane;
use super::other_driver::OtherDriver;
use crate::beams::{BeamZones, Handling, LaunchLaw};
use crate::rules::{FoulRule, Procedure, TreeKind};
use crate::units::{Inches, Span};

/// Where a car stands when the run begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Entry {
    /// Short of the pre-stage beam by this much, to be rolled in.
    Rolling {
        /// Distance to the pre-stage beam.
        behind: Inches,
    },
    /// Already staged, this far past the stage beam.
    Staged {
        /// Depth.
        depth: Inches,
    },
}

/// One lane of a start.
#[derive(Debug, Clone)]
pub struct LaneSetup {
    /// The beams as this car's tyre meets them.
    pub zones: BeamZones,
    /// How the car answers its pedals. Creeping in gear is for a person: a simulated driver works no
    /// brake before it comes.
    pub handling: Handling,
    /// How the car leaves.
    pub launch: LaunchLaw,
    /// Where it stands at first.
    pub entry: Entry,
    /// Constant delay of the rig, subtracted from the driver part in the verdict.
    pub offset: Span,
    /// How much later than the earlier lane this lane's ambers come (handicap), ≥ 0.
    pub tree_delay: Span,
    /// Who works the controls: nobody here means a person does.
    pub driver: Option<OtherDriver>,
}

/// A whole start.
#[derive(Debug, Clone)]
pub struct StartSetup {
    /// Lamps and intervals.
    pub kind: TreeKind,
    /// Times of staging.
    pub procedure: Procedure,
    /// Who loses when both foul.
    pub foul_rule: FoulRule,
    /// The last amber is withheld (all of them where they come at once): staying is right.
    pub blank: bool,
    /// Left and right; an empty lane is `None`.
    pub lanes: [Option<LaneSetup>; 2],
    /// Seed of the random extra time.
    pub seed: u64,
}

impl StartSetup {
    /// The setup of one lane.
    pub fn lane(&self, lane: Lane) -> Option<&LaneSetup> {
        self.lanes[lane.index()].as_ref()
    }
}
