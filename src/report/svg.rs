//! A plot as a picture that needs nothing else: SVG without script, light and dark.
//!
//! Owns the elements and the style they share. Refuses places: a [`Figure`] has them.

use std::fmt::Write;

use super::figure::{
    Anchor, DOT, FIELD, Figure, HALO, HEIGHT, Ink, Shade, Shape, Stroke, TEXT_SIZE, WIDTH, Words,
};
use super::page::{Hue, Plot};
use super::palette::{self, Rgb};
use super::safe_text::escaped;

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
    let [drawn, free] = Stroke::Broken.dashes().unwrap_or_default();
    format!(
        ":root{{{light}color-scheme:light dark}}\
         @media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}\
         .plot{{font:{TEXT_SIZE}px system-ui,sans-serif;background:var(--ground)}}\
         .plot text{{fill:var(--muted)}}.plot .frame{{stroke:var(--line);fill:none}}\
         .plot .name{{font-weight:600;paint-order:stroke;stroke:var(--ground);stroke-width:{HALO}px}}\
         {names}{hues}.plot .line{{stroke-width:{line};stroke-linejoin:round}}\
         .plot .broken{{stroke-width:{broken};stroke-dasharray:{drawn} {free}}}\
         .plot .band{{opacity:{band}}}.plot .stripe{{opacity:{stripe}}}\
         .plot .column{{opacity:{column}}}",
        line = Stroke::Line.width(),
        broken = Stroke::Broken.width(),
        band = Shade::Band.opacity(),
        stripe = Shade::Stripe.opacity(),
        column = Shade::Column.opacity(),
        names = ["driver", "car", "text", "muted", "risk", "clear"]
            .iter()
            .map(|hue| format!(".plot .n-{hue}{{fill:var(--{hue})}}"))
            .collect::<String>(),
    )
}

/// A plot for a page that has the `style` of the report; `id` is the plot's own on that page.
pub fn svg(plot: &Plot, id: &str) -> String {
    let figure = Figure::of(plot);
    let mut out = String::new();
    let title = escaped(&plot.title);
    let _ = write!(
        out,
        "<svg class=\"plot\" xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" \
         role=\"img\" aria-labelledby=\"{id}-title\"><title id=\"{id}-title\">{title}</title>\
         <clipPath id=\"{id}-clip\"><rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/></clipPath>",
        FIELD.left, FIELD.top, FIELD.width, FIELD.height,
    );
    figure.axes.iter().for_each(|shape| element(&mut out, shape));
    let _ = write!(out, "<g clip-path=\"url(#{id}-clip)\">");
    figure.layers.iter().for_each(|shape| element(&mut out, shape));
    out.push_str("</g>");
    figure.names.iter().for_each(|name| text(&mut out, name));
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

fn element(out: &mut String, shape: &Shape) {
    let _ = match shape {
        Shape::Strokes { stroke, ink, lines } => {
            let class = match (stroke, ink) {
                (_, Ink::Frame) => "frame".to_owned(),
                (Stroke::Thin, Ink::Hue(of)) => format!("s-{}", hue(*of)),
                (Stroke::Line, Ink::Hue(of)) => format!("line s-{}", hue(*of)),
                (Stroke::Broken, Ink::Hue(of)) => format!("broken s-{}", hue(*of)),
            };
            let lines: String = lines.iter().map(|line| path(line)).collect();
            write!(out, "<path class=\"{class}\" d=\"{lines}\"/>")
        }
        Shape::Areas { shade, hue: of, rounds } => {
            let class = match shade {
                Shade::Band => "band",
                Shade::Stripe => "stripe",
                Shade::Column => "column",
            };
            let rounds: String = rounds.iter().map(|round| path(round) + "Z").collect();
            write!(out, "<path class=\"{class} f-{}\" d=\"{rounds}\"/>", hue(*of))
        }
        // Many points as one path of dots: a circle each would make a history of years a heavy page.
        Shape::Dots { hue: of, at } => {
            let dots: String = at.iter().map(|[x, y]| format!("M{x:.1} {y:.1}h0")).collect();
            write!(
                out,
                "<path class=\"s-{}\" stroke-width=\"{DOT}\" stroke-linecap=\"round\" d=\"{dots}\"/>",
                hue(*of)
            )
        }
        Shape::Words(words) => {
            text(out, words);
            Ok(())
        }
    };
}

fn path(line: &[[f64; 2]]) -> String {
    let step = |(i, [x, y]): (usize, &[f64; 2])| {
        let letter = if i == 0 { 'M' } else { 'L' };
        format!("{letter}{x:.1} {y:.1}")
    };
    line.iter().enumerate().map(step).collect()
}

fn text(out: &mut String, words: &Words) {
    let [x, y] = words.at;
    let class =
        words.name_of.map_or_else(String::new, |of| format!(" class=\"name n-{}\"", hue(of)));
    let place = match words.upwards {
        true => format!("transform=\"translate({x:.1} {y:.1}) rotate(-90)\""),
        false => format!("x=\"{x:.1}\" y=\"{y:.1}\""),
    };
    let anchor = match words.anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    let text = escaped(&words.text);
    let _ = write!(out, "<text{class} {place} text-anchor=\"{anchor}\">{text}</text>");
}

#[cfg(test)]
mod tests {
    use super::super::page::{Axis, Form, LayerKind};
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
