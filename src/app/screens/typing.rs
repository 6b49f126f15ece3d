//! Keys as a form takes them.
//!
//! Owns the step from window events to letters and moves. Refuses what they mean to a field.

use bevy::input::ButtonState;
use bevy::input::keyboard::{Key, KeyboardInput};
use bevy::prelude::*;

/// Something typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Typed {
    /// A letter.
    Letter(char),
    /// Takes the last letter back.
    Erase,
    /// Empties the field.
    Clear,
    /// To the field below.
    Down,
    /// To the field above.
    Up,
    /// The choice before.
    Left,
    /// The choice after.
    Right,
    /// Takes the form.
    Enter,
    /// Leaves it.
    Escape,
}

/// What was typed since the last look, repeats of a held key included.
pub fn typed(events: &mut MessageReader<KeyboardInput>) -> Vec<Typed> {
    events.read().filter(|event| event.state == ButtonState::Pressed).flat_map(of_event).collect()
}

fn of_event(event: &KeyboardInput) -> Vec<Typed> {
    let one = |typed| vec![typed];
    match &event.logical_key {
        Key::Enter if !event.repeat => one(Typed::Enter),
        Key::Escape if !event.repeat => one(Typed::Escape),
        Key::Tab | Key::ArrowDown => one(Typed::Down),
        Key::ArrowUp => one(Typed::Up),
        Key::ArrowLeft => one(Typed::Left),
        Key::ArrowRight => one(Typed::Right),
        Key::Backspace => one(Typed::Erase),
        Key::Delete => one(Typed::Clear),
        _ => {
            let letters = event.text.iter().flat_map(|text| text.chars());
            letters.filter(|letter| !letter.is_control()).map(Typed::Letter).collect()
        }
    }
}
