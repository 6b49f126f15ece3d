//! Stories about the verdict: green, red, the parts of the time and what stands in doubt.
//!
//! Owns outcomes of single launches. Refuses staging and the screen's faults.

use crate::support::*;
use lastamber::car::{EndedBy, Tyre, rollout};
use lastamber::tree::*;
use lastamber::units::{Inches, Span, Stamp};
use lastamber::{beams::BeamZones, car::BeamLine};

const YOU: Lane = Lane::Left;

fn launched_for(setup: LaneSetup, rt: Span) -> Rig {
    let mut rig = Rig::new(start(Some(setup), None));
    rig.last_amber(YOU);
    rig.launch_for_rt(YOU, rt);
    rig.settle(YOU);
    rig
}

fn rt(rig: &Rig) -> Span {
    rig.machine.result(YOU).unwrap().parts.expect("a judged launch has parts").rt()
}

#[test]
fn a_clean_run_from_roll_in_to_green_beside_a_prompt_other_driver() {
    let mut rig = Rig::new(start(Some(rolling()), Some(other(Temper::Prompt, 3))));
    rig.rolls_in(YOU, ms(900));
    rig.last_amber(YOU);
    rig.launch_for_rt(YOU, ms(31));
    assert_eq!(rig.settle(YOU).outcome, Outcome::Green);
    assert_eq!(rt(&rig), ms(31));
    let theirs = rig.settle(Lane::Right);
    assert_eq!(theirs.outcome, Outcome::Green);
    for lane in Lane::BOTH {
        let staging = rig.machine.staging(lane);
        assert_eq!((staging.sent_back, staging.rolled_through), (0, 0));
        assert!(!staging.courtesy_broken && !staging.deep);
        assert!(staging.took.is_some_and(|took| took > ms(600)));
        for i in 0..3 {
            assert!(rig.due(lane, Lamp::Amber(i)).is_some());
        }
        assert!(rig.due(lane, Lamp::Green).is_some());
        assert!(rig.due(lane, Lamp::Red).is_none());
    }
    assert_eq!(rig.loser(), None);
}

#[test]
fn a_launch_one_nanosecond_early_is_red() {
    let rig = launched_for(staged(), Span::from_ns(-1));
    assert_eq!(rig.outcome(YOU), Some(Outcome::Red));
    assert_eq!(rt(&rig), Span::from_ns(-1));
    assert!(rig.due(YOU, Lamp::Green).is_none());
    assert_eq!(rig.count(|e| *e == TreeEvent::LampDue { lane: YOU, lamp: Lamp::Red }), 1);
}

#[test]
fn exactly_zero_is_green() {
    let rig = launched_for(staged(), Span::ZERO);
    assert_eq!(rig.outcome(YOU), Some(Outcome::Green));
    assert_eq!(rt(&rig).to_string(), ".000");
    assert!(rig.due(YOU, Lamp::Red).is_none());
}

#[test]
fn four_tenths_of_a_millisecond_early_print_as_minus_one_thousandth() {
    let rig = launched_for(staged(), Span::from_us(-400));
    assert_eq!(rig.outcome(YOU), Some(Outcome::Red));
    assert_eq!(rt(&rig).to_string(), "-.001");
}

#[test]
fn the_rigs_delay_taken_off_makes_red_what_the_raw_time_called_green() {
    let late_rig = LaneSetup { offset: ms(35), ..staged() };
    let rig = launched_for(late_rig, ms(-15));
    let parts = rig.machine.result(YOU).unwrap().parts.unwrap();
    assert_eq!(rig.outcome(YOU), Some(Outcome::Red));
    assert_eq!(parts.driver_raw + parts.car - parts.interval, ms(20), "raw it was late");
    assert_eq!(parts.driver(), parts.driver_raw - ms(35));
    assert!(rig.due(YOU, Lamp::Green).is_none(), "no green was drawn against the verdict");
}

#[test]
fn a_large_tyre_over_a_high_beam_is_ended_by_the_guard_beam() {
    let (tyre, line) = (
        Tyre::rigid(Inches(28.0)).unwrap(),
        BeamLine::new(Inches(7.0), Inches(13.375), Inches(1.75), Inches(10.0)).unwrap(),
    );
    assert_eq!(rollout(tyre, line, Inches(0.0)).ended_by, EndedBy::GuardBeam);
    let chord = tyre.chord(Inches(1.75)).unwrap();
    let large = LaneSetup { zones: BeamZones::new(chord, Inches(7.0), Inches(13.375)), ..staged() };
    let rig = launched_for(large, ms(10));
    let launch = rig.machine.launch(YOU).unwrap();
    let at_end = rig.machine.depth(YOU, launch.clears).unwrap();
    assert!((at_end.0 - 13.375).abs() < 1e-5 && at_end.0 < chord.0, "{at_end:?} of {chord:?}");
    // t = lag + √(2·13.375 in / 0.6 g).
    let expected = 0.080 + (2.0 * 13.375 * 0.0254 / (0.6 * 9.80665_f64)).sqrt();
    let car = rig.machine.result(YOU).unwrap().parts.unwrap().car;
    assert!((car.as_secs_f64() - expected).abs() < 1e-8, "{car:?} against {expected}");
}

