//! Stories about rolling in: courtesy, flicker, depth, rolling through, leaving before the tree.
//!
//! Owns everything before the first amber. Refuses verdicts of launches under the tree.

use crate::support::*;
use lastamber::beams::{BeamState, Handling, Pedal};
use lastamber::rules::{Extra, Procedure};
use lastamber::tree::*;
use lastamber::units::{Inches, Mark, Span};

const YOU: Lane = Lane::Left;
const THEY: Lane = Lane::Right;

/// A procedure whose second car has only this long.
fn hurried(time_out: Span) -> Procedure {
    let extra = Extra::Uniform { from: Span::ZERO, to: ms(200) };
    Procedure::free(ms(600), ms(900), extra, Some(time_out)).unwrap()
}

fn at(depth: f64) -> LaneSetup {
    LaneSetup { entry: Entry::Staged { depth: Inches(depth) }, ..staged() }
}

/// Rolls a staged lane forward until its stage lamp goes out.
fn rolls_forward_from(rig: &mut Rig, mark: Mark, lane: Lane) {
    rig.pedal(mark, lane, Pedal::Brake, false);
    rig.pedal(mark, lane, Pedal::Creep, true);
}

#[test]
fn a_person_who_does_not_stage_in_time_shows_red_and_the_tree_runs_for_the_other() {
    let mut rig = Rig::new(start(Some(rolling()), Some(other(Temper::Prompt, 3))));
    rig.rolls_in(YOU, ms(40_000));
    let result = rig.settle(YOU);
    assert_eq!((result.outcome, result.parts), (Outcome::TimedOut, None));
    let steady = rig.find(|e| *e == TreeEvent::Steady { lane: THEY }).unwrap();
    assert_eq!(result.at - steady, ms(10_000), "the bracket time-out");
    assert_eq!(rig.due(YOU, Lamp::Red), Some(result.at));
    assert!(rig.machine.lamps(YOU, rig.now, rig.now).red);
    assert_eq!(rig.settle(THEY).outcome, Outcome::Green);
    assert!(rig.due(YOU, Lamp::Amber(0)).is_none(), "a lane without its turn stays dark");
    assert_eq!(rig.loser(), Some(YOU));
}

#[test]
fn when_the_other_driver_is_late_the_tree_runs_for_the_person() {
    let mut setup = start(Some(staged()), Some(other(Temper::Slow, 5)));
    setup.procedure = hurried(ms(1_000));
    let mut rig = Rig::new(setup);
    let gone = rig.settle(THEY);
    assert_eq!(gone.outcome, Outcome::TimedOut);
    let first = rig.armed();
    assert!((ms(900)..=ms(1_100)).contains(&(first - gone.at)));
    rig.last_amber(YOU);
    rig.launch_for_rt(YOU, ms(20));
    assert_eq!(rig.settle(YOU).outcome, Outcome::Green);
    assert_eq!(rig.loser(), Some(THEY));
}

#[test]
fn nothing_is_timed_until_both_are_pre_staged() {
    let mut rig = Rig::new(start(Some(staged()), Some(rolling())));
    rig.run_to(START + ms(30_000));
    assert!(!rig.machine.is_steady(YOU));
    assert_eq!(rig.count(|e| matches!(e, TreeEvent::TimeOutStarted { .. })), 0);
    rig.rolls_in(THEY, ms(2_000));
    let pre = rig.run_until("pre-staged", |e| {
        *e == TreeEvent::Beams { lane: THEY, state: BeamState::PreStaged }
    });
    let steady = rig.run_until("steady", |e| *e == TreeEvent::Steady { lane: YOU });
    assert_eq!(steady - pre, ms(600));
    let wait = rig.find(|e| matches!(e, TreeEvent::TimeOutStarted { .. })).unwrap();
    assert_eq!(wait, steady);
}

