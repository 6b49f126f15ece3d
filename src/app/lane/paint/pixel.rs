//! The painter's small tools: colours as floats, smooth steps, noise, dither, path and pixmap
//! helpers.
//!
//! Owns arithmetic on single pixels. Refuses knowledge of what is painted.

use tiny_skia::{
    Color, FillRule, GradientStop, LinearGradient, Paint, Path, PathBuilder, Pixmap, Point,
    RadialGradient, Shader, SpreadMode, Stroke, Transform,
};

use crate::app::theme::palette::Rgb;

/// Longest side of any picture, px; larger requests are clamped.
pub const MAX_SIDE_PX: u32 = 8192;

/// A picture and the window pixel of its upper left corner.
#[derive(Debug, Clone)]
pub struct Placed {
    /// The picture.
    pub pixmap: Pixmap,
    /// Left edge in the window, px.
    pub x_px: f32,
    /// Upper edge in the window, px.
    pub y_px: f32,
}

/// The bytes of a picture, row by row from the top, RGBA in sRGB with straight (not
/// premultiplied) alpha.
pub fn straight_rgba(pixmap: Pixmap) -> Vec<u8> {
    pixmap.take_demultiplied()
}

/// A colour while it is worked on: sRGB channels, 0 to 255, not yet rounded.
pub(super) type Tone = [f32; 3];

/// An empty picture; sides are clamped to 1..=[`MAX_SIDE_PX`].
pub(super) fn empty(width_px: u32, height_px: u32) -> Pixmap {
    Pixmap::new(width_px.clamp(1, MAX_SIDE_PX), height_px.clamp(1, MAX_SIDE_PX))
        .expect("both sides are between 1 and the longest side")
}

/// A palette colour to work on.
pub(super) fn tone(colour: Rgb) -> Tone {
    [f32::from(colour.0), f32::from(colour.1), f32::from(colour.2)]
}

/// From `a` (t = 0) to `b` (t = 1).
pub(super) fn mix(a: Tone, b: Tone, t: f32) -> Tone {
    [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t, a[2] + (b[2] - a[2]) * t]
}

/// All channels times `by`.
pub(super) fn scaled(a: Tone, by: f32) -> Tone {
    [a[0] * by, a[1] * by, a[2] * by]
}

