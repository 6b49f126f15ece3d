//! Colours of the panels by what they mean, in the theme in force.
//!
//! Owns the themes and which is in force. Refuses the lane: its dusk and its lamps are the same in every
//! theme, because a lamp that looks otherwise is another lamp.

use crate::report::palette::{DARK, HIGH_CONTRAST, LIGHT, LINE, Rgb};
use std::sync::atomic::{AtomicU8, Ordering};

/// What a colour means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// The driver's part.
    Driver,
    /// The car's part.
    Car,
    /// Text.
    Text,
    /// Text that may be overlooked.
    Muted,
    /// Risk and losses.
    Risk,
    /// Clear of risk.
    Clear,
    /// The ground.
    Panel,
    /// What is raised from it.
    Raised,
    /// Thin lines and frames.
    Line,
    /// Lines behind a plot, which must not be louder than it.
    Grid,
}

/// How panels look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Theme {
    /// Like the strip at dusk.
    #[default]
    Dusk,
    /// Like paper.
    Paper,
    /// White on black.
    HighContrast,
}

/// The theme in force, by its place: a program has one window and so one theme.
static IN_FORCE: AtomicU8 = AtomicU8::new(0);

impl Theme {
    /// In the order they take turns.
    pub const ALL: [Theme; 3] = [Theme::Dusk, Theme::Paper, Theme::HighContrast];

    /// The theme of a word in the settings; the usual one for any other word.
    pub fn of_word(word: &str) -> Theme {
        Self::ALL.into_iter().find(|theme| theme.word() == word).unwrap_or_default()
    }

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Theme::Dusk => "dusk",
            Theme::Paper => "paper",
            Theme::HighContrast => "high contrast",
        }
    }

    /// The theme after this one.
    pub fn next(self) -> Theme {
        let at = Self::ALL.iter().position(|theme| *theme == self).unwrap_or(0);
        Self::ALL[(at + 1) % Self::ALL.len()]
    }

    /// Puts it in force.
    pub fn put_in_force(self) {
        IN_FORCE.store(self as u8, Ordering::Relaxed);
    }

    fn in_force() -> Theme {
        Self::ALL.get(usize::from(IN_FORCE.load(Ordering::Relaxed))).copied().unwrap_or_default()
    }

    fn colours(self) -> &'static [Rgb; 9] {
        match self {
            Theme::Dusk => &DARK,
            Theme::Paper => &LIGHT,
            Theme::HighContrast => &HIGH_CONTRAST,
        }
    }
}

impl Ink {
    /// Its colour in the theme in force.
    pub fn rgb(self) -> Rgb {
        match (self, Theme::in_force()) {
            (Ink::Grid, Theme::HighContrast) => LINE,
            (Ink::Grid, theme) => theme.colours()[Ink::Line as usize],
            (ink, theme) => theme.colours()[ink as usize],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::palette;

    #[test]
    fn inks_stand_in_the_order_of_the_palette() {
        let inks = [
            (Ink::Driver, palette::DRIVER),
            (Ink::Car, palette::CAR),
            (Ink::Text, palette::TEXT),
            (Ink::Muted, palette::MUTED),
            (Ink::Risk, palette::RISK),
            (Ink::Clear, palette::CLEAR),
            (Ink::Panel, palette::PANEL),
            (Ink::Raised, palette::PANEL_RAISED),
            (Ink::Line, palette::LINE),
        ];
        for (ink, rgb) in inks {
            assert_eq!(Theme::Dusk.colours()[ink as usize], rgb, "{ink:?}");
        }
    }

    #[test]
    fn every_theme_is_found_by_its_word_and_has_its_turn() {
        for theme in Theme::ALL {
            assert_eq!(Theme::of_word(theme.word()), theme);
        }
        assert_eq!(Theme::of_word("pink"), Theme::Dusk);
        assert_eq!(Theme::Dusk.next().next().next(), Theme::Dusk);
    }
}
