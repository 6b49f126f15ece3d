//! The lights along the strip: low masts on both sides, receding, each with a soft glow.
//!
//! Owns the only light sources of the backdrop, nearly white so that they compete with no lamp.
//! Refuses the lamps of the tree.

use tiny_skia::{Pixmap, Transform};

use super::pixel::{Tone, dither, fill, ink, line, round_rect, smooth};
use crate::app::lane::view::View;

/// Masts from the centre line, ft; between one and the next, ft; their height, ft. Chosen,
/// because they then recede through the whole picture below its upper edge.
const MAST_X_FT: f32 = 41.0;
const SPACING_FT: f32 = 55.0;
const HEIGHT_FT: f32 = 16.5;
/// The first and the last mast, ft beyond the start line.
const FIRST_FT: f32 = 65.0;
const LAST_FT: f32 = 2640.0;
const GLOW: Tone = [255.0, 238.0, 208.0];

/// Paints masts and glows, the farthest first.
pub(super) fn paint_strip_lights(pixmap: &mut Pixmap, view: &View) {
    let masts = ((LAST_FT - FIRST_FT) / SPACING_FT) as i32;
    for mast in (0..=masts).rev() {
        let z_ft = FIRST_FT + mast as f32 * SPACING_FT;
        for side in [-1.0f32, 1.0] {
            paint_mast(pixmap, view, side * MAST_X_FT, z_ft);
        }
    }
}

fn paint_mast(pixmap: &mut Pixmap, view: &View, x_ft: f32, z_ft: f32) {
    let scale = view.scale_at(z_ft);
    let (foot, top) = (view.project(x_ft, 0.0, z_ft), view.project(x_ft, HEIGHT_FT, z_ft));
    let haze = smooth(200.0, 1500.0, z_ft);
    let far = smooth(LAST_FT, 900.0, z_ft);
    let steel =
        ink([26.0 + 60.0 * haze, 27.0 + 44.0 * haze, 45.0 + 40.0 * haze], (1.0 - 0.5 * haze) * far);
    line(pixmap, foot, top, &steel, (0.20 * scale).max(0.5));
    // The head: a short bar that looks inwards, its lamp under it.
    let inwards = -x_ft.signum();
    let bar = round_rect(
        top.0 + if inwards > 0.0 { -0.2 } else { -1.3 } * scale,
        top.1 - 0.18 * scale,
        1.5 * scale,
        0.30 * scale,
        0.1 * scale,
    );
    fill(pixmap, bar, &steel, Transform::identity());
    let lamp = (top.0 + inwards * 0.7 * scale, top.1 + 0.12 * scale);
    add_glow(pixmap, lamp, scale, (1.0 - 0.35 * haze) * far);
}

/// Adds a light's glow to what is there: a small core, a soft bloom, both fading to nothing.
fn add_glow(pixmap: &mut Pixmap, centre: (f32, f32), scale: f32, strength: f32) {
    let core = (0.34 * scale).max(0.55);
    let reach = (2.7 * scale).max(3.2);
    let (width, height) = (pixmap.width() as i32, pixmap.height() as i32);
    let clip = |low: f32, high: f32, limit: i32| {
        ((low.floor().max(0.0)) as i32, (high.ceil().min(limit as f32)) as i32)
    };
    let (x0, x1) = clip(centre.0 - reach, centre.0 + reach, width);
    let (y0, y1) = clip(centre.1 - reach, centre.1 + reach, height);
    let data = pixmap.data_mut();
    for y in y0..y1 {
        for x in x0..x1 {
            let off = (x as f32 + 0.5 - centre.0).hypot(y as f32 + 0.5 - centre.1);
            if off >= reach {
                continue;
            }
            let share = off / reach;
            let bloom = 0.42 * (1.0 - share).powi(3) + 0.16 * (1.0 - share).powi(2);
            let light = (smooth(core * 1.5, core * 0.5, off).max(bloom) * strength).min(0.96);
            let at = ((y * width + x) * 4) as usize;
            for (byte, glow) in data[at..at + 3].iter_mut().zip(GLOW) {
                let before = f32::from(*byte);
                // As light on light: never beyond the colour of the lamp itself.
                let after = before + (glow - before).max(0.0) * light;
                *byte = (after + 0.5 + 0.7 * dither(x, y)).clamp(0.0, 255.0) as u8;
            }
        }
    }
}
