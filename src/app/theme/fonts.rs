//! The type of every screen, built into the program.
//!
//! Owns the font files' bytes and their handles. Refuses sizes.

use bevy::prelude::*;
use bevy::text::FontSource;

/// Inter Regular.
pub const REGULAR: &[u8] = include_bytes!("../../../assets/fonts/Inter-Regular.otf");
/// Inter Medium.
pub const MEDIUM: &[u8] = include_bytes!("../../../assets/fonts/Inter-Medium.otf");

/// Handles of the fonts.
#[derive(Resource, Debug, Clone)]
pub struct Fonts {
    /// Running text.
    pub regular: FontSource,
    /// Figures and prompts.
    pub medium: FontSource,
}

pub(super) fn plugin(app: &mut App) {
    let mut fonts = app.world_mut().resource_mut::<Assets<Font>>();
    let regular = fonts.add(Font::from_bytes(REGULAR.to_vec())).into();
    let medium = fonts.add(Font::from_bytes(MEDIUM.to_vec())).into();
    app.insert_resource(Fonts { regular, medium });
}
