//! The shipped type: how wide a text is, where it breaks, the outlines of its letters.
//!
//! Owns measures of Inter, shortening and wrapping. Refuses scripts it has no letters for: they take
//! the room of its empty box, and whoever draws decides how they look.

use std::sync::LazyLock;

use ab_glyph::{Font, FontRef, OutlineCurve};

use crate::report::safe_text::tame;

/// The end of a text that was shortened.
const ELLIPSIS: char = '\u{2026}';
/// No text of a picture is read further than this. Chosen: marks without a width would else fit for ever.
const MOST_CHARS: usize = 400;

static REGULAR: LazyLock<FontRef<'static>> =
    LazyLock::new(|| read(include_bytes!("../../../assets/fonts/Inter-Regular.otf")));
static MEDIUM: LazyLock<FontRef<'static>> =
    LazyLock::new(|| read(include_bytes!("../../../assets/fonts/Inter-Medium.otf")));

fn read(bytes: &'static [u8]) -> FontRef<'static> {
    FontRef::try_from_slice(bytes).expect("the shipped font is one")
}

/// Type of a weight and size, the size in units of the drawing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Type {
    /// From baseline to baseline of text set solid.
    pub size: f64,
    /// The heavier of the two weights.
    pub medium: bool,
}

impl Type {
    /// The lighter weight.
    pub const fn regular(size: f64) -> Self {
        Self { size, medium: false }
    }

    /// The heavier weight.
    pub const fn medium(size: f64) -> Self {
        Self { size, medium: true }
    }

    fn face(self) -> &'static FontRef<'static> {
        if self.medium { &MEDIUM } else { &REGULAR }
    }

    /// Units of the drawing in one unit of the font.
    fn scale(self) -> f64 {
        let per_em = self.face().units_per_em().unwrap_or(1000.0);
        self.size / f64::from(per_em)
    }

    fn advance(self, c: char) -> f64 {
        let face = self.face();
        self.scale() * f64::from(face.h_advance_unscaled(face.glyph_id(c)))
    }

    /// How wide a line of text is.
    pub fn width(self, text: &str) -> f64 {
        text.chars().map(|c| self.advance(c)).sum()
    }

    /// The text in one line no wider than `width`, with an ellipsis where something is left off.
    pub fn shortened(self, text: &str, width: f64) -> String {
        let text = one_line(text);
        if self.width(&text) <= width && !is_long(&text) {
            return text;
        }
        let room = width - self.advance(ELLIPSIS);
        let kept = text[..self.fitting(&text, room)].trim_end();
        format!("{kept}{ELLIPSIS}")
    }

    /// The text in at most so many lines no wider than `width`, broken between words where there is
    /// a place to, with an ellipsis where something is left off.
    pub fn wrapped(self, text: &str, width: f64, most: usize) -> Vec<String> {
        let text = one_line(text);
        let mut rest = text.as_str();
        let mut lines = Vec::new();
        while !rest.is_empty() {
            let fits = self.fitting(rest, width);
            if fits == rest.len() || lines.len() + 1 >= most {
                lines.push(self.shortened(rest, width));
                break;
            }
            let whole =
                if rest[fits..].starts_with(' ') { Some(fits) } else { rest[..fits].rfind(' ') };
            // A letter wider than the line still has to stand somewhere.
            let one = rest.chars().next().map_or(0, char::len_utf8);
            let (line, after) = rest.split_at(whole.unwrap_or(fits).max(one));
            lines.push(line.trim_end().to_owned());
            rest = after.trim_start();
        }
        lines
    }

    /// Bytes of the longest beginning that is no wider than `width`.
    fn fitting(self, text: &str, width: f64) -> usize {
        let mut x = 0.0;
        for (place, (at, c)) in text.char_indices().enumerate() {
            x += self.advance(c);
            if x > width || place >= MOST_CHARS {
                return at;
            }
        }
        text.len()
    }

