//! The physical control and the two things it can do.
//!
//! Owns identity only. Refuses names (`keys` has them), bindings and time.

/// Which way a control moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum EdgeKind {
    /// Pressed.
    Down,
    /// Let go.
    Up,
}

/// A physical control, the same whichever source or keyboard layout speaks of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Control {
    /// A key by its place on the keyboard: the scancode of the Linux header
    /// `linux/input-event-codes.h`.
    Key(u16),
    /// A button of a mouse: the code of the same header, made by [`keys::mouse_button`], which gives
    /// the two pairs of thumb buttons one code each.
    ///
    /// [`keys::mouse_button`]: crate::press::keys::mouse_button
    Mouse(u16),
    /// A button of a pad, pedal or button box: on Linux the code of the same header, elsewhere the
    /// lower half of the code the pad library gives.
    PadButton(u16),
    /// An axis of a pad or pedal with a travel, down beyond a threshold: the code of the same
    /// header's axes, elsewhere the lower half of the code the pad library gives.
    PadAxis(u16),
}

/// No code of the header is that large (KEY_MAX is 0x2ff).
const SECOND_PAD: u16 = 0x8000;

impl Control {
    /// The same button or axis on the second pad, where two people have one each.
    pub fn on_second_pad(self) -> Self {
        match self {
            Self::Key(_) | Self::Mouse(_) => self,
            Self::PadButton(code) => Self::PadButton(code | SECOND_PAD),
            Self::PadAxis(code) => Self::PadAxis(code | SECOND_PAD),
        }
    }

    /// What it is on the first pad; `None` where it is on that one, or on none.
    pub fn on_first_pad(self) -> Option<Self> {
        match self {
            Self::PadButton(code) if code & SECOND_PAD != 0 => {
                Some(Self::PadButton(code & !SECOND_PAD))
            }
            Self::PadAxis(code) if code & SECOND_PAD != 0 => {
                Some(Self::PadAxis(code & !SECOND_PAD))
            }
            _ => None,
        }
    }

    /// Whether it belongs to a device the window does not tell of.
    pub fn is_on_pad(self) -> bool {
        matches!(self, Self::PadButton(_) | Self::PadAxis(_))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_a_button_and_an_axis_of_the_same_code_are_different_controls() {
        assert_ne!(Control::Key(304), Control::PadButton(304));
        assert_ne!(Control::Key(272), Control::Mouse(272));
        assert!(!Control::Mouse(272).is_on_pad());
        assert_ne!(Control::PadAxis(304), Control::PadButton(304));
        assert!(!Control::Key(304).is_on_pad() && Control::PadAxis(304).is_on_pad());
    }

    #[test]
    fn a_control_of_the_second_pad_leads_back_to_the_same_one_of_the_first() {
        for code in 0..0x300 {
            for first in [Control::PadButton(code), Control::PadAxis(code)] {
                let second = first.on_second_pad();
                assert_ne!(second, first);
                assert_eq!(second.on_second_pad(), second);
                assert_eq!(second.on_first_pad(), Some(first));
                assert_eq!(first.on_first_pad(), None);
            }
            for of_neither in [Control::Key(code), Control::Mouse(code)] {
                assert_eq!(of_neither.on_second_pad(), of_neither);
                assert_eq!(of_neither.on_first_pad(), None);
            }
        }
    }
}
