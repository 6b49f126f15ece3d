//! The words the tree speaks: lanes, lamps, outcomes and the lines of its trace.
//!
//! Owns names only. Refuses time keeping and every rule.

use crate::beams::BeamState;
use crate::units::{Inches, Mark, Span, Stamp};

/// One of the two lanes, as seen from the start line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Lane {
    /// The lane on the left hand.
    Left,
    /// The lane on the right hand.
    Right,
}

impl Lane {
    /// Both lanes, left first.
    pub const BOTH: [Lane; 2] = [Lane::Left, Lane::Right];

    /// The other lane.
    pub const fn other(self) -> Lane {
        match self {
            Lane::Left => Lane::Right,
            Lane::Right => Lane::Left,
        }
    }

    /// 0 for left, 1 for right: the place of this lane in a pair.
    pub const fn index(self) -> usize {
        match self {
            Lane::Left => 0,
            Lane::Right => 1,
        }
    }
}

/// A lamp of one lane, top to bottom.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Lamp {
    /// The tyre is in the pre-stage beam.
    PreStage,
    /// The tyre is in the stage beam.
    Stage,
    /// An amber, counted from 0 at the top.
    Amber(u8),
    /// Go.
    Green,
    /// Foul.
    Red,
}

/// How a run ended for one lane.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Outcome {
    /// The tyre left the beams at or after green.
    Green,
    /// The tyre left the beams before green.
    Red,
    /// The car moved out of the beams after both were staged, before the first amber. Counts as red.
    LeftBeforeTree,
    /// The lane was not staged when its time ran out: the tree ran without it and it shows red.
    TimedOut,
    /// No launch by green + 2.0 s.
    Lapse,
    /// Blank run: the driver stayed, which was right.
    Stayed,
    /// Blank run: the driver left although no last amber came.
    Guessed {
        /// From the moment the last amber would have been due to the launch edge, ns; negative before it.
        after_due_ns: i64,
    },
    /// The driver broke the run off after the first amber.
    Abandoned(AbandonReason),
    /// The program could not show or time the run properly; it says nothing about the driver.
    Void(VoidReason),
}

/// Why the driver's side ended a run after the first amber.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum AbandonReason {
    /// The pause or menu control.
    Paused,
    /// The window lost the input focus.
    FocusLost,
    /// The window was closed.
    Closed,
}

/// Why a run says nothing about the driver.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum VoidReason {
    /// The display never confirmed the last amber within 150 ms of its due mark.
    NoOnset,
    /// A lamp reached the screen more than a frame late.
    LampLate {
        /// Which lamp.
        lamp: Lamp,
        /// By how much it missed its due mark, ns.
        late_ns: i64,
    },
    /// A lamp was never on the screen by itself: the next one came in the same frame.
    LampHidden {
        /// Which lamp.
        lamp: Lamp,
    },
    /// The control in use went away.
    ControlLost,
}

/// Why a lane was sent back to stage again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SentBack {
    /// The stage lamp dropped out before both lanes were staged and steady.
    Flicker,
    /// The tyre rolled through the stage beam or onto the guard beam.
    RolledThrough,
    /// The car rolled back out of the stage beam after both were steady.
    RolledBack,
}

/// One fact of the start, in the order it became one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TraceLine {
    /// When it happened (not when it was noticed).
    pub at: Mark,
    /// What happened.
    pub event: TreeEvent,
}

/// What can happen on the start line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TreeEvent {
    /// The front tyre changed its place over the beams.
    Beams {
        /// Whose tyre.
        lane: Lane,
        /// Where it stands now.
        state: BeamState,
    },
    /// The lane staged before the other had lit its pre-stage lamp.
    CourtesyBroken {
        /// Who did not wait.
        lane: Lane,
    },
    /// The lane has to stage again.
    SentBack {
        /// Who.
        lane: Lane,
        /// Why.
        why: SentBack,
    },
    /// The lane's stage lamp has been on for the steady time.
    Steady {
        /// Who.
        lane: Lane,
    },
    /// The other lane's time to stage began to run.
    TimeOutStarted {
        /// Who has to hurry.
        lane: Lane,
        /// When its time ends.
        ends: Mark,
    },
    /// The lane's time to stage ran out.
    TimedOut {
        /// Who.
        lane: Lane,
    },
    /// The tree is armed: its first amber is due at `first_amber`.
    Armed {
        /// Due mark of the earliest amber of either lane.
        first_amber: Mark,
    },
    /// A countdown was called off before its first amber.
    Disarmed,
    /// A lamp is due.
    LampDue {
        /// Whose.
        lane: Lane,
        /// Which.
        lamp: Lamp,
    },
    /// The display reported a lamp as lit.
    LampShown {
        /// Whose.
        lane: Lane,
        /// Which.
        lamp: Lamp,
        /// When it lit.
        stamp: Stamp,
    },
    /// A launch edge.
    Launch {
        /// Whose.
        lane: Lane,
        /// When.
        stamp: Stamp,
        /// How far the tyre had rolled past the stage beam.
        depth: Inches,
    },
    /// The tyre cleared the stage beam or reached the guard beam after a launch.
    Cleared {
        /// Whose.
        lane: Lane,
    },
    /// The lane's run is over.
    Settled {
        /// Whose.
        lane: Lane,
        /// How it ended.
        outcome: Outcome,
    },
    /// Both lanes fouled or one did: this lane loses by the foul rule in force.
    FoulLoses {
        /// Who loses.
        lane: Lane,
    },
}

