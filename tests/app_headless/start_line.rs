//! Saving before showing, breaks, hitches.

use super::rig::{Rig, is_told, record_of};
use bevy::input::ButtonState;
use bevy::prelude::*;
use bevy::window::{WindowCloseRequested, WindowFocused};
use lastamber::app::Screen;
use lastamber::app::lane::{Ending, Phase, Session, Verdict};
use lastamber::app::onset::OnsetFeed;
use lastamber::app::presses::ControlNews;
use lastamber::tree::{AbandonReason, Outcome, VoidReason};
use lastamber::trial::Drill;
use lastamber::units::Span;
use std::time::Duration;

#[test]
fn nothing_of_the_verdict_is_seen_before_the_run_is_on_disk() {
    let mut rig = Rig::tree_only();
    rig.disk.hold(true);
    rig.start();
    rig.until_amber(2);
    rig.updates(12);
    rig.tap(KeyCode::Space);
    rig.until("an outcome", |w| record_of(w).is_some());
    for _ in 0..60 {
        std::thread::sleep(Duration::from_millis(1));
        rig.update();
        assert_eq!(rig.verdict(), Verdict::default(), "shown while the disk still writes");
    }
    assert_eq!(rig.prompt().text, "Saving");
    rig.disk.hold(false);
    rig.until_written("the verdict", is_told);
    let record = rig.record().unwrap();
    assert!(rig.disk.text().contains(&record.id.to_string()));
    assert_ne!(rig.verdict(), Verdict::default());
}

#[test]
fn a_failed_save_is_said_and_the_run_is_kept_and_tried_again() {
    let mut rig = Rig::tree_only();
    rig.disk.fill(true);
    rig.start();
    rig.until_amber(2);
    rig.updates(12);
    rig.tap(KeyCode::Space);
    rig.until_written("the verdict", is_told);
    assert!(rig.verdict().notes[0].starts_with("Not saved"), "{:?}", rig.verdict());
    assert_eq!(rig.disk.text(), "");
    rig.disk.fill(false);
    let id = rig.record().unwrap().id;
    // The retry comes by itself after three seconds of the told clock.
    rig.until_written("the run on disk", |w| {
        matches!(
            w.resource::<Phase>().live().map(|l| &l.ending),
            Some(Ending::Told { not_saved: None, .. })
        )
    });
    assert!(rig.disk.text().contains(&id.to_string()));
    assert!(!rig.verdict().notes[0].starts_with("Not saved"));
}

#[test]
fn the_time_is_the_sum_of_its_parts_and_the_press_lies_in_its_frame() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(2);
    rig.updates(15);
    let before = rig.now;
    rig.tap(KeyCode::Space);
    rig.until_written("the verdict", is_told);
    let record = rig.record().unwrap();
    let parts = record.parts.expect("it was launched after the last amber");
    assert_eq!(parts.rt(), parts.driver() + parts.car - parts.interval);
    assert_eq!(parts.interval, Span::from_ms(500));
    assert_eq!(record.outcome == Outcome::Red, parts.rt() < Span::ZERO);
    let launch = record.seen.launch().unwrap();
    let width = launch.at[2] - launch.at[0];
    assert!(width >= rig.frame, "a frame-bound press is at least a frame wide");
    let phase = rig.app.world().resource::<Phase>();
    let started = phase.live().unwrap().started;
    assert!(started + launch.at[0] <= before + rig.frame && before <= started + launch.at[2]);
}

#[test]
fn pause_before_the_first_amber_stands_the_run_down_and_after_it_counts() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.updates(5);
    rig.tap(KeyCode::Escape);
    assert!(rig.app.world().resource::<Phase>().live().is_none());
    assert_eq!(rig.app.world().resource::<Session>().tally().total(), 0);

    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(0);
    rig.tap(KeyCode::Escape);
    rig.until_written("the record", |w| record_of(w).is_some());
    let outcome = rig.record().unwrap().outcome;
    assert_eq!(outcome, Outcome::Abandoned(AbandonReason::Paused));
    assert_eq!(rig.app.world().resource::<Session>().tally().abandoned, 1);
}

#[test]
fn losing_the_focus_after_the_first_amber_counts_as_abandoned() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(1);
    rig.app
        .world_mut()
        .write_message(WindowFocused { window: Entity::PLACEHOLDER, focused: false });
    rig.until_written("the verdict", is_told);
    let outcome = rig.record().unwrap().outcome;
    assert_eq!(outcome, Outcome::Abandoned(AbandonReason::FocusLost));
    assert!(rig.verdict().parts.is_none());
}

#[test]
fn a_pad_unplugged_before_the_launch_voids_the_run_and_after_it_changes_nothing() {
    let unplug = |rig: &mut Rig| {
        rig.app.world_mut().write_message(ControlNews::PadGone("a pad".to_owned()));
        rig.update();
    };
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(1);
    unplug(&mut rig);
    rig.until_written("the verdict", is_told);
    assert_eq!(rig.record().unwrap().outcome, Outcome::Void(VoidReason::ControlLost));
    rig.updates(120);
    rig.start();
    rig.until_amber(2);
    rig.updates(15);
    rig.tap(KeyCode::Space);
    unplug(&mut rig);
    rig.until_written("the verdict", is_told);
    let record = rig.record().unwrap();
    assert!(matches!(record.outcome, Outcome::Green | Outcome::Red), "{:?}", record.outcome);
    assert!(record.parts.is_some());
}

