//! Cards as they are drawn: what stands on them, that it fits, and that the PNG shows it.

use super::drawing::{Drawing, Shape};
use super::*;
use crate::demo::demo_lines;
use crate::history::Line;
use crate::strategy::desk::Asked;
use crate::strategy::own::OwnLines;
use crate::strategy::weeks::{Filter, SessionsBy, WeeksAsked};
use crate::trial::TrialRecord;
use tiny_skia::Pixmap;

/// The first runs of the made-up driver's newest set-up, under another driver's and car's name.
fn card_of(runs: usize, driver: &str, car: &str) -> Card {
    let lines = demo_lines(1).unwrap();
    let trials = lines.into_iter().filter_map(|line| match line {
        Line::Trial(trial) => Some(TrialRecord::from(*trial)),
        _ => None,
    });
    let all: Vec<TrialRecord> = trials.collect();
    let setup = OwnSetup::of(all.last().unwrap());
    let named = |mut run: TrialRecord| {
        run.driver = driver.into();
        run.car.name = car.to_owned();
        run
    };
    let trials: Vec<TrialRecord> =
        all.into_iter().filter(|run| setup.holds(run)).take(runs).map(named).collect();
    let setup = OwnSetup { driver: driver.to_owned(), car: car.to_owned(), ..setup };
    let lines = OwnLines { trials: &trials, ..OwnLines::default() };
    let filter = Filter::of_setup(&setup);
    let asked = WeeksAsked { filter, by: SessionsBy::Day, seed: 1 };
    let weeks = Weeks::new(&lines, &[], asked).unwrap();
    let desk = Desk::new(&lines, Asked::test_and_tune(setup.clone(), 1)).ok();
    Card::new(&setup, &weeks, desk.as_ref(), true)
}

fn drawing(card: &Card) -> Drawing {
    layout::drawn(card, Ground::Light)
}

fn texts(drawing: &Drawing) -> Vec<&str> {
    let text = |shape: &'_ Shape| matches!(shape, Shape::Text { .. });
    let texts = drawing.shapes.iter().filter(|shape| text(shape));
    texts
        .map(|shape| match shape {
            Shape::Text { text, .. } => text.as_str(),
            _ => "",
        })
        .collect()
}

/// Every text lies inside the card and beside the others.
fn assert_it_fits(drawing: &Drawing) {
    let (width, height) = drawing.size;
    let mut boxes: Vec<([f64; 4], &str)> = Vec::new();
    for shape in &drawing.shapes {
        let Shape::Text { at, text, font, .. } = shape else { continue };
        let box_ = [at.0, at.1 - 0.73 * font.size, at.0 + font.width(text), at.1];
        assert!(box_[0] >= 0.0 && box_[2] <= width - 15.0, "{text} at {box_:?}");
        assert!(box_[1] >= 0.0 && box_[3] <= height - 8.0, "{text} at {box_:?}");
        for (other, words) in &boxes {
            let apart = box_[2] <= other[0]
                || other[2] <= box_[0]
                || box_[3] <= other[1]
                || other[3] <= box_[1];
            assert!(apart, "{text} at {box_:?} over {words} at {other:?}");
        }
        boxes.push((box_, text));
    }
    assert!(boxes.len() > 12);
}

#[test]
fn whatever_the_names_nothing_is_cut_off_and_nothing_overlaps() {
    let long = "Maximiliana Wolkenbruch-Hohenstaufen von der Untersten Wiesenmühle ".repeat(4);
    for (driver, car) in [
        ("Demo driver", "Demo car"),
        (long.as_str(), long.as_str()),
        (&"W".repeat(5_000), &"m".repeat(5_000)),
        ("", " \n "),
        ("\u{1b}[2J\u{202e}", "名前の長い車 🏁"),
    ] {
        for runs in [0, 1, 9, 400] {
            let card = card_of(runs, driver, car);
            let drawing = drawing(&card);
            assert_it_fits(&drawing);
            let ellipses = texts(&drawing).iter().filter(|text| text.ends_with('\u{2026}')).count();
            assert_eq!(ellipses >= 2, driver.len() > 100, "{driver}: {ellipses}");
        }
    }
}

#[test]
fn a_name_in_two_lines_is_whole() {
    let car = "The old blue one with the tall tyres from the barn";
    let card = card_of(20, "Demo driver", car);
    assert!(texts(&drawing(&card)).join(" ").contains(car));
}

