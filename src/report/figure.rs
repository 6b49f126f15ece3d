//! A plot laid out: the shapes of its axes, its layers and its names in the picture's own units.
//!
//! Owns places, widths and shades, the same for every file a plot is drawn into. Refuses colour values
//! and files, and numbers of its own: ticks and the places of names are the page's.

use super::page::ticks::{LabelPlace, Side, axis_ticks, label_places};
use super::page::{Axis, Hue, Layer, LayerKind, Plot};

/// Size of a plot in its own units; a page scales it.
pub const WIDTH: f64 = 720.0;
pub const HEIGHT: f64 = 340.0;
/// Where layers are drawn; what sticks out of it is cut off.
pub const FIELD: Field =
    Field { left: LEFT, top: TOP, width: WIDTH - LEFT - RIGHT, height: HEIGHT - TOP - BOTTOM };
/// Size of all text.
pub const TEXT_SIZE: f64 = 13.0;
/// Width of the ground that is kept free around a name.
pub const HALO: f64 = 3.0;
/// Across a point.
pub const DOT: f64 = 6.0;

/// Room for the axes.
const LEFT: f64 = 70.0;
const RIGHT: f64 = 18.0;
const TOP: f64 = 14.0;
const BOTTOM: f64 = 52.0;
/// Ticks across and up, about. Chosen: their numbers never touch.
const TICKS: (usize, usize) = (6, 6);
/// A range is drawn this much wider than what lies in it, so that nothing lies on the frame.
const AIR: f64 = 0.04;

/// A rectangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Field {
    pub left: f64,
    pub top: f64,
    pub width: f64,
    pub height: f64,
}

/// A plot as shapes, each list from the back to the front.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Behind everything.
    pub axes: Vec<Shape>,
    /// Inside of [`FIELD`].
    pub layers: Vec<Shape>,
    /// In front.
    pub names: Vec<Words>,
}

/// One shape.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Points joined in order, line after line.
    Strokes { stroke: Stroke, ink: Ink, lines: Vec<Vec<[f64; 2]>> },
    /// The same, closed and filled.
    Areas { shade: Shade, hue: Hue, rounds: Vec<Vec<[f64; 2]>> },
    /// A point each.
    Dots { hue: Hue, at: Vec<[f64; 2]> },
    /// A line of text.
    Words(Words),
}

/// A line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Words {
    /// A place on its baseline.
    pub at: [f64; 2],
    /// Which part of it is there.
    pub anchor: Anchor,
    /// It runs upwards.
    pub upwards: bool,
    /// The layer's meaning if it is a layer's name; axes are muted.
    pub name_of: Option<Hue>,
    /// As it came; whoever paints it tames it.
    pub text: String,
}

/// Which part of a text lies at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// What a line is drawn in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// A meaning.
    Hue(Hue),
    /// The colour of frames.
    Frame,
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stroke {
    /// Axes, whiskers and rugs.
    Thin,
    /// What is plotted.
    Line,
    /// An assumption, a forecast, a limit.
    Broken,
}

impl Stroke {
    pub const fn width(self) -> f64 {
        match self {
            Self::Thin => 1.0,
            Self::Line => 2.0,
            Self::Broken => 1.5,
        }
    }

    /// Drawn and left free, in turns.
    pub const fn dashes(self) -> Option<[f64; 2]> {
        match self {
            Self::Broken => Some([6.0, 4.0]),
            Self::Thin | Self::Line => None,
        }
    }
}

/// How much of the ground an area hides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shade {
    Band,
    Stripe,
    Column,
}

impl Shade {
    pub const fn opacity(self) -> f64 {
        match self {
            Self::Band => 0.22,
            Self::Stripe => 0.12,
            Self::Column => 0.55,
        }
    }
}

impl Figure {
    /// The plot laid out.
    pub fn of(plot: &Plot) -> Self {
        let frame = Frame::of(plot);
        let places = label_places(plot, frame.x, frame.y);
        Self {
            axes: frame.axes(plot),
            layers: plot.layers.iter().flat_map(|layer| frame.layer(layer)).collect(),
            names: places.iter().map(|at| frame.name(&plot.layers[at.layer], at)).collect(),
        }
    }
}

/// What is shown of x and y, and where it lies.
struct Frame {
    x: (f64, f64),
    y: (f64, f64),
}

impl Frame {
    fn of(plot: &Plot) -> Self {
        let [x, y] = plot.range();
        let airy = |(low, high): (f64, f64)| {
            let air = AIR * (high - low);
            (low - air, high + air)
        };
        // Columns and rugs stand on the foot of the plot.
        let stands = plot
            .layers
            .iter()
            .any(|layer| matches!(layer.kind, LayerKind::Columns(_) | LayerKind::Rug(_)));
        let y_airy = airy(y);
        let y = if stands && y.0 == 0.0 { (0.0, y_airy.1) } else { y_airy };
        Self { x: airy(x), y }
    }

    fn px(&self, x: f64) -> f64 {
        LEFT + (x - self.x.0) / (self.x.1 - self.x.0) * FIELD.width
    }

