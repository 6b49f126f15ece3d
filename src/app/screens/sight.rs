//! True size: how large the screen is and how far the eye.
//!
//! Owns the keys and the rows. Refuses what follows from it (`app::sight`).

use super::{rooms, ui};
use crate::app::Screen;
use crate::app::settings::InForce;
use crate::app::sight::Sight;
use crate::app::trace_file::TraceFile;
use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// Rows of the list.
const ROWS: usize = 3;

#[derive(Resource, Default)]
struct At(usize);

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<At>()
        .add_systems(OnEnter(Screen::Sight), trace_prompt)
        .add_systems(Update, work_keys.run_if(in_state(Screen::Sight)))
        .add_systems(EguiPrimaryContextPass, sight_ui.run_if(in_state(Screen::Sight)));
}

fn trace_prompt(mut trace: ResMut<TraceFile>) {
    trace.event("prompt Escape Esc: back to the settings");
}

fn work_keys(
    keyboard: Res<ButtonInput<KeyCode>>,
    screen: Res<State<Screen>>,
    mut at: ResMut<At>,
    mut in_force: ResMut<InForce>,
    mut next: ResMut<NextState<Screen>>,
) {
    if screen.is_changed() {
        return;
    }
    let pressed = |key| keyboard.just_pressed(key);
    if pressed(KeyCode::Escape) {
        next.set(Screen::Menu);
    }
    if pressed(KeyCode::ArrowDown) {
        at.0 = (at.0 + 1).min(ROWS - 1);
    }
    if pressed(KeyCode::ArrowUp) {
        at.0 = at.0.saturating_sub(1);
    }
    let step = f64::from(i8::from(pressed(KeyCode::ArrowRight)))
        - f64::from(i8::from(pressed(KeyCode::ArrowLeft)));
    let now = Sight::of(&in_force);
    let wanted = match (at.0, now) {
        (0, _) if step != 0.0 || pressed(KeyCode::Enter) => Sight::toggled(now),
        (1, Some(sight)) if step != 0.0 => Some(sight.moved(step, 0.0)),
        (2, Some(sight)) if step != 0.0 => Some(sight.moved(0.0, step)),
        _ => now,
    };
    if wanted != now {
        Sight::set(wanted, &mut in_force);
    }
}

fn sight_ui(
    mut contexts: EguiContexts,
    in_force: Res<InForce>,
    mut at: ResMut<At>,
    mut next: ResMut<NextState<Screen>>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let sight = Sight::of(&in_force);
    let mut clicked = None;
    let led = rooms::room_ui(ctx, Screen::Sight, "", |page| {
        ui::headline(page, "How large is the tree to your eye?");
        ui::body(
            page,
            "Tell the size of your screen and how far your eye is from it, and the lamps are as large to \
             you as from a driver's seat 47.5 feet before the tree. Otherwise the tree fills half the \
             window, which is easier to read.",
        );
        let or_not = |number: Option<String>| number.unwrap_or_else(|| "not told".to_owned());
        let rows = [
            format!("True size: {}", if sight.is_some() { "on" } else { "off" }),
            format!(
                "Screen from corner to corner: {}",
                or_not(sight.map(|sight| format!("{:.1} in", sight.diagonal_in)))
            ),
            format!(
                "From eye to screen: {}",
                or_not(sight.map(|sight| {
                    format!("{:.0} cm ({:.0} in)", sight.distance_cm, sight.distance_cm / 2.54)
                }))
            ),
        ];
        for (i, row) in rows.iter().enumerate() {
            if ui::choice(page, row, i == at.0) {
                clicked = Some(i);
            }
        }
        ui::keys(page, "\u{2191} \u{2193}: which   \u{2190} \u{2192}: less, more   Esc: back");
    });
    if let Some(i) = clicked {
        at.0 = i;
    }
    if let Some(screen) = led {
        next.set(screen);
    }
    Ok(())
}