#[test]
fn stamps_that_reach_across_green_say_so_and_the_best_mark_decides() {
    let judge = |rt: Span, doubt: Span| {
        let mut rig = Rig::new(start(Some(staged()), None));
        let shown = rig.last_amber(YOU);
        let best = shown + ms(500) + rt - car_part(&staged(), Inches(0.0));
        rig.at(best, Input::Launch(YOU, Stamp::around(best, doubt)));
        let result = rig.settle(YOU);
        (result.outcome, result.parts.unwrap().straddles_green())
    };
    assert_eq!(judge(ms(2), ms(3)), (Outcome::Green, true));
    assert_eq!(judge(ms(-2), ms(3)), (Outcome::Red, true));
    assert_eq!(judge(ms(4), ms(3)), (Outcome::Green, false));
    assert_eq!(judge(ms(-4), ms(3)), (Outcome::Red, false));
    assert_eq!(judge(ms(3), ms(3)), (Outcome::Green, false), "exactly zero at worst is legal");
}

#[test]
fn the_lamps_own_doubt_counts_like_the_controls() {
    let mut rig = Rig::with_screen(start(Some(staged()), None), |_, _, _| None);
    let first = rig.armed();
    let shown = first + ms(1003);
    for i in 0..3 {
        let at = first + ms(500 * i64::from(i) + 3);
        rig.at(at, Input::Shown(YOU, Lamp::Amber(i), Stamp::around(at, ms(4))));
    }
    rig.launch(shown + ms(502) - car_part(&staged(), Inches(0.0)), YOU);
    let parts = rig.settle(YOU).parts.unwrap();
    assert_eq!(parts.rt(), ms(2));
    assert_eq!((parts.early_doubt, parts.late_doubt), (ms(4), ms(4)));
    assert!(parts.straddles_green());
}

#[test]
fn a_launch_in_the_middle_of_the_ambers_is_timed_from_the_last_one_that_still_comes() {
    let mut rig = Rig::new(start(Some(staged()), None));
    let first = rig.armed();
    rig.launch(first + ms(300), YOU);
    let result = rig.settle(YOU);
    assert_eq!(result.outcome, Outcome::Red);
    let parts = result.parts.unwrap();
    assert_eq!(parts.driver_raw, ms(300) - (ms(1000) + SCREEN));
    assert_eq!(parts.rt(), parts.driver_raw + parts.car - ms(500));
    for i in 0..3 {
        assert!(rig.due(YOU, Lamp::Amber(i)).is_some(), "amber {i} still came");
    }
    assert!(rig.due(YOU, Lamp::Red) >= rig.due(YOU, Lamp::Amber(2)));
}

#[test]
fn a_launch_before_the_stage_lamp_is_steady_counts_for_nothing() {
    let mut rig = Rig::new(start(Some(staged()), None));
    rig.run_to(START + ms(599));
    assert!(!rig.machine.is_steady(YOU));
    assert!(!rig.machine.handle_launch(YOU, Stamp::exact(START + ms(599))));
    rig.run_to(START + ms(601));
    assert!(rig.machine.is_steady(YOU));
    // A late-told edge from before the steady mark is no launch either.
    assert!(!rig.machine.handle_launch(YOU, Stamp::exact(START + ms(599))));
    assert_eq!(rig.machine.launch(YOU), None);
    rig.last_amber(YOU);
    rig.launch_for_rt(YOU, ms(5));
    assert_eq!(rig.settle(YOU).outcome, Outcome::Green);
}

#[test]
fn a_second_launch_edge_is_ignored() {
    let mut rig = Rig::new(start(Some(staged()), None));
    let shown = rig.last_amber(YOU);
    rig.launch(shown + ms(200), YOU);
    rig.launch(shown + ms(230), YOU);
    rig.launch(shown + ms(260), YOU);
    rig.settle(YOU);
    assert_eq!(rig.count(|e| matches!(e, TreeEvent::Launch { .. })), 1);
    assert_eq!(rig.machine.launch(YOU).unwrap().stamp.best(), shown + ms(200));
    assert!(!rig.machine.handle_launch(YOU, Stamp::exact(rig.now)), "after the end neither");
}

#[test]
fn a_launch_told_after_green_was_drawn_corrects_the_lamp_and_marks_the_run() {
    let mut rig = Rig::new(start(Some(staged()), None));
    let shown = rig.last_amber(YOU);
    rig.run_to(shown + ms(520));
    assert!(rig.due(YOU, Lamp::Green).is_some());
    assert!(rig.machine.lamps(YOU, rig.now, rig.now).green);
    let pressed = shown + ms(500) - ms(12) - car_part(&staged(), Inches(0.0));
    assert!(rig.machine.handle_launch(YOU, Stamp::exact(pressed)));
    rig.run_to(rig.now + ms(1));
    let result = rig.machine.result(YOU).unwrap();
    assert_eq!((result.outcome, result.lamp_corrected), (Outcome::Red, true));
    assert_eq!(result.parts.unwrap().rt(), ms(-12));
    let lamps = rig.machine.lamps(YOU, rig.now, rig.now);
    assert!(lamps.red && !lamps.green);
}

