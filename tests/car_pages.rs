//! My car, the slip book, a slip and home against track as read: a car well known, hardly known and
//! filmed; many slips, one, none.

mod desk_support;

use desk_support::*;
use lastamber::car::{
    Answers, BeamLine, CarKind, CarModel, Details, FilmedPart, Strength, TyreAnswer,
};
use lastamber::history::{Loaded, SlipLine};
use lastamber::report::home_track::home_to_track_page;
use lastamber::report::my_car::my_car_page;
use lastamber::report::page::{Block, LayerKind, Page};
use lastamber::report::slip::slip_page;
use lastamber::report::slip_book::slip_book_page;
use lastamber::rules::TrackLength;
use lastamber::slips::{LaunchFeel, Manner, Slip, SlipOrigin, read_column};
use lastamber::strategy::own::{Bridge, OwnLines};
use lastamber::trial::Style;
use lastamber::units::{Inches, Measured};

const QUARTER: TrackLength = TrackLength::Quarter;

fn car(details: Details) -> CarModel {
    let answers = Answers { tyre: TyreAnswer::Diameter(Inches(25.0)), ..Answers::default() };
    CarModel::new(&answers, details, BeamLine::default()).unwrap()
}

fn known() -> Details {
    Details {
        strength: Some(Strength::SixtyFoot(Measured::new(2.0, 0.03))),
        weight_lb: Some(3400.0),
        power_hp: Some(310.0),
        ..Details::default()
    }
}

/// A whole slip: 60 ft at `rpm`, the rest of a printed run.
fn whole(id: usize, day: i8, rt: &str, t60: &str, rpm: f64) -> SlipLine {
    let mut line = slip(id, day, 0.0, Some(Manner::Timed));
    line.slip.own = read_column(&format!("{rt} {t60} 5.678 8.637 83.95 - 13.464 105.04")).unwrap();
    line.slip.launch_rpm = Some(rpm);
    line.slip.feel = Some(LaunchFeel::Bogged);
    line.slip.track = "our strip".to_owned();
    line
}

fn book() -> Vec<SlipLine> {
    vec![
        whole(0, 6, ".145", "1.990", 2000.0),
        whole(1, 6, ".062", "1.975", 2000.0),
        whole(2, 6, "-.012", "1.963", 2400.0),
        whole(3, 13, ".033", "1.951", 2400.0),
        whole(4, 13, ".041", "1.958", 2400.0),
        whole(5, 13, ".027", "2.210", 2400.0),
    ]
}

fn bridge_page(slips: Vec<SlipLine>) -> Page {
    let days = [4, 6, 9, 11].map(|day| (Style::TimeIt, day));
    let loaded = Loaded { trials: blocks(&days, 11), slips, ..Loaded::default() };
    let bridge = Bridge::new(&OwnLines::from(&loaded), &setup(Style::TimeIt), 0.90).unwrap();
    home_to_track_page(bridge.as_ref())
}

fn book_page(lines: &[SlipLine]) -> Page {
    slip_book_page(&lines.iter().collect::<Vec<_>>())
}

#[track_caller]
fn assert_says(text: &str, parts: &[&str]) {
    for part in parts {
        assert!(text.contains(part), "{part} in\n{text}");
    }
}

/// What a person reads in one breath; tables and pictures apart.
#[track_caller]
fn assert_short(page: &Page) {
    let words = |text: &str| text.split_whitespace().count();
    assert!(words(&page.headline) <= 25, "{}", page.headline);
    for block in &page.blocks {
        if let Block::Text(text) | Block::Note(text) | Block::Caution(text) = block {
            assert!(words(text) <= 60, "{text}");
        }
    }
}

#[test]
fn my_car_says_its_part_its_doubt_what_moves_it_and_what_depth_trades() {
    let page = my_car_page("the old one", &car(known()), QUARTER);
    let text = said(&page);
    assert_short(&page);
    assert_says(
        &text,
        &[
            "the old one: ",
            "Where the doubt comes from",
            "60 ft in 2.00 ± 0.03 s",
            "Assumed, because you have not said: how you leave, how deep you stage",
            "What moves it",
            "staging deeper | 1 in | -",
            "The stage beam ends your roll",
            "Staging deeper",
            "Three published formulas say",
            "no promise",
        ],
    );
    let plot = page.blocks.iter().find_map(|b| if let Block::Plot(p) = b { Some(p) } else { None });
    let lines = plot.expect("the trade is drawn").layers.iter();
    assert_eq!(lines.filter(|layer| matches!(layer.kind, LayerKind::Line(_))).count(), 2);
}

#[test]
fn a_car_nobody_knows_says_what_is_assumed_and_what_would_tell_more() {
    let nothing = CarModel::from_answers(&Answers::default(), BeamLine::default()).unwrap();
    let page = my_car_page("my car", &nothing, TrackLength::Eighth);
    let text = said(&page);
    assert_short(&page);
    let assumed = "the front tyre, how you leave, how strong it launches, how deep you stage";
    assert_says(&text, &[assumed, "Tell weight and power", "eighth mile"]);
}

