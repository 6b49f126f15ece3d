//! How loud each sound is.
//!
//! Owns the list and its keys. Refuses playing (`app::sounds`) and a sound of the lamps.

use super::{rooms, ui};
use crate::app::Screen;
use crate::app::settings::InForce;
use crate::app::sounds::{Sounds, levels, set_level};
use crate::app::trace_file::TraceFile;
use crate::sound::Kind;
use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiPrimaryContextPass};

/// A step of a level, percent.
const STEP: u32 = 10;

/// Which sound the keys are at.
#[derive(Resource, Default)]
struct At(usize);

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<At>()
        .add_systems(OnEnter(Screen::Sounds), trace_prompt)
        .add_systems(Update, work_keys.run_if(in_state(Screen::Sounds)))
        .add_systems(EguiPrimaryContextPass, sounds_ui.run_if(in_state(Screen::Sounds)));
}

fn trace_prompt(mut trace: ResMut<TraceFile>) {
    trace.event("prompt Escape Esc: back to the settings");
}

fn percent(in_force: &InForce, kind: Kind) -> u32 {
    (100.0 * levels(in_force).of(kind)).round() as u32
}

fn work_keys(
    keyboard: Res<ButtonInput<KeyCode>>,
    screen: Res<State<Screen>>,
    sounds: Res<Sounds>,
    mut at: ResMut<At>,
    mut in_force: ResMut<InForce>,
    mut next: ResMut<NextState<Screen>>,
) {
    if screen.is_changed() {
        return;
    }
    let pressed = |key| keyboard.just_pressed(key);
    if pressed(KeyCode::Escape) || pressed(KeyCode::Enter) {
        next.set(Screen::Menu);
    }
    let last = Kind::ALL.len() - 1;
    if pressed(KeyCode::ArrowDown) {
        at.0 = (at.0 + 1).min(last);
    }
    if pressed(KeyCode::ArrowUp) {
        at.0 = at.0.saturating_sub(1);
    }
    let kind = Kind::ALL[at.0.min(last)];
    let now = percent(&in_force, kind);
    let wanted = if pressed(KeyCode::ArrowRight) {
        (now + STEP).min(100)
    } else if pressed(KeyCode::ArrowLeft) {
        now.saturating_sub(STEP)
    } else {
        now
    };
    if wanted != now {
        set_level(&mut in_force, kind, wanted);
    }
    if pressed(KeyCode::Space) {
        sounds.try_out(kind);
    }
    if pressed(KeyCode::KeyM) {
        Kind::ALL.iter().for_each(|kind| set_level(&mut in_force, *kind, 0));
    }
}

fn sounds_ui(
    mut contexts: EguiContexts,
    in_force: Res<InForce>,
    sounds: Res<Sounds>,
    mut at: ResMut<At>,
    mut next: ResMut<NextState<Screen>>,
) -> Result {
    let ctx = contexts.ctx_mut()?;
    if !ui::dress(ctx) {
        return Ok(());
    }
    let mut clicked = None;
    let led = rooms::room_ui(ctx, Screen::Sounds, "", |page| {
        ui::headline(page, "What you hear in the lane.");
        ui::body(
            page,
            "The sounds follow your car. The lamps make none: at the track they light in silence.",
        );
        ui::aside(page, &sounds.state());
        page.add_space(12.0);
        for (i, kind) in Kind::ALL.into_iter().enumerate() {
            let level = match percent(&in_force, kind) {
                0 => "off".to_owned(),
                percent => format!("{percent} %"),
            };
            if ui::choice(page, &format!("{}: {level}", kind.label()), i == at.0) {
                clicked = Some(i);
            }
        }
        ui::keys(
            page,
            "\u{2191} \u{2193}: which   \u{2190} \u{2192}: softer, louder   Space: hear it   M: all off   \
             Esc: back",
        );
    });
    if let Some(i) = clicked {
        at.0 = i;
    }
    if let Some(screen) = led {
        next.set(screen);
    }
    Ok(())
}
