//! The self test: ten seconds in which the rig is only looked at.
//!
//! Owns its words and its end. Refuses figures while it runs: they would be one frame old and mean
//! nothing yet.

use super::plain::{PlainLine, Weight, clear_plain, place_plain, put_lines, write_lines};
use crate::app::clock::Now;
use crate::app::history_store::Store;
use crate::app::onset::Frames;
use crate::app::presses::{Act, Edge};
use crate::app::rig::{Rig, Surroundings, self_test::SelfTest};
use crate::app::theme::Fonts;
use crate::app::trace_file::TraceFile;
use crate::app::{AppSystems, Screen};
use crate::units::Span;
use bevy::prelude::*;

/// The running test.
#[derive(Resource)]
struct Running(SelfTest);

pub(super) fn plugin(app: &mut App) {
    let here = in_state(Screen::SelfTest);
    app.add_systems(OnEnter(Screen::SelfTest), begin)
        .add_systems(OnExit(Screen::SelfTest), (clear_plain, end))
        .add_systems(Update, watch.in_set(AppSystems::StepTree).run_if(here.clone()))
        .add_systems(Update, (tell, place_plain).chain().in_set(AppSystems::Present).run_if(here));
}

fn begin(mut commands: Commands, fonts: Res<Fonts>, now: Res<Now>, mut trace: ResMut<TraceFile>) {
    let lines = [
        (200.0, 34.0, Weight::Strong),
        (262.0, 22.0, Weight::Text),
        (300.0, 20.0, Weight::Muted),
        (640.0, 18.0, Weight::Muted),
    ];
    put_lines(&mut commands, &fonts, &lines);
    commands.insert_resource(Running(SelfTest::start(now.mark)));
    trace.event("prompt - Tap the launch control as you like");
}

fn end(mut commands: Commands) {
    commands.remove_resource::<Running>();
}

/// Looks on, and saves what was seen when the time is over.
fn watch(
    now: Res<Now>,
    frames: Res<Frames>,
    keyboard: Res<ButtonInput<KeyCode>>,
    around: Surroundings,
    mut edges: MessageReader<Edge>,
    mut running: ResMut<Running>,
    mut rig: ResMut<Rig>,
    store: Res<Store>,
    mut next: ResMut<NextState<Screen>>,
    mut trace: ResMut<TraceFile>,
) {
    let test = &mut running.0;
    test.take_frames(&frames);
    for Edge { edge, act, .. } in edges.read() {
        if *act == Act::Launch {
            test.take_edge(*edge);
        }
    }
    if keyboard.just_pressed(KeyCode::Escape) {
        next.set(Screen::Rig);
        return;
    }
    if test.left(now.mark) > Span::ZERO {
        return;
    }
    match around.rig_line(test, &rig) {
        Some(line) => {
            trace.event(format_args!("self-test {}", line.id));
            if let Err(error) = store.submit(line.clone()) {
                error!("the self test is not saved: {error}");
            }
            rig.looked_at(line);
        }
        None => rig.news = Some("The screen showed too few frames to tell anything.".to_owned()),
    }
    next.set(Screen::Rig);
}

fn tell(now: Res<Now>, running: Res<Running>, mut texts: Query<(&PlainLine, &mut Text2d)>) {
    let test = &running.0;
    let taps = test.down().count();
    let more = match taps {
        0 => "Tap your launch control, Space, as you like: thirty taps tell how often it is asked."
            .to_owned(),
        _ => format!("{taps} taps so far. Keep an uneven rhythm."),
    };
    let seconds = (test.left(now.mark).as_secs_f64()).ceil();
    write_lines(
        &mut texts,
        &[
            "Looking at this rig.".to_owned(),
            more,
            format!("{seconds:.0} s left"),
            "Esc: leave it".to_owned(),
        ],
    );
}