#[test]
fn a_stage_lamp_that_flickers_starts_its_steady_time_again() {
    let mut rig = Rig::new(start(Some(at(0.3)), Some(staged())));
    rig.pedal(START + ms(100), YOU, Pedal::Back, true);
    rig.pedal(START + ms(420), YOU, Pedal::Back, false);
    rig.pedal(START + ms(420), YOU, Pedal::Brake, true);
    let out = rig
        .run_until("flicker", |e| *e == TreeEvent::SentBack { lane: YOU, why: SentBack::Flicker });
    assert!(out < START + ms(600));
    rig.run_to(START + ms(900));
    assert!(!rig.machine.is_steady(YOU) && rig.machine.is_steady(THEY));
    rolls_forward_from(&mut rig, START + ms(1_000), YOU);
    while rig.machine.beams(YOU) != Some(BeamState::Staged) {
        rig.run_to(rig.now + ms(1));
    }
    let again = TreeEvent::Beams { lane: YOU, state: BeamState::Staged };
    let on = rig.machine.trace().iter().rfind(|line| line.event == again).unwrap().at;
    rig.pedal(rig.now + ms(50), YOU, Pedal::Creep, false);
    rig.pedal(rig.now + ms(50), YOU, Pedal::Brake, true);
    let steady = rig.run_until("steady", |e| *e == TreeEvent::Steady { lane: YOU });
    assert!(on > START + ms(1_000));
    assert_eq!(steady - on, ms(600));
    assert_eq!(rig.machine.staging(YOU).sent_back, 1);
}

#[test]
fn staging_deep_puts_the_pre_stage_lamp_out_and_shortens_the_car_part() {
    let run = |depth: f64| {
        let mut rig = Rig::new(start(Some(at(depth)), None));
        rig.last_amber(YOU);
        let lamps = rig.machine.lamps(YOU, rig.now, rig.now);
        rig.launch_for_rt(YOU, ms(10));
        let car = rig.settle(YOU).parts.unwrap().car;
        (lamps.pre_stage, lamps.stage, rig.machine.staging(YOU).deep, car)
    };
    let (shallow, deep) = (run(0.0), run(5.0));
    assert_eq!((shallow.0, shallow.1, shallow.2), (true, true, false));
    assert_eq!((deep.0, deep.1, deep.2), (false, true, true));
    assert!(deep.3 < shallow.3);
    // 11.508 in and 6.508 in to roll, both after the same 80 ms: √ of the ratio.
    let ratio = (deep.3 - ms(80)).as_secs_f64() / (shallow.3 - ms(80)).as_secs_f64();
    assert!((ratio - (6.508_f64 / 11.508).sqrt()).abs() < 1e-6, "{ratio}");
}

#[test]
fn rolling_in_deep_goes_through_both_lamps_first() {
    let mut rig = Rig::new(start(Some(at(3.0)), Some(rolling())));
    rolls_forward_from(&mut rig, START + ms(10), YOU);
    let deep =
        rig.run_until("deep", |e| *e == TreeEvent::Beams { lane: YOU, state: BeamState::Deep });
    rig.pedal(deep + ms(50), YOU, Pedal::Brake, true);
    rig.rolls_in(THEY, ms(500));
    rig.last_amber(YOU);
    assert!(rig.machine.staging(YOU).deep);
    assert_eq!(rig.machine.staging(YOU).sent_back, 0);
}

#[test]
fn whoever_rolls_through_backs_out_and_may_stage_again() {
    let mut rig = Rig::new(start(Some(rolling()), Some(rolling())));
    rig.rolls_in(THEY, ms(6_000));
    rig.pedal(START + ms(50), YOU, Pedal::Creep, true);
    let through = rig.run_until("through", |e| {
        *e == TreeEvent::SentBack { lane: YOU, why: SentBack::RolledThrough }
    });
    rig.pedal(through + ms(200), YOU, Pedal::Creep, false);
    rig.pedal(through + ms(600), YOU, Pedal::Back, true);
    rig.run_to(through + ms(1_000));
    let back = |rig: &Rig| rig.machine.beams(YOU);
    while back(&rig) != Some(BeamState::PreStaged) {
        assert!(!rig.machine.is_steady(YOU), "a lamp lit while backing out is not staged");
        assert!(rig.machine.must_back_out(YOU) && !rig.machine.must_back_out(THEY));
        assert!(rig.now < through + ms(9_000), "it never got back");
        rig.run_to(rig.now + ms(10));
    }
    let now = rig.now;
    rig.pedal(now, YOU, Pedal::Back, false);
    rig.pedal(now + ms(1_000), YOU, Pedal::Creep, true);
    rig.run_to(now + ms(1_001));
    while back(&rig) != Some(BeamState::Staged) {
        rig.run_to(rig.now + ms(1));
    }
    rig.pedal(rig.now + ms(100), YOU, Pedal::Creep, false);
    rig.pedal(rig.now + ms(100), YOU, Pedal::Brake, true);
    assert!(!rig.machine.must_back_out(YOU));
    rig.last_amber(YOU);
    let staging = rig.machine.staging(YOU);
    assert_eq!((staging.sent_back, staging.rolled_through), (1, 1));
    rig.launch_for_rt(YOU, ms(15));
    assert_eq!(rig.settle(YOU).outcome, Outcome::Green);
}

