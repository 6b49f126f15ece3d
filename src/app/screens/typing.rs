//! Keys as a form takes them.
//!
//! Owns the step from window events to a form's keys. Refuses what they mean to a field.

use crate::form::Key as FormKey;
use bevy::input::ButtonState;
use bevy::input::keyboard::{Key, KeyboardInput};
use bevy::prelude::*;

/// Something typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Typed {
    /// For the form.
    Key(FormKey),
    /// Takes the form.
    Enter,
    /// Leaves it.
    Escape,
}

/// Whether this letter was typed, small or capital.
pub fn is_letter(key: Typed, wanted: char) -> bool {
    matches!(key, Typed::Key(FormKey::Letter(letter)) if letter.eq_ignore_ascii_case(&wanted))
}

/// What was typed since the last look, repeats of a held key included.
pub fn typed(events: &mut MessageReader<KeyboardInput>) -> Vec<Typed> {
    events.read().filter(|event| event.state == ButtonState::Pressed).flat_map(of_event).collect()
}

fn of_event(event: &KeyboardInput) -> Vec<Typed> {
    let one = |key| vec![Typed::Key(key)];
    match &event.logical_key {
        Key::Enter | Key::Escape if event.repeat => Vec::new(),
        Key::Enter => vec![Typed::Enter],
        Key::Escape => vec![Typed::Escape],
        Key::Tab | Key::ArrowDown => one(FormKey::Next),
        Key::ArrowUp => one(FormKey::Previous),
        Key::ArrowLeft => one(FormKey::Left),
        Key::ArrowRight => one(FormKey::Right),
        Key::Backspace => one(FormKey::Erase),
        Key::Delete => one(FormKey::Clear),
        _ => {
            let letters = event.text.iter().flat_map(|text| text.chars());
            let letters = letters.filter(|letter| !letter.is_control());
            letters.map(|letter| Typed::Key(FormKey::Letter(letter))).collect()
        }
    }
}
