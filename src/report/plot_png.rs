//! A plot as a PNG on paper's ground: the figure of its SVG in pixels.
//!
//! Owns the colours and the type of that picture. Refuses places: a [`Figure`] has them.

use super::figure::{
    Anchor, DOT, FIELD, Figure, HALO, HEIGHT, Ink, Shape, TEXT_SIZE, WIDTH, Words,
};
use super::page::{Hue, Plot};
use super::palette::{self, Rgb};
use super::picture::{Canvas, Pen, PictureError, Type};

/// Pixels a unit of the figure.
const SCALE: u16 = 2;

/// A plot as a PNG file of 1440 by 680 pixels: the picture of [`super::svg_file`] on a light ground,
/// in the shipped type. Its title is not in it: write it beside the picture.
///
/// # Errors
/// [`PictureError`] if the picture cannot be made into a file.
///
/// ```
/// use lastamber::report::page::{Axis, Form, Hue, LayerKind, Plot};
/// use lastamber::report::png_file;
///
/// let plot = Plot::new("t", Axis::new("run", Form::Plain(0)), Axis::new("light, s", Form::Light))
///     .with("green", Hue::Muted, LayerKind::Points(vec![[1.0, 0.25]]));
/// assert_eq!(&png_file(&plot)?[1..4], b"PNG");
/// # Ok::<(), lastamber::report::PictureError>(())
/// ```
pub fn png_file(plot: &Plot) -> Result<Vec<u8>, PictureError> {
    let figure = Figure::of(plot);
    let mut canvas = Canvas::new((WIDTH, HEIGHT), SCALE)?;
    canvas.area((0.0, 0.0), (WIDTH, HEIGHT), GROUND);
    figure.axes.iter().for_each(|shape| paint(&mut canvas, shape));
    canvas.keep_within((FIELD.left, FIELD.top), (FIELD.width, FIELD.height));
    figure.layers.iter().for_each(|shape| paint(&mut canvas, shape));
    canvas.keep_anywhere();
    figure.names.iter().for_each(|name| write(&mut canvas, name));
    canvas.png()
}

const GROUND: Rgb = palette::LIGHT[6];
const FRAME: Rgb = palette::LIGHT[8];

fn hue(hue: Hue) -> Rgb {
    let [driver, car, text, muted, risk, clear, ..] = palette::LIGHT;
    match hue {
        Hue::Driver => driver,
        Hue::Car => car,
        Hue::Text => text,
        Hue::Muted => muted,
        Hue::Risk => risk,
        Hue::Clear => clear,
    }
}

fn paint(canvas: &mut Canvas, shape: &Shape) {
    match shape {
        Shape::Strokes { stroke, ink, lines } => {
            let ink = match ink {
                Ink::Hue(of) => hue(*of),
                Ink::Frame => FRAME,
            };
            canvas.lines(lines, Pen { width: stroke.width(), dashes: stroke.dashes() }, ink);
        }
        Shape::Areas { shade, hue: of, rounds } => {
            canvas.areas(rounds, hue(*of), shade.opacity());
        }
        Shape::Dots { hue: of, at } => {
            at.iter().for_each(|[x, y]| canvas.dot((*x, *y), DOT / 2.0, hue(*of)));
        }
        Shape::Words(words) => write(canvas, words),
    }
}

fn write(canvas: &mut Canvas, words: &Words) {
    let font = match words.name_of {
        Some(_) => Type::medium(TEXT_SIZE),
        None => Type::regular(TEXT_SIZE),
    };
    let fill = hue(words.name_of.unwrap_or(Hue::Muted));
    let room = if words.upwards { HEIGHT } else { WIDTH };
    let text = font.shortened(&words.text, room);
    let before = match words.anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => 0.5 * font.width(&text),
        Anchor::End => font.width(&text),
    };
    let [x, y] = words.at;
    match (words.upwards, words.name_of) {
        (true, _) => canvas.text_upwards((x, y + before), &text, font, fill),
        (false, Some(_)) => {
            canvas.text_ground((x - before, y), &text, font, GROUND, HALO);
            canvas.text((x - before, y), &text, font, fill);
        }
        (false, None) => canvas.text((x - before, y), &text, font, fill),
    }
}

