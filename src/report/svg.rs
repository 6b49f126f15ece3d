//! A plot as a picture that needs nothing else: SVG without script, light and dark.
//!
//! Owns shapes, axes and names in pixels, and the style they share. Refuses numbers of its own: ticks
//! and the places of names are the page's.

use std::fmt::Write;

use super::page::ticks::{LabelPlace, Side, label_places, round_ticks};
use super::page::{Axis, Hue, Layer, LayerKind, Plot};
use super::palette::{self, Rgb};
use super::safe_text::escaped;

/// Size of a plot in its own units; a page scales it.
const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 340.0;
/// Room for the axes.
const LEFT: f64 = 70.0;
const RIGHT: f64 = 18.0;
const TOP: f64 = 14.0;
const BOTTOM: f64 = 52.0;
/// Ticks across and up, about. Chosen: their numbers never touch.
const TICKS: (usize, usize) = (6, 6);
/// A range is drawn this much wider than what lies in it, so that nothing lies on the frame.
const AIR: f64 = 0.04;

/// The colours as custom properties and what each class is drawn with, for the page or the file that
/// holds plots: light on paper and wherever nothing else is asked for, dark where it is.
pub fn style() -> String {
    let [light, dark] = [palette::LIGHT, palette::DARK].map(|colours| {
        let named = ["driver", "car", "text", "muted", "risk", "clear", "ground", "raised", "line"];
        let mut properties = String::new();
        for (name, Rgb(r, g, b)) in named.into_iter().zip(colours) {
            let _ = write!(properties, "--{name}:#{r:02x}{g:02x}{b:02x};");
        }
        properties
    });
    let hues: String = ["driver", "car", "text", "muted", "risk", "clear"]
        .iter()
        .map(|hue| {
            format!(
                ".plot .s-{hue}{{stroke:var(--{hue});fill:none}}\
                 .plot .f-{hue}{{fill:var(--{hue});stroke:none}}"
            )
        })
        .collect();
    format!(
        ":root{{{light}color-scheme:light dark}}\
         @media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}\
         .plot{{font:13px system-ui,sans-serif;background:var(--ground)}}\
         .plot text{{fill:var(--muted)}}.plot .frame{{stroke:var(--line);fill:none}}\
         .plot .name{{font-weight:600;paint-order:stroke;stroke:var(--ground);stroke-width:3px}}\
         {names}{hues}.plot .line{{stroke-width:2;stroke-linejoin:round}}\
         .plot .broken{{stroke-width:1.5;stroke-dasharray:6 4}}\
         .plot .band{{opacity:.22}}.plot .stripe{{opacity:.12}}.plot .column{{opacity:.55}}",
        names = ["driver", "car", "text", "muted", "risk", "clear"]
            .iter()
            .map(|hue| format!(".plot .n-{hue}{{fill:var(--{hue})}}"))
            .collect::<String>(),
    )
}

/// A plot for a page that has the `style` of the report; `id` is the plot's own on that page.
pub fn svg(plot: &Plot, id: &str) -> String {
    let frame = Frame::of(plot);
    let mut out = String::new();
    let title = escaped(&plot.title);
    let _ = write!(
        out,
        "<svg class=\"plot\" xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" \
         role=\"img\" aria-labelledby=\"{id}-title\"><title id=\"{id}-title\">{title}</title>\
         <clipPath id=\"{id}-clip\"><rect x=\"{LEFT}\" y=\"{TOP}\" width=\"{}\" height=\"{}\"/>\
         </clipPath>",
        WIDTH - LEFT - RIGHT,
        HEIGHT - TOP - BOTTOM,
    );
    frame.axes(&mut out, plot);
    let _ = write!(out, "<g clip-path=\"url(#{id}-clip)\">");
    for layer in &plot.layers {
        frame.layer(&mut out, layer);
    }
    out.push_str("</g>");
    for place in label_places(plot, frame.x, frame.y) {
        frame.name(&mut out, &plot.layers[place.layer], &place);
    }
    out.push_str("</svg>");
    out
}

/// A plot as a file of its own.
pub fn svg_file(plot: &Plot) -> String {
    let style = format!("><style>{}</style><title", style());
    let size = format!("<svg width=\"{WIDTH}\" height=\"{HEIGHT}\" ");
    svg(plot, "plot").replacen("><title", &style, 1).replacen("<svg ", &size, 1)
}