#[test]
fn a_launch_that_clears_before_the_first_amber_has_left_before_the_tree() {
    let mut rig = Rig::new(start(Some(staged()), Some(staged())));
    let first = rig.armed();
    rig.launch(rig.now + ms(20), YOU);
    let result = rig.settle(YOU);
    assert_eq!((result.outcome, result.parts), (Outcome::LeftBeforeTree, None));
    assert!(result.at < first);
    assert_eq!(rig.due(YOU, Lamp::Red), Some(result.at));
    rig.last_amber(THEY);
    assert_eq!(
        rig.due(THEY, Lamp::Amber(0)),
        Some(first),
        "the other lane's tree is not armed anew"
    );
    rig.launch_for_rt(THEY, ms(-5));
    rig.settle(THEY);
    assert_eq!(rig.loser(), Some(YOU), "leaving before the tree outranks a red light");
}

#[test]
fn creeping_out_forward_once_both_are_steady_has_left_before_the_tree() {
    let fast = Handling { creep_in_s: 60.0, creep_build_s: 0.05, ..Handling::default() };
    let quick = LaneSetup { handling: fast, ..staged() };
    let mut rig = Rig::new(start(Some(quick), Some(staged())));
    let first = rig.armed();
    let soon = rig.now + ms(10);
    rolls_forward_from(&mut rig, soon, YOU);
    let result = rig.settle(YOU);
    assert_eq!(result.outcome, Outcome::LeftBeforeTree);
    assert!(result.at < first);
    assert_eq!(rig.count(|e| *e == TreeEvent::Disarmed), 0);
    rig.last_amber(THEY);
    rig.launch_for_rt(THEY, ms(40));
    assert_eq!(rig.settle(THEY).outcome, Outcome::Green);
}

#[test]
fn a_car_that_creeps_in_gear_is_staged_by_its_brake_alone_and_leaves_like_any_other() {
    let automatic = Handling { creeps_in_gear: true, ..Handling::default() };
    let lane = LaneSetup { handling: automatic, ..rolling() };
    let mut rig = Rig::new(start(Some(lane), Some(staged())));
    let staged =
        rig.run_until("staged", |e| *e == TreeEvent::Beams { lane: YOU, state: BeamState::Staged });
    rig.pedal(staged + ms(20), YOU, Pedal::Brake, true);
    rig.last_amber(YOU);
    rig.launch_for_rt(YOU, ms(20));
    let result = rig.settle(YOU);
    assert_eq!(result.outcome, Outcome::Green);
    assert_eq!(result.parts.unwrap().rt(), ms(20));
}

#[test]
fn a_brake_let_go_too_soon_rolls_a_car_that_creeps_in_gear_out_before_the_tree() {
    let quick = Handling { creep_in_s: 60.0, creep_build_s: 0.05, ..Handling::default() };
    let lane = LaneSetup { handling: Handling { creeps_in_gear: true, ..quick }, ..staged() };
    let mut rig = Rig::new(start(Some(lane), Some(staged())));
    rig.pedal(START, YOU, Pedal::Brake, true);
    let first = rig.armed();
    rig.pedal(rig.now + ms(10), YOU, Pedal::Brake, false);
    let result = rig.settle(YOU);
    assert_eq!(result.outcome, Outcome::LeftBeforeTree);
    assert!(result.at < first);
}

#[test]
fn rolling_slowly_through_beside_a_staged_car_has_left_before_the_tree() {
    // The beams don't see motion: idle creep needs over a second from lamp on to lamp out, longer
    // than the steady time, so by then both lanes count as staged.
    let mut rig = Rig::new(start(Some(rolling()), Some(staged())));
    rig.pedal(START + ms(50), YOU, Pedal::Creep, true);
    assert_eq!(rig.settle(YOU).outcome, Outcome::LeftBeforeTree);
}

