//! Names of the controls a person can bind, and the codes behind them.
//!
//! Owns the table of keys and the writing of a control as text and back. Refuses layouts: a key is
//! a place on the keyboard, not the letter printed on it. Keys that the desktop keeps for itself
//! (the logo keys) are left out.
//!
//! Names are the `code` values of the W3C recommendation "UI Events KeyboardEvent code Values";
//! numbers are those of the public kernel header `linux/input-event-codes.h`.

use crate::press::Control;

/// Every bindable key: its name and its scancode.
const KEYS: &[(&str, u16)] = &[
    ("Escape", 1),
    ("Digit1", 2),
    ("Digit2", 3),
    ("Digit3", 4),
    ("Digit4", 5),
    ("Digit5", 6),
    ("Digit6", 7),
    ("Digit7", 8),
    ("Digit8", 9),
    ("Digit9", 10),
    ("Digit0", 11),
    ("Minus", 12),
    ("Equal", 13),
    ("Backspace", 14),
    ("Tab", 15),
    ("KeyQ", 16),
    ("KeyW", 17),
    ("KeyE", 18),
    ("KeyR", 19),
    ("KeyT", 20),
    ("KeyY", 21),
    ("KeyU", 22),
    ("KeyI", 23),
    ("KeyO", 24),
    ("KeyP", 25),
    ("BracketLeft", 26),
    ("BracketRight", 27),
    ("Enter", 28),
    ("ControlLeft", 29),
    ("KeyA", 30),
    ("KeyS", 31),
    ("KeyD", 32),
    ("KeyF", 33),
    ("KeyG", 34),
    ("KeyH", 35),
    ("KeyJ", 36),
    ("KeyK", 37),
    ("KeyL", 38),
    ("Semicolon", 39),
    ("Quote", 40),
    ("Backquote", 41),
    ("ShiftLeft", 42),
    ("Backslash", 43),
    ("KeyZ", 44),
    ("KeyX", 45),
    ("KeyC", 46),
    ("KeyV", 47),
    ("KeyB", 48),
    ("KeyN", 49),
    ("KeyM", 50),
    ("Comma", 51),
    ("Period", 52),
    ("Slash", 53),
    ("ShiftRight", 54),
    ("NumpadMultiply", 55),
    ("AltLeft", 56),
    ("Space", 57),
    ("CapsLock", 58),
    ("F1", 59),
    ("F2", 60),
    ("F3", 61),
    ("F4", 62),
    ("F5", 63),
    ("F6", 64),
    ("F7", 65),
    ("F8", 66),
    ("F9", 67),
    ("F10", 68),
    ("NumLock", 69),
    ("ScrollLock", 70),
    ("Numpad7", 71),
    ("Numpad8", 72),
    ("Numpad9", 73),
    ("NumpadSubtract", 74),
    ("Numpad4", 75),
    ("Numpad5", 76),
    ("Numpad6", 77),
    ("NumpadAdd", 78),
    ("Numpad1", 79),
    ("Numpad2", 80),
    ("Numpad3", 81),
    ("Numpad0", 82),
    ("NumpadDecimal", 83),
    ("IntlBackslash", 86),
    ("F11", 87),
    ("F12", 88),
    ("IntlRo", 89),
    ("NumpadEnter", 96),
    ("ControlRight", 97),
    ("NumpadDivide", 98),
    ("PrintScreen", 99),
    ("AltRight", 100),
    ("Home", 102),
    ("ArrowUp", 103),
    ("PageUp", 104),
    ("ArrowLeft", 105),
    ("ArrowRight", 106),
    ("End", 107),
    ("ArrowDown", 108),
    ("PageDown", 109),
    ("Insert", 110),
    ("Delete", 111),
    ("NumpadEqual", 117),
    ("Pause", 119),
    ("NumpadComma", 121),
    ("IntlYen", 124),
    ("ContextMenu", 127),
    ("F13", 183),
    ("F14", 184),
    ("F15", 185),
    ("F16", 186),
    ("F17", 187),
    ("F18", 188),
    ("F19", 189),
    ("F20", 190),
    ("F21", 191),
    ("F22", 192),
    ("F23", 193),
    ("F24", 194),
];

