//! Sets of controls to begin with.
//!
//! Owns which there are and why each is as it is. Refuses a driver's own choice.

use crate::controls::Act;
use crate::press::{Control, keys};

/// A set of controls to begin with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Set {
    /// The arrows roll, the right side of a pad launches.
    #[default]
    RightHand,
    /// The same turned over.
    LeftHand,
}

/// Codes of `linux/input-event-codes.h`: the buttons of a pad by where they lie (the kernel's
/// `Documentation/input/gamepad.rst`), the axes of its triggers and of a pedal.
const BTN_SOUTH: Control = Control::PadButton(0x130);
const BTN_WEST: Control = Control::PadButton(0x134);
const BTN_TL: Control = Control::PadButton(0x136);
const BTN_TR: Control = Control::PadButton(0x137);
const ABS_Z: Control = Control::PadAxis(0x02);
const ABS_RZ: Control = Control::PadAxis(0x05);
const ABS_GAS: Control = Control::PadAxis(0x09);

impl Set {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::RightHand, Self::LeftHand];

    /// Its name for people.
    pub fn name(self) -> &'static str {
        match self {
            Self::RightHand => "right hand",
            Self::LeftHand => "left hand",
        }
    }

    /// For whom it is and why, in words.
    pub fn why(self) -> &'static str {
        match self {
            Self::RightHand => {
                "The arrows roll the car, Space launches. On a pad the right thumb or the right \
                 trigger launches."
            }
            Self::LeftHand => {
                "W, S and X roll the car: forward above, brake in the middle, back below. Space lies \
                 under the same hand's thumb, so the left hand does it all and stays where it is. On \
                 a pad the left shoulder or the left trigger launches and does nothing else; the \
                 right hand creeps, brakes and rolls back."
            }
        }
    }

    /// Which control is for what.
    ///
    /// The left hand's keys, chosen: they lie under that hand together with Space, none is a
    /// [reserved](crate::controls::reserved) key, and their order from top to bottom is the car's from
    /// front to back. On the pad everything changes sides but the buttons that have no partner there;
    /// the thumb that no longer launches creeps. A gas pedal launches in both: a foot has no side.
    pub(super) fn controls(self) -> Vec<(Control, Act)> {
        let key = |name| keys::key_named(name).expect("the names below are in the table");
        match self {
            Self::RightHand => vec![
                (key("Space"), Act::Launch),
                (key("ArrowUp"), Act::Creep),
                (key("ArrowDown"), Act::Brake),
                (key("ArrowLeft"), Act::Back),
                (BTN_SOUTH, Act::Launch),
                (BTN_TR, Act::Creep),
                (BTN_TL, Act::Brake),
                (BTN_WEST, Act::Back),
                (ABS_RZ, Act::Launch),
                (ABS_GAS, Act::Launch),
            ],
            Self::LeftHand => vec![
                (key("Space"), Act::Launch),
                (key("KeyW"), Act::Creep),
                (key("KeyS"), Act::Brake),
                (key("KeyX"), Act::Back),
                (BTN_TL, Act::Launch),
                (BTN_SOUTH, Act::Creep),
                (BTN_TR, Act::Brake),
                (BTN_WEST, Act::Back),
                (ABS_Z, Act::Launch),
                (ABS_GAS, Act::Launch),
            ],
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::controls::reserved;

    #[test]
    fn a_set_has_keys_and_pad_controls_for_every_act_and_none_twice_or_reserved() {
        for set in Set::ALL {
            let all = set.controls();
            let once: BTreeMap<Control, Act> = all.iter().copied().collect();
            assert_eq!(once.len(), all.len(), "{set:?}");
            assert!(all.iter().all(|(control, _)| reserved(*control).is_none()), "{set:?}");
            for act in Act::ALL {
                let of = |pad| all.iter().any(|(c, a)| *a == act && c.is_on_pad() == pad);
                assert!(of(true) && of(false), "{set:?} {act}");
            }
        }
    }

    #[test]
    fn the_keys_of_the_left_hand_lie_under_it() {
        // The left hand's keys of ten-finger typing on a US keyboard, and the bar under its thumb.
        let left = "QWERTASDFGZXCVB";
        for (control, act) in Set::LeftHand.controls() {
            let name = keys::key_name(control);
            let letter = name.strip_prefix("Key");
            let reaches = name == "Space" || letter.is_some_and(|letter| left.contains(letter));
            assert!(control.is_on_pad() || reaches, "{act}: {name}");
        }
    }
}
