//! One run as a frozen record of facts.
//!
//! Owns the shape of a finished run: what was set up, what was shown, what was pressed, how it
//! ended. Refuses opinions (no statistics, no advice), later edits and serialisation: `history`
//! writes it down.

mod began;
mod declared;
mod id;
pub(crate) mod packing;
mod replay;
mod rig;
mod seen;
mod shared;
mod spacing;

pub use began::Began;
pub use declared::{Aim, AimFrom, AimOf, Pause};
pub use id::Id;
pub use replay::{Moment, Replay, What};
pub use rig::{OffsetInForce, RigChange, RigPrint, display_words};
pub use seen::{LampFact, LaunchFact, Seen, SeenFacts};
pub use shared::{Shared, Text};
pub use spacing::{AmberSpacing, MAX_OFF_NOMINAL, amber_spacing};

use std::ops::{Deref, DerefMut};

use crate::tree::{Lane, Outcome, Parts};
use crate::units::{Inches, Measured, Span, Stamp};

/// How the driver meant to leave, declared before the run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Style {
    /// Leave in response to the last amber.
    React,
    /// Time the launch by the rhythm of the ambers.
    TimeIt,
}

/// What was practised.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Drill {
    /// Whole starts: roll in, stage, leave.
    RollUp,
    /// Launches only, already staged.
    TreeOnly,
    /// Launches in blocks of declared styles in turn, to be compared.
    ReactOrTime,
    /// Some runs are blank: whoever leaves on one has guessed.
    GuessTest,
    /// A handicap start in which the other lane's tree begins first.
    OtherLaneFirst,
    /// An aim is declared, and launches are held against it.
    HoldAnAim,
    /// Few launches, minutes apart, without a number until the last one: as at a track.
    TrackNight,
}

/// Everything decided before the run. What its [`CommonSetup`] says is read as if it stood here.
#[derive(Debug, Clone, PartialEq)]
pub struct SetupFacts {
    /// What many runs have alike.
    pub common: Shared<CommonSetup>,
    /// Seed of the run.
    pub seed: u64,
    /// The pause before it, where one was asked for.
    pub pause: Option<Pause>,
}

/// What is set up for many runs alike.
#[derive(Debug, Clone, PartialEq)]
pub struct CommonSetup {
    /// Name of the tree kind.
    pub tree: Text,
    /// Number of ambers.
    pub ambers: u8,
    /// From one amber to the next, zero when all light at once.
    pub amber_gap: Span,
    /// From the last amber to green.
    pub interval: Span,
    /// Name of the start procedure.
    pub procedure: Text,
    /// What was practised.
    pub drill: Drill,
    /// How the driver meant to leave.
    pub style: Style,
    /// The last amber was withheld on purpose.
    pub blank: bool,
    /// The lane the driver was in.
    pub lane: Lane,
    /// Who was in the other lane, if anyone.
    pub other_lane: Option<Text>,
    /// Driven by a script or under a provoked fault: stored, outside statistics.
    pub scripted: bool,
    /// What the driver meant to hit, where that was declared.
    pub aim: Option<Aim>,
}

/// The car as it was believed to be when the run was made.
#[derive(Debug, Clone, PartialEq)]
pub struct CarFacts {
    /// The driver's name for it.
    pub name: String,
    /// Car part at the habitual depth, seconds, with the doubt of the answers behind it.
    pub car_part_s: Measured,
    /// True while at least one answer behind it is a default nobody gave.
    pub assumed: bool,
    /// Front tyre diameter.
    pub tyre_diameter: Inches,
    /// Lag of the launch edge, seconds.
    pub lag_s: Measured,
    /// Launch strength, standard gravities.
    pub launch_g: Measured,
}

/// Who drove what, where and with which program: alike for many runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Circumstances {
    /// Program version that made the record.
    pub program: Text,
    /// Who drove.
    pub driver: Text,
    /// The car as believed.
    pub car: Shared<CarFacts>,
    /// The rig.
    pub rig: Shared<RigPrint>,
    /// The delay in force.
    pub offset: Shared<OffsetInForce>,
    /// How well it is known when the last amber lit: `feedback` (the display said when), `grid` (the
    /// display's own frame grid), `present` (the moment after present, where no grid is), `frame`
    /// (somewhere in the frame that followed), `none` (never confirmed); `unknown` in runs from
    /// before it was recorded.
    pub onset_grade: Text,
}

/// A finished run: facts only. What its [`Circumstances`] say is read as if it stood here.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialRecord {
    /// Unique for all machines and times, ordered by time.
    pub id: Id,
    /// Wall time of the run's start, ISO 8601 with zone.
    pub began: Began,
    /// Driver, car, rig and program.
    pub with: Shared<Circumstances>,
    /// What was set up.
    pub setup: SetupFacts,
    /// Staging, lamps and launch.
    pub seen: Seen,
    /// At least one gap between ambers was more than 4 ms off its due length: the rhythm was not the
    /// tree's, which matters to a launch that was timed by it, not to one that reacts.
    pub amber_spacing_off: bool,
    /// How it ended.
    pub outcome: Outcome,
    /// The time in its parts, where there is one.
    pub parts: Option<Parts>,
    /// The doubt of the stamps reaches across the line between red and green.
    pub colour_in_doubt: bool,
    /// A frame hitch that hid no lamp happened during the run.
    pub hitch: bool,
    /// A lamp was first drawn against a fact that arrived later.
    pub lamp_corrected: bool,
}

impl Deref for SetupFacts {
    type Target = CommonSetup;

    fn deref(&self) -> &CommonSetup {
        &self.common
    }
}

impl DerefMut for SetupFacts {
    fn deref_mut(&mut self) -> &mut CommonSetup {
        &mut self.common
    }
}

impl Deref for TrialRecord {
    type Target = Circumstances;

    fn deref(&self) -> &Circumstances {
        &self.with
    }
}

impl DerefMut for TrialRecord {
    fn deref_mut(&mut self) -> &mut Circumstances {
        &mut self.with
    }
}

/// A stamp as three spans after `start`: earliest, best, latest.
pub fn stamp_since(start: crate::units::Mark, stamp: Stamp) -> [Span; 3] {
    [stamp.earliest() - start, stamp.best() - start, stamp.latest() - start]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_takes_little_memory_beside_what_was_seen() {
        // A million of them stand in memory at once.
        assert!(size_of::<TrialRecord>() <= 184, "{}", size_of::<TrialRecord>());
    }
}