#[test]
fn rolling_back_once_both_are_steady_disarms_the_tree() {
    let mut rig = Rig::new(start(Some(at(0.2)), Some(staged())));
    let was_due = rig.armed();
    rig.pedal(rig.now + ms(10), YOU, Pedal::Back, true);
    let back = rig.run_until("sent back", |e| {
        *e == TreeEvent::SentBack { lane: YOU, why: SentBack::RolledBack }
    });
    assert_eq!(rig.find(|e| *e == TreeEvent::Disarmed), Some(back));
    rig.pedal(back + ms(100), YOU, Pedal::Back, false);
    rig.pedal(back + ms(500), YOU, Pedal::Creep, true);
    rig.run_to(was_due + ms(10));
    assert!(rig.due(YOU, Lamp::Amber(0)).is_none() && rig.due(THEY, Lamp::Amber(0)).is_none());
    assert!(rig.machine.is_steady(THEY), "the one that stood still keeps its turn");
    while rig.machine.beams(YOU) != Some(BeamState::Staged) {
        rig.run_to(rig.now + ms(1));
    }
    rig.pedal(rig.now, YOU, Pedal::Brake, true);
    rig.last_amber(YOU);
    assert_eq!(rig.count(|e| matches!(e, TreeEvent::Armed { .. })), 2);
}

#[test]
fn rolling_out_after_the_first_amber_without_a_launch_edge_is_red() {
    let fast = Handling { creep_in_s: 60.0, creep_build_s: 0.05, ..Handling::default() };
    let quick = LaneSetup { handling: fast, ..staged() };
    let mut rig = Rig::new(start(Some(quick), Some(staged())));
    let first = rig.armed();
    rolls_forward_from(&mut rig, first + ms(5), YOU);
    let result = rig.settle(YOU);
    assert_eq!((result.outcome, result.parts), (Outcome::Red, None));
    assert!(rig.machine.lamps(YOU, rig.now, rig.now).red);
}

#[test]
fn a_late_lane_that_rolls_back_under_the_early_lanes_ambers_does_not_stop_the_tree() {
    let late = LaneSetup { tree_delay: ms(2_000), ..at(0.2) };
    let mut rig = Rig::new(start(Some(staged()), Some(late)));
    let first = rig.armed();
    rig.pedal(first + ms(100), THEY, Pedal::Back, true);
    let result = rig.settle(THEY);
    assert_eq!(result.outcome, Outcome::Red);
    assert!(result.at < first + ms(2_000));
    assert_eq!(rig.count(|e| *e == TreeEvent::Disarmed), 0);
    assert_eq!(rig.last_amber(YOU), first + ms(1_000) + SCREEN);
}

#[test]
fn whoever_stages_before_the_other_has_pre_staged_is_written_down() {
    for lane in Lane::BOTH {
        let mut rig = Rig::new(start(Some(rolling()), Some(rolling())));
        rig.rolls_in(lane, ms(100));
        let broken = rig.run_until("courtesy", |e| matches!(e, TreeEvent::CourtesyBroken { .. }));
        assert_eq!(rig.find(|e| *e == TreeEvent::CourtesyBroken { lane }), Some(broken));
        rig.rolls_in(lane.other(), ms(500));
        rig.last_amber(lane);
        assert!(rig.machine.staging(lane).courtesy_broken);
        assert!(!rig.machine.staging(lane.other()).courtesy_broken);
    }
}

#[test]
fn a_lane_that_went_away_is_not_waited_for_and_nobody_was_steady_before_it_went() {
    let mut rig = Rig::new(start(Some(at(0.5)), Some(rolling())));
    let gone = START + ms(8_000);
    rig.run_to(gone);
    rig.machine.void(gone, THEY, VoidReason::ControlLost);
    let first = rig.armed();
    let steady = rig.find(|e| *e == TreeEvent::Steady { lane: YOU }).unwrap();
    assert!(steady >= gone && first > gone, "the ambers are not due in the past");
}

#[test]
fn only_the_first_amber_says_who_is_deep() {
    // Rolled over the edge of pre-stage between the first amber and the second.
    let mut rig = Rig::new(start(Some(at(4.4)), None));
    let first = rig.armed();
    rolls_forward_from(&mut rig, first + ms(5), YOU);
    rig.pedal(first + ms(480), YOU, Pedal::Brake, true);
    rig.last_amber(YOU);
    assert_eq!(rig.machine.beams(YOU), Some(BeamState::Deep));
    assert!(!rig.machine.staging(YOU).deep);
    // On its way out when the first amber comes.
    let mut rig = Rig::new(start(Some(staged()), None));
    let first = rig.armed();
    rig.launch(first + ms(10) - car_part(&staged(), Inches(0.0)), YOU);
    rig.run_to(first);
    assert_eq!(rig.machine.beams(YOU), Some(BeamState::Deep));
    assert!(!rig.machine.staging(YOU).deep);
}

