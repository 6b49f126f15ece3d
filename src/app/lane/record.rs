//! A finished run → its record.
//!
//! Owns gathering the facts. Refuses to judge or to save them.

use super::super::garage::Garage;
use super::live::Live;
use super::session::Session;
use crate::press::Origin;
use crate::tree::{Lamp, LaneResult};
use crate::trial::{
    LampFact, LaunchFact, RigPrint, SetupFacts, TrialRecord, amber_spacing, stamp_since,
};
use crate::units::{Mark, Span};

/// What only the program around the run knows.
pub struct Around<'a> {
    /// The sitting.
    pub session: &'a Session,
    /// The car.
    pub garage: &'a Garage,
    /// The rig.
    pub rig: RigPrint,
    /// Running median of presented frame intervals.
    pub frame_period: Span,
}

/// The record of a run whose driver's lane ended in `result`.
pub fn record(live: &Live, result: LaneResult, around: &Around) -> TrialRecord {
    let machine = &live.machine;
    let start = live.started;
    let launch = machine.launch(live.you).map(|launch| {
        let told = live.launch_edge;
        LaunchFact {
            at: stamp_since(start, launch.stamp),
            origin: told.map_or(Origin::Frame, |edge| edge.origin),
            sources_disagree: told.is_some_and(|edge| edge.sources_disagree),
            depth: launch.depth,
        }
    });
    let lamps = lamps(live, start);
    let spacing = amber_spacing(&lamps);
    let first_amber = machine.amber_due(live.you, 0);
    TrialRecord {
        id: crate::history::new_id(),
        began: live.began.clone(),
        program: env!("CARGO_PKG_VERSION").to_owned(),
        driver: around.session.driver.clone(),
        setup: setup_facts(live, around.session),
        car: around.garage.facts(),
        rig: around.rig.clone(),
        offset: around.session.offset.clone(),
        staging: machine.staging(live.you),
        onset_grade: onset_grade(live).to_owned(),
        lamps,
        amber_gaps_shown: spacing.gaps,
        amber_spacing_off: spacing.off,
        hold: first_amber.zip(machine.armed_at()).map(|(amber, armed)| amber - armed),
        frame_period: around.frame_period,
        launch,
        outcome: result.outcome,
        parts: result.parts,
        colour_in_doubt: result.parts.is_some_and(|parts| parts.straddles_green()),
        hitch: live.hitch,
        lamp_corrected: result.lamp_corrected,
    }
}

fn setup_facts(live: &Live, session: &Session) -> SetupFacts {
    let setup = live.machine.setup();
    SetupFacts {
        tree: setup.kind.name().to_owned(),
        ambers: setup.kind.ambers(),
        amber_gap: setup.kind.amber_gap(),
        interval: setup.kind.green_gap(),
        procedure: setup.procedure.name().to_owned(),
        drill: live.drill,
        style: live.style,
        blank: setup.blank,
        lane: live.you,
        other_lane: live.other.map(|name| format!("simulated, {name}")),
        seed: setup.seed,
        scripted: session.scripted,
        aim: live.aim,
        pause: live.pause,
    }
}

/// How well it is known when the last amber lit.
fn onset_grade(live: &Live) -> &'static str {
    let last = Lamp::Amber(live.machine.setup().kind.last_amber());
    let shown = live.shown.iter().find(|(lamp, ..)| *lamp == last);
    shown.map_or("none", |(_, _, grade)| grade.word())
}

/// Ambers and green of the driver's lane, in order of due mark.
fn lamps(live: &Live, start: Mark) -> Vec<LampFact> {
    let machine = &live.machine;
    let shown = |lamp| {
        let stamp = live.shown.iter().find(|(l, ..)| *l == lamp).map(|(_, stamp, _)| *stamp);
        stamp.map(|stamp| stamp_since(start, stamp))
    };
    let ambers = (0..machine.setup().kind.ambers())
        .filter_map(|i| Some((Lamp::Amber(i), machine.amber_due(live.you, i)?)));
    let green = machine.green_due(live.you).map(|due| (Lamp::Green, due));
    ambers
        .chain(green)
        .map(|(lamp, due)| LampFact { lamp, due: due - start, shown: shown(lamp) })
        .collect()
}
