//! A card's picture as a PNG: the same shapes in pixels.
//!
//! Owns handing them to a canvas. Refuses shapes of its own.

use super::drawing::{Drawing, Shape};
use crate::report::picture::{Canvas, Pen, PictureError};

/// The picture as a PNG file, `pixels` a unit.
///
/// # Errors
/// [`PictureError`] for a picture of no size or of more pixels than there can be.
pub fn png(drawing: &Drawing, pixels: u16) -> Result<Vec<u8>, PictureError> {
    let mut canvas = Canvas::new(drawing.size, pixels)?;
    for shape in &drawing.shapes {
        match shape {
            Shape::Area { at, size, fill } => canvas.area(*at, *size, *fill),
            Shape::Dot { at, radius, fill } => canvas.dot(*at, *radius, *fill),
            Shape::Line { from, to, width, stroke } => {
                let line = vec![vec![[from.0, from.1], [to.0, to.1]]];
                canvas.lines(&line, Pen { width: *width, dashes: None }, *stroke);
            }
            Shape::Text { at, text, font, fill } => canvas.text(*at, text, *font, *fill),
        }
    }
    canvas.png()
}