#[cfg(test)]
mod tests {
    use tiny_skia::Pixmap;

    use super::super::page::{Axis, Form, LayerKind};
    use super::super::svg::svg;
    use super::*;

    const HUES: [Hue; 6] = [Hue::Driver, Hue::Car, Hue::Text, Hue::Muted, Hue::Risk, Hue::Clear];

    /// A plot with nothing on it: its axes are muted, so that any other hue is a layer's.
    fn plot() -> Plot {
        let axis = || Axis::new("", Form::Day).from_to(0.1, 0.9);
        Plot::new("t", axis(), axis())
    }

    fn picture(plot: &Plot) -> Pixmap {
        Pixmap::decode_png(&png_file(plot).unwrap()).unwrap()
    }

    fn at(picture: &Pixmap, x: f64, y: f64) -> [u8; 3] {
        let pixel = picture.pixel((x * 2.0) as u32, (y * 2.0) as u32).unwrap();
        [pixel.red(), pixel.green(), pixel.blue()]
    }

    /// The colour where a hue hides so much of the ground, to one step.
    fn is_shade(pixel: [u8; 3], Rgb(r, g, b): Rgb, opacity: f64) -> bool {
        let Rgb(wr, wg, wb) = GROUND;
        [(r, wr), (g, wg), (b, wb)].into_iter().zip(pixel).all(|((ink, ground), seen)| {
            let wanted = opacity * f64::from(ink) + (1.0 - opacity) * f64::from(ground);
            (wanted - f64::from(seen)).abs() <= 1.5
        })
    }

    /// Pixels of a hue in that strength, in the whole picture.
    fn count(picture: &Pixmap, of: Hue, opacity: f64) -> usize {
        let seen = picture.pixels().iter().map(|p| [p.red(), p.green(), p.blue()]);
        seen.filter(|pixel| is_shade(*pixel, hue(of), opacity)).count()
    }

    #[test]
    fn it_has_its_size_and_hides_all_of_what_is_behind_it() {
        let picture = picture(&plot());
        assert_eq!((picture.width(), picture.height()), (1440, 680));
        assert!(picture.pixels().iter().all(|pixel| pixel.is_opaque()));
        assert_eq!(at(&picture, 700.0, 2.0), [0xff, 0xff, 0xff]);
        assert_eq!(HUES.map(|of| count(&picture, of, 1.0))[..2], [0, 0], "axes have no such hue");
    }

    #[test]
    fn every_layer_shows_in_its_hue_as_much_as_it_covers() {
        // Of a field of 1264 × 548 pixels, air included: 0.1 to 0.9 are 1170 × 507 of them; columns
        // have it begin at 0, and 0.936 is its top.
        let across = |share: f64| 1170.0 * share / 0.8;
        let cases = [
            (LayerKind::Line(vec![[0.1, 0.5], [0.9, 0.5]]), 1.0, across(0.8) * 4.0),
            (LayerKind::Dashed(vec![[0.1, 0.5], [0.9, 0.5]]), 1.0, across(0.8) * 3.0 * 0.6),
            (LayerKind::Band(vec![[0.1, 0.3, 0.7], [0.9, 0.3, 0.7]]), 0.22, across(0.8) * 253.5),
            (LayerKind::Points(vec![[0.3, 0.5], [0.6, 0.5]]), 1.0, 2.0 * 113.0),
            (LayerKind::Whiskers(vec![[0.5, 0.5, 0.3, 0.7]]), 1.0, 113.0 + 2.0 * 241.5),
            (LayerKind::Columns(vec![[0.2, 0.4, 0.5]]), 0.55, across(0.2) * 548.0 * 0.5 / 0.936),
            (LayerKind::Rug(vec![0.2, 0.5, 0.8]), 1.0, 3.0 * 2.0 * 19.0),
            (LayerKind::Stripe(0.2, 0.4), 0.12, across(0.2) * 548.0),
            (LayerKind::Upright(0.5), 1.0, 548.0 * 3.0 * 0.6),
            (LayerKind::Level(0.5), 1.0, 1264.0 * 3.0 * 0.6),
        ];
        let before = picture(&plot());
        for (kind, opacity, covered) in cases {
            let seen = picture(&plot().with("", Hue::Risk, kind.clone()));
            assert!(count(&seen, Hue::Risk, opacity) > 100, "{kind:?}");
            let share = inked(&before, &seen, hue(Hue::Risk)) / opacity / covered;
            assert!((0.94..1.06).contains(&share), "{kind:?}: {share:.3}");
        }
    }

