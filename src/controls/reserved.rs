//! Keys that stay what they are, and why.
//!
//! Owns the list. Refuses what the keys do there: the window has them.

use crate::press::{Control, keys};

/// Why a control can't be bound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Reserved {
    /// The way out.
    WayOut,
    /// Help.
    Help,
    /// A number that leads to a room.
    Room,
    /// Chooses and goes on.
    GoesOn,
    /// A key of the lane between runs.
    BetweenRuns,
    /// A key the window has no name for.
    Nameless,
}

impl Reserved {
    /// Why, after "… can't be bound:".
    pub fn why(self) -> &'static str {
        match self {
            Self::WayOut => "it always leads out of a run and to the settings",
            Self::Help => "it always shows the help",
            Self::Room => "the numbers lead to the rooms",
            Self::GoesOn => "it chooses and goes on between runs and in every list",
            Self::BetweenRuns => "between runs the lane has this key for something else",
            Self::Nameless => "the window has no name for it and could not tell of it",
        }
    }
}

/// The reserved keys by their names, alike ones together.
const KEYS: [(&str, Reserved); 24] = [
    ("Escape", Reserved::WayOut),
    ("F1", Reserved::Help),
    ("Digit1", Reserved::Room),
    ("Digit2", Reserved::Room),
    ("Digit3", Reserved::Room),
    ("Digit4", Reserved::Room),
    ("Digit5", Reserved::Room),
    ("Digit6", Reserved::Room),
    ("Digit7", Reserved::Room),
    ("Digit8", Reserved::Room),
    ("Digit9", Reserved::Room),
    ("Digit0", Reserved::Room),
    ("Enter", Reserved::GoesOn),
    ("Tab", Reserved::GoesOn),
    ("KeyD", Reserved::BetweenRuns),
    ("KeyT", Reserved::BetweenRuns),
    ("KeyL", Reserved::BetweenRuns),
    ("KeyA", Reserved::BetweenRuns),
    ("KeyP", Reserved::BetweenRuns),
    ("KeyN", Reserved::BetweenRuns),
    ("KeyG", Reserved::BetweenRuns),
    ("KeyH", Reserved::BetweenRuns),
    ("Minus", Reserved::BetweenRuns),
    ("Equal", Reserved::BetweenRuns),
];

/// Why this control can't be bound; `None` for one that can.
pub fn reserved(control: Control) -> Option<Reserved> {
    let Control::Key(_) = control else { return None };
    let name = keys::key_name(control);
    let known = KEYS.iter().find(|(key, _)| *key == name).map(|(_, why)| *why);
    let nameless = || keys::named_keys().all(|(_, named)| named != control);
    known.or_else(|| nameless().then_some(Reserved::Nameless))
}

/// Every key with a name that can't be bound, and why, alike ones together.
pub fn reserved_keys() -> impl Iterator<Item = (Control, Reserved)> {
    KEYS.into_iter().filter_map(|(name, why)| Some((keys::key_named(name)?, why)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_reserved_key_is_a_key_and_is_refused_for_its_reason() {
        assert_eq!(reserved_keys().count(), KEYS.len());
        for (control, why) in reserved_keys() {
            assert_eq!(reserved(control), Some(why));
        }
    }

    #[test]
    fn other_keys_and_all_buttons_can_be_bound_and_keys_without_a_name_cannot() {
        for name in ["Space", "ArrowUp", "KeyW", "Numpad0", "F2", "MouseLeft", "PadButton28"] {
            assert_eq!(reserved(keys::key_named(name).unwrap()), None, "{name}");
        }
        // Scancode 125 is KEY_LEFTMETA, a logo key; 28 is Enter, as a key and not as a pad's button.
        assert_eq!(reserved(Control::Key(125)), Some(Reserved::Nameless));
        assert_eq!(reserved(Control::Key(28)), Some(Reserved::GoesOn));
    }
}