#[test]
fn a_filmed_car_names_its_film_and_no_other_source_of_doubt() {
    let frames = vec![86.0, 88.0, 84.0];
    let filmed = FilmedPart { seconds: Measured::new(0.358, 0.017), fps: 240.0, frames };
    let page = my_car_page("filmed", &car(Details { filmed: Some(filmed), ..known() }), QUARTER);
    let text = said(&page);
    assert_says(
        &text,
        &[
            "358 ± 17 ms from your launch until it leaves the beam, filmed, 3 launches",
            "film of the start line | 358 ± 17 ms | ± 17",
        ],
    );
    assert!(!text.contains("front tyre | 2") && !text.contains("Assumed"), "{text}");
}

#[test]
fn a_slip_book_counts_its_slips_asks_and_says_the_next_step() {
    let page = book_page(&book());
    let text = said(&page);
    assert_short(&page);
    assert!(text.starts_with("6 slips from 2 days, 1 red."), "{text}");
    assert_says(
        &text,
        &[
            "R/T | .037 | -.012 to .145 | 6 | ",
            "60' | 1.969 | 1.951 to 2.210 | 6 | 1.951",
            "Launch rpm",
            "2400 | 1.961",
            "One change at a time",
            "-.012 red",
        ],
    );
    // Newest first.
    let newest = text.find("2.210 | 5.678").expect("the last slip is in the table");
    assert!(newest < text.find("1.990 | 5.678").unwrap());
}

#[test]
fn an_empty_book_says_what_the_first_slip_is_good_for() {
    let page = book_page(&[]);
    assert_short(&page);
    assert_says(&said(&page), &["No slip yet.", "right after the run"]);
}

#[test]
fn practice_slips_are_marked_and_in_no_figure() {
    let mut computed = whole(9, 20, ".001", "1.500", 3000.0);
    computed.slip.origin = SlipOrigin::Simulated { trial: "run-1".to_owned() };
    let (alone, both) = (book(), [book(), vec![computed.clone()]].concat());
    let text = said(&book_page(&both));
    assert_says(&text, &["2026-06-20 SIM", "1 marked SIM"]);
    let figures = |page: &Page| -> Vec<Block> {
        let blocks = page.blocks.iter().filter(|block| match block {
            Block::Table(table) => table.title != "Newest first",
            Block::Note(note) => !note.contains("SIM"),
            _ => true,
        });
        blocks.cloned().collect()
    };
    assert_eq!(figures(&book_page(&both)), figures(&book_page(&alone)));
    assert!(said(&book_page(&[computed])).starts_with("No slip yet."));
}

#[test]
fn a_slip_is_paper_and_every_line_of_it_is_explained() {
    let line = &book()[2];
    let page = slip_page(&line.slip, Some(CarKind::QuickStreet));
    let text = said(&page);
    assert_short(&page);
    assert!(text.starts_with("R/T -.012, red; 13.464 at 105.04 mph"), "{text}");
    assert_says(&text, &["2400 rpm", "what it is", "typical", "what changes it"]);
    let nothing = slip_page(&Slip::default(), None);
    assert!(said(&nothing).starts_with("No R/T; no finish"), "{}", nothing.headline);
}

#[test]
fn home_against_track_opens_with_both_lights_and_ends_with_one_thing_to_try() {
    let late = whole(0, 6, ".245", "1.99", 2000.0);
    let page = bridge_page(vec![late]);
    let text = said(&page);
    assert_short(&page);
    assert!(text.starts_with("Slip .245, home .0"), "{text}");
    assert_says(
        &text,
        &[
            "more than your launches differ",
            "two slips give the first",
            "Likely reasons, the likeliest first",
            "One thing to try",
            "your car part and your rig's delay stay as they are",
            "± 25 ms: ",
            "± 10 ms: ",
            "more slips, by your spread at home",
        ],
    );
    let text = said(&bridge_page(book()));
    assert_says(
        &text,
        &["slips less home (90 %)", "n = 6", "by your slips' own spread", " later than here"],
    );
    let early = said(&bridge_page(vec![slip(0, 6, -0.045, None)]));
    assert_says(&early, &["earlier; that is more than your launches differ", " earlier than here"]);
}

#[test]
fn half_a_second_at_the_track_is_sent_to_the_last_amber() {
    let text = said(&bridge_page(vec![slip(0, 6, 0.52, Some(Manner::Timed))]));
    assert_says(&text, &["looks like waiting for green", "leave on the last amber"]);
}

#[test]
fn without_a_slip_to_hold_against_home_the_page_says_what_it_takes() {
    let page = bridge_page(Vec::new());
    assert_short(&page);
    assert_says(&said(&page), &["no slip to hold against home yet", "not left on green"]);
}
