//! One run as a frozen record of facts.
//!
//! Owns the shape of a finished run: what was set up, what was shown, what was pressed, how it
//! ended. Refuses opinions (no statistics, no advice), later edits and serialisation: `history`
//! writes it down.

mod declared;
mod replay;
mod rig;
mod shared;
mod spacing;

pub use declared::{Aim, AimFrom, AimOf, Pause};
pub use replay::{Moment, Replay, What};
pub use rig::{OffsetInForce, RigChange, RigPrint, display_words};
pub use shared::{Shared, Text};
pub use spacing::{AmberSpacing, MAX_OFF_NOMINAL, amber_spacing};

use crate::press::Origin;
use crate::tree::{Lamp, Lane, Outcome, Parts, Staging};
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

/// Everything decided before the run.
#[derive(Debug, Clone, PartialEq)]
pub struct SetupFacts {
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
    /// Seed of the run.
    pub seed: u64,
    /// Driven by a script or under a provoked fault: stored, outside statistics.
    pub scripted: bool,
    /// What the driver meant to hit, where that was declared.
    pub aim: Option<Aim>,
    /// The pause before it, where one was asked for.
    pub pause: Option<Pause>,
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

/// One lamp of the driver's lane, relative to the start of the run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LampFact {
    /// Which lamp.
    pub lamp: Lamp,
    /// When it was due.
    pub due: Span,
    /// When the display lit it: earliest, best, latest.
    pub shown: Option<[Span; 3]>,
}

/// The launch edge, relative to the start of the run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaunchFact {
    /// Earliest, best, latest.
    pub at: [Span; 3],
    /// What gave the time.
    pub origin: Origin,
    /// Two sources contradicted each other; the wider interval was kept.
    pub sources_disagree: bool,
    /// How far the tyre stood past the stage beam.
    pub depth: Inches,
}

/// A finished run: facts only.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialRecord {
    /// Unique for all machines and times, ordered by time.
    pub id: Text,
    /// Wall time of the run's start, ISO 8601 with zone.
    pub began: Text,
    /// Program version that made the record.
    pub program: Text,
    /// Who drove.
    pub driver: Text,
    /// What was set up.
    pub setup: SetupFacts,
    /// The car as believed.
    pub car: Shared<CarFacts>,
    /// The rig.
    pub rig: Shared<RigPrint>,
    /// The delay in force.
    pub offset: Shared<OffsetInForce>,
    /// How the driver rolled in.
    pub staging: Staging,
    /// Lamps due and shown, in order of due mark.
    pub lamps: Vec<LampFact>,
    /// How well it is known when the last amber lit: `feedback` (the display said when), `grid` (the
    /// display's own frame grid), `present` (the moment after present, where no grid is), `frame`
    /// (somewhere in the frame that followed), `none` (never confirmed); `unknown` in runs from
    /// before it was recorded.
    pub onset_grade: Text,
    /// From one amber to the next as they were shown, best marks; none where all light at once, and
    /// none in runs from before it was recorded ([`amber_spacing`] gives it from the lamps).
    pub amber_gaps_shown: Vec<Span>,
    /// At least one of these gaps was more than 4 ms off its due length: the rhythm was not the
    /// tree's, which matters to a launch that was timed by it, not to one that reacts.
    pub amber_spacing_off: bool,
    /// From both lanes staged and steady (or armed) to the first amber.
    pub hold: Option<Span>,
    /// Running median of presented frame intervals.
    pub frame_period: Span,
    /// The launch edge, if there was one.
    pub launch: Option<LaunchFact>,
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

/// A stamp as three spans after `start`: earliest, best, latest.
pub fn stamp_since(start: crate::units::Mark, stamp: Stamp) -> [Span; 3] {
    [stamp.earliest() - start, stamp.best() - start, stamp.latest() - start]
}