    /// How many pixels' worth of an ink has come onto the ground.
    fn inked(before: &Pixmap, after: &Pixmap, Rgb(r, g, b): Rgb) -> f64 {
        let sum = |picture: &Pixmap| -> f64 {
            let light = |p: &tiny_skia::PremultipliedColorU8| -> f64 {
                f64::from(p.red()) + f64::from(p.green()) + f64::from(p.blue())
            };
            picture.pixels().iter().map(light).sum()
        };
        let dark = [r, g, b].map(|ink| 255.0 - f64::from(ink)).iter().sum::<f64>();
        (sum(before) - sum(after)) / dark
    }

    #[test]
    fn layers_without_anything_on_them_leave_none_of_their_hue() {
        let empty = [
            LayerKind::Line(vec![]),
            LayerKind::Dashed(vec![[f64::NAN, 0.5]]),
            LayerKind::Band(vec![]),
            LayerKind::Points(vec![]),
            LayerKind::Whiskers(vec![]),
            LayerKind::Columns(vec![]),
            LayerKind::Rug(vec![]),
        ];
        let plot = empty.into_iter().fold(plot(), |plot, kind| plot.with("", Hue::Car, kind));
        let picture = picture(&plot);
        for opacity in [1.0, 0.55, 0.22] {
            assert_eq!(count(&picture, Hue::Car, opacity), 0);
        }
    }

    #[test]
    fn every_hue_is_its_own_colour() {
        let line = |y| LayerKind::Line(vec![[0.1, y], [0.9, y]]);
        let plot = HUES
            .into_iter()
            .enumerate()
            .fold(plot(), |plot, (i, of)| plot.with("", of, line(0.2 + 0.1 * i as f64)));
        let picture = picture(&plot);
        for of in HUES {
            assert!(count(&picture, of, 1.0) > 2_000, "{of:?}");
        }
    }

    #[test]
    fn points_lie_where_the_other_file_has_them() {
        let points: Vec<[f64; 2]> = (0..30)
            .map(|i| [0.1 + 0.025 * f64::from(i), 0.1 + 0.8 * f64::from(i * 7 % 30) / 29.0])
            .collect();
        let plot = plot().with("", Hue::Driver, LayerKind::Points(points));
        let (picture, vector) = (picture(&plot), svg(&plot, "p"));
        let (_, dots) = vector.split_once("stroke-linecap=\"round\" d=\"M").unwrap();
        let dots = dots.split_once('"').unwrap().0;
        let mut seen = 0;
        for dot in dots.split('M') {
            let (x, y) = dot.strip_suffix("h0").unwrap().split_once(' ').unwrap();
            let (x, y): (f64, f64) = (x.parse().unwrap(), y.parse().unwrap());
            assert!(is_shade(at(&picture, x, y), hue(Hue::Driver), 1.0), "{x} {y}");
            seen += 1;
        }
        assert_eq!(seen, 30);
    }