#[test]
fn every_number_stands_with_its_interval_and_count() {
    let card = card_of(400, "Demo driver", "Demo car");
    for row in &card.rows[..4] {
        assert!(row.value.is_some(), "{row:?}");
        let counted = row.detail.contains("n = ") || row.detail.contains(" starts");
        assert!(row.detail.contains(" to ") && counted, "{row:?}");
    }
    let said = texts(&drawing(&card)).join("\n");
    for words in ["DEMO", "no official time slip", "home practice", "runs in", "nine times in ten"]
    {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(!said.contains("NaN") && !said.contains("inf"), "{said}");
}

#[test]
fn too_little_is_said_and_no_number_is_made_up() {
    for runs in [0, 1] {
        let card = card_of(runs, "Demo driver", "Demo car");
        let told: Vec<&str> =
            card.rows.iter().filter(|r| r.value.is_some()).map(|r| r.name.as_str()).collect();
        let wanted: &[&str] = if runs == 0 { &[] } else { &["Red lights at home"] };
        assert_eq!(told, wanted);
        assert!(card.plot.is_err());
        let said = texts(&drawing(&card)).join("\n");
        assert!(
            said.contains("not known yet") && said.contains("No session to draw yet"),
            "{said}"
        );
        assert!(said.contains("more launches tell"), "{said}");
    }
}

#[test]
fn a_file_is_closed_escaped_and_fetches_nothing() {
    let name = "</text><script>alert(1)</script>&\"'";
    let svg = card_of(40, name, name).svg(Ground::Light);
    assert!(svg.starts_with("<svg ") && svg.ends_with("</svg>\n"));
    assert!(!svg.contains("<script") && !svg.contains("href") && !svg.contains("url("));
    assert_eq!(svg.matches("http://").count(), svg.matches("http://www.w3.org/2000/svg").count());
    assert_eq!(svg.matches("<text ").count(), svg.matches("</text>").count());
    assert_ne!(svg, card_of(40, name, name).svg(Ground::Dark));
}

/// How many pixels of a rectangle in units of the card are not of its ground.
fn inked(picture: &Pixmap, [left, top, right, bottom]: [f64; 4]) -> usize {
    let scale = f64::from(PIXELS_PER_UNIT);
    let [left, top, right, bottom] = [left, top, right, bottom].map(|at| (scale * at) as u32);
    let ground = palette_ground();
    let rows = top..bottom;
    rows.flat_map(|y| (left..right).map(move |x| (x, y)))
        .filter(|(x, y)| {
            let pixel = picture.pixel(*x, *y).unwrap();
            (pixel.red(), pixel.green(), pixel.blue()) != ground
        })
        .count()
}

fn palette_ground() -> (u8, u8, u8) {
    let crate::report::palette::Rgb(r, g, b) = crate::report::palette::LIGHT[6];
    (r, g, b)
}

#[test]
fn the_picture_has_its_size_and_letters_where_the_numbers_stand() {
    let card = card_of(400, "Demo driver", "Demo car");
    let picture = Pixmap::decode_png(&card.png(Ground::Light).unwrap()).unwrap();
    assert_eq!((picture.width(), picture.height()), (1080, 1920));
    assert!(picture.pixels().iter().all(|pixel| pixel.is_opaque()));
    let drawing = drawing(&card);
    let mut numbers = 0;
    for shape in &drawing.shapes {
        let Shape::Text { at, text, font, .. } = shape else { continue };
        if !card.rows.iter().any(|row| row.value.as_deref() == Some(text)) {
            continue;
        }
        numbers += 1;
        let around = [at.0, at.1 - 0.73 * font.size, at.0 + font.width(text), at.1];
        let (ink, all) =
            (inked(&picture, around), 9.0 * (around[2] - around[0]) * 0.73 * font.size);
        assert!((0.15..0.8).contains(&(ink as f64 / all)), "{text}: {ink} of {all:.0}");
    }
    assert!(numbers >= 4);
    // Between the rows and their numbers there is nothing but ground.
    assert_eq!(inked(&picture, [4.0, 150.0, 20.0, 600.0]), 0);
}

#[test]
fn the_picture_of_no_size_is_an_error() {
    let nothing = Drawing::new((0.0, 10.0), "");
    assert_eq!(painted::png(&nothing, 3), Err(PictureError::Size { width: 0.0, height: 30.0 }));
}

#[test]
fn every_kind_of_run_left_out_is_named() {
    let mut card = card_of(400, "Demo driver", "Demo car");
    let all = "Of the runs: 13 left or rolled out before the last amber, which are red, 13 never left, which \
               are late, 111 excluded, 12 excluded reds that count all the same, 104 void and left out, 105 \
               broken off and left out, 12 blank runs of the guess test beside them, 3 by a script.";
    card.left_out = Some(all.to_owned());
    let drawing = drawing(&card);
    assert_it_fits(&drawing);
    let said = texts(&drawing).join(" ");
    assert!(said.contains(all), "{said}");
}
