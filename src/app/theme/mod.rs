//! The look: colours and type.
//!
//! Owns the palette, the themes and the fonts. Refuses layout.

mod fonts;
mod ink;
pub use crate::report::palette;

pub use fonts::{Fonts, MEDIUM, REGULAR};
pub use ink::{Ink, Theme};

use bevy::prelude::*;

pub(super) fn plugin(app: &mut App) {
    app.add_plugins(fonts::plugin);
}

/// A palette colour for the engine.
pub fn color(rgb: palette::Rgb) -> Color {
    Color::srgb_u8(rgb.0, rgb.1, rgb.2)
}
