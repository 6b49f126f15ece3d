//! Screens that measure: a few lines of text and a patch, drawn like the lane, without a panel pass.
//!
//! Owns their placing. Refuses content, and everything that would make a frame dearer than the lane's.

use crate::app::theme::{Fonts, color, palette};
use bevy::prelude::*;
use bevy::sprite::Anchor;

/// The window height all sizes are given for.
const REFERENCE_HEIGHT: f32 = 720.0;
/// The left margin at that height.
const LEFT: f32 = 60.0;

/// Anything of such a screen.
#[derive(Component)]
pub struct PlainItem;

/// Line number so and so: its top and its size at the reference height.
#[derive(Component, Debug, Clone, Copy)]
pub struct PlainLine {
    /// Which.
    pub number: usize,
    /// Below the top of the window.
    pub top: f32,
    /// Size of the type.
    pub size: f32,
}

/// The patch: a rectangle around the middle of the right half.
#[derive(Component)]
pub struct Patch;

/// How much a line matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// The headline, and what to do.
    Strong,
    /// Running text.
    Text,
    /// What may be overlooked.
    Muted,
}

/// Puts empty lines up: top and size at the reference height, and weight.
pub fn put_lines(commands: &mut Commands, fonts: &Fonts, lines: &[(f32, f32, Weight)]) {
    for (number, (top, size, weight)) in lines.iter().enumerate() {
        let font = match weight {
            Weight::Strong => fonts.medium.clone(),
            _ => fonts.regular.clone(),
        };
        let ink = if *weight == Weight::Muted { palette::MUTED } else { palette::TEXT };
        commands.spawn((
            PlainItem,
            PlainLine { number, top: *top, size: *size },
            Text2d::new(""),
            TextFont { font, ..TextFont::from_font_size(*size) },
            TextColor(color(ink)),
            Anchor::TOP_LEFT,
            Transform::from_xyz(0.0, 0.0, 1.0),
        ));
    }
}

/// Puts the dark patch up.
pub fn put_patch(commands: &mut Commands) {
    let sprite = Sprite::from_color(color(palette::PANEL_RAISED), Vec2::ONE);
    commands.spawn((PlainItem, Patch, sprite, Transform::from_xyz(0.0, 0.0, 0.5)));
}

/// Height of the patch's middle below the top of the window, share of the window.
pub const PATCH_MIDDLE: f32 = 0.5;

/// Keeps everything in its place while the window changes its size.
pub fn place_plain(
    windows: Query<&Window>,
    mut lines: Query<(&PlainLine, &mut Transform, &mut TextFont), Without<Patch>>,
    mut patches: Query<&mut Transform, With<Patch>>,
) {
    let Ok(window) = windows.single() else { return };
    let (width, height) = (window.width(), window.height());
    let scale = height / REFERENCE_HEIGHT;
    for (line, mut transform, mut font) in &mut lines {
        let (x, y) = (LEFT * scale - width / 2.0, height / 2.0 - line.top * scale);
        // On whole pixels, or the letters blur.
        let at = Vec3::new(x.round(), y.round(), 1.0);
        if transform.translation != at {
            transform.translation = at;
            *font =
                TextFont { font: font.font.clone(), ..TextFont::from_font_size(line.size * scale) };
        }
    }
    for mut patch in &mut patches {
        let size = Vec2::new(width * 0.36, height * 0.5);
        patch.translation = Vec3::new(width * 0.27, height * (0.5 - PATCH_MIDDLE), 0.5);
        patch.scale = size.extend(1.0);
    }
}

/// Writes the lines; what did not change is not touched.
pub fn write_lines(texts: &mut Query<(&PlainLine, &mut Text2d)>, words: &[String]) {
    for (line, mut text) in texts {
        let wanted = words.get(line.number).map_or("", String::as_str);
        if text.0 != wanted {
            wanted.clone_into(&mut text.0);
        }
    }
}

/// Takes everything off.
pub fn clear_plain(mut commands: Commands, items: Query<Entity, With<PlainItem>>) {
    items.iter().for_each(|item| commands.entity(item).despawn());
}