/// The class of a colour.
fn hue(hue: Hue) -> &'static str {
    match hue {
        Hue::Driver => "driver",
        Hue::Car => "car",
        Hue::Text => "text",
        Hue::Muted => "muted",
        Hue::Risk => "risk",
        Hue::Clear => "clear",
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
        LEFT + (x - self.x.0) / (self.x.1 - self.x.0) * (WIDTH - LEFT - RIGHT)
    }

    fn py(&self, y: f64) -> f64 {
        HEIGHT - BOTTOM - (y - self.y.0) / (self.y.1 - self.y.0) * (HEIGHT - TOP - BOTTOM)
    }

    fn axes(&self, out: &mut String, plot: &Plot) {
        let ticks = |axis: &Axis, (low, high): (f64, f64), about| {
            round_ticks(low, high, axis.form.per_unit(), about)
        };
        let foot = HEIGHT - BOTTOM;
        for at in ticks(&plot.x, self.x, TICKS.0) {
            let (px, words) = (self.px(at), escaped(&plot.x.form.words(at)));
            let _ = write!(
                out,
                "<path class=\"frame\" d=\"M{px:.1} {foot}v5\"/>\
                 <text x=\"{px:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{words}</text>",
                foot + 19.0
            );
        }
        for at in ticks(&plot.y, self.y, TICKS.1) {
            let (py, words) = (self.py(at), escaped(&plot.y.form.words(at)));
            let _ = write!(
                out,
                "<path class=\"frame\" d=\"M{LEFT} {py:.1}H{:.1}\"/>\
                 <text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{words}</text>",
                WIDTH - RIGHT,
                LEFT - 8.0,
                py + 4.0
            );
        }
        let _ = write!(
            out,
            "<path class=\"frame\" d=\"M{LEFT} {TOP}V{foot}H{:.1}\"/>\
             <text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>\
             <text transform=\"translate(17 {TOP}) rotate(-90)\" text-anchor=\"end\">{}</text>",
            WIDTH - RIGHT,
            WIDTH - RIGHT,
            HEIGHT - 12.0,
            escaped(&plot.x.label),
            escaped(&plot.y.label),
        );
    }

    fn layer(&self, out: &mut String, layer: &Layer) {
        let hue = hue(layer.hue);
        let path = |at: &[[f64; 2]]| -> String {
            let finite = at.iter().filter(|[x, y]| x.is_finite() && y.is_finite());
            let step = |(i, [x, y]): (usize, &[f64; 2])| {
                let letter = if i == 0 { 'M' } else { 'L' };
                format!("{letter}{:.1} {:.1}", self.px(*x), self.py(*y))
            };
            finite.enumerate().map(step).collect()
        };
        let (top, foot) = (self.y.1, self.y.0);
        let _ = match &layer.kind {
            LayerKind::Line(at) => {
                write!(out, "<path class=\"line s-{hue}\" d=\"{}\"/>", path(at))
            }
            LayerKind::Dashed(at) => {
                write!(out, "<path class=\"broken s-{hue}\" d=\"{}\"/>", path(at))
            }
            LayerKind::Band(at) => {
                let above = at.iter().map(|[x, _, high]| [*x, *high]);
                let below = at.iter().rev().map(|[x, low, _]| [*x, *low]);
                let round: Vec<[f64; 2]> = above.chain(below).collect();
                write!(out, "<path class=\"band f-{hue}\" d=\"{}Z\"/>", path(&round))
            }
            LayerKind::Points(at) => self.points(out, hue, at.iter().copied()),
            LayerKind::Whiskers(at) => {
                let lines = at.iter().map(|[x, _, low, high]| path(&[[*x, *low], [*x, *high]]));
                let lines: String = lines.collect();
                let _ = write!(out, "<path class=\"s-{hue}\" d=\"{lines}\"/>");
                self.points(out, hue, at.iter().map(|[x, y, ..]| [*x, *y]))
            }
            LayerKind::Columns(at) => {
                let column = |[from, to, height]: &[f64; 3]| {
                    path(&[[*from, 0.0], [*from, *height], [*to, *height], [*to, 0.0]]) + "Z"
                };
                let columns: String = at.iter().map(column).collect();
                write!(out, "<path class=\"column f-{hue}\" d=\"{columns}\"/>")
            }
            LayerKind::Rug(at) => {
                let tick = foot + 0.035 * (top - foot);
                let ticks: String = at.iter().map(|x| path(&[[*x, foot], [*x, tick]])).collect();
                write!(out, "<path class=\"s-{hue}\" d=\"{ticks}\"/>")
            }
            LayerKind::Stripe(from, to) => {
                let round = [[*from, foot], [*from, top], [*to, top], [*to, foot]];
                write!(out, "<path class=\"stripe f-{hue}\" d=\"{}Z\"/>", path(&round))
            }
            LayerKind::Upright(x) => {
                let d = path(&[[*x, foot], [*x, top]]);
                write!(out, "<path class=\"broken s-{hue}\" d=\"{d}\"/>")
            }
            LayerKind::Level(y) => {
                let d = path(&[[self.x.0, *y], [self.x.1, *y]]);
                write!(out, "<path class=\"broken s-{hue}\" d=\"{d}\"/>")
            }
        };
    }

    /// Many points as one path of dots: a circle each would make a history of years a heavy page.
    fn points(
        &self,
        out: &mut String,
        hue: &str,
        at: impl Iterator<Item = [f64; 2]>,
    ) -> std::fmt::Result {
        let finite = at.filter(|[x, y]| x.is_finite() && y.is_finite());
        let dots: String =
            finite.map(|[x, y]| format!("M{:.1} {:.1}h0", self.px(x), self.py(y))).collect();
        write!(
            out,
            "<path class=\"s-{hue}\" stroke-width=\"6\" stroke-linecap=\"round\" d=\"{dots}\"/>"
        )
    }

    fn name(&self, out: &mut String, layer: &Layer, place: &LabelPlace) {
        let (anchor, dx) = match place.side {
            Side::AboveRight | Side::BelowRight => ("start", 5.0),
            Side::AboveLeft | Side::BelowLeft => ("end", -5.0),
            Side::Above => ("middle", 0.0),
        };
        let dy = match place.side {
            Side::BelowRight | Side::BelowLeft => 14.0,
            _ => -4.0,
        };
        let _ = write!(
            out,
            "<text class=\"name n-{}\" x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"{anchor}\">{}</text>",
            hue(layer.hue),
            self.px(place.at[0]) + dx,
            self.py(place.at[1]) + dy,
            escaped(&layer.name)
        );
    }
}