/// The buttons of a mouse with a name, each with its code.
const MICE: &[(&str, u16)] = &[
    ("MouseLeft", BTN_LEFT),
    ("MouseRight", 0x111),
    ("MouseMiddle", 0x112),
    ("MouseBack", BTN_SIDE),
    ("MouseForward", BTN_EXTRA),
];
const BTN_LEFT: u16 = 0x110;
const BTN_SIDE: u16 = 0x113;
const BTN_EXTRA: u16 = 0x114;
const BTN_FORWARD: u16 = 0x115;
const BTN_BACK: u16 = 0x116;

/// How a mouse button without a name is written, followed by its code.
const MOUSE_BUTTON: &str = "MouseButton";
/// How a key without a name is written, followed by its scancode.
const NAMELESS_KEY: &str = "Scancode";
/// How a pad's button is written, followed by its code.
const PAD_BUTTON: &str = "PadButton";
/// How a pad's axis is written, followed by its code.
const PAD_AXIS: &str = "PadAxis";
/// An X keycode is the scancode plus this: X keeps the codes below 8 to itself.
const X11_OFFSET: u32 = 8;

/// The scancode of an X keycode; `None` for a code X does not use for keys.
pub fn evdev_from_x11(keycode: u32) -> Option<u16> {
    let scancode = u16::try_from(keycode.checked_sub(X11_OFFSET)?).ok()?;
    (scancode > 0).then_some(scancode)
}

/// The mouse button of this code of the kernel header. Windows tell BTN_BACK from BTN_SIDE, and
/// BTN_FORWARD from BTN_EXTRA, on some servers and not on others: each pair is one control here.
pub fn mouse_button(code: u16) -> Control {
    Control::Mouse(match code {
        BTN_BACK => BTN_SIDE,
        BTN_FORWARD => BTN_EXTRA,
        code => code,
    })
}

/// The mouse button of an X button's number; `None` for the wheel, which has 4 to 7, and for a number
/// no mouse has.
///
/// 1 left, 2 middle, 3 right; from 8 on the codes from BTN_SIDE on, in their order (the X server's
/// drivers; from memory).
pub fn mouse_from_x11(button: u32) -> Option<Control> {
    let code = match button {
        1 => BTN_LEFT,
        2 => 0x112,
        3 => 0x111,
        8..=12 => BTN_SIDE + (button - 8) as u16,
        _ => return None,
    };
    Some(mouse_button(code))
}

/// What kind of device a control belongs to, in the word a rig's fingerprint has for it.
pub fn device_word(control: Control) -> &'static str {
    match control {
        Control::Key(_) => "keyboard",
        Control::Mouse(_) => "mouse",
        Control::PadButton(_) | Control::PadAxis(_) => "pad",
    }
}

/// The control of that name, as [`key_name`] writes it; `None` for any other text.
pub fn key_named(name: &str) -> Option<Control> {
    if let Some((_, code)) = KEYS.iter().find(|(known, _)| *known == name) {
        return Some(Control::Key(*code));
    }
    if let Some((_, code)) = MICE.iter().find(|(known, _)| *known == name) {
        return Some(Control::Mouse(*code));
    }
    let code = |prefix| name.strip_prefix(prefix).and_then(|digits: &str| digits.parse().ok());
    code(NAMELESS_KEY)
        .map(Control::Key)
        .or_else(|| code(MOUSE_BUTTON).map(mouse_button))
        .or_else(|| code(PAD_BUTTON).map(Control::PadButton))
        .or_else(|| code(PAD_AXIS).map(Control::PadAxis))
}

/// The name of a control, to store and to read back with [`key_named`].
pub fn key_name(control: Control) -> String {
    match control {
        Control::Key(code) => match KEYS.iter().find(|(_, known)| *known == code) {
            Some((name, _)) => (*name).to_owned(),
            None => format!("{NAMELESS_KEY}{code}"),
        },
        Control::Mouse(code) => match MICE.iter().find(|(_, known)| *known == code) {
            Some((name, _)) => (*name).to_owned(),
            None => format!("{MOUSE_BUTTON}{code}"),
        },
        Control::PadButton(code) => format!("{PAD_BUTTON}{code}"),
        Control::PadAxis(code) => format!("{PAD_AXIS}{code}"),
    }
}

