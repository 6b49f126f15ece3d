//! Aim and Odds as read: enough launches, eight of them, none.

mod desk_support;

use desk_support::*;
use lastamber::history::Loaded;
use lastamber::report::desk::{aim_page, odds_page};
use lastamber::report::page::{Block, LayerKind, Page, Plot};
use lastamber::rules::{FoulRule, TreeKind};
use lastamber::strategy::desk::{Against, Asked, Desk, Rival};
use lastamber::strategy::odds::{Finish, Level, Order, Race};
use lastamber::strategy::own::OwnLines;
use lastamber::trial::Style;

fn against() -> Against {
    let race = Race::heads_up(Finish::gap(0.010, 0.030).unwrap());
    Against { rival: Rival::Level(Level::Weekend), race, rounds: 3 }
}

fn desk(loaded: &Loaded, style: Style, against: Option<Against>) -> Desk {
    let asked = Asked { against, ..Asked::test_and_tune(setup(style), 1) };
    Desk::new(&OwnLines::from(loaded), asked).unwrap()
}

fn first(loaded: &Loaded, n: usize) -> Loaded {
    Loaded { trials: loaded.trials[..n].to_vec(), ..Loaded::default() }
}

fn plot(page: &Page) -> &Plot {
    let mut plots = page.blocks.iter().filter_map(|block| match block {
        Block::Plot(plot) => Some(plot),
        _ => None,
    });
    plots.next_back().expect("the page has a plot")
}

#[test]
fn aim_opens_with_the_answer_and_draws_it() {
    let loaded = Loaded { cars: vec![car_line()], ..full_history() };
    let told = desk(&loaded, Style::TimeIt, Some(against()));
    let page = aim_page(&told, 0.012);
    let text = said(&page);
    for part in [
        "60 launches on 6 days, 22 slips on 2 days",
        "Slider 12 ms earlier: red ",
        "this form",
        "next session",
        "at the track in this car",
        "How early for a risk you accept",
        "Timing it (free of ET, only for one who anticipates)",
        "ET pays it back",
        "React or time it?",
        "What to practise next",
        "Practice and slips, never mixed",
    ] {
        assert!(text.contains(part), "{part} in\n{text}");
    }
    let layers = &plot(&page).layers;
    let has = |want: fn(&LayerKind) -> bool| layers.iter().any(|layer| want(&layer.kind));
    assert!(has(|kind| matches!(kind, LayerKind::Band(at) if at.len() == 121)));
    assert!(has(|kind| matches!(kind, LayerKind::Stripe(low, high) if low < high)));
    assert!(has(|kind| matches!(kind, LayerKind::Upright(at) if (at - 0.012).abs() < 1e-12)));
    assert!(has(|kind| matches!(kind, LayerKind::Rug(at) if at.len() > 30)));
    assert_eq!(layers.iter().filter(|l| matches!(l.kind, LayerKind::Line(_))).count(), 2);
}

#[test]
fn a_test_and_tune_has_no_winner_and_no_odds() {
    let told = desk(&full_history(), Style::TimeIt, None);
    let page = aim_page(&told, 0.0);
    let text = said(&page);
    for word in ["win", "race", "opponent", "odds", "round"] {
        let found = text.split(|c: char| !c.is_alphabetic()).any(|w| w.eq_ignore_ascii_case(word));
        assert!(!found, "{word} in\n{text}");
    }
    assert_eq!(
        plot(&page).layers.iter().filter(|l| matches!(l.kind, LayerKind::Line(_))).count(),
        1
    );
    let odds = said(&odds_page(&told, 0.0));
    assert!(odds.starts_with("Nobody in the other lane yet"), "{odds}");
}

