//! The end of a run: record, save, and only then the verdict.
//!
//! Owns the order `record → written and synced → shown`. A save that fails is said, kept and tried
//! again. Refuses to draw.

use super::live::{Ending, Live, Phase};
use super::record::{Around, record};
use super::session::Session;
use super::words::outcome_word;
use crate::app::clock::Now;
use crate::app::garage::Garage;
use crate::app::guest::Guest;
use crate::app::history_store::{SaveNews, Store};
use crate::app::onset::Frames;
use crate::app::presses::{Presses, Who};
use crate::app::rig::{self, Rig};
use crate::app::trace_file::TraceFile;
use crate::app::{AppSystems, Screen};
use crate::history::SaveEvent;
use crate::trial::TrialRecord;
use bevy::prelude::*;
use bevy::window::WindowCloseRequested;

pub(super) fn plugin(app: &mut App) {
    app.add_systems(Update, leave_when_saved.in_set(AppSystems::Analyse));
    app.add_systems(
        Update,
        (record_result, read_saves, trace_verdict)
            .chain()
            .in_set(AppSystems::Record)
            .run_if(in_state(Screen::Lane)),
    );
    // Leaving the lane loses no answer of the writer.
    app.add_systems(
        Update,
        (record_result, read_saves)
            .chain()
            .in_set(AppSystems::Record)
            .run_if(not(in_state(Screen::Lane))),
    );
}

/// Turns a settled run into a record and hands it to the writer.
fn record_result(
    now: Res<Now>,
    mut phase: ResMut<Phase>,
    mut session: ResMut<Session>,
    garage: Res<Garage>,
    frames: Res<Frames>,
    presses: Res<Presses>,
    rig: Res<Rig>,
    store: Res<Store>,
    mut guest: ResMut<Guest>,
) {
    let Some(live) = phase.live_mut().filter(|live| live.is_running()) else { return };
    let Some(result) = live.machine.result(live.you) else { return };
    let beside = live.beside.is_some().then(|| live.machine.result(live.you.other()));
    if beside == Some(None) {
        return;
    }
    let frame_period = frames.period();
    let mut open = Vec::new();
    let mut not_saved = None;
    let mut hand_in = |store: &Store, record: &TrialRecord| match store.submit(record.clone()) {
        Ok(_) => open.push(record.id.to_string()),
        Err(error) => not_saved = Some(error.to_string()),
    };
    let mut other = None;
    if let (Some(Some(result)), Some(seat)) = (beside, &mut guest.bypass_change_detection().seat) {
        let rig = rig::print_of(Who::Guest, &rig, &seat.garage, &frames, &presses);
        let who = Who::Guest;
        let around = Around { session: &session, who, garage: &seat.garage, rig, frame_period };
        let record = Box::new(record(live, result, &around));
        hand_in(&seat.store, &record);
        seat.tally.add(result.outcome);
        other = Some(record);
    }
    let rig = rig::print(&rig, &garage, &frames, &presses);
    let who = Who::Driver;
    let around = Around { session: &session, who, garage: &garage, rig, frame_period };
    let record = Box::new(record(live, result, &around));
    hand_in(&store, &record);
    session.finish_run(result.outcome, result.parts.map(|parts| parts.rt()), now.mark);
    live.ending = Ending::Saving { record, other, open, not_saved };
    tell_when_answered(live);
}

/// Lets the verdict out once every writer has answered.
fn tell_when_answered(live: &mut Live) {
    if let Ending::Saving { record, other, open, not_saved } = &mut live.ending
        && open.is_empty()
    {
        live.ending = Ending::Told {
            record: record.clone(),
            other: other.take(),
            not_saved: not_saved.take(),
            drawn_in: None,
            seen: None,
        };
    }
}

/// Hears what became of the records.
fn read_saves(mut news: MessageReader<SaveNews>, mut phase: ResMut<Phase>) {
    for SaveNews(event) in news.read() {
        let Some(live) = phase.live_mut() else { continue };
        match (&mut live.ending, event) {
            (Ending::Saving { open, .. }, SaveEvent::Saved { id }) => {
                open.retain(|of| of != id);
            }
            (Ending::Saving { open, not_saved, .. }, SaveEvent::SaveFailed { id, why })
                if open.contains(id) =>
            {
                open.retain(|of| of != id);
                *not_saved = Some(why.clone());
            }
            (Ending::Told { record, other, not_saved, .. }, SaveEvent::Saved { id })
                if record.id == *id || other.as_ref().is_some_and(|other| other.id == *id) =>
            {
                *not_saved = None;
            }
            _ => {}
        }
        tell_when_answered(live);
    }
}

/// Closes the window once no run is on its way to its verdict or to the disk.
fn leave_when_saved(
    phase: Res<Phase>,
    mut closing: MessageReader<WindowCloseRequested>,
    mut leaving: Local<bool>,
    mut exit: MessageWriter<AppExit>,
    mut trace: ResMut<TraceFile>,
) {
    *leaving |= closing.read().next().is_some();
    let on_its_way = phase
        .live()
        .is_some_and(|live| matches!(live.ending, Ending::Running | Ending::Saving { .. }));
    if *leaving && !on_its_way {
        *leaving = false;
        trace.event("quit");
        exit.write(AppExit::Success);
    }
}

/// Says once that a verdict reached the screen, and how fast frames came.
fn trace_verdict(
    phase: Res<Phase>,
    frames: Res<Frames>,
    mut told: Local<String>,
    mut trace: ResMut<TraceFile>,
) {
    let Some(live) = phase.live() else { return };
    let Ending::Told { record, seen: Some(_), .. } = &live.ending else { return };
    if *told == record.id {
        return;
    }
    *told = record.id.to_string();
    let outcome = outcome_word(record.outcome);
    trace.event(format_args!("frame-rate {:.1}", 1.0 / frames.period().as_secs_f64().max(1e-6)));
    match record.parts {
        Some(p) => trace.event(format_args!(
            "verdict shown {} {outcome} rt_ns={} driver_ns={} car_ns={} interval_ns={} \
             early_ns={} late_ns={}",
            record.id,
            p.rt().ns(),
            p.driver().ns(),
            p.car.ns(),
            p.interval.ns(),
            p.early_doubt.ns(),
            p.late_doubt.ns()
        )),
        None => trace.event(format_args!("verdict shown {} {outcome}", record.id)),
    }
}
