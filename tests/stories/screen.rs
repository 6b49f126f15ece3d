//! Stories about what the display did: late, hidden or missing lamps.
//!
//! Owns void runs. Refuses frames and timing of presses.

use crate::support::*;
use lastamber::rules::TreeKind;
use lastamber::tree::*;
use lastamber::units::{Mark, Span, Stamp};

const YOU: Lane = Lane::Left;

fn ending(screen: Screen) -> LaneResult {
    let mut rig = Rig::with_screen(start(Some(staged()), None), screen);
    rig.settle(YOU)
}

#[test]
fn without_word_from_the_display_the_run_is_void() {
    let mut rig = Rig::with_screen(start(Some(staged()), None), |_, _, _| None);
    let last = rig.armed() + ms(1_000);
    let result = rig.settle(YOU);
    assert_eq!(result.outcome, Outcome::Void(VoidReason::NoOnset));
    assert_eq!(result.at, last + ONSET_LIMIT);
    assert!(rig.due(YOU, Lamp::Green).is_none(), "green hangs on the last amber as shown");
}

#[test]
fn a_launch_without_word_from_the_display_is_void_as_well() {
    let mut rig = Rig::with_screen(start(Some(staged()), None), |_, _, _| None);
    let last = rig.armed() + ms(1_000);
    rig.launch(last + ms(200), YOU);
    let result = rig.settle(YOU);
    assert_eq!((result.outcome, result.parts), (Outcome::Void(VoidReason::NoOnset), None));
    rig.run_to(last + ms(3_000));
    assert_eq!(rig.count(|e| matches!(e, TreeEvent::Settled { .. })), 1);
}

#[test]
fn a_last_amber_later_than_the_limit_is_no_onset_at_all() {
    let result = ending(|_, lamp, due| {
        Some(due + if lamp == Lamp::Amber(2) { ONSET_LIMIT + ms(1) } else { SCREEN })
    });
    assert_eq!(result.outcome, Outcome::Void(VoidReason::NoOnset));
}

#[test]
fn a_lamp_more_than_a_frame_and_a_half_late_makes_the_run_void() {
    let result = ending(|_, lamp, due| {
        Some(due + if lamp == Lamp::Amber(1) { FRAME + FRAME.half() + ms(1) } else { SCREEN })
    });
    let late_ns = (FRAME + FRAME.half() + ms(1)).ns();
    let why = VoidReason::LampLate { lamp: Lamp::Amber(1), late_ns };
    assert_eq!(result.outcome, Outcome::Void(why));
}

#[test]
fn a_lamp_up_to_a_frame_and_a_half_late_is_the_grain_of_the_display() {
    let mut rig =
        Rig::with_screen(start(Some(staged()), None), |_, _, due| Some(due + FRAME + FRAME.half()));
    rig.last_amber(YOU);
    rig.launch_for_rt(YOU, ms(7));
    let result = rig.settle(YOU);
    assert_eq!((result.outcome, result.parts.unwrap().rt()), (Outcome::Green, ms(7)));
}

#[test]
fn green_is_due_one_interval_after_the_last_amber_as_shown() {
    let mut rig = Rig::with_screen(start(Some(staged()), None), |_, lamp, due| {
        Some(due + if lamp == Lamp::Amber(2) { ms(16) } else { SCREEN })
    });
    let last = rig.armed() + ms(1_000);
    rig.settle(YOU);
    assert_eq!(rig.due(YOU, Lamp::Green), Some(last + ms(16) + ms(500)));
    assert_eq!(rig.machine.green_due(YOU), Some(last + ms(516)));
}

