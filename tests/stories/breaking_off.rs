//! Stories about ending a run: pause, lost focus, blank runs.
//!
//! Owns what is kept of a run nobody finished. Refuses the storing of it.

use crate::support::*;
use lastamber::beams::{BeamState, Pedal};
use lastamber::rules::TreeKind;
use lastamber::tree::*;
use lastamber::units::{Span, Stamp};

const YOU: Lane = Lane::Left;

const REASONS: [AbandonReason; 3] =
    [AbandonReason::Paused, AbandonReason::FocusLost, AbandonReason::Closed];

#[test]
fn breaking_off_before_the_first_amber_only_stands_down() {
    for why in REASONS {
        let mut rig = Rig::new(start(Some(staged()), None));
        let first = rig.armed();
        rig.run_to(first - ms(1));
        assert_eq!(rig.machine.break_off(rig.now, YOU, why), BreakOff::StoodDown);
        assert_eq!(rig.outcome(YOU), None);
    }
}

#[test]
fn breaking_off_from_the_first_amber_on_is_abandoned() {
    for why in REASONS {
        let mut rig = Rig::new(start(Some(staged()), None));
        let first = rig.armed();
        rig.run_to(first);
        assert_eq!(rig.machine.break_off(first, YOU, why), BreakOff::Abandoned);
        assert_eq!(rig.outcome(YOU), Some(Outcome::Abandoned(why)));
        rig.run_to(first + ms(3_000));
        assert!(rig.due(YOU, Lamp::Green).is_none() && rig.due(YOU, Lamp::Amber(1)).is_none());
        assert_eq!(rig.count(|e| matches!(e, TreeEvent::Settled { .. })), 1);
    }
}

#[test]
fn the_late_lane_of_a_handicap_start_abandons_once_the_tree_runs_at_all() {
    let late = LaneSetup { tree_delay: ms(2_000), ..staged() };
    let mut rig = Rig::new(start(Some(late), Some(staged())));
    let first = rig.armed();
    rig.run_to(first + ms(700));
    let ended = rig.machine.break_off(rig.now, YOU, AbandonReason::Paused);
    assert_eq!(ended, BreakOff::Abandoned);
}

#[test]
fn breaking_off_after_a_launch_edge_keeps_the_run() {
    for why in REASONS {
        let mut rig = Rig::new(start(Some(staged()), None));
        let shown = rig.last_amber(YOU);
        rig.launch(shown + ms(200), YOU);
        rig.run_to(shown + ms(210));
        assert_eq!(rig.machine.break_off(rig.now, YOU, why), BreakOff::Counts);
        let result = rig.settle(YOU);
        assert!(matches!(result.outcome, Outcome::Green | Outcome::Red));
        assert_eq!(rig.machine.break_off(rig.now, YOU, why), BreakOff::Counts);
        assert_eq!(rig.count(|e| matches!(e, TreeEvent::Settled { .. })), 1);
    }
}

#[test]
fn breaking_off_after_a_launch_before_the_tree_keeps_that_too() {
    let mut rig = Rig::new(start(Some(staged()), None));
    let first = rig.armed();
    rig.launch(rig.now + ms(5), YOU);
    rig.run_to(rig.now + ms(10));
    assert!(rig.now < first);
    assert_eq!(rig.machine.break_off(rig.now, YOU, AbandonReason::Paused), BreakOff::Counts);
    assert_eq!(rig.settle(YOU).outcome, Outcome::LeftBeforeTree);
}

#[test]
fn a_launch_and_a_pause_in_one_frame_keep_the_run_if_the_launch_came_first() {
    for (pause_after, outcome) in
        [(ms(3), Outcome::Green), (ms(-3), Outcome::Abandoned(AbandonReason::Paused))]
    {
        let mut rig = Rig::new(start(Some(staged()), None));
        let pressed = rig.last_amber(YOU) + ms(400);
        rig.launch(pressed, YOU);
        rig.at(pressed + pause_after, Input::BreakOff(YOU));
        rig.run_in_steps(pressed + ms(1_000), || ms(50));
        assert_eq!(rig.outcome(YOU), Some(outcome));
    }
}

fn blank(kind: TreeKind) -> Rig {
    Rig::new(StartSetup { blank: true, kind, ..start(Some(staged()), None) })
}