    #[test]
    fn what_sticks_out_of_the_field_is_cut_off() {
        let axis = || Axis::new("", Form::Day).from_to(0.0, 1.0);
        let columns = LayerKind::Columns(vec![[0.2, 0.4, 0.5]]);
        // Columns stand on the foot, so that half of a point at zero lies below it.
        let plot = Plot::new("t", axis(), axis()).with("", Hue::Muted, columns).with(
            "",
            Hue::Risk,
            LayerKind::Points(vec![[0.8, 0.0]]),
        );
        let picture = picture(&plot);
        let foot = (2.0 * (FIELD.top + FIELD.height)) as usize;
        let row = |y: usize| &picture.pixels()[y * 1440..(y + 1) * 1440];
        let risk = |y: usize| {
            let pixels = row(y).iter().map(|p| [p.red(), p.green(), p.blue()]);
            pixels.filter(|pixel| is_shade(*pixel, hue(Hue::Risk), 1.0)).count()
        };
        assert!(risk(foot - 3) >= 8, "{}", risk(foot - 3));
        assert_eq!((foot..foot + 8).map(risk).sum::<usize>(), 0);
    }

    #[test]
    fn numbers_labels_and_names_are_written_where_they_belong() {
        let axis = |label: &str| Axis::new(label, Form::Light);
        let plot = Plot::new("t", axis("light, s"), axis("share of runs"))
            .with("own lights", Hue::Driver, LayerKind::Line(vec![[0.0, 0.1], [1.0, 0.3]]))
            .with("", Hue::Driver, LayerKind::Level(0.2));
        let figure = Figure::of(&plot);
        let on_axes = figure.axes.iter().filter_map(|shape| match shape {
            Shape::Words(words) => Some(words),
            _ => None,
        });
        let all: Vec<&Words> = on_axes.chain(&figure.names).collect();
        assert!(all.len() > 10 && all.iter().any(|words| words.upwards));
        let picture = picture(&plot);
        for words in all {
            let font = Type::regular(TEXT_SIZE);
            let (long, high) = (font.width(&words.text), 0.73 * TEXT_SIZE);
            let [x, y] = words.at;
            let before = match words.anchor {
                Anchor::Start => 0.0,
                Anchor::Middle => 0.5 * long,
                Anchor::End => long,
            };
            let [left, top, right, bottom] = match words.upwards {
                true => [x - high, y, x, y + long],
                false => [x - before, y - high, x - before + long, y],
            };
            let of = hue(words.name_of.unwrap_or(Hue::Muted));
            let mut ink = 0;
            for px in (2.0 * left) as u32..(2.0 * right) as u32 {
                for py in (2.0 * top) as u32..(2.0 * bottom) as u32 {
                    let pixel = picture.pixel(px, py).unwrap();
                    let pixel = [pixel.red(), pixel.green(), pixel.blue()];
                    ink += usize::from(is_shade(pixel, of, 1.0));
                }
            }
            let share = ink as f64 / (4.0 * long * high);
            assert!((0.05..0.6).contains(&share), "{}: {share:.2}", words.text);
        }
    }

    #[test]
    fn hostile_words_and_numbers_make_a_picture_all_the_same() {
        let axis = || Axis::new("\u{1b}[2J\u{202e}名前 ".repeat(5_000), Form::Plain(3));
        for far in [1e300, f64::MAX, f64::INFINITY, f64::NAN, 1e-300] {
            let at = vec![[-far, far], [0.0, -far], [far, 0.0]];
            let plot = Plot::new("t", axis(), axis())
                .with("W".repeat(100_000), Hue::Driver, LayerKind::Line(at.clone()))
                .with("", Hue::Car, LayerKind::Dashed(at.clone()))
                .with("", Hue::Risk, LayerKind::Points(at))
                .with("", Hue::Clear, LayerKind::Columns(vec![[-far, far, far]]))
                .with("", Hue::Text, LayerKind::Rug(vec![far, -far]))
                .with("s", Hue::Muted, LayerKind::Stripe(-far, far));
            assert_eq!(picture(&plot).width(), 1440, "{far}");
        }
    }
}
