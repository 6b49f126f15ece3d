//! A run under way, from its first frame to its verdict.
//!
//! Owns the machine of the run, which lamps were drawn in which frame, and how far the end has
//! come: running, saving, shown. Refuses drawing and devices.

use crate::beams::Handling;
use crate::onset::Grade;
use crate::press::StampedEdge;
use crate::rules::{FoulRule, TreeKind};
use crate::tree::{Entry, Lamp, LampSet, Lane, LaneSetup, Machine, OtherDriver, StartSetup};
use crate::trial::{Aim, Drill, Pause, Style, TrialRecord};
use crate::units::{Inches, Mark, Span, Stamp};
use bevy::prelude::*;

use super::super::garage::Garage;
use super::drill;
use super::session::Session;

/// Where a car of the roll-up waits: this far short of the pre-stage beam (chosen: three seconds
/// of creep).
const BEHIND: Inches = Inches(14.0);

/// What a run is, or that there is none.
#[derive(Resource, Default)]
pub enum Phase {
    /// Nothing runs; the next run waits for the launch control.
    #[default]
    Ready,
    /// The launch control was used to ask for a run; it has to be up (or held) first.
    Asked {
        /// Since when.
        since: Mark,
    },
    /// A run.
    Live(Box<Live>),
}

impl Phase {
    /// The run, if there is one.
    pub fn live(&self) -> Option<&Live> {
        match self {
            Phase::Live(live) => Some(live),
            _ => None,
        }
    }

    /// The run, if there is one.
    pub fn live_mut(&mut self) -> Option<&mut Live> {
        match self {
            Phase::Live(live) => Some(live),
            _ => None,
        }
    }
}

/// How far the end of a run has come.
#[derive(Debug, Clone)]
pub enum Ending {
    /// Not over.
    Running,
    /// Over and handed to the writer; nothing of the verdict may be seen yet.
    Saving {
        /// The record.
        record: Box<TrialRecord>,
    },
    /// On disk, or known not to be: the verdict may be drawn.
    Told {
        /// The record.
        record: Box<TrialRecord>,
        /// Why it is not on disk.
        not_saved: Option<String>,
        /// The update that first drew it.
        drawn_in: Option<u64>,
        /// When it reached the screen.
        seen: Option<Mark>,
    },
}

/// A lamp drawn in a frame that has not been seen yet.
#[derive(Debug, Clone, Copy)]
pub struct PendingLamp {
    /// The update that drew it.
    pub frame: u64,
    /// Whose.
    pub lane: Lane,
    /// Which.
    pub lamp: Lamp,
}

/// A run under way.
pub struct Live {
    /// The start line.
    pub machine: Machine,
    /// The driver's lane.
    pub you: Lane,
    /// When the run began.
    pub started: Mark,
    /// Wall time of that.
    pub began: String,
    /// What is practised.
    pub drill: Drill,
    /// How the driver means to leave.
    pub style: Style,
    /// The aim to hold, declared before it.
    pub aim: Option<Aim>,
    /// The pause before it, in a track night.
    pub pause: Option<Pause>,
    /// What the other driver is called.
    pub other: Option<&'static str>,
    /// Lamps as last drawn.
    pub lit: [LampSet; 2],
    /// Lamps drawn and not seen yet.
    pub pending: Vec<PendingLamp>,
    /// What the display said about the driver's lamps.
    pub shown: Vec<(Lamp, Stamp, Grade)>,
    /// A frame hitch that hid no lamp.
    pub hitch: bool,
    /// The launch edge as the devices told it.
    pub launch_edge: Option<StampedEdge>,
    /// How far the end has come.
    pub ending: Ending,
}

impl Live {
    /// A run of the session's drill in the driver's car, starting at `now`.
    pub fn start(session: &mut Session, garage: &Garage, now: Mark, began: String) -> Self {
        let (seed, _) = session.next_run();
        let you = session.lane;
        let other =
            drill::other_lane(session.drill(), session.company, session.own_lights_s(), seed);
        let name = other.as_ref().map(OtherDriver::name);
        let setup = setup(session, garage, you, other, seed);
        Self {
            machine: Machine::new(setup, now),
            you,
            started: now,
            began,
            drill: session.drill(),
            style: session.style(),
            aim: session.aim_to_hold(),
            pause: session.pause(now),
            other: name,
            lit: Default::default(),
            pending: Vec::new(),
            shown: Vec::new(),
            hitch: false,
            launch_edge: None,
            ending: Ending::Running,
        }
    }

    /// Nothing of it is decided yet.
    pub fn is_running(&self) -> bool {
        matches!(self.ending, Ending::Running)
    }

    /// The first amber of the driver's lane has come.
    pub fn ambers_began(&self, now: Mark) -> bool {
        self.machine.amber_due(self.you, 0).is_some_and(|due| due <= now)
    }
}

fn setup(
    session: &Session,
    garage: &Garage,
    you: Lane,
    other: Option<OtherDriver>,
    seed: u64,
) -> StartSetup {
    let entry = if drill::starts_staged(session.drill()) {
        Entry::Staged { depth: Inches(garage.model().depth_in().value) }
    } else {
        Entry::Rolling { behind: BEHIND }
    };
    let own = LaneSetup {
        zones: garage.zones(),
        handling: Handling::default(),
        launch: garage.launch(),
        entry,
        offset: Span::from_ms_f64(session.offset.ms.value),
        tree_delay: drill::own_delay(session.drill(), seed),
        driver: None,
    };
    let mut lanes = [None, None];
    if let Some(driver) = other {
        // The other car is one nobody knows anything of.
        let stranger = Garage::default();
        lanes[you.other().index()] = Some(LaneSetup {
            zones: stranger.zones(),
            launch: stranger.launch(),
            offset: Span::ZERO,
            tree_delay: Span::ZERO,
            driver: Some(driver),
            ..own.clone()
        });
    }
    lanes[you.index()] = Some(own);
    StartSetup {
        kind: TreeKind::full(),
        procedure: drill::procedure(session.drill()),
        foul_rule: FoulRule::First,
        blank: drill::is_blank(session.drill(), seed),
        lanes,
        seed,
    }
}