#[test]
fn no_launch_within_two_seconds_of_green_is_a_lapse() {
    let mut rig = Rig::new(start(Some(staged()), None));
    let shown = rig.last_amber(YOU);
    let result = rig.settle(YOU);
    assert_eq!(result.outcome, Outcome::Lapse);
    assert_eq!(result.at, shown + ms(500) + LAPSE_AFTER_GREEN);
    assert_eq!(result.parts, None);
}

#[test]
fn a_launch_told_late_but_made_in_time_is_no_lapse() {
    let mut rig = Rig::new(start(Some(staged()), None));
    let shown = rig.last_amber(YOU);
    rig.run_to(shown + ms(2_700));
    assert!(rig.machine.handle_launch(YOU, Stamp::exact(shown + ms(2_490))));
    assert_eq!(rig.settle(YOU).outcome, Outcome::Green);
    let mut rig = Rig::new(start(Some(staged()), None));
    let shown = rig.last_amber(YOU);
    rig.run_to(shown + ms(2_700));
    assert!(!rig.machine.handle_launch(YOU, Stamp::exact(shown + ms(2_501))));
    assert_eq!(rig.settle(YOU).outcome, Outcome::Lapse);
}

#[test]
fn a_launch_at_the_very_end_of_the_two_seconds_still_counts() {
    let told = |after: Span| {
        let mut rig = Rig::new(start(Some(staged()), None));
        let green = rig.last_amber(YOU) + ms(500);
        rig.machine.handle_launch(YOU, Stamp::exact(green + after))
    };
    assert!(told(LAPSE_AFTER_GREEN));
    assert!(!told(LAPSE_AFTER_GREEN + Span::from_ns(1)));
}

#[test]
fn the_verdict_waits_until_the_tyre_is_through() {
    let mut rig = Rig::new(start(Some(staged()), None));
    let first = rig.armed();
    rig.launch(first + ms(900), YOU);
    rig.last_amber(YOU);
    let through = rig.machine.launch(YOU).unwrap().clears;
    rig.run_to(through - ms(1));
    assert_eq!(rig.outcome(YOU), None, "its last amber has been seen, its tyre is in the beam");
    assert_eq!(rig.settle(YOU).at, through);
}

#[test]
fn a_red_whose_tyre_leaves_after_green_was_due_by_the_raw_clock_never_sees_green() {
    let late_rig = LaneSetup { offset: ms(60), ..staged() };
    let mut rig = Rig::new(start(Some(late_rig), None));
    let green = rig.last_amber(YOU) + ms(500);
    rig.launch_for_rt(YOU, ms(-20));
    rig.run_to(green + ms(1));
    assert!(rig.machine.launch(YOU).unwrap().clears > green + ms(1));
    let early = rig.machine.lamps(YOU, rig.now, rig.now);
    assert!(!early.green && !early.red, "red is lit by the tyre");
    let result = rig.settle(YOU);
    assert_eq!((result.outcome, result.lamp_corrected), (Outcome::Red, false));
    assert_eq!(rig.due(YOU, Lamp::Red), Some(result.at));
    assert!(rig.due(YOU, Lamp::Green).is_none());
}

#[test]
fn the_doubts_of_lamp_and_control_add_up_each_on_its_own_side() {
    let mut rig = Rig::with_screen(start(Some(staged()), None), |_, _, _| None);
    let first = rig.armed();
    for i in 0..3 {
        let at = first + ms(500 * i64::from(i) + 3);
        rig.at(at, Input::Shown(YOU, Lamp::Amber(i), Stamp::new(at - ms(1), at, at + ms(2))));
    }
    let pressed = first + ms(1_303);
    rig.at(pressed, Input::Launch(YOU, Stamp::new(pressed - ms(4), pressed, pressed + ms(8))));
    let parts = rig.settle(YOU).parts.unwrap();
    // Earliest edge against the latest lamp, latest edge against the earliest lamp.
    assert_eq!((parts.early_doubt, parts.late_doubt), (ms(4 + 2), ms(8 + 1)));
}

#[test]
fn a_green_known_before_its_lamp_is_due_still_lights_it() {
    // A rig that reads early: its delay taken off puts the tyre before the lamp.
    let early_rig = LaneSetup { offset: ms(-60), ..staged() };
    let mut rig = Rig::new(start(Some(early_rig), None));
    let green = rig.last_amber(YOU) + ms(500);
    rig.launch_for_rt(YOU, ms(20));
    let result = rig.settle(YOU);
    assert_eq!((result.outcome, result.at), (Outcome::Green, green - ms(40)));
    rig.run_to(green + ms(1));
    assert_eq!(rig.due(YOU, Lamp::Green), Some(green));
}