    /// The outlines of a line of text that begins at `x` on the baseline `y`, for each letter its
    /// curves in the units of the drawing, y downwards.
    pub fn outlines(self, text: &str, (x, y): (f64, f64)) -> Vec<Vec<OutlineCurve>> {
        let (face, scale) = (self.face(), self.scale());
        let mut pen = x;
        let mut letters = Vec::new();
        for c in text.chars() {
            let place = |p: ab_glyph::Point| {
                let (px, py) = (pen + scale * f64::from(p.x), y - scale * f64::from(p.y));
                ab_glyph::point(px as f32, py as f32)
            };
            if let Some(outline) = face.outline(face.glyph_id(c)) {
                let curves = outline.curves.into_iter().map(|curve| match curve {
                    OutlineCurve::Line(a, b) => OutlineCurve::Line(place(a), place(b)),
                    OutlineCurve::Quad(a, b, c) => OutlineCurve::Quad(place(a), place(b), place(c)),
                    OutlineCurve::Cubic(a, b, c, d) => {
                        OutlineCurve::Cubic(place(a), place(b), place(c), place(d))
                    }
                });
                letters.push(curves.collect());
            }
            pen += self.advance(c);
        }
        letters
    }
}

/// Tamed, without line ends and without spaces that say nothing.
fn one_line(text: &str) -> String {
    // Several lines more than are read, so that what is left off is known to be.
    let text: String = text.chars().take(8 * MOST_CHARS).collect();
    tame(&text).split_whitespace().collect::<Vec<_>>().join(" ")
}

fn is_long(text: &str) -> bool {
    text.chars().nth(MOST_CHARS).is_some()
}

#[cfg(test)]
mod tests {
    use super::*;

    const NAME: Type = Type::medium(20.0);

    #[test]
    fn what_fits_stays_as_it_is_and_what_does_not_ends_in_an_ellipsis() {
        assert_eq!(NAME.shortened("  Two \n words ", 300.0), "Two words");
        for text in
            ["W".repeat(200), "one two three four five six seven".to_owned(), "é".repeat(90)]
        {
            let short = NAME.shortened(&text, 120.0);
            assert!(short.ends_with(ELLIPSIS) && NAME.width(&short) <= 120.0, "{short}");
            assert!(NAME.width(&short) > 80.0, "{short}");
        }
    }

    #[test]
    fn lines_break_between_words_and_inside_those_that_are_too_long() {
        let lines = NAME.wrapped("the quick brown fox jumps over", 100.0, 9);
        assert!(lines.len() > 2 && lines.iter().all(|line| NAME.width(line) <= 100.0), "{lines:?}");
        assert_eq!(lines.join(" "), "the quick brown fox jumps over");
        let lines = NAME.wrapped(&"m".repeat(300), 100.0, 2);
        assert!(lines.len() == 2 && lines[1].ends_with(ELLIPSIS), "{lines:?}");
        assert!(lines.iter().all(|line| NAME.width(line) <= 100.0), "{lines:?}");
        assert_eq!(NAME.wrapped("", 100.0, 2), Vec::<String>::new());
        assert_eq!(NAME.wrapped("WW", 1.0, 3).len(), 2, "a letter to each line");
    }

    #[test]
    fn marks_without_a_width_come_to_an_end() {
        let short = NAME.shortened(&"\u{200b}".repeat(1_000_000), 300.0);
        assert!(short.chars().count() <= MOST_CHARS + 1, "{}", short.len());
    }

    #[test]
    fn a_letter_has_an_outline_where_it_stands() {
        let letters = NAME.outlines("Ix", (10.0, 50.0));
        assert_eq!(letters.len(), 2);
        let ends = letters.iter().flatten().map(|curve| match curve {
            OutlineCurve::Line(_, end) => *end,
            OutlineCurve::Quad(_, _, end) | OutlineCurve::Cubic(_, _, _, end) => *end,
        });
        for end in ends {
            let right = 10.0 + NAME.width("Ix") as f32;
            assert!(end.x >= 10.0 && end.x <= right && end.y <= 50.5 && end.y > 30.0, "{end:?}");
        }
    }
}