/// 0 below `from`, 1 above `to`, smooth between; `from` may exceed `to` for a falling step.
pub(super) fn smooth(from: f32, to: f32, x: f32) -> f32 {
    let t = ((x - from) / (to - from)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// The colour at `t` of a ramp of (place, colour) stops in rising order.
pub(super) fn ramp(stops: &[(f32, Tone)], t: f32) -> Tone {
    let mut below = stops[0];
    for &stop in stops {
        if t <= stop.0 {
            let width = stop.0 - below.0;
            let share = if width > 0.0 { (t - below.0) / width } else { 1.0 };
            return mix(below.1, stop.1, share.clamp(0.0, 1.0));
        }
        below = stop;
    }
    below.1
}

/// A well mixed number from two whole ones; the same every time.
pub(super) fn hash(x: i32, y: i32) -> u32 {
    let mut h = (x as u32).wrapping_mul(0x9e37_79b1) ^ (y as u32).wrapping_mul(0x85eb_ca77);
    h = (h ^ (h >> 15)).wrapping_mul(0x2c1b_3c6d);
    h = (h ^ (h >> 12)).wrapping_mul(0x297a_2d39);
    h ^ (h >> 15)
}

/// [`hash`] as a number from 0 to 1.
pub(super) fn hash01(x: i32, y: i32) -> f32 {
    (hash(x, y) >> 8) as f32 / 16_777_216.0
}

/// Smooth noise over the plane, 0 to 1, one hill per unit.
pub(super) fn noise(x: f32, y: f32) -> f32 {
    let (fx, fy) = (x.floor(), y.floor());
    let (ix, iy) = (fx as i32, fy as i32);
    let (tx, ty) = (x - fx, y - fy);
    let (sx, sy) = (tx * tx * (3.0 - 2.0 * tx), ty * ty * (3.0 - 2.0 * ty));
    let (nw, ne) = (hash01(ix, iy), hash01(ix + 1, iy));
    let (sw, se) = (hash01(ix, iy + 1), hash01(ix + 1, iy + 1));
    let upper = nw + (ne - nw) * sx;
    upper + (sw + (se - sw) * sx - upper) * sy
}

/// Noise for rounding to 8 bits without bands: triangular, −1 to 1, from the pixel's place.
pub(super) fn dither(x: i32, y: i32) -> f32 {
    let h = hash(x, y);
    ((h & 0xffff) as f32 + (h >> 16) as f32) / 65_535.0 - 1.0
}

/// Writes an opaque pixel, dithered.
pub(super) fn put(pixel: &mut [u8], colour: Tone, x: i32, y: i32) {
    let noise = dither(x, y);
    for (byte, channel) in pixel.iter_mut().zip(colour) {
        *byte = (channel + noise + 0.5).clamp(0.0, 255.0) as u8;
    }
    pixel[3] = 255;
}

/// Writes a pixel of the given colour and alpha (0 to 1), premultiplied, alpha dithered when it
/// lies strictly between.
pub(super) fn put_alpha(pixel: &mut [u8], colour: Tone, alpha: f32, x: i32, y: i32) {
    let exact = alpha.clamp(0.0, 1.0) * 255.0;
    let noise = if exact > 0.0 && exact < 254.5 { 0.5 * dither(x, y) } else { 0.0 };
    let a = (exact + noise + 0.5).clamp(0.0, 255.0).floor();
    for (byte, channel) in pixel.iter_mut().zip(colour) {
        // No channel may exceed alpha in a premultiplied picture.
        *byte = (channel.clamp(0.0, 255.0) * a / 255.0 + 0.5).min(a) as u8;
    }
    pixel[3] = a as u8;
}

/// A paint of one colour, alpha 0 to 1, edges smoothed.
pub(super) fn ink(colour: Tone, alpha: f32) -> Paint<'static> {
    Paint { shader: Shader::SolidColor(skia(colour, alpha)), anti_alias: true, ..Paint::default() }
}

/// A paint from a shader, edges smoothed; `None` (a degenerate gradient) becomes `fallback`.
pub(super) fn shade(shader: Option<Shader<'_>>, fallback: Tone) -> Paint<'_> {
    match shader {
        Some(shader) => Paint { shader, anti_alias: true, ..Paint::default() },
        None => ink(fallback, 1.0),
    }
}

/// A gradient along the line between two points; `None` when they coincide.
pub(super) fn gradient(
    from: (f32, f32),
    to: (f32, f32),
    stops: &[(f32, Tone)],
) -> Option<Shader<'static>> {
    LinearGradient::new(
        Point::from_xy(from.0, from.1),
        Point::from_xy(to.0, to.1),
        stops.iter().map(|&(at, colour)| GradientStop::new(at, skia(colour, 1.0))).collect(),
        SpreadMode::Pad,
        Transform::identity(),
    )
}

/// A gradient that changes only with the height, from one ordinate to another.
pub(super) fn down(from: f32, to: f32, stops: &[(f32, Tone)]) -> Option<Shader<'static>> {
    gradient((0.0, from), (0.0, to), stops)
}

/// The painter's colour type.
pub(super) fn skia(colour: Tone, alpha: f32) -> Color {
    let c = |channel: f32| (channel / 255.0).clamp(0.0, 1.0);
    Color::from_rgba(c(colour[0]), c(colour[1]), c(colour[2]), alpha.clamp(0.0, 1.0))
        .expect("all four are clamped to 0..=1")
}

/// A closed shape through straight corners.
pub(super) fn polygon(points: &[(f32, f32)]) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for (i, &(x, y)) in points.iter().enumerate() {
        if i == 0 {
            builder.move_to(x, y);
        } else {
            builder.line_to(x, y);
        }
    }
    builder.close();
    builder.finish()
}

/// A soft shadow on the ground, seen flat: an ellipse that fades outwards. Pure black, because
/// any other colour cannot be told from its rounding where the alpha is faint.
pub(super) fn ground_shadow(
    pixmap: &mut Pixmap,
    half: (f32, f32),
    centre: (f32, f32),
    depth: f32,
    place: Transform,
) {
    let stop = |at: f32, share: f32| GradientStop::new(at, skia([0.0; 3], depth * share));
    let shader = RadialGradient::new(
        Point::zero(),
        0.0,
        Point::zero(),
        1.0,
        vec![stop(0.0, 1.0), stop(0.55, 0.86), stop(0.82, 0.36), stop(1.0, 0.0)],
        SpreadMode::Pad,
        Transform::identity(),
    );
    let squeeze = Transform::from_scale(half.0, half.1).post_translate(centre.0, centre.1);
    if let Some(shader) = shader {
        let paint = shade(Some(shader), [0.0; 3]);
        fill(pixmap, PathBuilder::from_circle(0.0, 0.0, 1.0), &paint, squeeze.post_concat(place));
    }
}

