//! Controls in words for people.
//!
//! Owns what a control is called. Refuses layouts: a key is a place, called as on a US keyboard.

use crate::press::{Control, keys};

/// Keys whose name does not say itself.
const KEYS: [(&str, &str); 27] = [
    ("ArrowUp", "\u{2191}"),
    ("ArrowDown", "\u{2193}"),
    ("ArrowLeft", "\u{2190}"),
    ("ArrowRight", "\u{2192}"),
    ("Minus", "-"),
    ("Equal", "="),
    ("BracketLeft", "["),
    ("BracketRight", "]"),
    ("Semicolon", ";"),
    ("Quote", "'"),
    ("Backquote", "`"),
    ("Backslash", "\\"),
    ("Comma", "comma"),
    ("Period", "full stop"),
    ("Slash", "/"),
    ("IntlBackslash", "the key beside the left Shift"),
    ("ShiftLeft", "left Shift"),
    ("ShiftRight", "right Shift"),
    ("ControlLeft", "left Ctrl"),
    ("ControlRight", "right Ctrl"),
    ("AltLeft", "left Alt"),
    ("AltRight", "right Alt"),
    ("MouseLeft", "left mouse button"),
    ("MouseRight", "right mouse button"),
    ("MouseMiddle", "middle mouse button"),
    ("MouseBack", "mouse button for back"),
    ("MouseForward", "mouse button for forward"),
];

/// Buttons of a pad by where they lie (the kernel's `Documentation/input/gamepad.rst`), codes of
/// `linux/input-event-codes.h`.
const PAD_BUTTONS: [(u16, &str); 17] = [
    (0x130, "lower button"),
    (0x131, "right button"),
    (0x133, "upper button"),
    (0x134, "left button"),
    (0x136, "left shoulder"),
    (0x137, "right shoulder"),
    (0x138, "left trigger's switch"),
    (0x139, "right trigger's switch"),
    (0x13a, "select"),
    (0x13b, "start"),
    (0x13c, "middle button"),
    (0x13d, "left stick pressed"),
    (0x13e, "right stick pressed"),
    (0x220, "cross up"),
    (0x221, "cross down"),
    (0x222, "cross left"),
    (0x223, "cross right"),
];

/// What a control is called: `Space`, `↑`, `left mouse button`, `pad's right trigger`.
pub fn words(control: Control) -> String {
    let name = keys::key_name(control);
    if let Some((_, words)) = KEYS.iter().find(|(known, _)| *known == name) {
        return (*words).to_owned();
    }
    if let Some(first) = control.on_first_pad() {
        return format!("second {}", words(first));
    }
    match control {
        Control::Key(_) => key_words(&name),
        Control::Mouse(code) => format!("mouse button {code}"),
        Control::PadButton(code) => match PAD_BUTTONS.iter().find(|(known, _)| *known == code) {
            Some((_, words)) => format!("pad's {words}"),
            None => format!("pad's button {code}"),
        },
        Control::PadAxis(0x02) => "pad's left trigger".to_owned(),
        Control::PadAxis(0x05) => "pad's right trigger".to_owned(),
        Control::PadAxis(0x09) => "gas pedal".to_owned(),
        Control::PadAxis(0x0a) => "brake pedal".to_owned(),
        Control::PadAxis(code) => format!("pad's axis {code}"),
    }
}

/// `KeyW` → `W`, `Digit1` → `1`, `Numpad7` → `number pad 7`, `PageUp` → `Page Up`.
fn key_words(name: &str) -> String {
    for plain in ["Key", "Digit"] {
        if let Some(printed) = name.strip_prefix(plain) {
            return printed.to_owned();
        }
    }
    let (pad, rest) = match name.strip_prefix("Numpad") {
        Some(rest) => ("number pad ", rest),
        None => ("", name),
    };
    let mut out = pad.to_owned();
    let mut before: Option<char> = None;
    for c in rest.chars() {
        if c.is_uppercase() && before.is_some_and(char::is_lowercase) {
            out.push(' ');
        }
        out.push(c);
        before = Some(c);
    }
    out
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn controls_are_called_as_people_call_them() {
        for (name, called) in [
            ("Space", "Space"),
            ("KeyW", "W"),
            ("Digit1", "1"),
            ("ArrowUp", "\u{2191}"),
            ("Numpad7", "number pad 7"),
            ("NumpadAdd", "number pad Add"),
            ("PageUp", "Page Up"),
            ("F11", "F11"),
            ("ShiftLeft", "left Shift"),
            ("MouseLeft", "left mouse button"),
            ("PadButton304", "pad's lower button"),
            ("PadAxis5", "pad's right trigger"),
            ("PadAxis9", "gas pedal"),
            ("PadButton288", "pad's button 288"),
        ] {
            assert_eq!(words(keys::key_named(name).unwrap()), called);
        }
    }

    #[test]
    fn no_two_keys_are_called_the_same() {
        let all: Vec<String> = keys::named_keys().map(|(_, control)| words(control)).collect();
        let once: BTreeSet<&String> = all.iter().collect();
        assert_eq!(once.len(), all.len());
        assert!(all.iter().all(|words| !words.trim().is_empty()));
        assert!(KEYS.iter().all(|(name, _)| keys::key_named(name).is_some()));
    }
}