#[test]
fn two_ambers_first_seen_in_one_frame_hide_the_upper_one() {
    // Ambers .100 s apart on a display with frames of 80 ms: neither is a frame and a half late.
    let kind = TreeKind::free(3, ms(100), ms(500)).unwrap();
    let mut rig =
        Rig::with_screen(StartSetup { kind, ..start(Some(staged()), None) }, |_, _, _| None);
    let first = rig.armed();
    rig.run_to(first + ms(110));
    let frame = Stamp::exact(first + ms(105));
    rig.machine.handle_shown(YOU, Lamp::Amber(0), frame, ms(80));
    assert_eq!(rig.outcome(YOU), None);
    rig.machine.handle_shown(YOU, Lamp::Amber(1), frame, ms(80));
    let why = VoidReason::LampHidden { lamp: Lamp::Amber(0) };
    assert_eq!(rig.outcome(YOU), Some(Outcome::Void(why)));
}

#[test]
fn an_upper_amber_far_too_late_is_a_late_lamp_and_not_a_missing_last_one() {
    let result =
        ending(|_, lamp, due| Some(due + if lamp == Lamp::Amber(0) { ms(200) } else { SCREEN }));
    let why = VoidReason::LampLate { lamp: Lamp::Amber(0), late_ns: ms(200).ns() };
    assert_eq!(result.outcome, Outcome::Void(why));
}

#[test]
fn an_amber_never_seen_before_the_next_one_is_hidden() {
    let result = ending(|_, lamp, due| (lamp != Lamp::Amber(1)).then_some(due + SCREEN));
    let why = VoidReason::LampHidden { lamp: Lamp::Amber(1) };
    assert_eq!(result.outcome, Outcome::Void(why));
}

#[test]
fn the_display_spoils_only_the_persons_lane() {
    let mut rig = Rig::with_screen(
        start(Some(staged()), Some(other(Temper::Prompt, 3))),
        |lane, _, due: Mark| Some(due + if lane == Lane::Right { ms(60) } else { SCREEN }),
    );
    rig.last_amber(YOU);
    rig.launch_for_rt(YOU, ms(11));
    assert_eq!(rig.settle(YOU).outcome, Outcome::Green);
    assert_eq!(rig.settle(Lane::Right).outcome, Outcome::Green);
}

#[test]
fn a_lost_control_voids_the_run_once() {
    let mut rig = Rig::new(start(Some(staged()), None));
    let shown = rig.last_amber(YOU);
    rig.run_to(shown + ms(50));
    rig.machine.void(rig.now, YOU, VoidReason::ControlLost);
    rig.machine.void(rig.now, YOU, VoidReason::NoOnset);
    rig.run_to(shown + ms(4_000));
    assert_eq!(rig.outcome(YOU), Some(Outcome::Void(VoidReason::ControlLost)));
    assert!(rig.due(YOU, Lamp::Green).is_none(), "no green for a run that is over");
    assert_eq!(rig.count(|e| matches!(e, TreeEvent::Settled { .. })), 1);
}

#[test]
fn the_limits_of_a_late_lamp_belong_to_what_is_allowed() {
    let frame = ms(120);
    let told = |lamp: u8, late: Span| {
        let mut rig = Rig::with_screen(start(Some(staged()), None), |_, _, _| None);
        let first = rig.armed();
        for i in 0..=lamp {
            let due = first + ms(500 * i64::from(i));
            let at = if i == lamp { due + late } else { due };
            rig.run_to(at);
            rig.machine.handle_shown(YOU, Lamp::Amber(i), Stamp::exact(at), frame);
        }
        rig.outcome(YOU)
    };
    let limit = frame + frame.half();
    assert_eq!(told(1, limit), None);
    let past = limit + Span::from_ns(1);
    let why = VoidReason::LampLate { lamp: Lamp::Amber(1), late_ns: past.ns() };
    assert_eq!(told(1, past), Some(Outcome::Void(why)));
    // A display this slow may be late by more than the last amber may.
    assert_eq!(told(2, ONSET_LIMIT), None);
    let past = ONSET_LIMIT + Span::from_ns(1);
    assert_eq!(told(2, past), Some(Outcome::Void(VoidReason::NoOnset)));
}
