//! A picture as a PNG: the same shapes in pixels.
//!
//! Owns the painting. Refuses shapes of its own.

use ab_glyph::{OutlineCurve, Point};
use tiny_skia::{Color, FillRule, Paint, Path, PathBuilder, Pixmap, Rect, Stroke, Transform};

use super::CardError;
use super::drawing::{Drawing, Shape};
use crate::report::palette::Rgb;

/// The picture as a PNG file, `pixels` a unit.
///
/// # Errors
/// [`CardError`] for a picture of no size or of more pixels than there can be.
pub fn png(drawing: &Drawing, pixels: u16) -> Result<Vec<u8>, CardError> {
    let scale = f64::from(pixels);
    let (width, height) = (scale * drawing.size.0, scale * drawing.size.1);
    let size = CardError::Size { width, height };
    let mut canvas = Pixmap::new(width.round() as u32, height.round() as u32).ok_or(size)?;
    let seen_at = Transform::from_scale(scale as f32, scale as f32);
    for shape in &drawing.shapes {
        paint(&mut canvas, shape, seen_at);
    }
    canvas.encode_png().map_err(|error| CardError::Png { why: error.to_string() })
}

fn paint(canvas: &mut Pixmap, shape: &Shape, seen_at: Transform) {
    match shape {
        Shape::Area { at, size, fill } => {
            let area = Rect::from_xywh(at.0 as f32, at.1 as f32, size.0 as f32, size.1 as f32);
            if let Some(area) = area {
                canvas.fill_rect(area, &colour(*fill), seen_at, None);
            }
        }
        Shape::Dot { at, radius, fill } => {
            let circle = PathBuilder::from_circle(at.0 as f32, at.1 as f32, *radius as f32);
            fill_path(canvas, circle, *fill, seen_at);
        }
        Shape::Line { from, to, width, stroke } => {
            let mut path = PathBuilder::new();
            path.move_to(from.0 as f32, from.1 as f32);
            path.line_to(to.0 as f32, to.1 as f32);
            let pen = Stroke { width: *width as f32, ..Stroke::default() };
            if let Some(path) = path.finish() {
                canvas.stroke_path(&path, &colour(*stroke), &pen, seen_at, None);
            }
        }
        Shape::Text { at, text, font, fill } => {
            for letter in font.outlines(text, *at) {
                fill_path(canvas, contours(&letter), *fill, seen_at);
            }
        }
    }
}

fn fill_path(canvas: &mut Pixmap, path: Option<Path>, fill: Rgb, seen_at: Transform) {
    if let Some(path) = path {
        canvas.fill_path(&path, &colour(fill), FillRule::Winding, seen_at, None);
    }
}

/// The curves of a letter end to end; where one does not go on from the last, a new contour begins.
fn contours(curves: &[OutlineCurve]) -> Option<Path> {
    let mut path = PathBuilder::new();
    let mut pen: Option<Point> = None;
    for curve in curves {
        let (start, end) = match curve {
            OutlineCurve::Line(start, end)
            | OutlineCurve::Quad(start, _, end)
            | OutlineCurve::Cubic(start, _, _, end) => (*start, *end),
        };
        if pen != Some(start) {
            if pen.is_some() {
                path.close();
            }
            path.move_to(start.x, start.y);
        }
        match curve {
            OutlineCurve::Line(_, b) => path.line_to(b.x, b.y),
            OutlineCurve::Quad(_, b, c) => path.quad_to(b.x, b.y, c.x, c.y),
            OutlineCurve::Cubic(_, b, c, d) => path.cubic_to(b.x, b.y, c.x, c.y, d.x, d.y),
        }
        pen = Some(end);
    }
    path.close();
    path.finish()
}

fn colour(Rgb(r, g, b): Rgb) -> Paint<'static> {
    let mut paint = Paint { anti_alias: true, ..Paint::default() };
    paint.set_color(Color::from_rgba8(r, g, b, 255));
    paint
}
