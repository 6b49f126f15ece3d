//! Stories about the driver in the other lane and their tempers.
//!
//! Owns manners on the way in and lights as they come out. Refuses how they are drawn: unit tests count.

use crate::support::*;
use lastamber::beams::{BeamState, Handling, Pedal};
use lastamber::rules::TreeKind;
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
fn every_temper_stages_in_one_go_and_its_light_comes_out_as_it_was_drawn() {
    let mut deep = 0;
    for temper in Temper::ALL {
        for seed in SEEDS {
            let drawn = OtherDriver::new(temper, seed);
            let rig = beside(temper, seed, ms(1_000));
            let staging = rig.machine.staging(THEY);
            assert_eq!(
                (staging.sent_back, staging.deep),
                (0, drawn.goes_deep()),
                "{temper:?} {seed}"
            );
            deep += usize::from(staging.deep);
            let result = rig.machine.result(THEY).unwrap();
            assert_ne!(result.outcome, Outcome::TimedOut, "{temper:?} {seed}");
            let parts = result.parts.unwrap();
            assert!(parts.driver_raw >= ms(120), "{temper:?} {seed}");
            let light = parts.driver_raw + parts.car - parts.interval;
            if parts.driver_raw > ms(120) {
                assert!((light - drawn.light()).abs() < Span::from_us(1), "{temper:?} {seed}");
            }
        }
    }
    assert!(deep > 0, "nobody went deep");
}

#[test]
fn courtesy_is_broken_by_those_who_were_drawn_without_and_by_nobody_else() {
    let mut broken = 0;
    for temper in Temper::ALL {
        for seed in SEEDS {
            let rig = beside(temper, seed, ms(6_000));
            let courteous = OtherDriver::new(temper, seed).is_courteous();
            assert_eq!(rig.machine.staging(THEY).courtesy_broken, !courteous, "{temper:?} {seed}");
            broken += usize::from(!courteous);
        }
    }
    assert!(broken > SEEDS.end as usize, "more than those who always do: {broken}");
}

#[test]
fn on_a_tree_with_a_shorter_interval_the_driver_is_as_quick_and_the_light_later() {
    let light = |kind: TreeKind| {
        let they = Some(other(Temper::Prompt, 5));
        let mut rig = Rig::new(StartSetup { kind, ..start(Some(staged()), they) });
        rig.settle(THEY);
        let parts = rig.machine.result(THEY).unwrap().parts.unwrap();
        parts.driver_raw + parts.car - parts.interval
    };
    let later = light(TreeKind::pro()) - light(TreeKind::full());
    assert!((later - ms(100)).abs() < Span::from_us(1), "{later:?}");
}

#[test]
fn one_like_you_leaves_with_one_of_your_lights() {
    let lights: Vec<f64> = (0..10).map(|i| 0.050 + 0.004 * f64::from(i)).collect();
    let driver = OtherDriver::like(&lights, 6).unwrap();
    let they = LaneSetup { driver: Some(driver.clone()), ..rolling() };
    let mut rig = Rig::new(start(Some(staged()), Some(they)));
    rig.settle(THEY);
    let parts = rig.machine.result(THEY).unwrap().parts.unwrap();
    let light = parts.driver_raw + parts.car - parts.interval;
    assert!((light - driver.light()).abs() < Span::from_us(1));
    assert!((ms(50)..=ms(86)).contains(&light), "{light:?}");
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
fn a_driver_who_is_staged_stays_there_while_you_roll_through() {
    // Through before the lamp has been on for the steady time.
    let fast = Handling { creep_in_s: 70.0, creep_build_s: 0.4, ..Handling::default() };
    let you = LaneSetup { handling: fast, ..rolling() };
    let mut rig = Rig::new(start(Some(you), Some(other(Temper::ForgetsCourtesy, 2))));
    let staged = TreeEvent::Beams { lane: THEY, state: BeamState::Staged };
    rig.run_until("they are staged", |e| *e == staged);
    rig.run_to(rig.now + ms(1_000));
    rig.pedal(rig.now + ms(1), YOU, Pedal::Creep, true);
    let through = rig.run_until("through", |e| {
        *e == TreeEvent::SentBack { lane: YOU, why: SentBack::RolledThrough }
    });
    rig.run_to(through + ms(4_000));
    let moved = rig.machine.trace().into_iter().find(|line| {
        line.at >= through && matches!(line.event, TreeEvent::Beams { lane: THEY, .. })
    });
    assert_eq!(moved, None, "nobody sent them back");
    assert_eq!(rig.machine.beams(THEY), Some(BeamState::Staged));
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
