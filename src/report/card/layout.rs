//! Where everything on a card stands.
//!
//! Owns places, sizes and colours. Refuses words: a [`Card`] has them.

use super::drawing::Drawing;
use super::rows::Row;
use super::{Card, Ground, Sessions, tick_words};
use crate::report::document::DEMO_WORDS;
use crate::report::page::Hue;
use crate::report::page::ticks::round_ticks;
use crate::report::palette::{self, Rgb};
use crate::report::picture::Type;

/// Width and height of a card.
pub const SIZE: (f64, f64) = (360.0, 640.0);
/// From the edge to what is written.
const MARGIN: f64 = 22.0;
const HEAD: f64 = 46.0;
const ROW: f64 = 37.0;
/// Last baseline of what is said below the plot.
const FOOT: f64 = 609.0;
/// What is said there, and from line to line.
const FOOTNOTE: Type = Type::regular(9.5);
const FOOTNOTE_LINE: f64 = 12.5;
/// Lines that name every kind of run that is left out at least.
const MOST_LEFT_OUT: usize = 5;
/// Room for the numbers of the plot's axis.
const AXIS: f64 = 30.0;

/// Numbers on the plot's axis, about.
const TICKS: usize = 6;

const BRAND: Type = Type::medium(15.0);
const NAME: Type = Type::medium(19.0);
const CAR: Type = Type::regular(14.0);
const VALUE: Type = Type::medium(19.0);
const LABEL: Type = Type::regular(12.5);
const SMALL: Type = Type::regular(10.5);

/// What a card is, so that nobody takes it for something else.
const MADE_FROM: &str = "Made from home practice; no official time slip.";
/// What the numbers beside a number are.
const RANGES: &str = "Ranges hold the true value nine times in ten.";

struct Colours {
    driver: Rgb,
    text: Rgb,
    muted: Rgb,
    risk: Rgb,
    ground: Rgb,
    line: Rgb,
}

impl Colours {
    fn on(ground: Ground) -> Self {
        let [driver, _, text, muted, risk, _, ground, _, line] = match ground {
            Ground::Light => palette::LIGHT,
            Ground::Dark => palette::DARK,
        };
        Self { driver, text, muted, risk, ground, line }
    }

    fn of(&self, hue: Hue) -> Rgb {
        match hue {
            Hue::Driver => self.driver,
            Hue::Risk => self.risk,
            _ => self.text,
        }
    }
}

/// The card as a picture.
pub fn drawn(card: &Card, ground: Ground) -> Drawing {
    let colours = Colours::on(ground);
    let mut out = Drawing::new(SIZE, format!("Practice card of {}, {}", card.driver, card.car));
    out.area((0.0, 0.0), SIZE, colours.ground);
    let y = head(&mut out, card, &colours);
    let y = whose(&mut out, card, &colours, y);
    let y = numbers(&mut out, &card.rows, &colours, y);
    let said = footnotes(card);
    let below = FOOT - FOOTNOTE_LINE * said.len().saturating_sub(1) as f64;
    sessions(&mut out, &card.plot, &colours, (y + 16.0, below - 30.0));
    foot(&mut out, &said, below, &colours);
    edge(&mut out, &colours);
    out
}

/// The band with the lamps, and the mark of a demo; where it ends.
fn head(out: &mut Drawing, card: &Card, colours: &Colours) -> f64 {
    out.area((0.0, 0.0), (SIZE.0, HEAD), palette::PANEL);
    out.text((MARGIN, 28.5), BRAND, palette::TEXT, "Last Amber");
    let x = MARGIN + BRAND.width("Last Amber") + 9.0;
    out.text((x, 28.5), SMALL, palette::MUTED, "practice card");
    // Two ambers out, the last one lit.
    let lamps = [palette::AMBER_DARK, palette::AMBER_DARK, palette::AMBER_LIT];
    for (place, lamp) in lamps.into_iter().enumerate() {
        let x = SIZE.0 - MARGIN - 6.5 - 20.0 * (lamps.len() - 1 - place) as f64;
        out.dot((x, 0.5 * HEAD), 7.5, palette::LINE);
        out.dot((x, 0.5 * HEAD), 6.5, lamp);
    }
    if !card.demo {
        return HEAD;
    }
    out.area((0.0, HEAD), (SIZE.0, 20.0), colours.risk);
    out.text((MARGIN, HEAD + 14.0), Type::medium(11.0), colours.ground, DEMO_WORDS);
    HEAD + 20.0
}