#[cfg(test)]
mod tests {
    use super::super::page::Form;
    use super::*;

    fn everything() -> Plot {
        let axis = |label: &str| Axis::new(label, Form::Light);
        Plot::new("All & <every> kind", axis("x"), axis("y"))
            .with("line", Hue::Driver, LayerKind::Line(vec![[0.0, 0.1], [1.0, 0.3]]))
            .with("", Hue::Car, LayerKind::Dashed(vec![[0.0, 0.1], [f64::NAN, 0.3], [1.0, 0.0]]))
            .with("", Hue::Risk, LayerKind::Band(vec![[0.0, 0.0, 0.1], [1.0, 0.1, 0.2]]))
            .with("", Hue::Text, LayerKind::Points(vec![[0.5, 0.2]]))
            .with("", Hue::Muted, LayerKind::Whiskers(vec![[0.5, 0.2, 0.1, 0.3]]))
            .with("", Hue::Clear, LayerKind::Columns(vec![[0.0, 0.5, 0.2]]))
            .with("", Hue::Text, LayerKind::Rug(vec![0.1, 0.9]))
            .with("good", Hue::Clear, LayerKind::Stripe(0.0, 0.2))
            .with("limit", Hue::Muted, LayerKind::Level(0.25))
            .with("now \u{202e}<b>", Hue::Muted, LayerKind::Upright(0.4))
    }

    #[test]
    fn every_layer_is_drawn_and_no_number_is_none() {
        let picture = svg(&everything(), "p");
        for class in ["line", "broken", "band", "column", "stripe", "name", "frame"] {
            assert!(picture.contains(&format!("class=\"{class}")), "{class}");
        }
        assert!(!picture.contains("NaN") && !picture.contains("inf"), "{picture}");
        assert!(picture.contains("<title id=\"p-title\">All &amp; &lt;every&gt; kind</title>"));
        assert!(!picture.contains("<b>") && !picture.contains('\u{202e}'));
        assert!(!picture.contains("script") && !picture.contains("href"));
    }

    #[test]
    fn a_file_brings_its_style_along_and_a_plot_of_nothing_is_one() {
        let axis = || Axis::new("", Form::Day);
        let file = svg_file(&Plot::new("Nothing", axis(), axis()));
        assert_eq!(file.matches("<style>").count(), 1);
        assert!(file.starts_with("<svg width=\"720\" height=\"340\" class"), "{file}");
        assert!(file.contains("--driver:#") && file.contains("prefers-color-scheme:dark"));
    }
}
