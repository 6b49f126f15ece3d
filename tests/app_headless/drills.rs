//! What each drill sets up, played.

use super::rig::{Rig, is_told, record_of};
use bevy::input::ButtonState;
use bevy::prelude::*;
use lastamber::app::Screen;
use lastamber::app::lane::{Phase, Session};
use lastamber::app::onset::OnsetFeed;
use lastamber::tree::Outcome;
use lastamber::trial::{AimFrom, AimOf, Drill, Style, TrialRecord};
use lastamber::units::Span;

/// Plays runs of a drill, leaving after the last amber where it comes and staying where it does not,
/// and gives their records.
fn play(rig: &mut Rig, runs: usize) -> Vec<TrialRecord> {
    let mut records = Vec::new();
    for _ in 0..runs {
        rig.start();
        rig.until_amber(1);
        let mut pressed = false;
        for _ in 0..400 {
            let world = rig.app.world();
            if record_of(world).is_some() {
                break;
            }
            let live = world.resource::<Phase>().live().unwrap();
            if !pressed && live.machine.amber_shown(live.you, 2).is_some() {
                rig.updates(12);
                rig.tap(KeyCode::Space);
                pressed = true;
            } else {
                rig.update();
            }
        }
        rig.until_written("the verdict", is_told);
        records.push(rig.record().unwrap());
        rig.updates(40);
    }
    records
}

#[test]
fn staying_is_right_where_the_guess_test_withholds_the_last_amber() {
    let mut rig = Rig::new(Drill::GuessTest, OnsetFeed::Echo(Span::from_ms(10)));
    let records = play(&mut rig, 20);
    let (blank, lit): (Vec<_>, Vec<_>) = records.iter().partition(|record| record.setup.blank);
    assert!(!blank.is_empty() && lit.len() > blank.len(), "{} blank", blank.len());
    assert!(blank.iter().all(|record| record.outcome == Outcome::Stayed && record.parts.is_none()));
    assert!(lit.iter().all(|record| record.parts.is_some()));
    assert!(records.iter().all(|record| record.setup.style == Style::React));
}

#[test]
fn the_other_lanes_tree_begins_first_and_the_own_one_is_what_counts() {
    let mut rig = Rig::new(Drill::OtherLaneFirst, OnsetFeed::Echo(Span::from_ms(10)));
    rig.start();
    rig.until_amber(2);
    let live = rig.app.world().resource::<Phase>().live().unwrap();
    let [own, other] = [live.you, live.you.other()].map(|lane| live.machine.amber_due(lane, 0));
    assert!(own.unwrap() - other.unwrap() >= Span::from_ms(400));
    rig.updates(12);
    rig.tap(KeyCode::Space);
    rig.until_written("the verdict", is_told);
    assert!(rig.record().unwrap().parts.is_some());
}

#[test]
fn styles_take_turns_by_tens_and_are_declared_before_the_run() {
    let mut rig = Rig::new(Drill::ReactOrTime, OnsetFeed::Echo(Span::from_ms(10)));
    assert!(rig.prompt().text.starts_with("Next ten: react"), "{:?}", rig.prompt());
    let records = play(&mut rig, 10);
    assert!(records.iter().all(|record| record.setup.style == Style::React));
    assert!(rig.prompt().text.starts_with("Next ten: time it"), "{:?}", rig.prompt());
    let next = play(&mut rig, 1);
    assert_eq!(next[0].setup.style, Style::TimeIt);
}

#[test]
fn an_aim_is_declared_before_it_is_held_and_the_verdict_says_how_far() {
    let mut rig = Rig::new(Drill::HoldAnAim, OnsetFeed::Echo(Span::from_ms(10)));
    rig.tap(KeyCode::Space);
    rig.updates(30);
    assert!(rig.app.world().resource::<Phase>().live().is_none(), "no run without an aim");
    rig.tap(KeyCode::Equal);
    rig.tap(KeyCode::Equal);
    rig.tap(KeyCode::Minus);
    rig.update();
    assert!(rig.prompt().text.contains("a light of .020"), "{:?}", rig.prompt());
    rig.start();
    rig.until_amber(2);
    rig.updates(12);
    rig.tap(KeyCode::Space);
    rig.until_written("the verdict", is_told);
    let record = rig.record().unwrap();
    assert_eq!(record.setup.style, Style::TimeIt);
    let (aim, parts) = (record.setup.aim.unwrap(), record.parts.unwrap());
    assert_eq!((aim.of, aim.from, aim.at), (AimOf::Light, AimFrom::Chosen, Span::from_ms(20)));
    let missed = parts.rt() - Span::from_ms(20);
    let way = if missed > Span::ZERO { "later" } else { "earlier" };
    let first = rig.verdict().notes[0].clone();
    let wanted = format!("{:.1} ms {way} than your aim", missed.as_ms_f64().abs());
    assert!(first.starts_with(&wanted), "{first}, not {wanted}");
}

#[test]
fn a_track_night_shows_no_number_before_its_fifth_launch() {
    let mut rig = Rig::new(Drill::TrackNight, OnsetFeed::Echo(Span::from_ms(10)));
    let mut pauses = Vec::new();
    for launch in 1..=5 {
        if launch > 1 {
            rig.tap(KeyCode::Space);
            rig.updates(30);
            assert!(!is_running(&rig), "the pause lasts");
            assert!(rig.prompt().text.contains("minutes"), "{:?}", rig.prompt());
            rig.tap(KeyCode::KeyN);
            rig.update();
        }
        let number = format!("Launch {launch} of 5");
        assert!(rig.prompt().text.starts_with(&number), "{:?}", rig.prompt());
        rig.start();
        roll_and_launch(&mut rig);
        rig.until_written("the end", is_told);
        rig.updates(40);
        pauses.push(rig.record().unwrap().setup.pause);
        let shows = rig.app.world().resource::<Session>().shows_numbers();
        assert_eq!(shows, launch == 5);
        let verdict = rig.verdict();
        let has_figure = verdict.big.chars().any(|c| c.is_ascii_digit()) || verdict.parts.is_some();
        assert!(shows || !has_figure, "{verdict:?}");
    }
    assert_eq!(pauses[0], None, "nothing went before the first");
    assert!(pauses[1..].iter().flatten().all(|pause| !pause.was_kept()), "{pauses:?}");
    rig.tap(KeyCode::Space);
    rig.updates(3);
    assert_eq!(*rig.app.world().resource::<State<Screen>>().get(), Screen::Night);
}

fn is_running(rig: &Rig) -> bool {
    rig.app.world().resource::<Phase>().live().is_some_and(|live| live.is_running())
}

/// Rolls in as the prompts say and leaves once green is due.
fn roll_and_launch(rig: &mut Rig) {
    let mut creeping = false;
    for _ in 0..4_000 {
        let creep = rig.prompt().key.as_deref() == Some("ArrowUp");
        if creep != creeping {
            let state = if creep { ButtonState::Pressed } else { ButtonState::Released };
            rig.key(KeyCode::ArrowUp, state);
            creeping = creep;
        }
        let Some(live) = rig.app.world().resource::<Phase>().live() else { return };
        if live.machine.green_due(live.you).is_some() {
            rig.tap(KeyCode::Space);
            return;
        }
        rig.update();
    }
    panic!("never staged: {:?}", rig.prompt());
}
