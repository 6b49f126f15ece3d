//! Stories about two lanes that both foul, under both rules.
//!
//! Owns the ruling as it comes out of the whole machine. Refuses finishes and breakouts.

use crate::support::*;
use lastamber::beams::{Handling, Pedal};
use lastamber::rules::{FoulRule, head_start};
use lastamber::tree::*;
use lastamber::units::{Span, Stamp};

const A: Lane = Lane::Left;
const B: Lane = Lane::Right;

/// Runs a start of these dial-ins (s) and reaction times; who loses by the rule.
fn loser(rule: FoulRule, dials: [f64; 2], rts: [Span; 2]) -> Option<Lane> {
    let delays = head_start(dials).unwrap();
    let lanes = delays.map(|tree_delay| Some(LaneSetup { tree_delay, ..staged() }));
    let [left, right] = lanes;
    let mut rig = Rig::new(StartSetup { foul_rule: rule, ..start(left, right) });
    let mut order = [A, B];
    order.sort_by_key(|lane| delays[lane.index()]);
    for lane in order {
        rig.last_amber(lane);
        rig.launch_for_rt(lane, rts[lane.index()]);
    }
    for lane in order {
        let result = rig.settle(lane);
        assert_eq!(result.parts.unwrap().rt(), rts[lane.index()]);
    }
    assert!(rig.count(|e| matches!(e, TreeEvent::FoulLoses { .. })) <= 1);
    rig.loser()
}

#[test]
fn with_two_seconds_head_start_the_first_foul_and_the_worst_foul_are_two_lanes() {
    let run = |rule| loser(rule, [15.00, 13.00], [ms(-4), ms(-120)]);
    assert_eq!(run(FoulRule::First), Some(A));
    assert_eq!(run(FoulRule::Worst), Some(B));
}

#[test]
fn heads_up_the_larger_red_is_first_as_well() {
    for rule in [FoulRule::First, FoulRule::Worst] {
        assert_eq!(loser(rule, [13.00, 13.00], [ms(-10), ms(-15)]), Some(B));
    }
}

#[test]
fn with_a_small_head_start_the_late_lane_can_foul_first_by_the_clock_and_worse() {
    // B's green is .050 after A's; −.120 on it is −.070 on A's clock, before A's −.004.
    for rule in [FoulRule::First, FoulRule::Worst] {
        assert_eq!(loser(rule, [13.05, 13.00], [ms(-4), ms(-120)]), Some(B));
    }
}

#[test]
fn a_lone_red_loses_whatever_the_rule_and_the_lane() {
    for rule in [FoulRule::First, FoulRule::Worst] {
        assert_eq!(loser(rule, [15.00, 13.00], [ms(-1), ms(300)]), Some(A));
        assert_eq!(loser(rule, [15.00, 13.00], [ms(30), ms(-1)]), Some(B));
        assert_eq!(loser(rule, [15.00, 13.00], [ms(30), ms(0)]), None);
    }
}

#[test]
fn a_rig_delay_is_taken_off_before_two_fouls_are_put_in_order() {
    // By the raw clock the right lane leaves 20 ms sooner; the left rig reads 35 ms late, so its
    // car really was first.
    let left = LaneSetup { offset: ms(35), ..staged() };
    let mut rig = Rig::new(start(Some(left), Some(staged())));
    let shown = rig.last_amber(A);
    rig.launch(shown + ms(100), A);
    rig.launch(shown + ms(80), B);
    rig.settle(A);
    rig.settle(B);
    assert_eq!(rig.loser(), Some(A));
}

#[test]
fn the_ruling_stands_from_the_later_end_whichever_lane_was_told_last() {
    let settled = |told_last: Lane| {
        let mut rig = Rig::new(start(Some(staged()), Some(staged())));
        let shown = rig.last_amber(A).max(rig.last_amber(B));
        // A leaves 20 ms before B; one of the two edges reaches the machine half a second late.
        let pressed = [shown + ms(60), shown + ms(80)];
        rig.launch(pressed[told_last.other().index()], told_last.other());
        rig.run_to(shown + ms(580));
        let stamp = Stamp::exact(pressed[told_last.index()]);
        assert!(rig.machine.handle_launch(told_last, stamp));
        rig.run_to(rig.now + ms(1));
        let lines = rig.machine.trace();
        let ruled = lines.iter().find(|l| matches!(l.event, TreeEvent::FoulLoses { .. }));
        (ruled.copied(), rig.machine.result(B).map(|r| r.at))
    };
    let (ruled, end) = settled(A);
    assert_eq!(ruled.map(|line| line.at), end);
    assert_eq!(ruled.map(|line| line.event), Some(TreeEvent::FoulLoses { lane: A }));
    assert_eq!(settled(B), (ruled, end));
}

#[test]
fn leaving_before_the_tree_outranks_a_red_light_that_came_first_by_the_clock() {
    let late = LaneSetup { tree_delay: ms(5_000), ..staged() };
    let mut rig = Rig::new(start(Some(staged()), Some(late)));
    rig.last_amber(A);
    rig.launch_for_rt(A, ms(-10));
    let red = rig.settle(A);
    rig.launch(red.at + ms(1_000), B);
    let left = rig.settle(B);
    assert_eq!((red.outcome, left.outcome), (Outcome::Red, Outcome::LeftBeforeTree));
    assert_eq!(rig.loser(), Some(B));
}

#[test]
fn who_crept_out_without_a_launch_edge_fouled_by_the_time_to_the_green_of_the_grid() {
    let fast = Handling { creep_in_s: 60.0, creep_build_s: 0.05, ..Handling::default() };
    let quick = LaneSetup { handling: fast, ..staged() };
    let run = |rt: Span| {
        let lanes = start(Some(quick.clone()), Some(staged()));
        let mut rig = Rig::new(StartSetup { foul_rule: FoulRule::Worst, ..lanes });
        let green = rig.armed() + ms(1_500);
        rig.pedal(green - ms(600), A, Pedal::Creep, true);
        let crept = rig.settle(A);
        let early = green - crept.at;
        assert!((ms(250)..ms(450)).contains(&early), "{early:?}");
        rig.last_amber(B);
        rig.launch_for_rt(B, rt);
        assert_eq!((crept.outcome, rig.settle(B).outcome), (Outcome::Red, Outcome::Red));
        rig.loser()
    };
    assert_eq!(run(ms(-100)), Some(A));
    assert_eq!(run(ms(-480)), Some(B));
}