#[test]
fn a_launch_edge_seen_before_the_pause_still_counts() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(2);
    rig.updates(6);
    // Both in one update: the window tells of the key first.
    rig.app
        .world_mut()
        .write_message(WindowFocused { window: Entity::PLACEHOLDER, focused: false });
    rig.key(KeyCode::Space, ButtonState::Pressed);
    rig.until_written("the verdict", is_told);
    assert!(matches!(rig.record().unwrap().outcome, Outcome::Red | Outcome::Green));
}

#[test]
fn a_screen_that_never_confirms_the_last_amber_voids_the_run() {
    let mut rig = Rig::new(Drill::TreeOnly, OnsetFeed::Silent);
    rig.start();
    rig.until_written("the record", |w| record_of(w).is_some());
    assert_eq!(rig.record().unwrap().outcome, Outcome::Void(VoidReason::NoOnset));
}

#[test]
fn a_hitch_that_delays_the_last_amber_voids_the_run() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(1);
    rig.updates(26);
    // The amber is due 500 ms after the one before; the program stands still over that mark.
    rig.frame = Span::from_ms(200);
    rig.update();
    rig.frame = Span::from_ms(16);
    rig.until_written("the record", |w| record_of(w).is_some());
    let outcome = rig.record().unwrap().outcome;
    assert!(matches!(outcome, Outcome::Void(_)), "{outcome:?}");
}

#[test]
fn the_launch_control_means_next_only_after_the_verdict_has_stood() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(2);
    rig.updates(12);
    rig.tap(KeyCode::Space);
    rig.until_written("the verdict", is_told);
    let first = rig.record().unwrap().id;
    rig.tap(KeyCode::Space);
    assert_eq!(rig.record().map(|r| r.id), Some(first), "too early: it still stands");
    rig.updates(26);
    rig.tap(KeyCode::Space);
    rig.until("the next run", |w| w.resource::<Phase>().live().is_some_and(|l| l.is_running()));
}

#[test]
fn a_run_begins_only_once_the_launch_control_is_up() {
    let mut rig = Rig::tree_only();
    rig.key(KeyCode::Space, ButtonState::Pressed);
    rig.updates(40);
    assert!(rig.app.world().resource::<Phase>().live().is_none());
    rig.key(KeyCode::Space, ButtonState::Released);
    rig.update();
    assert!(rig.app.world().resource::<Phase>().live().is_some());
}

#[test]
fn from_staged_to_launch_the_prompt_stands_still() {
    let mut rig = Rig::new(Drill::RollUp, OnsetFeed::Echo(Span::from_ms(10)));
    rig.start();
    let mut creeping = false;
    let mut words = Vec::new();
    for _ in 0..3_000 {
        let prompt = rig.prompt();
        let creep = prompt.key.as_deref() == Some("ArrowUp");
        if creep != creeping {
            let state = if creep { ButtonState::Pressed } else { ButtonState::Released };
            rig.key(KeyCode::ArrowUp, state);
            creeping = creep;
        }
        let world = rig.app.world();
        let Some(live) = world.resource::<Phase>().live() else { break };
        if live.machine.is_steady(live.you) {
            words.push(prompt.text);
        }
        if live.machine.green_due(live.you).is_some() {
            rig.tap(KeyCode::Space);
            break;
        }
        rig.update();
    }
    rig.until_written("the verdict", is_told);
    words.dedup();
    assert_eq!(words, ["Wait for the last amber"]);
    let record = rig.record().unwrap();
    assert!(record.seen.staging().took.is_some() && record.seen.hold().is_some());
    assert!(matches!(record.outcome, Outcome::Red | Outcome::Green), "{:?}", record.outcome);
}

#[test]
fn a_lapse_is_counted() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until("the end", |w| record_of(w).is_some());
    rig.until_written("the verdict", is_told);
    assert_eq!(rig.record().unwrap().outcome, Outcome::Lapse);
    assert_eq!(rig.app.world().resource::<Session>().tally().lapse, 1);
}

#[test]
fn a_window_closed_after_the_launch_edge_waits_until_the_run_is_on_disk() {
    let mut rig = Rig::tree_only();
    rig.disk.hold(true);
    rig.start();
    rig.until_amber(2);
    rig.updates(6);
    rig.key(KeyCode::Space, ButtonState::Pressed);
    rig.app.world_mut().write_message(WindowCloseRequested { window: Entity::PLACEHOLDER });
    for _ in 0..80 {
        rig.update();
        assert!(rig.app.should_exit().is_none(), "left before the run was on disk");
    }
    let id = rig.record().expect("it counts").id;
    rig.disk.hold(false);
    for _ in 0..200 {
        std::thread::sleep(Duration::from_millis(2));
        rig.update();
        if rig.app.should_exit().is_some() {
            assert!(rig.disk.text().contains(&id.to_string()));
            return;
        }
    }
    panic!("it never left");
}

#[test]
fn pausing_after_the_launch_edge_neither_hides_nor_spoils_the_run() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(2);
    rig.updates(6);
    rig.key(KeyCode::Space, ButtonState::Pressed);
    rig.tap(KeyCode::Escape);
    rig.until_written("the verdict", is_told);
    assert!(matches!(rig.record().unwrap().outcome, Outcome::Red | Outcome::Green));
    assert_eq!(*rig.app.world().resource::<State<Screen>>().get(), Screen::Lane);
}
