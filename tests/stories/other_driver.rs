//! Stories about the driver in the other lane and their three tempers.
//!
//! Owns manners on the way in. Refuses how well they react.

use crate::support::*;
use lastamber::beams::{BeamState, Handling};
use lastamber::tree::*;
use lastamber::units::{Mark, Span};

const YOU: Lane = Lane::Left;
const THEY: Lane = Lane::Right;
const SEEDS: std::ops::Range<u64> = 0..12;

fn beams(rig: &Rig, lane: Lane, state: BeamState) -> Option<Mark> {
    rig.find(|e| *e == TreeEvent::Beams { lane, state })
}

/// A start beside this temper; the person rolls in after `late`.
fn beside(temper: Temper, seed: u64, late: Span) -> Rig {
    let mut rig = Rig::new(start(Some(rolling()), Some(other(temper, seed))));
    rig.run_to(START + late);
    rig.rolls_in(YOU, ms(600));
    rig.last_amber(THEY);
    rig.last_amber(YOU);
    rig.launch_for_rt(YOU, ms(50));
    rig.settle(YOU);
    rig.settle(THEY);
    rig
}

#[test]
fn the_prompt_one_waits_for_your_pre_stage_lamp_and_stages_without_delay() {
    for seed in SEEDS {
        let rig = beside(Temper::Prompt, seed, ms(5_000));
        let yours = beams(&rig, YOU, BeamState::PreStaged).unwrap();
        let staged = beams(&rig, THEY, BeamState::Staged).unwrap();
        assert!(!rig.machine.staging(THEY).courtesy_broken, "seed {seed}");
        assert!((Span::ZERO..ms(3_500)).contains(&(staged - yours)), "seed {seed}");
    }
}

#[test]
fn the_slow_one_does_the_same_in_its_own_good_time() {
    for seed in SEEDS {
        let rig = beside(Temper::Slow, seed, ms(0));
        let theirs = beams(&rig, THEY, BeamState::PreStaged).unwrap();
        let staged = beams(&rig, THEY, BeamState::Staged).unwrap();
        assert!(!rig.machine.staging(THEY).courtesy_broken, "seed {seed}");
        assert!(staged - theirs > ms(3_000), "seed {seed}");
    }
}

#[test]
fn the_one_who_forgets_courtesy_rolls_straight_into_stage() {
    for seed in SEEDS {
        let rig = beside(Temper::ForgetsCourtesy, seed, ms(6_000));
        let yours = beams(&rig, YOU, BeamState::PreStaged).unwrap();
        assert!(beams(&rig, THEY, BeamState::Staged).unwrap() < yours, "seed {seed}");
        assert!(rig.machine.staging(THEY).courtesy_broken, "seed {seed}");
    }
}

#[test]
fn every_temper_stages_shallow_in_one_go_and_leaves_no_sooner_than_a_person_can() {
    for temper in [Temper::Prompt, Temper::Slow, Temper::ForgetsCourtesy] {
        for seed in SEEDS {
            let rig = beside(temper, seed, ms(1_000));
            let staging = rig.machine.staging(THEY);
            assert_eq!((staging.sent_back, staging.deep), (0, false), "{temper:?} {seed}");
            let result = rig.machine.result(THEY).unwrap();
            assert_ne!(result.outcome, Outcome::TimedOut, "{temper:?} {seed}");
            assert!(result.parts.unwrap().driver_raw >= ms(120), "{temper:?} {seed}");
        }
    }
}

#[test]
fn a_driver_in_either_lane_sees_a_car_that_stood_there_from_the_beginning() {
    for lane in Lane::BOTH {
        let they = Some(other(Temper::Prompt, 4));
        let setup = match lane {
            Lane::Left => start(they, Some(staged())),
            Lane::Right => start(Some(staged()), they),
        };
        let mut rig = Rig::new(setup);
        rig.last_amber(lane);
        assert_eq!(rig.settle(lane).outcome, Outcome::Green, "{lane:?}");
    }
}

#[test]
fn a_driver_who_rolled_through_backs_out_and_comes_again() {
    // A car that creeps far too fast for its driver's foot.
    let fast = Handling { creep_in_s: 70.0, creep_build_s: 0.4, ..Handling::default() };
    let they = LaneSetup { handling: fast, ..other(Temper::ForgetsCourtesy, 2) };
    let mut rig = Rig::new(start(Some(staged()), Some(they)));
    let through = rig.run_until("through", |e| {
        *e == TreeEvent::SentBack { lane: THEY, why: SentBack::RolledThrough }
    });
    rig.run_to(through + ms(9_000));
    let back = rig.machine.trace().into_iter().find(|line| {
        line.at > through
            && line.event == TreeEvent::Beams { lane: THEY, state: BeamState::PreStaged }
    });
    let back = back.expect("it backed out behind the stage beam").at;
    let steady = rig.find(|e| *e == TreeEvent::Steady { lane: THEY });
    assert!(steady.is_none_or(|at| at > back), "a lamp lit while backing out is not staged");
    assert!(rig.machine.result(THEY).is_none_or(|r| r.at > back));
    let flickers =
        rig.count(|e| matches!(e, TreeEvent::SentBack { lane: THEY, why: SentBack::Flicker }));
    assert_eq!(flickers, 0, "backing out is not a flicker");
}

#[test]
fn the_other_driver_goes_by_its_own_last_amber_whatever_the_person_does() {
    let leave = |rt: Option<Span>| {
        let mut rig = Rig::new(start(Some(staged()), Some(other(Temper::Prompt, 9))));
        rig.last_amber(YOU);
        if let Some(rt) = rt {
            rig.launch_for_rt(YOU, rt);
        }
        rig.settle(THEY);
        rig.machine.launch(THEY).unwrap().stamp.best()
    };
    let alone = leave(None);
    assert_eq!(leave(Some(ms(-30))), alone);
    assert_eq!(leave(Some(ms(80))), alone);
}