/// Every key with a name, in the order of the scancodes.
pub fn named_keys() -> impl Iterator<Item = (&'static str, Control)> {
    KEYS.iter().map(|(name, code)| (*name, Control::Key(*code)))
}

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::*;

    #[test]
    fn every_name_and_every_code_stands_once() {
        let names: HashSet<_> = KEYS.iter().map(|(name, _)| name).collect();
        let codes: HashSet<_> = KEYS.iter().map(|(_, code)| code).collect();
        assert_eq!((names.len(), codes.len()), (KEYS.len(), KEYS.len()));
    }

    #[test]
    fn every_control_reads_back_from_its_own_name() {
        let all = (1..1024).flat_map(|code| {
            [
                Control::Key(code),
                mouse_button(code),
                Control::PadButton(code),
                Control::PadAxis(code),
            ]
        });
        for control in all {
            assert_eq!(key_named(&key_name(control)), Some(control));
        }
    }

    #[test]
    fn the_x_keycodes_of_the_usual_controls_lead_to_their_names() {
        // The keycodes of a PC keyboard under X: 65 space bar, 36 return, 111 up, 25 W, 50 shift.
        let expected =
            [(65, "Space"), (36, "Enter"), (111, "ArrowUp"), (25, "KeyW"), (50, "ShiftLeft")];
        for (keycode, name) in expected {
            let code = evdev_from_x11(keycode).expect("a key of the keyboard");
            assert_eq!(key_name(Control::Key(code)), name);
        }
    }

    #[test]
    fn mouse_buttons_have_one_name_whoever_speaks_of_them() {
        for (button, code, name) in [
            (1, 0x110, "MouseLeft"),
            (2, 0x112, "MouseMiddle"),
            (3, 0x111, "MouseRight"),
            (8, 0x113, "MouseBack"),
            (9, 0x114, "MouseForward"),
            (10, 0x115, "MouseForward"),
            (11, 0x116, "MouseBack"),
            (12, 0x117, "MouseButton279"),
        ] {
            assert_eq!(mouse_from_x11(button), Some(mouse_button(code)));
            assert_eq!(key_name(mouse_button(code)), name);
            assert_eq!(key_named(name), Some(mouse_button(code)));
        }
        for wheel in [0, 4, 5, 6, 7, 13, u32::MAX] {
            assert_eq!(mouse_from_x11(wheel), None);
        }
    }

    #[test]
    fn codes_that_x_keeps_to_itself_are_no_keys() {
        assert_eq!(evdev_from_x11(0), None);
        assert_eq!(evdev_from_x11(8), None);
        assert_eq!(evdev_from_x11(9), Some(1));
        assert_eq!(evdev_from_x11(u32::MAX), None);
    }

    #[test]
    fn text_that_names_nothing_is_refused() {
        for text in [
            "",
            "space",
            "Scancode",
            "Scancode-1",
            "Scancode99999",
            "PadButtonA",
            "PadAxis",
            "MouseButton",
            "Mouseleft",
            "KeyÄ",
        ] {
            assert_eq!(key_named(text), None, "{text}");
        }
    }

    #[test]
    fn every_named_key_is_listed_once_and_every_control_has_the_word_of_its_device() {
        let listed: Vec<_> = named_keys().collect();
        assert_eq!(listed.len(), KEYS.len());
        assert!(listed.iter().all(|(name, key)| key_named(name) == Some(*key)));
        assert!(listed.is_sorted_by(|a, b| a.1 < b.1), "in the order of the scancodes");
        let words = [
            (Control::Key(57), "keyboard"),
            (Control::Mouse(0x110), "mouse"),
            (Control::PadButton(304), "pad"),
            (Control::PadAxis(5), "pad"),
        ];
        for (control, word) in words {
            assert_eq!(device_word(control), word);
        }
    }
}
