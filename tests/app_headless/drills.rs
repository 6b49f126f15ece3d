//! What each drill sets up, played.

use super::rig::{Rig, is_told, record_of};
use bevy::prelude::*;
use lastamber::app::lane::Phase;
use lastamber::app::onset::OnsetFeed;
use lastamber::tree::Outcome;
use lastamber::trial::{Drill, Style, TrialRecord};
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
