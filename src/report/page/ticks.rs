//! Where the ticks of an axis fall and where names are written on a plot.
//!
//! Owns round numbers of what is read, and the place at which a line's name lies freest of the other
//! lines. Refuses pixels: places are in the plot's own units.

use super::{Form, LayerKind, Plot};

/// Ticks on round numbers of what is read: 1, 2 or 5 times a power of ten of a `unit`, about so many
/// between low and high.
pub fn round_ticks(low: f64, high: f64, unit: f64, about: usize) -> Vec<f64> {
    let span = (high - low) / unit;
    if !(span.is_finite() && span > 0.0 && about > 0) {
        return Vec::new();
    }
    let rough = span / about as f64;
    let power = 10f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * power).into_iter().find(|step| *step >= rough);
    let step = step.unwrap_or(10.0 * power);
    let (first, last) = ((low / unit / step).ceil() as i64, (high / unit / step).floor() as i64);
    // A round step fits about that often; more would be a range no number can tell apart.
    (first..=last).take(4 * about).map(|i| i as f64 * step * unit).collect()
}

/// Ticks of an axis of this form: round numbers of what is read, and of days whole ones, each once.
pub fn axis_ticks(form: Form, low: f64, high: f64, about: usize) -> Vec<f64> {
    let mut ticks = round_ticks(low, high, form.per_unit(), about);
    if form == Form::Day {
        ticks.retain(|tick| tick.fract() == 0.0);
    }
    ticks
}

/// Where the name of a layer is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LabelPlace {
    /// The layer, by its place.
    pub layer: usize,
    /// Where its side is, in the plot's units.
    pub at: [f64; 2],
    /// Where the text lies from there.
    pub side: Side,
}

/// Where a text lies from its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Above it and to the right.
    AboveRight,
    /// Above it and to the left.
    AboveLeft,
    /// Below it and to the right.
    BelowRight,
    /// Below it and to the left.
    BelowLeft,
    /// Above it, to both sides.
    Above,
}

/// Places looked at along a line.
const PLACES: usize = 24;
/// From the line to the text, as a share of the plot's height.
const OFF: f64 = 0.015;
/// A line that climbs more than this over a tenth of the plot's width would run into a text above it.
const CLIMBS: f64 = 0.01;

/// The places of all names on a plot shown over these ranges.
pub fn label_places(plot: &Plot, x: (f64, f64), y: (f64, f64)) -> Vec<LabelPlace> {
    let curves: Vec<(usize, Vec<[f64; 2]>)> = plot
        .layers
        .iter()
        .enumerate()
        .filter_map(|(i, layer)| Some((i, curve(&layer.kind)?)))
        .collect();
    let mut places: Vec<LabelPlace> = Vec::new();
    for (i, layer) in plot.layers.iter().enumerate().filter(|(_, layer)| !layer.name.is_empty()) {
        let height = y.1 - y.0;
        let placed = match &layer.kind {
            LayerKind::Upright(at) => Some(([*at, y.1 - 0.07 * height], beside(*at, x))),
            LayerKind::Level(at) => Some(([x.1 - 0.01 * (x.1 - x.0), *at], Side::AboveLeft)),
            LayerKind::Stripe(from, to) => {
                // Inside it, from its edge on the side where there is room: nothing that stands on an edge
                // crosses the name.
                let (edge, side) = match beside(*from, x) {
                    Side::AboveRight => (*from, 1.0),
                    _ => (*to, -1.0),
                };
                let at = edge + side * 0.01 * (x.1 - x.0);
                Some(([at, y.1 - 0.07 * height], beside(*from, x)))
            }
            _ => freest(i, &curves, &places, x, y),
        };
        let Some((at, side)) = placed else { continue };
        places.push(LabelPlace { layer: i, at, side });
    }
    places
}

/// A text never runs out of the plot: it lies towards the middle.
fn beside(at: f64, x: (f64, f64)) -> Side {
    if at < 0.5 * (x.0 + x.1) { Side::AboveRight } else { Side::AboveLeft }
}

fn curve(kind: &LayerKind) -> Option<Vec<[f64; 2]>> {
    match kind {
        LayerKind::Line(at) | LayerKind::Dashed(at) if at.len() > 1 => Some(at.clone()),
        _ => None,
    }
}