#[test]
fn staying_through_a_blank_run_is_right() {
    let mut rig = blank(TreeKind::full());
    let first = rig.armed();
    let result = rig.settle(YOU);
    assert_eq!((result.outcome, result.parts), (Outcome::Stayed, None));
    assert_eq!(result.at, first + ms(1_000) + BLANK_ENDS_AFTER);
    assert!(rig.due(YOU, Lamp::Amber(1)).is_some());
    for dark in [Lamp::Amber(2), Lamp::Green, Lamp::Red] {
        assert!(rig.due(YOU, dark).is_none(), "{dark:?}");
    }
}

#[test]
fn leaving_on_a_blank_run_is_a_guess_timed_from_the_amber_that_never_came() {
    for after in [-40, 0, 90, 260] {
        let mut rig = blank(TreeKind::full());
        let missing = rig.armed() + ms(1_000);
        rig.launch(missing + ms(after), YOU);
        let result = rig.settle(YOU);
        let after_due_ns = ms(after).ns();
        assert_eq!((result.outcome, result.parts), (Outcome::Guessed { after_due_ns }, None));
        rig.run_to(missing + ms(2_000));
        assert!(rig.due(YOU, Lamp::Green).is_none() && rig.due(YOU, Lamp::Amber(2)).is_none());
        assert_eq!(rig.count(|e| matches!(e, TreeEvent::Settled { .. })), 1);
    }
}

#[test]
fn leaving_before_the_tree_outranks_guessing_on_a_blank_run() {
    let mut rig = blank(TreeKind::full());
    rig.armed();
    rig.launch(rig.now + ms(10), YOU);
    assert_eq!(rig.settle(YOU).outcome, Outcome::LeftBeforeTree);
}

#[test]
fn a_blank_run_of_a_tree_that_lights_all_at_once_lights_nothing() {
    let mut rig = blank(TreeKind::pro());
    let first = rig.armed();
    rig.run_to(first + ms(500));
    assert_eq!(rig.count(|e| matches!(e, TreeEvent::LampDue { .. })), 0);
    assert_eq!(rig.machine.lamps(YOU, rig.now, rig.now).ambers, [false; 5]);
    let result = rig.settle(YOU);
    assert_eq!((result.outcome, result.at), (Outcome::Stayed, first + BLANK_ENDS_AFTER));
    let mut rig = blank(TreeKind::pro());
    let first = rig.armed();
    rig.launch(first + ms(30), YOU);
    let guessed = Outcome::Guessed { after_due_ns: ms(30).ns() };
    assert_eq!(rig.settle(YOU).outcome, guessed);
}

#[test]
fn creeping_out_on_a_blank_run_is_a_guess_too_and_no_red_light() {
    let mut rig = blank(TreeKind::full());
    let missing = rig.armed() + ms(1_000);
    rig.pedal(missing - ms(1_400), YOU, Pedal::Creep, true);
    let result = rig.settle(YOU);
    let out = rig.find(|e| *e == TreeEvent::Beams { lane: YOU, state: BeamState::Past }).unwrap();
    let after_due_ns = (out - missing).ns();
    assert_eq!(result.outcome, Outcome::Guessed { after_due_ns });
    assert!(rig.due(YOU, Lamp::Red).is_none());
}

#[test]
fn the_last_moment_of_a_blank_run_still_takes_a_launch() {
    let told = |after: Span| {
        let mut rig = blank(TreeKind::full());
        let missing = rig.armed() + ms(1_000);
        rig.machine.handle_launch(YOU, Stamp::exact(missing + after))
    };
    assert!(told(BLANK_ENDS_AFTER));
    assert!(!told(BLANK_ENDS_AFTER + Span::from_ns(1)));
}

#[test]
fn a_launch_after_the_run_was_broken_off_counts_for_nothing() {
    let mut rig = Rig::new(start(Some(staged()), None));
    let first = rig.armed();
    rig.run_to(first + ms(100));
    rig.machine.break_off(rig.now, YOU, AbandonReason::Paused);
    assert!(!rig.machine.handle_launch(YOU, Stamp::exact(rig.now + ms(50))));
    assert_eq!(rig.machine.launch(YOU), None);
}
