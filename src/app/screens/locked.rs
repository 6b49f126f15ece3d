//! The data folder can't be used: say why, and try again.
//!
//! Owns that screen. Refuses to run without a place for the runs.

use super::opening::open;
use super::ui;
use crate::app::Screen;
use crate::app::data::DataPath;
use crate::app::opening::Opening;
use crate::app::trace_file::TraceFile;
use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// Why the data folder can't be used.
#[derive(Resource, Debug, Clone, Default)]
pub struct LockedOut(pub String);

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<LockedOut>()
        .add_systems(OnEnter(Screen::Locked), trace_prompt)
        .add_systems(Update, try_again.run_if(in_state(Screen::Locked)))
        .add_systems(EguiPrimaryContextPass, locked_ui.run_if(in_state(Screen::Locked)));
}

fn trace_prompt(mut trace: ResMut<TraceFile>) {
    trace.event("prompt Enter Enter: try again");
}

fn try_again(
    mut commands: Commands,
    keyboard: Res<ButtonInput<KeyCode>>,
    path: Res<DataPath>,
    mut exit: MessageWriter<AppExit>,
) {
    if keyboard.just_pressed(KeyCode::Escape) {
        exit.write(AppExit::Success);
    }
    if !keyboard.just_pressed(KeyCode::Enter) {
        return;
    }
    let opening = Opening::at_start(&path.path);
    commands.queue(|world: &mut World| open(world, opening));
}

fn locked_ui(mut contexts: EguiContexts, why: Res<LockedOut>) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    ui::page(ctx, "locked", |page| {
        ui::headline(page, "There is no place for your runs yet.");
        ui::body(page, &why.0);
        ui::body(page, "Nothing of what is there was touched.");
        ui::keys(page, "Enter: try again    Esc: quit");
    });
    Ok(())
}