/// The place on a curve farthest from all others and from the names written already, in shares of
/// the plot; near the edges there is no room for a name.
fn freest(
    own: usize,
    curves: &[(usize, Vec<[f64; 2]>)],
    taken: &[LabelPlace],
    x: (f64, f64),
    y: (f64, f64),
) -> Option<([f64; 2], Side)> {
    let (_, line) = curves.iter().find(|(i, _)| *i == own)?;
    let mut best: Option<(f64, [f64; 2], Side)> = None;
    for step in 1..PLACES {
        let at = x.0 + (x.1 - x.0) * step as f64 / PLACES as f64;
        let Some(height) = value_at(line, at) else { continue };
        let share = (height - y.0) / (y.1 - y.0);
        if !(0.0..=0.92).contains(&share) {
            continue;
        }
        let others = curves.iter().filter(|(i, _)| *i != own);
        let gaps = others.filter_map(|(_, other)| value_at(other, at));
        let gaps = gaps.map(|other| (other - height).abs() / (y.1 - y.0));
        let names = taken.iter().map(|place| {
            let across = (place.at[0] - at).abs() / (x.1 - x.0);
            let up = (place.at[1] - height).abs() / (y.1 - y.0);
            // A name is several times as wide as it is high.
            (0.3 * across).max(up)
        });
        let gap = gaps.chain(names).fold(0.5, f64::min);
        if best.is_none_or(|(most, ..)| gap > most + 1e-9) {
            let tenth = 0.1 * (x.1 - x.0);
            let to_the_right = beside(at, x) == Side::AboveRight;
            let there = value_at(line, if to_the_right { at + tenth } else { at - tenth });
            let climbs = there.map_or(0.0, |there| (there - height) / (y.1 - y.0)) > CLIMBS;
            let side = match (to_the_right, climbs) {
                (true, false) => Side::AboveRight,
                (false, false) => Side::AboveLeft,
                (true, true) => Side::BelowRight,
                (false, true) => Side::BelowLeft,
            };
            let off = if climbs { -OFF } else { OFF };
            best = Some((gap, [at, height + off * (y.1 - y.0)], side));
        }
    }
    best.map(|(_, at, side)| (at, side))
}

/// The height of a curve at x, between two of its points.
fn value_at(line: &[[f64; 2]], x: f64) -> Option<f64> {
    line.windows(2).find_map(|pair| {
        let ([ax, ay], [bx, by]) = (pair[0], pair[1]);
        let inside = (ax.min(bx)..=ax.max(bx)).contains(&x);
        let share = if bx == ax { 0.0 } else { (x - ax) / (bx - ax) };
        inside.then_some(ay + share * (by - ay))
    })
}

#[cfg(test)]
mod tests {
    use super::super::{Axis, Form, Hue};
    use super::*;

    #[test]
    fn ticks_fall_on_round_numbers_of_what_is_read() {
        let near = |ticks: Vec<f64>, wanted: &[f64]| {
            assert_eq!(ticks.len(), wanted.len(), "{ticks:?}");
            assert!(ticks.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-12), "{ticks:?}");
        };
        near(round_ticks(-0.031, 0.031, 0.001, 6), &[-0.02, 0.0, 0.02]);
        near(round_ticks(0.0, 1.0, 0.01, 4), &[0.0, 0.5, 1.0]);
        near(round_ticks(0.0, 1.0, 0.01, 5), &[0.0, 0.2, 0.4, 0.6, 0.8, 1.0]);
        // A day's date is written once, however little of the axis there is beside it.
        near(axis_ticks(Form::Day, 20_000.4, 20_001.6, 7), &[20_001.0]);
        assert!(round_ticks(1.0, 1.0, 1.0, 5).is_empty());
        assert!(round_ticks(f64::NAN, 1.0, 1.0, 5).is_empty());
        assert!(round_ticks(1e300, 1.1e300, 1.0, 5).len() <= 20);
    }

    #[test]
    fn a_name_lies_where_the_lines_are_apart() {
        let axis = || Axis::new("", Form::Plain(1));
        let plot = Plot::new("", axis(), axis())
            .with("rises", Hue::Risk, LayerKind::Line(vec![[0.0, 0.0], [1.0, 0.9]]))
            .with("stays", Hue::Text, LayerKind::Line(vec![[0.0, 0.1], [1.0, 0.1]]));
        let places = label_places(&plot, (0.0, 1.0), (0.0, 1.0));
        assert_eq!(places.len(), 2);
        assert!(places.iter().all(|place| place.at[0] > 0.5), "{places:?}");
        assert!(places.iter().all(|place| place.side == Side::AboveLeft), "{places:?}");
    }

    #[test]
    fn a_name_beside_a_line_that_climbs_lies_below_it() {
        let axis = || Axis::new("", Form::Plain(1));
        let climbs = LayerKind::Line(vec![[0.0, 0.2], [0.5, 0.8], [1.0, 0.8]]);
        let other = LayerKind::Line(vec![[0.0, 0.9], [1.0, 0.85]]);
        let plot = Plot::new("", axis(), axis()).with("climbs", Hue::Text, climbs).with(
            "",
            Hue::Risk,
            other,
        );
        let places = label_places(&plot, (0.0, 1.0), (0.0, 1.0));
        assert_eq!(places[0].side, Side::BelowRight);
        assert!(places[0].at[0] < 0.2, "{places:?}");
    }
}
