//! The rooms by pad: its cross chooses, its lower button takes, its right one leads back.
//!
//! Owns which button stands for which key outside a run, and the way from room to room by the shoulders.
//! Refuses the run: there a button does what it is bound to.

use super::controls::ControlsRoom;
use super::rooms;
use crate::app::lane::Phase;
use crate::app::presses::Presses;
use crate::app::{AppSystems, Screen};
use crate::press::Control;
use bevy::input::ButtonState;
use bevy::input::keyboard::{Key, KeyboardInput};
use bevy::prelude::*;

/// Buttons by where they lie (the kernel's `Documentation/input/gamepad.rst`), codes of
/// `linux/input-event-codes.h`, and the keys they stand for.
const KEYS: [(u16, KeyCode); 6] = [
    (0x220, KeyCode::ArrowUp),
    (0x221, KeyCode::ArrowDown),
    (0x222, KeyCode::ArrowLeft),
    (0x223, KeyCode::ArrowRight),
    (0x130, KeyCode::Enter),
    (0x131, KeyCode::Escape),
];
/// From room to room: the left shoulder back, the right one on.
const SHOULDERS: [(u16, isize); 2] = [(0x136, -1), (0x137, 1)];
/// Pauses the lane, and leads back to it.
const START: u16 = 0x13b;

pub(super) fn plugin(app: &mut App) {
    app.add_systems(
        Update,
        (hear, act).chain().after(AppSystems::ReadPresses).before(AppSystems::Present),
    );
}

/// Outside a run pads tell of every button.
fn hear(
    screen: Res<State<Screen>>,
    phase: Res<Phase>,
    presses: Res<Presses>,
    mut hears: Local<bool>,
) {
    let runs = **screen == Screen::Lane && phase.live().is_some_and(|live| live.is_running());
    if *hears == runs {
        *hears = !runs;
        presses.hear_any_pad(*hears);
    }
}

fn act(
    screen: Res<State<Screen>>,
    presses: Res<Presses>,
    controls: Res<ControlsRoom>,
    mut next: ResMut<NextState<Screen>>,
    mut keyboard: MessageWriter<KeyboardInput>,
    windows: Query<Entity, With<Window>>,
) {
    // A control that is to be bound is not a key.
    if screen.is_changed() || controls.listens() {
        return;
    }
    let window = windows.iter().next().unwrap_or(Entity::PLACEHOLDER);
    for control in presses.touched() {
        let Control::PadButton(code) = control else { continue };
        if **screen == Screen::Lane {
            if *code == START {
                press(KeyCode::Escape, window, &mut keyboard);
            }
            continue;
        }
        if let Some((_, key)) = KEYS.iter().find(|(of, _)| of == code) {
            press(*key, window, &mut keyboard);
        } else if *code == START {
            next.set(Screen::Lane);
        } else if let Some((_, way)) = SHOULDERS.iter().find(|(of, _)| of == code)
            && let Some(room) = rooms::beside(**screen, *way)
        {
            next.set(room);
        }
    }
}

/// A key pressed and let go, as a keyboard would tell it.
fn press(key_code: KeyCode, window: Entity, keyboard: &mut MessageWriter<KeyboardInput>) {
    let logical_key = match key_code {
        KeyCode::ArrowUp => Key::ArrowUp,
        KeyCode::ArrowDown => Key::ArrowDown,
        KeyCode::ArrowLeft => Key::ArrowLeft,
        KeyCode::ArrowRight => Key::ArrowRight,
        KeyCode::Enter => Key::Enter,
        _ => Key::Escape,
    };
    for state in [ButtonState::Pressed, ButtonState::Released] {
        let logical_key = logical_key.clone();
        keyboard.write(KeyboardInput {
            key_code,
            logical_key,
            state,
            text: None,
            repeat: false,
            window,
        });
    }
}
