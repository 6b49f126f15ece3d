//! Stories about the kinds of tree, the handicap, and a lane with nobody beside it.
//!
//! Owns when lamps are due. Refuses the screen's faults.

use crate::support::*;
use lastamber::beams::BeamState;
use lastamber::rules::TreeKind;
use lastamber::tree::*;
use lastamber::units::{Inches, Mark, Span, Stamp};

const YOU: Lane = Lane::Left;

fn green_run(kind: TreeKind) -> (Rig, Vec<Mark>) {
    let mut rig = Rig::new(StartSetup { kind: kind.clone(), ..start(Some(staged()), None) });
    rig.last_amber(YOU);
    rig.launch_for_rt(YOU, ms(25));
    assert_eq!(rig.settle(YOU).outcome, Outcome::Green);
    let ambers = (0..kind.ambers()).map(|i| rig.due(YOU, Lamp::Amber(i)).unwrap()).collect();
    (rig, ambers)
}

/// From the last amber as shown to green as due.
fn interval(rig: &Rig) -> Span {
    let last = rig.machine.setup().kind.last_amber();
    rig.due(YOU, Lamp::Green).unwrap() - rig.machine.amber_shown(YOU, last).unwrap().best()
}

#[test]
fn the_pro_trees_light_all_ambers_at_once() {
    for (kind, gap) in [(TreeKind::pro(), ms(400)), (TreeKind::pro_500(), ms(500))] {
        let (rig, ambers) = green_run(kind);
        assert!(ambers.iter().all(|due| *due == ambers[0]));
        assert_eq!(interval(&rig), gap);
        assert_eq!(rig.machine.result(YOU).unwrap().parts.unwrap().interval, gap);
    }
}

#[test]
fn all_three_ambers_of_a_pro_tree_stay_lit_until_green() {
    let mut rig = Rig::new(StartSetup { kind: TreeKind::pro(), ..start(Some(staged()), None) });
    let shown = rig.last_amber(YOU);
    rig.run_to(shown + ms(399));
    let lamps = rig.machine.lamps(YOU, rig.now, rig.now);
    assert_eq!((lamps.ambers, lamps.green), ([true, true, true, false, false], false));
    rig.run_to(shown + ms(400));
    let lamps = rig.machine.lamps(YOU, rig.now, rig.now);
    assert_eq!((lamps.ambers, lamps.green), ([false; 5], true));
}

#[test]
fn a_countdown_begins_when_the_tree_is_armed() {
    let mut rig = Rig::new(start(Some(staged()), None));
    assert_eq!(rig.machine.armed_at(), None);
    let first = rig.armed();
    let armed = rig.find(|e| *e == TreeEvent::Armed { first_amber: first });
    assert_eq!(rig.machine.armed_at(), armed);
    assert!(armed.is_some_and(|at| at > START && at < first));
}

#[test]
fn the_ambers_of_a_full_tree_are_lit_one_at_a_time() {
    let mut rig = Rig::new(start(Some(staged()), None));
    let first = rig.armed();
    for i in 0..3_usize {
        rig.run_to(first + ms(500 * i as i64));
        let lamps = rig.machine.lamps(YOU, rig.now, rig.now);
        let mut one = [false; 5];
        one[i] = true;
        assert_eq!((lamps.ambers, lamps.green, lamps.red), (one, false, false), "amber {i}");
        let before = rig.machine.lamps(YOU, rig.now, rig.now - Span::from_ns(1));
        assert_ne!(before.ambers, one, "not a nanosecond before");
    }
}

#[test]
fn a_free_tree_may_have_one_amber_or_five() {
    let (rig, ambers) = green_run(TreeKind::free(1, ms(0), ms(700)).unwrap());
    assert_eq!((ambers.len(), interval(&rig)), (1, ms(700)));
    let (rig, ambers) = green_run(TreeKind::free(5, ms(300), ms(450)).unwrap());
    let gaps: Vec<Span> = ambers.windows(2).map(|w| w[1] - w[0]).collect();
    assert_eq!((gaps, interval(&rig)), (vec![ms(300); 4], ms(450)));
}