/// A rectangle with round corners, from its edges.
pub(super) fn round_rect(x: f32, y: f32, width: f32, height: f32, radius: f32) -> Option<Path> {
    let r = radius.min(width / 2.0).min(height / 2.0).max(0.0);
    // Distance of the control points that makes a cubic follow a quarter circle.
    let k = r * 0.447_715;
    let (right, bottom) = (x + width, y + height);
    let mut b = PathBuilder::new();
    b.move_to(x + r, y);
    b.line_to(right - r, y);
    b.cubic_to(right - k, y, right, y + k, right, y + r);
    b.line_to(right, bottom - r);
    b.cubic_to(right, bottom - k, right - k, bottom, right - r, bottom);
    b.line_to(x + r, bottom);
    b.cubic_to(x + k, bottom, x, bottom - k, x, bottom - r);
    b.line_to(x, y + r);
    b.cubic_to(x, y + k, x + k, y, x + r, y);
    b.close();
    b.finish()
}

/// Fills a shape; a degenerate one is skipped.
pub(super) fn fill(pixmap: &mut Pixmap, path: Option<Path>, paint: &Paint<'_>, place: Transform) {
    if let Some(path) = path {
        pixmap.fill_path(&path, paint, FillRule::Winding, place, None);
    }
}

/// Strokes a shape; a degenerate one is skipped.
pub(super) fn outline(
    pixmap: &mut Pixmap,
    path: Option<Path>,
    paint: &Paint<'_>,
    width_px: f32,
    place: Transform,
) {
    if let Some(path) = path {
        let stroke = Stroke { width: width_px, ..Stroke::default() };
        pixmap.stroke_path(&path, paint, &stroke, place, None);
    }
}

/// Strokes a straight line.
pub(super) fn line(
    pixmap: &mut Pixmap,
    from: (f32, f32),
    to: (f32, f32),
    paint: &Paint<'_>,
    width_px: f32,
) {
    let mut builder = PathBuilder::new();
    builder.move_to(from.0, from.1);
    builder.line_to(to.0, to.1);
    outline(pixmap, builder.finish(), paint, width_px, Transform::identity());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_premultiplied_pixel_never_exceeds_its_alpha() {
        for i in 0..1000 {
            let mut pixel = [0u8; 4];
            put_alpha(&mut pixel, [255.0, 200.0, 300.0], i as f32 / 999.0, i, 7);
            assert!(pixel[..3].iter().all(|&c| c <= pixel[3]));
        }
    }

    #[test]
    fn dither_is_centred_on_zero_and_stays_within_one() {
        let mut sum = 0.0f64;
        for y in 0..100 {
            for x in 0..100 {
                let d = dither(x, y);
                assert!((-1.0..=1.0).contains(&d));
                sum += f64::from(d);
            }
        }
        // Triangular noise has SD 0.41, so the mean of 10 000 has SD 0.004.
        assert!((sum / 10_000.0).abs() < 0.02);
    }

    #[test]
    fn a_faint_shadow_has_no_bright_specks_once_its_alpha_is_straight() {
        let mut pixmap = empty(120, 40);
        ground_shadow(&mut pixmap, (55.0, 14.0), (60.0, 20.0), 0.7, Transform::identity());
        let bytes = straight_rgba(pixmap);
        assert!(bytes.chunks_exact(4).any(|p| p[3] > 0 && p[3] < 4), "it does fade out");
        assert!(bytes.chunks_exact(4).all(|p| p[..3] == [0, 0, 0]));
    }

    #[test]
    fn any_size_gives_a_picture() {
        assert_eq!((empty(0, 0).width(), empty(0, 0).height()), (1, 1));
        assert_eq!(empty(u32::MAX, 1).width(), MAX_SIDE_PX);
    }
}
