//! Stories about waiting for the other lane: who is waited for, and whose time runs.
//!
//! Owns the cases where two lanes' staging meets. Refuses single lanes and the countdown.

use crate::support::*;
use lastamber::beams::{BeamState, Pedal};
use lastamber::rules::{Extra, Procedure};
use lastamber::tree::*;
use lastamber::units::{Inches, Span};

const YOU: Lane = Lane::Left;
const THEY: Lane = Lane::Right;

fn at(depth: f64) -> LaneSetup {
    LaneSetup { entry: Entry::Staged { depth: Inches(depth) }, ..staged() }
}

#[test]
fn a_car_that_backs_out_of_pre_stage_stops_the_other_lanes_steady_time() {
    let mut rig = Rig::new(start(Some(staged()), Some(at(-6.9))));
    rig.pedal(START + ms(50), THEY, Pedal::Back, true);
    rig.pedal(START + ms(600), THEY, Pedal::Brake, true);
    let out = rig
        .run_until("backed out", |e| *e == TreeEvent::Beams { lane: THEY, state: BeamState::Out });
    assert!(out < START + ms(600));
    rig.run_to(START + ms(6_000));
    assert!(!rig.machine.is_steady(YOU));
    rig.pedal(rig.now, THEY, Pedal::Back, false);
    rig.pedal(rig.now, THEY, Pedal::Brake, false);
    rig.pedal(rig.now, THEY, Pedal::Creep, true);
    rig.run_to(rig.now + ms(1));
    while rig.machine.beams(THEY) != Some(BeamState::PreStaged) {
        rig.run_to(rig.now + ms(1));
    }
    let in_again = rig.now;
    let steady = rig.run_until("steady", |e| *e == TreeEvent::Steady { lane: YOU });
    assert!((steady - in_again - ms(600)).abs() <= ms(1));
}

#[test]
fn when_the_first_car_loses_its_stage_lamp_the_second_ones_time_stops() {
    let mut rig = Rig::new(start(Some(at(-3.0)), Some(at(0.2))));
    rig.pedal(START + ms(2_000), THEY, Pedal::Back, true);
    rig.pedal(START + ms(2_800), THEY, Pedal::Brake, true);
    rig.run_to(START + ms(30_000));
    assert_eq!(rig.count(|e| matches!(e, TreeEvent::TimeOutStarted { lane: Lane::Left, .. })), 1);
    assert_eq!(rig.outcome(YOU), None);
}

#[test]
fn a_time_out_that_ended_while_the_lamp_was_on_takes_the_lane_when_it_flickers() {
    let extra = Extra::Uniform { from: Span::ZERO, to: ms(200) };
    let procedure = Procedure::free(ms(600), ms(900), extra, Some(ms(1_000))).unwrap();
    let lanes = start(Some(at(-0.2)), Some(staged()));
    let mut rig = Rig::new(StartSetup { procedure, ..lanes });
    // Their lamp is steady at .600, so the time runs out at 1.600.
    rig.pedal(START + ms(1_400), YOU, Pedal::Creep, true);
    rig.pedal(START + ms(1_600), YOU, Pedal::Creep, false);
    rig.pedal(START + ms(1_600), YOU, Pedal::Back, true);
    let back = rig
        .run_until("flicker", |e| *e == TreeEvent::SentBack { lane: YOU, why: SentBack::Flicker });
    assert!(back > START + ms(1_600), "{:?}", back - START);
    let result = rig.settle(YOU);
    assert_eq!((result.outcome, result.at), (Outcome::TimedOut, back));
    assert!(rig.armed() > back);
}

#[test]
fn the_rigs_delay_taken_off_can_put_a_launch_before_the_tree() {
    let run = |offset: Span| {
        let you = LaneSetup { offset, ..staged() };
        let mut rig = Rig::new(start(Some(you), None));
        let first = rig.armed();
        let car = car_part(&staged(), Inches(0.0));
        rig.launch(first + ms(10) - car, YOU);
        rig.settle(YOU).outcome
    };
    assert_eq!(run(ms(0)), Outcome::Red);
    assert_eq!(run(ms(35)), Outcome::LeftBeforeTree);
}

#[test]
fn two_edges_at_one_mark_leave_the_same_trace_whichever_is_told_first() {
    let trace = |order: [Lane; 2]| {
        let mut rig = Rig::new(start(Some(staged()), Some(staged())));
        let pressed = rig.last_amber(YOU) + ms(300);
        for lane in order {
            rig.launch(pressed, lane);
        }
        rig.settle(YOU);
        rig.settle(THEY);
        rig.machine.trace()
    };
    assert_eq!(trace([YOU, THEY]), trace([THEY, YOU]));
}
