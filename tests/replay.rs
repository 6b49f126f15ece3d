//! Runs seen again: the time line holds what the record holds, to the nanosecond.

use lastamber::demo::demo_lines;
use lastamber::history::{load_without_lock, write_demo};
use lastamber::tree::{Lamp, LampSet, Outcome};
use lastamber::trial::{Drill, Replay, SeenFacts, TrialRecord, What};
use lastamber::units::Span;

fn runs() -> Vec<TrialRecord> {
    let folder = tempfile::tempdir().unwrap();
    write_demo(folder.path(), 3, &demo_lines(3).unwrap()).unwrap();
    load_without_lock(folder.path()).unwrap().trials
}

fn is_lit(lamp: Lamp) -> impl Fn(What) -> bool {
    move |what| matches!(what, What::Lit { lamp: lit, .. } if lit == lamp)
}

#[test]
fn the_tyre_is_out_the_light_after_the_interval() {
    let mut timed = 0;
    for run in runs() {
        let (Some(parts), Some(replay)) = (run.parts, Replay::of(&run)) else { continue };
        let launch = replay.when(|what| what == What::Launch).unwrap();
        let clear = replay.when(|what| what == What::Clear).unwrap();
        assert_eq!(launch, parts.driver(), "{}", run.id);
        assert_eq!(clear - parts.interval, parts.rt(), "{}", run.id);
        timed += 1;
    }
    assert!(timed > 300, "{timed}");
}

#[test]
fn one_amber_at_a_time_then_green_or_red_alone() {
    let (mut greens, mut reds) = (0, 0);
    for run in runs().iter().filter(|run| run.setup.amber_gap > Span::ZERO) {
        let Some(replay) = Replay::of(run) else { continue };
        let (from, to) = replay.range();
        assert_eq!(replay.lit(from), LampSet::default(), "dark at first");
        let mut at = from;
        while at <= to {
            let lit = replay.lit(at);
            let lamps = lit.ambers.iter().filter(|lit| **lit).count();
            assert!(lamps + usize::from(lit.green) + usize::from(lit.red) <= 1, "{lit:?}");
            at += Span::from_ms(20);
        }
        let end = replay.lit(to);
        // A run that was broken off or void may have ended at any of its lamps.
        match run.outcome {
            Outcome::Green | Outcome::Lapse => assert!(end.green, "{run:?}"),
            Outcome::Void(_) | Outcome::Abandoned(_) => {}
            _ => assert!(!end.green, "{run:?}"),
        }
        greens += usize::from(end.green);
        reds += usize::from(end.red);
        if run.outcome == Outcome::Red {
            assert!(end.red, "{run:?}");
            assert_eq!(replay.when(is_lit(Lamp::Green)), None);
        }
    }
    assert!(greens > 250 && reds > 10, "{greens} {reds}");
}

#[test]
fn a_withheld_amber_stays_dark_and_keeps_its_place() {
    let mut run = runs().into_iter().find(|run| run.setup.drill == Drill::RollUp).unwrap();
    let last = run.setup.ambers - 1;
    let gap = run.setup.amber_gap;
    run.seen.change(|seen| {
        seen.lamps.retain(|fact| fact.lamp != Lamp::Amber(last) && fact.lamp != Lamp::Green);
        seen.launch = None;
    });
    run.setup.blank = true;
    (run.parts, run.outcome) = (None, Outcome::Stayed);
    let replay = Replay::of(&run).unwrap();
    let first = replay.when(is_lit(Lamp::Amber(0))).unwrap();
    assert_eq!(first.ns(), -gap.ns() * i64::from(last));
    assert!(replay.is_blank() && !replay.lit(Span::ZERO).ambers[usize::from(last)]);
}

#[test]
fn nothing_recorded_is_nothing_to_see() {
    let mut run = runs().remove(0);
    run.seen = SeenFacts::default().into();
    assert_eq!(Replay::of(&run), None);
}