impl TreeEvent {
    /// The event's place among others at the same mark: causes before their effects.
    pub const fn rank(&self) -> u8 {
        match self {
            TreeEvent::TimedOut { .. } => 0,
            TreeEvent::Beams { .. } => 1,
            TreeEvent::CourtesyBroken { .. } => 2,
            TreeEvent::Disarmed => 3,
            TreeEvent::SentBack { .. } => 4,
            TreeEvent::Steady { .. } => 5,
            TreeEvent::TimeOutStarted { .. } => 6,
            TreeEvent::Launch { .. } => 7,
            TreeEvent::Cleared { .. } => 8,
            TreeEvent::LampDue { .. } => 9,
            TreeEvent::LampShown { .. } => 10,
            TreeEvent::Settled { .. } => 11,
            TreeEvent::FoulLoses { .. } => 12,
            TreeEvent::Armed { .. } => 13,
        }
    }

    /// The lane the event belongs to; `None` where it belongs to both.
    pub const fn lane(&self) -> Option<Lane> {
        match *self {
            TreeEvent::Beams { lane, .. }
            | TreeEvent::CourtesyBroken { lane }
            | TreeEvent::SentBack { lane, .. }
            | TreeEvent::Steady { lane }
            | TreeEvent::TimeOutStarted { lane, .. }
            | TreeEvent::TimedOut { lane }
            | TreeEvent::LampDue { lane, .. }
            | TreeEvent::LampShown { lane, .. }
            | TreeEvent::Launch { lane, .. }
            | TreeEvent::Cleared { lane }
            | TreeEvent::Settled { lane, .. }
            | TreeEvent::FoulLoses { lane } => Some(lane),
            TreeEvent::Armed { .. } | TreeEvent::Disarmed => None,
        }
    }
}

/// A time kept in its parts: `RT = driver − offset + car − interval`, exactly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Parts {
    /// Last amber shown → launch edge, as recorded (nothing subtracted).
    pub driver_raw: Span,
    /// The rig's constant delay in force, subtracted from the driver part in the verdict.
    pub offset: Span,
    /// Launch edge → the tyre clears the stage beam or reaches the guard beam.
    pub car: Span,
    /// Last amber → green.
    pub interval: Span,
    /// How much earlier the driver part may be than `driver_raw` (stamps only).
    pub early_doubt: Span,
    /// How much later the driver part may be than `driver_raw` (stamps only).
    pub late_doubt: Span,
}

impl Parts {
    /// The driver part with the rig's delay taken off.
    pub fn driver(&self) -> Span {
        self.driver_raw - self.offset
    }

    /// The reaction time by the modern scale: measured from green, negative is a red light.
    pub fn rt(&self) -> Span {
        self.driver() + self.car - self.interval
    }

    /// Whether the doubt of the stamps reaches across the line between red and green.
    pub fn straddles_green(&self) -> bool {
        let rt = self.rt();
        rt - self.early_doubt < Span::ZERO && rt + self.late_doubt >= Span::ZERO
    }
}

/// How a lane rolled in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Staging {
    /// Pre-stage lamp first lit → stage lamp steady, if it got there.
    pub took: Option<Span>,
    /// Staged before the other lane had lit its pre-stage lamp.
    pub courtesy_broken: bool,
    /// Times the stage lamp dropped out or the car had to come back.
    pub sent_back: u8,
    /// Times the tyre rolled through the stage beam.
    pub rolled_through: u8,
    /// The pre-stage lamp was out when the tree came down.
    pub deep: bool,
}
