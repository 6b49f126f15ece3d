//! Your runs are being read: how far, and a way out.
//!
//! Owns the screen over a folder that takes its time, and what comes after it. Refuses the reading
//! (`app::opening`).

use super::drivers::take_wheel;
use super::{LockedOut, ui};
use crate::app::Screen;
use crate::app::data::Opened;
use crate::app::lane::meet_driver;
use crate::app::opening::{AT_ONCE, Opening};
use crate::app::settings::take_into_sitting;
use crate::app::trace_file::TraceFile;
use crate::history::HistoryError;
use bevy::prelude::*;
use bevy_egui::egui::ProgressBar;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

pub(super) fn plugin(app: &mut App) {
    app.add_systems(OnEnter(Screen::Opening), trace_prompt)
        .add_systems(Update, (look, give_up).chain().run_if(in_state(Screen::Opening)))
        .add_systems(EguiPrimaryContextPass, opening_ui.run_if(in_state(Screen::Opening)));
}

/// Opens a folder; the screen comes only where that takes longer than a glance.
pub(super) fn open(world: &mut World, mut opening: Opening) {
    match opening.answer_within(AT_ONCE) {
        Some(answer) => take(world, &opening, answer),
        None => {
            world.insert_resource(opening);
            go_to(world, Screen::Opening);
        }
    }
}

fn trace_prompt(mut trace: ResMut<TraceFile>) {
    trace.event("prompt - wait");
}

/// Takes what was opened.
fn look(world: &mut World) {
    let Some(mut opening) = world.remove_resource::<Opening>() else { return };
    match opening.answer() {
        Some(answer) => take(world, &opening, answer),
        None => world.insert_resource(opening),
    }
}

fn take(world: &mut World, opening: &Opening, answer: Result<Opened, HistoryError>) {
    match (answer, opening.whose()) {
        (Ok(opened), Some(profile)) => {
            take_wheel(world, profile, opened);
            go_to(world, Screen::Drivers);
        }
        (Ok(opened), None) => {
            let asked = opened.garage.asked();
            opened.put_in(world);
            begin_sitting(world);
            let first = if asked { Screen::Lane } else { Screen::Notice };
            go_to(world, first);
        }
        (Err(error), Some(_)) => {
            super::drivers::tell(world, error.to_string());
            go_to(world, Screen::Drivers);
        }
        (Err(error), None) => {
            world.insert_resource(LockedOut(error.to_string()));
            go_to(world, Screen::Locked);
        }
    }
}

fn go_to(world: &mut World, screen: Screen) {
    // The engine has a method of the same name for the resource itself.
    let next = &mut *world.resource_mut::<NextState<Screen>>();
    next.set_if_neq(screen);
}

/// What is set, and whether the guide is needed, as at the start of the program.
pub(super) fn begin_sitting(world: &mut World) {
    for outcome in
        [world.run_system_cached(take_into_sitting), world.run_system_cached(meet_driver)]
    {
        if let Err(error) = outcome {
            error!("the settings are not in force: {error}");
        }
    }
}

/// Esc ends the program, or leaves the driver at the wheel who is there.
fn give_up(
    mut commands: Commands,
    keyboard: Res<ButtonInput<KeyCode>>,
    opening: Option<Res<Opening>>,
    mut next: ResMut<NextState<Screen>>,
    mut exit: MessageWriter<AppExit>,
) {
    let Some(opening) = opening.filter(|_| keyboard.just_pressed(KeyCode::Escape)) else { return };
    match opening.whose() {
        Some(_) => next.set(Screen::Drivers),
        None => drop(exit.write(AppExit::Success)),
    }
    commands.remove_resource::<Opening>();
}

fn opening_ui(mut contexts: EguiContexts, opening: Option<Res<Opening>>) -> Result {
    let ctx = contexts.ctx_mut()?;
    let (true, Some(opening)) = (ui::dress(ctx), opening) else { return Ok(()) };
    ui::page(ctx, "opening", |page| {
        match opening.whose() {
            Some(profile) => ui::headline(page, &format!("Reading the runs of {}.", profile.name)),
            None => ui::headline(page, "Reading your runs."),
        }
        ui::body(page, "It is a long history; every line is checked before it is believed.");
        let (done, total) = opening.bytes().unwrap_or((0, 1));
        let share = done as f32 / total as f32;
        let mb = |bytes: u64| bytes / 1_000_000;
        let words = format!("{:.0} % of {} MB", share * 100.0, mb(total));
        page.add(ProgressBar::new(share).text(words));
        page.add_space(8.0);
        ui::aside(page, &opening.path().display().to_string());
        let esc = if opening.whose().is_some() { "back" } else { "quit" };
        ui::keys(page, &format!("Esc: {esc}"));
    });
    Ok(())
}
