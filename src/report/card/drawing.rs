//! A picture as a list of shapes, and the same as SVG.
//!
//! Owns shapes in the picture's own units and their elements. Refuses to know what they mean.

use std::fmt::Write;

use crate::report::palette::Rgb;
use crate::report::picture::Type;
use crate::report::safe_text::escaped;

/// Families that are tried in turn; lines keep the measured width in any of them.
const FAMILIES: &str = "Inter, system-ui, sans-serif";

/// A picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// Its size in its own units.
    pub size: (f64, f64),
    /// What it shows, read out in its place.
    pub title: String,
    /// From the back to the front.
    pub shapes: Vec<Shape>,
}

/// One shape, in the units of the picture.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A filled rectangle: its upper left corner and its size.
    Area { at: (f64, f64), size: (f64, f64), fill: Rgb },
    /// A filled circle.
    Dot { at: (f64, f64), radius: f64, fill: Rgb },
    /// A straight line.
    Line { from: (f64, f64), to: (f64, f64), width: f64, stroke: Rgb },
    /// A line of text that begins at `at` on its baseline.
    Text { at: (f64, f64), text: String, font: Type, fill: Rgb },
}

impl Drawing {
    /// A picture with nothing on it yet.
    pub fn new(size: (f64, f64), title: impl Into<String>) -> Self {
        Self { size, title: title.into(), shapes: Vec::new() }
    }

    /// A filled rectangle.
    pub fn area(&mut self, at: (f64, f64), size: (f64, f64), fill: Rgb) {
        self.shapes.push(Shape::Area { at, size, fill });
    }

    /// A filled circle.
    pub fn dot(&mut self, at: (f64, f64), radius: f64, fill: Rgb) {
        self.shapes.push(Shape::Dot { at, radius, fill });
    }

    /// A straight line.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), width: f64, stroke: Rgb) {
        self.shapes.push(Shape::Line { from, to, width, stroke });
    }

    /// Text that begins at `at`.
    pub fn text(&mut self, at: (f64, f64), font: Type, fill: Rgb, text: &str) {
        self.shapes.push(Shape::Text { at, text: text.to_owned(), font, fill });
    }

    /// Text that ends at `at`.
    pub fn text_to(&mut self, at: (f64, f64), font: Type, fill: Rgb, text: &str) {
        self.text((at.0 - font.width(text), at.1), font, fill, text);
    }

    /// The picture as an SVG file, so many millimetres a unit.
    pub fn svg(&self, mm_per_unit: f64) -> String {
        let (width, height) = self.size;
        let mut out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}mm\" height=\"{}mm\" \
             viewBox=\"0 0 {width} {height}\" font-family=\"{FAMILIES}\">\n<title>{}</title>\n",
            mm_per_unit * width,
            mm_per_unit * height,
            escaped(&self.title)
        );
        for shape in &self.shapes {
            let _ = match shape {
                Shape::Area { at, size, fill } => writeln!(
                    out,
                    "<rect x=\"{:.2}\" y=\"{:.2}\" width=\"{:.2}\" height=\"{:.2}\" fill=\"{}\"/>",
                    at.0,
                    at.1,
                    size.0,
                    size.1,
                    hex(*fill)
                ),
                Shape::Dot { at, radius, fill } => writeln!(
                    out,
                    "<circle cx=\"{:.2}\" cy=\"{:.2}\" r=\"{radius:.2}\" fill=\"{}\"/>",
                    at.0,
                    at.1,
                    hex(*fill)
                ),
                Shape::Line { from, to, width, stroke } => writeln!(
                    out,
                    "<path d=\"M{:.2} {:.2}L{:.2} {:.2}\" stroke=\"{}\" stroke-width=\"{width}\"/>",
                    from.0,
                    from.1,
                    to.0,
                    to.1,
                    hex(*stroke)
                ),
                Shape::Text { at, text, font, fill } => writeln!(
                    out,
                    "<text x=\"{:.2}\" y=\"{:.2}\" font-size=\"{}\" font-weight=\"{}\" fill=\"{}\" \
                     textLength=\"{:.2}\" lengthAdjust=\"spacingAndGlyphs\">{}</text>",
                    at.0,
                    at.1,
                    font.size,
                    if font.medium { 500 } else { 400 },
                    hex(*fill),
                    font.width(text),
                    escaped(text)
                ),
            };
        }
        out.push_str("</svg>\n");
        out
    }
}

fn hex(Rgb(r, g, b): Rgb) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}
