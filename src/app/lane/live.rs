//! A run under way, from its first frame to its verdict.
//!
//! Owns the machine of the run, which lamps were drawn in which frame, and how far the end has
//! come: running, saving, shown. Refuses drawing and devices.

use crate::beams::Handling;
use crate::onset::Grade;
use crate::press::StampedEdge;
use crate::rules::{FoulRule, TreeKind};
use crate::tree::{Entry, Lamp, LampSet, Lane, LaneSetup, Machine, OtherDriver, StartSetup};
use crate::trial::{Aim, Drill, OffsetInForce, Pause, Style, TrialRecord};
use crate::units::{Inches, Mark, Span, Stamp};
use bevy::prelude::*;

use super::super::garage::Garage;
use super::super::guest::{self, Seat};
use super::super::presses::Who;
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
    /// Over and handed to the writers; nothing of the verdict may be seen yet.
    Saving {
        /// The record.
        record: Box<TrialRecord>,
        /// The record of the person in the other lane.
        other: Option<Box<TrialRecord>>,
        /// Ids of the records no writer has answered for.
        open: Vec<String>,
        /// Why one is not on disk.
        not_saved: Option<String>,
    },
    /// On disk, or known not to be: the verdict may be drawn.
    Told {
        /// The record.
        record: Box<TrialRecord>,
        /// The record of the person in the other lane.
        other: Option<Box<TrialRecord>>,
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

/// A person in the other lane.
#[derive(Debug, Clone)]
pub struct Beside {
    /// Who.
    pub name: String,
    /// How the person means to leave.
    pub style: Style,
    /// The delay in force for the person.
    pub offset: OffsetInForce,
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
    /// What the display said about the lamps of each lane.
    pub shown: [Vec<(Lamp, Stamp, Grade)>; 2],
    /// A frame hitch that hid no lamp.
    pub hitch: bool,
    /// The launch edges of both lanes as the devices told them.
    pub launch_edges: [Option<StampedEdge>; 2],
    /// The person in the other lane, with the delay in force there.
    pub beside: Option<Beside>,
    /// How far the end has come.
    pub ending: Ending,
}

impl Live {
    /// A run of the session's drill in the driver's car, starting at `now`.
    pub fn start(
        session: &mut Session,
        (garage, creeps_in_gear): (&Garage, bool),
        guest: Option<(&Seat, OffsetInForce)>,
        now: Mark,
        began: String,
    ) -> Self {
        let (seed, _) = session.next_run();
        let you = session.lane;
        let (seat, beside) = match guest {
            Some((seat, offset)) => {
                let name = seat.profile.name.clone();
                (Some(seat), Some(Beside { name, style: seat.style, offset }))
            }
            None => (None, None),
        };
        let other =
            drill::other_lane(session.drill(), session.company, session.own_lights_s(), seed);
        let other = other.filter(|_| seat.is_none());
        let name = other.as_ref().map(OtherDriver::name);
        let mut setup = setup(session, garage, you, other, seed);
        if let (true, Some(lane)) = (creeps_in_gear, &mut setup.lanes[you.index()]) {
            // A car that stands staged already stands on its brake.
            lane.handling.creeps_in_gear = matches!(lane.entry, Entry::Rolling { .. });
        }
        if let (Some(seat), Some(beside)) = (seat, &beside) {
            seat_person(&mut setup, you, session.drill(), garage, seat, beside);
        }
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
            shown: Default::default(),
            hitch: false,
            launch_edges: [None; 2],
            beside,
            ending: Ending::Running,
        }
    }

    /// The lane of a person; none for one who does not take part.
    pub fn lane_of(&self, who: Who) -> Option<Lane> {
        match who {
            Who::Driver => Some(self.you),
            Who::Guest => self.beside.as_ref().map(|_| self.you.other()),
        }
    }

    /// The lanes driven by people.
    pub fn people(&self) -> impl Iterator<Item = Lane> + '_ {
        [Who::Driver, Who::Guest].into_iter().filter_map(|who| self.lane_of(who))
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

/// Puts a person with a car of his own into the other lane; the handicap follows from the dial-ins.
fn seat_person(
    setup: &mut StartSetup,
    you: Lane,
    drill: Drill,
    garage: &Garage,
    seat: &Seat,
    beside: &Beside,
) {
    let [own_wait, wait] = guest::waits(drill, garage, &seat.garage);
    let Some(mut own) = setup.lanes[you.index()].clone() else { return };
    own.tree_delay = own_wait;
    let entry = match own.entry {
        Entry::Staged { .. } => {
            Entry::Staged { depth: Inches(seat.garage.model().depth_in().value) }
        }
        rolling => rolling,
    };
    setup.lanes[you.other().index()] = Some(LaneSetup {
        zones: seat.garage.zones(),
        launch: seat.garage.launch(),
        entry,
        offset: Span::from_ms_f64(beside.offset.ms.value),
        tree_delay: wait,
        driver: None,
        ..own.clone()
    });
    setup.lanes[you.index()] = Some(own);
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