#[test]
fn odds_say_against_whom_under_which_rule_and_what_it_is_worth() {
    let finish = Finish::dialled(
        lastamber::units::Measured::new(14.52, 0.03),
        lastamber::units::Measured::new(13.01, 0.04),
        [14.5, 13.0],
    );
    let order = Order::of_dials([14.5, 13.0]).unwrap();
    let race = Race::handicap(finish.unwrap(), order, FoulRule::First);
    let dialled = Against { race, ..against() };
    let loaded = Loaded { cars: vec![car_line()], ..full_history() };
    let text = said(&odds_page(&desk(&loaded, Style::TimeIt, Some(dialled)), 0.005));
    for part in [
        "Against a weekend racer you win ",
        "Against dial-ins: you run 20 ms over yours, the other 10 ms over",
        "you leave 1.50 s before the other; of two reds the first loses",
        "The aim that wins most",
        "all 3 rounds",
        "costs under half a percent",
        "a millisecond less spread wins",
        "win, dialled anew",
    ] {
        assert!(text.contains(part), "{part} in\n{text}");
    }
    for rival in [
        Rival::LikeMe,
        Rival::Light { mean_s: 0.08, sd_s: 0.03 },
        Rival::Slips(vec![0.05, 0.09, 0.11]),
        Rival::Slips((0..12).map(|i| 0.05 + 0.004 * f64::from(i)).collect()),
    ] {
        let told = desk(&full_history(), Style::TimeIt, Some(Against { rival, ..against() }));
        let text = said(&odds_page(&told, 0.0));
        assert!(text.starts_with("Against ") && text.contains("% of the rounds"), "{text}");
    }
}

#[test]
fn eight_launches_are_counted_and_the_page_says_what_fills_it() {
    let told = desk(&first(&full_history(), 8), Style::React, Some(against()));
    for page in [aim_page(&told, 0.0), odds_page(&told, 0.0)] {
        let text = said(&page);
        assert!(text.starts_with("Counts only: 2 more launches"), "{text}");
        assert!(text.contains("0 red of 8 starts"), "{text}");
        assert!(text.contains("8 of 10 so far"), "{text}");
        assert!(!page.blocks.iter().any(|b| matches!(b, Block::Plot(_))), "{text}");
    }
}

#[test]
fn an_empty_history_says_what_to_do() {
    let told = desk(&Loaded::default(), Style::React, Some(against()));
    for page in [aim_page(&told, 0.0), odds_page(&told, 0.0)] {
        let text = said(&page);
        assert!(text.starts_with("No launches yet"), "{text}");
        assert!(text.contains("Make ten launches") && text.contains("ten time slips"), "{text}");
    }
}

#[test]
fn a_tree_whose_ambers_light_at_once_is_not_asked_whether_to_time_it() {
    let mut loaded = full_history();
    for run in &mut loaded.trials {
        run.setup.tree = TreeKind::pro_500().name().into();
        run.setup.amber_gap = TreeKind::pro_500().amber_gap();
    }
    let asked = Asked::test_and_tune(lastamber::strategy::own::OwnSetup::of(&loaded.trials[0]), 1);
    let told = Desk::new(&OwnLines::from(&loaded), asked).unwrap();
    let text = said(&aim_page(&told, 0.0));
    assert!(text.contains("there is no rhythm to time by"), "{text}");
}

#[test]
fn a_reaction_is_sent_to_the_levers_of_the_car() {
    let loaded = Loaded { cars: vec![car_line()], ..full_history() };
    let sharp = Against { rival: Rival::Level(Level::Sharp), ..against() };
    let text = said(&aim_page(&desk(&loaded, Style::React, Some(sharp)), 0.0));
    assert!(text.contains("A reaction cannot be willed earlier"), "{text}");
    assert!(!text.contains("Timing it (free"), "{text}");
}

#[test]
fn a_few_odd_launches_and_no_car_make_no_page_fail() {
    let mut same = full_history();
    same.trials.retain(|run| run.setup.style == Style::React);
    for run in &mut same.trials {
        let parts = run.parts.as_mut().unwrap();
        parts.driver_raw = lastamber::units::Span::from_ms(300);
        run.car.car_part_s = lastamber::units::Measured::new(f64::NAN, f64::INFINITY);
        run.began = "no time".into();
    }
    let told = desk(&same, Style::React, Some(against()));
    assert!(!said(&aim_page(&told, 5.0)).contains("NaN"));
    assert!(!said(&odds_page(&told, f64::NAN)).contains("NaN"));
}
