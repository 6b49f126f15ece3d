//! Shapes in pixels, and the pixels as a PNG.
//!
//! Owns the painting. Refuses shapes of its own.

use ab_glyph::{OutlineCurve, Point};
use tiny_skia::{
    Color, FillRule, LineJoin, Mask, Paint, Path, PathBuilder, Pixmap, Rect, Stroke, StrokeDash,
    Transform,
};

use super::{PictureError, Type};
use crate::report::palette::Rgb;

/// How a line is drawn, in units of the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pen {
    /// Its width.
    pub width: f64,
    /// Drawn and left free, in turns.
    pub dashes: Option<[f64; 2]>,
}

/// A picture being painted.
pub struct Canvas {
    pixels: Pixmap,
    seen_at: Transform,
    within: Option<Mask>,
}

impl Canvas {
    /// A picture of a size in its own units, `scale` pixels a unit, with nothing on it.
    ///
    /// # Errors
    /// [`PictureError::Size`] for a picture of no size or of more pixels than there can be.
    pub fn new(size: (f64, f64), scale: u16) -> Result<Self, PictureError> {
        let scale = f64::from(scale);
        let (width, height) = (scale * size.0, scale * size.1);
        let refused = PictureError::Size { width, height };
        let pixels = Pixmap::new(width.round() as u32, height.round() as u32).ok_or(refused)?;
        Ok(Self {
            pixels,
            seen_at: Transform::from_scale(scale as f32, scale as f32),
            within: None,
        })
    }

    /// Cuts off what is painted from now on outside of a rectangle.
    pub fn keep_within(&mut self, at: (f64, f64), size: (f64, f64)) {
        let (width, height) = (self.pixels.width(), self.pixels.height());
        let mut mask = Mask::new(width, height);
        if let (Some(mask), Some(area)) = (&mut mask, rectangle(at, size)) {
            let area = PathBuilder::from_rect(area);
            mask.fill_path(&area, FillRule::Winding, true, self.seen_at);
        }
        self.within = mask;
    }

    /// Paints anywhere again.
    pub fn keep_anywhere(&mut self) {
        self.within = None;
    }

    /// A filled rectangle: its upper left corner and its size.
    pub fn area(&mut self, at: (f64, f64), size: (f64, f64), fill: Rgb) {
        if let Some(area) = rectangle(at, size) {
            self.pixels.fill_rect(area, &colour(fill, 1.0), self.seen_at, self.within.as_ref());
        }
    }

    /// A filled circle.
    pub fn dot(&mut self, at: (f64, f64), radius: f64, fill: Rgb) {
        let circle = PathBuilder::from_circle(at.0 as f32, at.1 as f32, radius as f32);
        self.fill(circle, &colour(fill, 1.0), self.seen_at);
    }

    /// Lines, each through its points in order.
    pub fn lines(&mut self, lines: &[Vec<[f64; 2]>], pen: Pen, ink: Rgb) {
        let dash =
            pen.dashes.and_then(|d| StrokeDash::new(d.map(|length| length as f32).to_vec(), 0.0));
        let stroke = Stroke {
            width: pen.width as f32,
            line_join: LineJoin::Round,
            dash,
            ..Stroke::default()
        };
        if let Some(path) = joined(lines, false) {
            let within = self.within.as_ref();
            self.pixels.stroke_path(&path, &colour(ink, 1.0), &stroke, self.seen_at, within);
        }
    }

    /// Areas, each inside of its points, that hide so much of the ground, 0 to 1.
    pub fn areas(&mut self, rounds: &[Vec<[f64; 2]>], fill: Rgb, opacity: f64) {
        self.fill(joined(rounds, true), &colour(fill, opacity), self.seen_at);
    }

    /// A line of text that begins at `at` on its baseline and runs to the right.
    pub fn text(&mut self, at: (f64, f64), text: &str, font: Type, fill: Rgb) {
        self.letters(at, text, font, fill, self.seen_at);
    }

    /// The same, running upwards.
    pub fn text_upwards(&mut self, at: (f64, f64), text: &str, font: Type, fill: Rgb) {
        let turned = Transform::from_rotate_at(-90.0, at.0 as f32, at.1 as f32);
        self.letters(at, text, font, fill, self.seen_at.pre_concat(turned));
    }

    /// The ground around where a line of text is to stand, so wide in all.
    pub fn text_ground(&mut self, at: (f64, f64), text: &str, font: Type, ground: Rgb, width: f64) {
        let pen = Stroke { width: width as f32, ..Stroke::default() };
        for letter in font.outlines(text, at).iter().filter_map(|letter| contours(letter)) {
            let within = self.within.as_ref();
            self.pixels.stroke_path(&letter, &colour(ground, 1.0), &pen, self.seen_at, within);
        }
    }

    /// The picture as a PNG file.
    ///
    /// # Errors
    /// [`PictureError::Png`] if no file can be made of it.
    pub fn png(&self) -> Result<Vec<u8>, PictureError> {
        self.pixels.encode_png().map_err(|error| PictureError::Png { why: error.to_string() })
    }

    fn letters(&mut self, at: (f64, f64), text: &str, font: Type, fill: Rgb, seen_at: Transform) {
        for letter in font.outlines(text, at) {
            self.fill(contours(&letter), &colour(fill, 1.0), seen_at);
        }
    }

    fn fill(&mut self, path: Option<Path>, paint: &Paint, seen_at: Transform) {
        if let Some(path) = path {
            let within = self.within.as_ref();
            self.pixels.fill_path(&path, paint, FillRule::Winding, seen_at, within);
        }
    }
}

fn rectangle(at: (f64, f64), size: (f64, f64)) -> Option<Rect> {
    Rect::from_xywh(at.0 as f32, at.1 as f32, size.0 as f32, size.1 as f32)
}

/// Points joined in order, one line after the other.
fn joined(lines: &[Vec<[f64; 2]>], closed: bool) -> Option<Path> {
    let mut path = PathBuilder::new();
    for line in lines {
        let [[x, y], rest @ ..] = line.as_slice() else { continue };
        path.move_to(*x as f32, *y as f32);
        rest.iter().for_each(|[x, y]| path.line_to(*x as f32, *y as f32));
        if closed {
            path.close();
        }
    }
    path.finish()
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

fn colour(Rgb(r, g, b): Rgb, opacity: f64) -> Paint<'static> {
    let mut paint = Paint { anti_alias: true, ..Paint::default() };
    paint.set_color(Color::from_rgba8(r, g, b, (255.0 * opacity).round() as u8));
    paint
}
