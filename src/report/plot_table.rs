//! A plot as a table of its numbers, for other programs.
//!
//! Owns the columns of the CSV (RFC 4180) and their units. Refuses drawing, and to round: a number
//! stands as it was plotted, in the unit its axis names.

use super::page::{Axis, Form, LayerKind, Plot};

/// The numbers of a plot: a row for every point of every layer, from the back to the front.
///
/// Columns: `layer` (its name), `shape`, then `x`, `to`, `y`, `low`, `high`, each with the label of its
/// axis, unit included. `to` is the far edge of a column or a stripe; what a shape does not have stays
/// empty. Days are written as ISO 8601 dates, shares in percent, times in ms where the axis says so.
///
/// ```
/// use lastamber::report::page::{Axis, Form, Hue, LayerKind, Plot};
/// use lastamber::report::plot_csv;
///
/// let plot = Plot::new("t", Axis::new("run", Form::Plain(0)), Axis::new("light, s", Form::Light))
///     .with("green", Hue::Muted, LayerKind::Points(vec![[1.0, 0.25]]));
/// assert_eq!(
///     plot_csv(&plot),
///     "layer,shape,\"x: run\",\"to: run\",\"y: light, s\",\"low: light, s\",\"high: light, s\"\r\n\
///      green,point,1,,0.25,,\r\n"
/// );
/// ```
pub fn plot_csv(plot: &Plot) -> String {
    let head = |what: &str, axis: &Axis| format!("\"{what}: {}\"", axis.label.replace('"', "\"\""));
    let mut out = format!(
        "layer,shape,{},{},{},{},{}\r\n",
        head("x", &plot.x),
        head("to", &plot.x),
        head("y", &plot.y),
        head("low", &plot.y),
        head("high", &plot.y)
    );
    for layer in &plot.layers {
        for row in rows(&layer.kind) {
            let x = |at: usize| row.1[at].map_or_else(String::new, |v| number(plot.x.form, v));
            let y = |at: usize| row.1[at].map_or_else(String::new, |v| number(plot.y.form, v));
            out.push_str(&format!(
                "{},{},{},{},{},{},{}\r\n",
                cell(&layer.name),
                row.0,
                x(0),
                x(1),
                y(2),
                y(3),
                y(4)
            ));
        }
    }
    out
}

/// Shape and `x, to, y, low, high`.
type Row = (&'static str, [Option<f64>; 5]);

fn rows(kind: &LayerKind) -> Vec<Row> {
    let at = |shape: &'static str, points: &[[f64; 2]]| -> Vec<Row> {
        points.iter().map(|[x, y]| (shape, [Some(*x), None, Some(*y), None, None])).collect()
    };
    let one = |shape: &'static str, row: [Option<f64>; 5]| vec![(shape, row)];
    match kind {
        LayerKind::Line(points) => at("line", points),
        LayerKind::Dashed(points) => at("dashed line", points),
        LayerKind::Points(points) => at("point", points),
        LayerKind::Band(all) => all
            .iter()
            .map(|[x, low, high]| ("band", [Some(*x), None, None, Some(*low), Some(*high)]))
            .collect(),
        LayerKind::Whiskers(all) => all
            .iter()
            .map(|[x, y, low, high]| {
                ("interval", [Some(*x), None, Some(*y), Some(*low), Some(*high)])
            })
            .collect(),
        LayerKind::Columns(all) => all
            .iter()
            .map(|[from, to, height]| {
                ("column", [Some(*from), Some(*to), Some(*height), None, None])
            })
            .collect(),
        LayerKind::Rug(all) => {
            all.iter().map(|x| ("observation", [Some(*x), None, None, None, None])).collect()
        }
        LayerKind::Stripe(from, to) => one("stripe", [Some(*from), Some(*to), None, None, None]),
        LayerKind::Upright(x) => one("upright", [Some(*x), None, None, None, None]),
        LayerKind::Level(y) => one("level", [None, None, Some(*y), None, None]),
    }
}

/// In the unit of its axis.
fn number(form: Form, value: f64) -> String {
    match form {
        Form::Day => form.words(value),
        // A thousandth of a unit and more digits than any clock here has are noise of the division.
        _ => {
            let scaled = format!("{:.9}", value / form.per_unit());
            let short = scaled.trim_end_matches('0').trim_end_matches('.');
            if short == "-0" { "0".to_owned() } else { short.to_owned() }
        }
    }
}

/// A cell of text; what a spreadsheet would take for a formula is kept from being one.
fn cell(text: &str) -> String {
    let safe = if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{text}")
    } else {
        text.to_owned()
    };
    if safe.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", safe.replace('"', "\"\""))
    } else {
        safe
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::page::Hue;

    #[test]
    fn every_point_is_there_and_reads_back_in_the_unit_of_its_axis() {
        let plot =
            Plot::new("", Axis::new("day", Form::Day), Axis::new("spread, ms", Form::Millis))
                .with(
                    "a, \"b\"",
                    Hue::Driver,
                    LayerKind::Whiskers(vec![[20_000.0, 0.03, 0.02, 0.05]]),
                )
                .with("=1+1", Hue::Text, LayerKind::Level(0.1))
                .with("", Hue::Text, LayerKind::Columns(vec![[0.0, 1.0, 2.5e-3]]));
        let text = plot_csv(&plot);
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        assert_eq!(
            rows[0].iter().collect::<Vec<_>>(),
            ["a, \"b\"", "interval", "2024-10-04", "", "30", "20", "50"]
        );
        assert_eq!(rows[1].iter().collect::<Vec<_>>(), ["'=1+1", "level", "", "", "100", "", ""]);
        assert_eq!(&rows[2][4], "2.5");
        assert_eq!(rows.len(), 3);
    }
}
