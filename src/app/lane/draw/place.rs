//! From the painter's pixels to the engine's units.
//!
//! Owns the one conversion: the painter counts physical pixels from the upper left corner, the
//! engine logical ones from the middle, upwards. Refuses content.

use crate::app::lane::paint::straight_rgba;
use crate::app::lane::view::RectPx;
use bevy::asset::RenderAssetUsages;
use bevy::prelude::*;
use bevy::render::render_resource::{Extent3d, TextureDimension, TextureFormat};
use tiny_skia::Pixmap;

/// The window as the painter and the engine see it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Physical width, px.
    pub width: u32,
    /// Physical height, px.
    pub height: u32,
    /// Physical pixels per logical one.
    pub scale: f32,
}

impl Place {
    /// The place of a window.
    pub fn of(window: &Window) -> Self {
        Self {
            width: window.physical_width().max(1),
            height: window.physical_height().max(1),
            scale: window.scale_factor().max(0.1),
        }
    }

    /// Physical pixels of `px` at the reference height of 720.
    pub fn at720(&self, px: f32) -> f32 {
        px * self.height as f32 / 720.0
    }

    /// A physical length in logical units.
    pub fn length(&self, px: f32) -> f32 {
        px / self.scale
    }

    /// A point, `z` being the layer.
    pub fn point(&self, x: f32, y: f32, z: f32) -> Vec3 {
        let (middle_x, middle_y) = (self.width as f32 / 2.0, self.height as f32 / 2.0);
        Vec3::new((x - middle_x) / self.scale, (middle_y - y) / self.scale, z)
    }

    /// The middle of a rectangle.
    pub fn middle(&self, rect: RectPx, z: f32) -> Vec3 {
        let (x, y) = rect.centre();
        self.point(x, y, z)
    }

    /// The size of a rectangle.
    pub fn size(&self, rect: RectPx) -> Vec2 {
        Vec2::new(rect.width / self.scale, rect.height / self.scale)
    }
}

/// A painted picture as a texture.
pub fn texture(images: &mut Assets<Image>, pixmap: Pixmap) -> Handle<Image> {
    let size =
        Extent3d { width: pixmap.width(), height: pixmap.height(), depth_or_array_layers: 1 };
    images.add(Image::new(
        size,
        TextureDimension::D2,
        straight_rgba(pixmap),
        TextureFormat::Rgba8UnormSrgb,
        RenderAssetUsages::RENDER_WORLD,
    ))
}

/// A part of a picture, as the engine cuts it.
pub fn cut(rect: RectPx) -> Rect {
    Rect::new(rect.x, rect.y, rect.right(), rect.bottom())
}
