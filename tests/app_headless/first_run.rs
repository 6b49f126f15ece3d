//! The guided first run.

use super::rig::{Rig, is_told};
use bevy::input::ButtonState;
use bevy::prelude::*;
use lastamber::app::lane::{Guide, Phase, Session};
use lastamber::app::onset::OnsetFeed;
use lastamber::drill::Step;
use lastamber::trial::Drill;
use lastamber::units::Span;

fn step(rig: &Rig) -> Option<Step> {
    let world = rig.app.world();
    world.resource::<Guide>().step(world.resource::<Session>())
}

fn lit(rig: &Rig) -> usize {
    let world = rig.app.world();
    let lit = world.resource::<Guide>().lit(world.resource::<Session>(), 3);
    lit.map_or(0, |lit| {
        let single = [lit.pre_stage, lit.stage, lit.green, lit.red];
        single.iter().chain(&lit.ambers).filter(|on| **on).count()
    })
}

#[test]
fn lamps_are_explained_one_by_one_then_the_run_and_then_it_is_over() {
    let mut rig = Rig::guided(OnsetFeed::Echo(Span::from_ms(10)));
    let explained = [Step::PreStageLamp, Step::StageLamp, Step::Ambers, Step::Green, Step::Red];
    for wanted in explained {
        assert_eq!(step(&rig), Some(wanted));
        assert_eq!(lit(&rig), if wanted == Step::Ambers { 3 } else { 1 });
        assert!(rig.prompt().text.contains("G: skip this"), "{:?}", rig.prompt());
        assert!(rig.app.world().resource::<Phase>().live().is_none());
        rig.tap(KeyCode::Space);
        rig.update();
    }
    rig.until("a run", |w| w.resource::<Phase>().live().is_some());
    assert_eq!((step(&rig), lit(&rig)), (Some(Step::RollIn), 0));
    let (mut creeping, mut words) = (false, Vec::new());
    for _ in 0..3_000 {
        let prompt = rig.prompt();
        let creep = prompt.key.as_deref() == Some("ArrowUp");
        if creep != creeping {
            let state = if creep { ButtonState::Pressed } else { ButtonState::Released };
            rig.key(KeyCode::ArrowUp, state);
            creeping = creep;
        }
        let Some(live) = rig.app.world().resource::<Phase>().live() else { break };
        if live.machine.is_steady(live.you) {
            words.push(prompt.text);
        }
        if live.machine.green_due(live.you).is_some() {
            rig.tap(KeyCode::Space);
            break;
        }
        rig.update();
    }
    words.dedup();
    assert_eq!(words.len(), 1, "from staged to launch the words stand still: {words:?}");
    assert!(words[0].contains("as the last amber lights"), "{words:?}");
    rig.until_written("the verdict", is_told);
    rig.updates(40);
    assert!(matches!(step(&rig), Some(Step::Read(_))), "{:?}", step(&rig));
    rig.tap(KeyCode::Space);
    rig.updates(3);
    assert_eq!(step(&rig), None);
}

#[test]
fn it_is_skipped_and_had_again_by_one_key() {
    let mut rig = Rig::guided(OnsetFeed::Echo(Span::from_ms(10)));
    rig.tap(KeyCode::KeyG);
    assert_eq!(step(&rig), None);
    rig.app.world_mut().resource_mut::<Session>().set_drill(Drill::TreeOnly);
    rig.tap(KeyCode::KeyG);
    assert_eq!(step(&rig), Some(Step::PreStageLamp));
    assert_eq!(rig.app.world().resource::<Session>().drill(), Drill::RollUp);
}
