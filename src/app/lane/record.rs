//! A finished run → its record.
//!
//! Owns gathering the facts. Refuses to judge or to save them.

use super::super::garage::Garage;
use super::live::Live;
use super::session::Session;
use crate::app::presses::Who;
use crate::press::Origin;
use crate::tree::{Lamp, Lane, LaneResult};
use crate::trial::{
    Circumstances, CommonSetup, LampFact, LaunchFact, RigPrint, SeenFacts, SetupFacts, TrialRecord,
    amber_spacing, stamp_since,
};
use crate::units::{Mark, Span};

/// What only the program around the run knows.
pub struct Around<'a> {
    /// The sitting.
    pub session: &'a Session,
    /// Whose run: the driver's, or that of the person in the other lane.
    pub who: Who,
    /// The car.
    pub garage: &'a Garage,
    /// The rig.
    pub rig: RigPrint,
    /// Running median of presented frame intervals.
    pub frame_period: Span,
}

/// The record of the run of one of the people at the line, whose lane ended in `result`.
pub fn record(live: &Live, result: LaneResult, around: &Around) -> TrialRecord {
    let machine = &live.machine;
    let start = live.started;
    let lane = match around.who {
        Who::Driver => live.you,
        Who::Guest => live.you.other(),
    };
    let beside = live.beside.as_ref().filter(|_| around.who == Who::Guest);
    let launch = machine.launch(lane).map(|launch| {
        let told = live.launch_edges[lane.index()];
        LaunchFact {
            at: stamp_since(start, launch.stamp),
            origin: told.map_or(Origin::Frame, |edge| edge.origin),
            sources_disagree: told.is_some_and(|edge| edge.sources_disagree),
            depth: launch.depth,
        }
    });
    let lamps = lamps(live, lane, start);
    let spacing = amber_spacing(&lamps);
    let first_amber = machine.amber_due(lane, 0);
    TrialRecord {
        id: crate::history::new_id().into(),
        began: live.began.as_str().into(),
        setup: setup_facts(live, lane, around.session),
        amber_spacing_off: spacing.off,
        outcome: result.outcome,
        parts: result.parts,
        colour_in_doubt: result.parts.is_some_and(|parts| parts.straddles_green()),
        hitch: live.hitch,
        lamp_corrected: result.lamp_corrected,
        with: Circumstances {
            program: env!("CARGO_PKG_VERSION").into(),
            driver: beside.map_or(around.session.driver.as_str(), |beside| &beside.name).into(),
            car: around.garage.facts().into(),
            rig: around.rig.clone().into(),
            offset: beside.map_or(&around.session.offset, |beside| &beside.offset).clone().into(),
            onset_grade: onset_grade(live, lane).into(),
        }
        .into(),
        seen: SeenFacts {
            staging: machine.staging(lane),
            lamps,
            amber_gaps_shown: spacing.gaps,
            hold: first_amber.zip(machine.armed_at()).map(|(amber, armed)| amber - armed),
            frame_period: around.frame_period,
            launch,
        }
        .into(),
    }
}

fn setup_facts(live: &Live, lane: Lane, session: &Session) -> SetupFacts {
    let setup = live.machine.setup();
    let is_own = lane == live.you;
    let beside = live.beside.as_ref();
    // Two people: each one's record names the other.
    let person = match (beside, is_own) {
        (Some(beside), true) => Some(format!("a person, {}", beside.name)),
        (Some(_), false) => Some(format!("a person, {}", session.driver)),
        (None, _) => None,
    };
    SetupFacts {
        common: CommonSetup {
            tree: setup.kind.name().into(),
            ambers: setup.kind.ambers(),
            amber_gap: setup.kind.amber_gap(),
            interval: setup.kind.green_gap(),
            procedure: setup.procedure.name().into(),
            drill: live.drill,
            style: beside.filter(|_| !is_own).map_or(live.style, |beside| beside.style),
            blank: setup.blank,
            lane,
            other_lane: person
                .or_else(|| live.other.map(|name| format!("simulated, {name}")))
                .map(Into::into),
            scripted: session.scripted,
            aim: live.aim.filter(|_| is_own),
        }
        .into(),
        seed: setup.seed,
        pause: live.pause.filter(|_| is_own),
    }
}

/// How well it is known when the last amber lit.
fn onset_grade(live: &Live, lane: Lane) -> &'static str {
    let last = Lamp::Amber(live.machine.setup().kind.last_amber());
    let shown = live.shown[lane.index()].iter().find(|(lamp, ..)| *lamp == last);
    shown.map_or("none", |(_, _, grade)| grade.word())
}

/// Ambers and green of a lane, in order of due mark.
fn lamps(live: &Live, lane: Lane, start: Mark) -> Vec<LampFact> {
    let machine = &live.machine;
    let shown = |lamp| {
        let stamp =
            live.shown[lane.index()].iter().find(|(l, ..)| *l == lamp).map(|(_, stamp, _)| *stamp);
        stamp.map(|stamp| stamp_since(start, stamp))
    };
    let ambers = (0..machine.setup().kind.ambers())
        .filter_map(|i| Some((Lamp::Amber(i), machine.amber_due(lane, i)?)));
    let green = machine.green_due(lane).map(|due| (Lamp::Green, due));
    ambers
        .chain(green)
        .map(|(lamp, due)| LampFact { lamp, due: due - start, shown: shown(lamp) })
        .collect()
}
