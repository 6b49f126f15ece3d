//! Safe practice and flashing lights, before anything else.
//!
//! Owns when they are shown. Refuses to be skipped the first time, and words of its own for them.

use super::ui;
use crate::app::Screen;
use crate::app::garage::Garage;
use crate::app::trace_file::TraceFile;
use crate::report::help::CAUTIONS;
use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

pub(super) fn plugin(app: &mut App) {
    app.add_systems(OnEnter(Screen::Notice), trace_prompt)
        .add_systems(Update, go_on.run_if(in_state(Screen::Notice)))
        .add_systems(EguiPrimaryContextPass, notice_ui.run_if(in_state(Screen::Notice)));
}

fn trace_prompt(mut trace: ResMut<TraceFile>) {
    trace.event("prompt Enter Enter: go on");
}

fn go_on(
    keyboard: Res<ButtonInput<KeyCode>>,
    garage: Res<Garage>,
    mut next: ResMut<NextState<Screen>>,
) {
    if keyboard.just_pressed(KeyCode::Enter) || keyboard.just_pressed(KeyCode::Space) {
        next.set(Screen::after_notice(&garage));
    }
}

fn notice_ui(
    mut contexts: EguiContexts,
    garage: Res<Garage>,
    mut next: ResMut<NextState<Screen>>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    ui::page(ctx, "notice", |page| {
        ui::headline(page, "Rehearse the start line, then race it at a track.");
        ui::body(
            page,
            "Roll in, stage beside another car, and leave on the last amber: what you do and what \
             your car does then add up to just after green.",
        );
        page.add_space(10.0);
        CAUTIONS.iter().for_each(|caution| ui::warning(page, caution));
        page.add_space(6.0);
        ui::body(
            page,
            "Your runs stay on this machine. While a run is staged, the program listens to its own \
             few keys through the display server, and to nothing else.",
        );
        page.add_space(8.0);
        if ui::choice(page, "I have read this", true) {
            next.set(Screen::after_notice(&garage));
        }
        ui::keys(page, "Enter: go on");
    });
    Ok(())
}