    fn py(&self, y: f64) -> f64 {
        HEIGHT - BOTTOM - (y - self.y.0) / (self.y.1 - self.y.0) * FIELD.height
    }

    fn axes(&self, plot: &Plot) -> Vec<Shape> {
        let (foot, right) = (HEIGHT - BOTTOM, WIDTH - RIGHT);
        let ticks =
            |axis: &Axis, (low, high): (f64, f64), about| axis_ticks(axis.form, low, high, about);
        let line = |at: Vec<[f64; 2]>| Shape::Strokes {
            stroke: Stroke::Thin,
            ink: Ink::Frame,
            lines: vec![at],
        };
        let words = |at: [f64; 2], anchor, upwards, text: String| {
            Shape::Words(Words { at, anchor, upwards, name_of: None, text })
        };
        let mut out = Vec::new();
        for at in ticks(&plot.x, self.x, TICKS.0) {
            let px = self.px(at);
            out.push(line(vec![[px, foot], [px, foot + 5.0]]));
            out.push(words([px, foot + 19.0], Anchor::Middle, false, plot.x.form.words(at)));
        }
        for at in ticks(&plot.y, self.y, TICKS.1) {
            let py = self.py(at);
            out.push(line(vec![[LEFT, py], [right, py]]));
            out.push(words([LEFT - 8.0, py + 4.0], Anchor::End, false, plot.y.form.words(at)));
        }
        out.push(line(vec![[LEFT, TOP], [LEFT, foot], [right, foot]]));
        out.push(words([right, HEIGHT - 12.0], Anchor::End, false, plot.x.label.clone()));
        out.push(words([17.0, TOP], Anchor::End, true, plot.y.label.clone()));
        out
    }

    /// The points of a line that are somewhere.
    fn path(&self, at: impl IntoIterator<Item = [f64; 2]>) -> Vec<[f64; 2]> {
        let finite = at.into_iter().filter(|[x, y]| x.is_finite() && y.is_finite());
        finite.map(|[x, y]| [self.px(x), self.py(y)]).collect()
    }

    fn layer(&self, layer: &Layer) -> Vec<Shape> {
        let hue = layer.hue;
        let strokes = |stroke, lines| vec![Shape::Strokes { stroke, ink: Ink::Hue(hue), lines }];
        let areas = |shade, rounds| vec![Shape::Areas { shade, hue, rounds }];
        let (left, right) = self.x;
        let (foot, top) = self.y;
        match &layer.kind {
            LayerKind::Line(at) => strokes(Stroke::Line, vec![self.path(at.iter().copied())]),
            LayerKind::Dashed(at) => strokes(Stroke::Broken, vec![self.path(at.iter().copied())]),
            LayerKind::Band(at) => {
                let above = at.iter().map(|[x, _, high]| [*x, *high]);
                let below = at.iter().rev().map(|[x, low, _]| [*x, *low]);
                areas(Shade::Band, vec![self.path(above.chain(below))])
            }
            LayerKind::Points(at) => {
                vec![Shape::Dots { hue, at: self.path(at.iter().copied()) }]
            }
            LayerKind::Whiskers(at) => {
                let lines = at.iter().map(|[x, _, low, high]| self.path([[*x, *low], [*x, *high]]));
                let mut shapes = strokes(Stroke::Thin, lines.collect());
                let at = self.path(at.iter().map(|[x, y, ..]| [*x, *y]));
                shapes.push(Shape::Dots { hue, at });
                shapes
            }
            LayerKind::Columns(at) => {
                let column = |[from, to, height]: &[f64; 3]| {
                    self.path([[*from, 0.0], [*from, *height], [*to, *height], [*to, 0.0]])
                };
                areas(Shade::Column, at.iter().map(column).collect())
            }
            LayerKind::Rug(at) => {
                let tick = foot + 0.035 * (top - foot);
                let ticks = at.iter().map(|x| self.path([[*x, foot], [*x, tick]]));
                strokes(Stroke::Thin, ticks.collect())
            }
            LayerKind::Stripe(from, to) => {
                let round = [[*from, foot], [*from, top], [*to, top], [*to, foot]];
                areas(Shade::Stripe, vec![self.path(round)])
            }
            LayerKind::Upright(x) => {
                strokes(Stroke::Broken, vec![self.path([[*x, foot], [*x, top]])])
            }
            LayerKind::Level(y) => {
                strokes(Stroke::Broken, vec![self.path([[left, *y], [right, *y]])])
            }
        }
    }

    fn name(&self, layer: &Layer, place: &LabelPlace) -> Words {
        let (anchor, dx) = match place.side {
            Side::AboveRight | Side::BelowRight => (Anchor::Start, 5.0),
            Side::AboveLeft | Side::BelowLeft => (Anchor::End, -5.0),
            Side::Above => (Anchor::Middle, 0.0),
        };
        let dy = match place.side {
            Side::BelowRight | Side::BelowLeft => 14.0,
            _ => -4.0,
        };
        let [x, y] = place.at;
        Words {
            at: [self.px(x) + dx, self.py(y) + dy],
            anchor,
            upwards: false,
            name_of: Some(layer.hue),
            text: layer.name.clone(),
        }
    }
}
