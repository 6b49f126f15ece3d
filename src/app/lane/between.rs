//! Keys of the lane while nothing runs: help, the guide, the aim, a pause cut short.
//!
//! Owns which key does what there. Refuses the keys of the menu (drill, style, lane) and of a run.

use super::guide::Guide;
use super::live::{Ending, Phase};
use super::session::Session;
use crate::app::Screen;
use crate::app::clock::Now;
use crate::app::trace_file::TraceFile;
use crate::drill::Moment;
use crate::trial::Drill;
use bevy::prelude::*;

/// A step of the aim, ms.
const AIM_STEP_MS: i64 = 5;

pub(super) fn plugin(app: &mut App) {
    app.add_systems(Update, work_keys.run_if(in_state(Screen::Lane)));
}

/// Whether nothing runs and no verdict is on its way.
pub(super) fn is_between(phase: &Phase) -> bool {
    match phase {
        Phase::Ready => true,
        Phase::Asked { .. } => false,
        Phase::Live(live) => matches!(live.ending, Ending::Told { seen: Some(_), .. }),
    }
}

fn work_keys(
    keyboard: Res<ButtonInput<KeyCode>>,
    now: Res<Now>,
    screen: Res<State<Screen>>,
    mut phase: ResMut<Phase>,
    mut session: ResMut<Session>,
    mut guide: ResMut<Guide>,
    mut next: ResMut<NextState<Screen>>,
    mut trace: ResMut<TraceFile>,
) {
    if !is_between(&phase) || screen.is_changed() {
        return;
    }
    if keyboard.just_pressed(KeyCode::F1) {
        next.set(Screen::Help);
    }
    if keyboard.just_pressed(KeyCode::KeyG) {
        guide.skip_or_replay(&mut session);
        *phase = Phase::Ready;
    }
    let waits = matches!(session.night(now.mark), Some(Moment::Waiting { .. }));
    if waits && keyboard.just_pressed(KeyCode::KeyN) {
        session.cut_short();
        trace.event("pause-cut-short");
        *phase = Phase::Ready;
    }
    if session.drill() == Drill::HoldAnAim {
        for (key, ms) in [(KeyCode::Minus, -AIM_STEP_MS), (KeyCode::Equal, AIM_STEP_MS)] {
            if keyboard.just_pressed(key) {
                session.shift_aim(ms);
            }
        }
        if keyboard.just_pressed(KeyCode::KeyA) {
            session.aim_as_advised();
        }
        if keyboard.just_pressed(KeyCode::KeyH) {
            next.set(Screen::Held);
        }
    }
}
