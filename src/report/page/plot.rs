//! A plot as data: axes and what lies on them.
//!
//! Owns layers and their meaning, from the back to the front, and the range they need. Refuses
//! pixels.

use super::Axis;

/// A picture of numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Plot {
    /// What it shows, one sentence; also read out in place of the picture.
    pub title: String,
    /// Left to right.
    pub x: Axis,
    /// Bottom to top.
    pub y: Axis,
    /// From the back to the front.
    pub layers: Vec<Layer>,
}

/// Something drawn on a plot.
#[derive(Debug, Clone, PartialEq)]
pub struct Layer {
    /// What it is; shown where it has room, and when it is pointed at. May be empty.
    pub name: String,
    /// Its meaning in colour.
    pub hue: Hue,
    /// Its shape.
    pub kind: LayerKind,
}

/// The shape of a layer; coordinates in the axes' own units, all finite.
#[derive(Debug, Clone, PartialEq)]
pub enum LayerKind {
    /// `[x, y]` joined in order.
    Line(Vec<[f64; 2]>),
    /// The same, broken: an assumption, a forecast, a limit.
    Dashed(Vec<[f64; 2]>),
    /// `[x, low, high]` filled between.
    Band(Vec<[f64; 3]>),
    /// `[x, y]` each on its own.
    Points(Vec<[f64; 2]>),
    /// `[x, y, low, high]`: a point with its interval.
    Whiskers(Vec<[f64; 4]>),
    /// `[from, to, height]`, side by side.
    Columns(Vec<[f64; 3]>),
    /// Ticks along the foot, one per observation.
    Rug(Vec<f64>),
    /// A stripe from x to x over the whole height.
    Stripe(f64, f64),
    /// A broken upright line.
    Upright(f64),
    /// A broken level line.
    Level(f64),
}

/// What a colour means, the same on every screen, plot and report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Hue {
    /// The driver's part.
    Driver,
    /// The car's part.
    Car,
    /// The main thing.
    Text,
    /// Beside it.
    Muted,
    /// Red lights, losses.
    Risk,
    /// Clear of them.
    Clear,
}

impl Plot {
    /// A plot with nothing on it yet.
    pub fn new(title: impl Into<String>, x: Axis, y: Axis) -> Self {
        Self { title: title.into(), x, y, layers: Vec::new() }
    }

    /// Lays something on top.
    pub fn with(mut self, name: impl Into<String>, hue: Hue, kind: LayerKind) -> Self {
        self.layers.push(Layer { name: name.into(), hue, kind });
        self
    }

    /// What is shown of x and y, low to high: everything drawn and what the axes ask for; never of
    /// no width.
    pub fn range(&self) -> [(f64, f64); 2] {
        let mut x = self.x.at_least.unwrap_or((f64::INFINITY, f64::NEG_INFINITY));
        let mut y = self.y.at_least.unwrap_or((f64::INFINITY, f64::NEG_INFINITY));
        let grow = |range: &mut (f64, f64), values: &[f64]| {
            for value in values.iter().filter(|value| value.is_finite()) {
                *range = (range.0.min(*value), range.1.max(*value));
            }
        };
        for layer in &self.layers {
            match &layer.kind {
                LayerKind::Line(at) | LayerKind::Dashed(at) | LayerKind::Points(at) => {
                    at.iter().for_each(|[px, py]| {
                        grow(&mut x, &[*px]);
                        grow(&mut y, &[*py]);
                    });
                }
                LayerKind::Band(at) => at.iter().for_each(|[px, low, high]| {
                    grow(&mut x, &[*px]);
                    grow(&mut y, &[*low, *high]);
                }),
                LayerKind::Whiskers(at) => at.iter().for_each(|[px, py, low, high]| {
                    grow(&mut x, &[*px]);
                    grow(&mut y, &[*py, *low, *high]);
                }),
                LayerKind::Columns(at) => at.iter().for_each(|[from, to, height]| {
                    grow(&mut x, &[*from, *to]);
                    grow(&mut y, &[0.0, *height]);
                }),
                LayerKind::Rug(at) => grow(&mut x, at),
                LayerKind::Stripe(from, to) => grow(&mut x, &[*from, *to]),
                LayerKind::Upright(at) => grow(&mut x, &[*at]),
                LayerKind::Level(at) => grow(&mut y, &[*at]),
            }
        }
        [open(x), open(y)]
    }
}

fn open((low, high): (f64, f64)) -> (f64, f64) {
    if low > high {
        (0.0, 1.0)
    } else if high - low <= f64::EPSILON * low.abs().max(high.abs()).max(1.0) {
        (low - 0.5, high + 0.5)
    } else {
        (low, high)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Form;
    use super::*;

    fn empty() -> Plot {
        Plot::new("Nothing", Axis::new("x", Form::Light), Axis::new("y", Form::Percent))
    }

    #[test]
    fn the_range_holds_all_that_is_drawn_and_asked_for() {
        let mut plot = empty()
            .with("a", Hue::Text, LayerKind::Line(vec![[0.1, 0.2], [0.3, f64::NAN]]))
            .with("b", Hue::Risk, LayerKind::Band(vec![[0.2, -0.1, 0.9]]));
        assert_eq!(plot.range(), [(0.1, 0.3), (-0.1, 0.9)]);
        plot.y = plot.y.from_to(0.0, 1.0);
        assert_eq!(plot.range()[1], (-0.1, 1.0));
    }

    #[test]
    fn a_plot_of_nothing_or_of_one_point_has_a_width() {
        assert_eq!(empty().range(), [(0.0, 1.0), (0.0, 1.0)]);
        let one = empty().with("", Hue::Muted, LayerKind::Points(vec![[2.0, 3.0]]));
        assert_eq!(one.range(), [(1.5, 2.5), (2.5, 3.5)]);
    }
}