/// Driver, car, how they start, what the card covers; the last baseline.
fn whose(out: &mut Drawing, card: &Card, colours: &Colours, above: f64) -> f64 {
    let width = SIZE.0 - 2.0 * MARGIN;
    let mut y = above + 4.0;
    let mut lines = |font: Type, fill: Rgb, text: &str, most: usize, step: f64| {
        for line in font.wrapped(text, width, most) {
            y += step;
            out.text((MARGIN, y), font, fill, &line);
        }
    };
    lines(NAME, colours.text, &card.driver, 2, 23.0);
    lines(CAR, colours.text, &card.car, 2, 18.0);
    lines(SMALL, colours.muted, &card.start, 1, 18.0);
    lines(SMALL, colours.muted, &card.covers, 1, 14.0);
    y
}

/// The numbers, one below the other; where they end.
fn numbers(out: &mut Drawing, rows: &[Row], colours: &Colours, above: f64) -> f64 {
    let mut y = above + 9.0;
    let right = SIZE.0 - MARGIN;
    for row in rows {
        out.line((MARGIN, y), (right, y), 0.75, colours.line);
        let (font, fill, value) = match &row.value {
            Some(value) => (VALUE, colours.of(row.hue), value.as_str()),
            None => (LABEL, colours.muted, "not known yet"),
        };
        out.text_to((right, y + 23.0), font, fill, value);
        let room = right - MARGIN - font.width(value) - 8.0;
        out.text((MARGIN, y + 16.0), LABEL, colours.text, &LABEL.shortened(&row.name, room));
        let detail = SMALL.shortened(&row.detail, room);
        out.text((MARGIN, y + 30.0), SMALL, colours.muted, &detail);
        y += ROW;
    }
    out.line((MARGIN, y), (right, y), 0.75, colours.line);
    y
}

/// Median and spread of each session, or why they are not drawn.
fn sessions(
    out: &mut Drawing,
    plot: &Result<Sessions, String>,
    colours: &Colours,
    (top, floor): (f64, f64),
) {
    let width = SIZE.0 - 2.0 * MARGIN;
    let plot = match plot {
        Ok(plot) => plot,
        Err(why) => {
            for (i, line) in SMALL.wrapped(why, width, 3).iter().enumerate() {
                out.text((MARGIN, top + 8.0 + 14.0 * i as f64), SMALL, colours.muted, line);
            }
            return;
        }
    };
    out.text((MARGIN, top + 3.0), SMALL, colours.muted, &SMALL.shortened(&plot.title, width));
    let (left, right) = (MARGIN + AXIS, SIZE.0 - MARGIN);
    let roof = top + 14.0;
    let ends = |sign: f64| plot.at.iter().map(move |[median, spread]| median + sign * spread);
    let low = ends(-1.0).fold(f64::INFINITY, f64::min);
    let high = ends(1.0).fold(f64::NEG_INFINITY, f64::max);
    let air = (0.06 * (high - low)).max(0.001);
    let (low, high) = (low - air, high + air);
    let py = |s: f64| floor - (s - low) / (high - low) * (floor - roof);
    for tick in round_ticks(low, high, 0.001, TICKS) {
        out.line((left, py(tick)), (right, py(tick)), 0.75, colours.line);
        out.text_to((left - 6.0, py(tick) + 3.5), SMALL, colours.muted, &tick_words(tick));
    }
    let step = (right - left) / plot.at.len() as f64;
    for (i, [median, spread]) in plot.at.iter().enumerate() {
        let x = left + step * (i as f64 + 0.5);
        let (from, to) = ((x, py(median - spread)), (x, py(median + spread)));
        out.line(from, to, 1.5, colours.driver);
        out.dot((x, py(*median)), 3.2, colours.driver);
    }
    out.text((left, floor + 14.0), SMALL, colours.muted, &plot.first);
    if plot.at.len() > 1 {
        out.text_to((right, floor + 14.0), SMALL, colours.muted, &plot.last);
    }
}

/// What the intervals are and what is left out, every kind of it: a card hides nothing.
fn footnotes(card: &Card) -> Vec<String> {
    let width = SIZE.0 - 2.0 * MARGIN;
    let left_out = card.left_out.as_deref().unwrap_or_default();
    let left_out = FOOTNOTE.wrapped(left_out, width, MOST_LEFT_OUT);
    FOOTNOTE.wrapped(RANGES, width, 1).into_iter().chain(left_out).collect()
}

/// The foot notes, and what this is.
fn foot(out: &mut Drawing, said: &[String], mut y: f64, colours: &Colours) {
    for line in said {
        out.text((MARGIN, y), FOOTNOTE, colours.muted, line);
        y += FOOTNOTE_LINE;
    }
    out.text((MARGIN, SIZE.1 - 13.0), Type::medium(11.0), colours.text, MADE_FROM);
}

fn edge(out: &mut Drawing, colours: &Colours) {
    let (width, height) = SIZE;
    let corners =
        [(0.5, 0.5), (width - 0.5, 0.5), (width - 0.5, height - 0.5), (0.5, height - 0.5)];
    for (i, from) in corners.into_iter().enumerate() {
        out.line(from, corners[(i + 1) % 4], 1.0, colours.line);
    }
}