#[test]
fn a_lane_with_nobody_beside_it_waits_for_nobody_in_either_hand() {
    for lane in Lane::BOTH {
        let lanes = match lane {
            Lane::Left => start(Some(rolling()), None),
            Lane::Right => start(None, Some(rolling())),
        };
        let mut rig = Rig::new(lanes);
        rig.rolls_in(lane, ms(400));
        rig.last_amber(lane);
        rig.launch_for_rt(lane, ms(-3));
        assert_eq!(rig.settle(lane).outcome, Outcome::Red);
        assert!(!rig.machine.staging(lane).courtesy_broken);
        assert_eq!(rig.count(|e| matches!(e, TreeEvent::TimeOutStarted { .. })), 0);
        assert_eq!(rig.loser(), None, "nobody loses to an empty lane");
    }
}

#[test]
fn the_grid_of_ambers_does_not_move_with_what_the_screen_did() {
    let mut rig = Rig::with_screen(start(Some(staged()), None), |_, lamp, due| {
        Some(due + if lamp == Lamp::Amber(0) { ms(22) } else { ms(1) })
    });
    let first = rig.armed();
    rig.settle(YOU);
    for i in 0..3_u8 {
        assert_eq!(rig.due(YOU, Lamp::Amber(i)), Some(first + ms(500) * i64::from(i)));
    }
}

#[test]
fn the_same_seed_waits_the_same_and_another_seed_does_not() {
    let wait = |seed| {
        let mut rig = Rig::new(StartSetup { seed, ..start(Some(staged()), None) });
        rig.armed() - START
    };
    assert_eq!(wait(11), wait(11));
    assert_ne!(wait(11), wait(12));
}

#[test]
fn the_last_amber_stays_lit_until_green_however_late_it_was_seen() {
    let mut rig = Rig::with_screen(start(Some(staged()), None), |_, lamp, due| {
        Some(due + if lamp == Lamp::Amber(2) { ms(16) } else { ms(1) })
    });
    let first = rig.armed();
    rig.run_to(first + ms(1_000 + 515));
    let lamps = rig.machine.lamps(YOU, rig.now, rig.now);
    assert_eq!((lamps.ambers, lamps.green), ([false, false, true, false, false], false));
    let green = rig.machine.lamps(YOU, rig.now, rig.now + ms(1));
    assert_eq!((green.ambers, green.green), ([false; 5], true), "and goes out for it");
}

#[test]
fn at_one_mark_causes_come_before_what_they_bring_about() {
    let lane = YOU;
    let in_order = [
        TreeEvent::TimedOut { lane },
        TreeEvent::Beams { lane, state: BeamState::Staged },
        TreeEvent::CourtesyBroken { lane },
        TreeEvent::Disarmed,
        TreeEvent::SentBack { lane, why: SentBack::Flicker },
        TreeEvent::Steady { lane },
        TreeEvent::TimeOutStarted { lane, ends: START },
        TreeEvent::Launch { lane, stamp: Stamp::exact(START), depth: Inches(0.0) },
        TreeEvent::Cleared { lane },
        TreeEvent::LampDue { lane, lamp: Lamp::Green },
        TreeEvent::LampShown { lane, lamp: Lamp::Green, stamp: Stamp::exact(START) },
        TreeEvent::Settled { lane, outcome: Outcome::Green },
        TreeEvent::FoulLoses { lane },
        TreeEvent::Armed { first_amber: START },
    ];
    assert!(in_order.is_sorted_by(|a, b| a.rank() < b.rank()));
    let of_both = |e: &&TreeEvent| matches!(e, TreeEvent::Disarmed | TreeEvent::Armed { .. });
    for event in &in_order {
        assert_eq!(event.lane(), (!of_both(&event)).then_some(lane), "{event:?}");
    }
}