/// From the creep pedal to the mark a quick creeper's stage lamp goes out.
fn time_to_creep_out(lane: &LaneSetup) -> Span {
    let mut rig = Rig::new(start(Some(lane.clone()), Some(staged())));
    let from = rig.armed() + ms(5);
    rolls_forward_from(&mut rig, from, YOU);
    let past = TreeEvent::Beams { lane: YOU, state: BeamState::Past };
    rig.run_until("out", |e| *e == past) - from
}

fn quick_creeper() -> LaneSetup {
    let fast = Handling { creep_in_s: 60.0, creep_build_s: 0.05, ..Handling::default() };
    LaneSetup { handling: fast, ..staged() }
}

#[test]
fn the_tree_begins_at_the_very_mark_of_the_first_amber_for_who_creeps_out_or_leaves() {
    let out = time_to_creep_out(&quick_creeper());
    for (sooner, outcome) in [(0, Outcome::Red), (1, Outcome::LeftBeforeTree)] {
        let mut rig = Rig::new(start(Some(quick_creeper()), Some(staged())));
        let left = rig.armed() - Span::from_ns(sooner);
        rolls_forward_from(&mut rig, left - out, YOU);
        let result = rig.settle(YOU);
        assert_eq!((result.outcome, result.at), (outcome, left), "creeping");

        let mut rig = Rig::new(start(Some(staged()), Some(staged())));
        let left = rig.armed() - Span::from_ns(sooner);
        rig.launch(left - car_part(&staged(), Inches(0.0)), YOU);
        assert_eq!(rig.settle(YOU).outcome, outcome, "launching");
    }
}

#[test]
fn who_creeps_out_at_the_very_mark_of_green_has_not_fouled() {
    let out = time_to_creep_out(&quick_creeper());
    for (sooner, outcome) in [(0, Outcome::Lapse), (1, Outcome::Red)] {
        let mut rig = Rig::new(start(Some(quick_creeper()), None));
        let green = rig.last_amber(YOU) + ms(500);
        rolls_forward_from(&mut rig, green - Span::from_ns(sooner) - out, YOU);
        assert_eq!(rig.settle(YOU).outcome, outcome);
    }
}

#[test]
fn a_stage_lamp_lit_at_the_very_mark_the_time_ends_is_in_time() {
    let lit = TreeEvent::Beams { lane: YOU, state: BeamState::Staged };
    let staging_in = |time_out: Span| {
        let mut rig = Rig::new(StartSetup {
            procedure: hurried(time_out),
            ..start(Some(at(-0.5)), Some(staged()))
        });
        rig.run_to(START + ms(1_700));
        rolls_forward_from(&mut rig, START + ms(1_800), YOU);
        rig.run_until("lit", |e| *e == lit);
        rig.pedal(rig.now, YOU, Pedal::Creep, false);
        rig.pedal(rig.now, YOU, Pedal::Brake, true);
        rig
    };
    let unhurried = staging_in(ms(20_000));
    let steady = unhurried.find(|e| *e == TreeEvent::Steady { lane: THEY }).unwrap();
    let needed = unhurried.find(|e| *e == lit).unwrap() - steady;
    let mut rig = staging_in(needed);
    rig.last_amber(YOU);
    assert_eq!(rig.count(|e| matches!(e, TreeEvent::TimedOut { .. })), 0);
    let rig = staging_in(needed - Span::from_ns(1));
    assert_eq!(rig.outcome(YOU), Some(Outcome::TimedOut));
}

#[test]
fn who_is_steady_already_is_not_hurried_by_who_comes_later() {
    let mut rig = Rig::new(start(Some(staged()), Some(rolling())));
    rig.rolls_in(THEY, ms(2_000));
    rig.last_amber(YOU);
    assert_eq!(rig.count(|e| matches!(e, TreeEvent::TimeOutStarted { lane: YOU, .. })), 0);
    assert_eq!(rig.count(|e| matches!(e, TreeEvent::TimeOutStarted { lane: THEY, .. })), 1);
}
