//! Two people side by side.

use super::rig::{Rig, is_told};
use bevy::prelude::*;
use lastamber::app::bindings::{Bindings, Who};
use lastamber::app::guest::{Guest, Seat};
use lastamber::app::lane::Phase;
use lastamber::controls::{Act, Controls, Set};
use lastamber::history::{add_profile, load_without_lock};
use lastamber::press::keys;
use tempfile::TempDir;

#[test]
fn each_has_a_lane_a_launch_and_a_log_of_its_own() {
    let home = TempDir::new().unwrap();
    let profile = add_profile(home.path(), "Second").unwrap();
    let folder = profile.path.clone();
    let mut rig = Rig::tree_only();
    rig.app.world_mut().resource_mut::<Guest>().seat = Some(Seat::take(profile).unwrap());
    rig.start();
    rig.until_amber(2);
    rig.updates(8);
    rig.tap(KeyCode::Space);
    rig.updates(4);
    assert!(rig.record().is_none(), "the pair is over when both lanes are");
    rig.tap(KeyCode::KeyF);
    rig.until_written("the verdict", is_told);
    let own = rig.record().unwrap();
    let kept = load_without_lock(&folder).unwrap().trials;
    let [other] = &kept[..] else { panic!("{} runs in the other log", kept.len()) };
    assert_eq!((own.driver.as_str(), other.driver.as_str()), ("tester", "Second"));
    assert_eq!(own.setup.lane, other.setup.lane.other());
    assert!(own.setup.other_lane.as_ref().unwrap().contains("Second"));
    assert!(
        rig.disk.text().contains(&own.id.to_string())
            && !rig.disk.text().contains(&other.id.to_string())
    );
    // Six updates and a tap lie between the two launches, and the lamps were the same.
    let (a, b) = (own.parts.unwrap(), other.parts.unwrap());
    assert!(b.driver() - a.driver() >= rig.frame * 4, "{a:?} {b:?}");
    let said = rig.verdict().said;
    assert!(said.iter().any(|line| line.contains("Second")), "{said:?}");
}

#[test]
fn without_a_second_person_its_keys_do_nothing() {
    let mut rig = Rig::tree_only();
    rig.tap(KeyCode::KeyF);
    rig.updates(30);
    assert!(rig.app.world().resource::<Phase>().live().is_none());
    rig.start();
    rig.until_amber(2);
    rig.tap(KeyCode::KeyF);
    rig.updates(3);
    let live = rig.app.world().resource::<Phase>().live().unwrap();
    assert!(live.machine.launch(live.you).is_none());
}

#[test]
fn what_is_bound_anew_launches_and_is_named() {
    let mut rig = Rig::tree_only();
    let controls = Controls::of(Set::LeftHand);
    rig.app.world_mut().resource_mut::<Bindings>().driver = controls;
    let bindings = rig.app.world().resource::<Bindings>().clone();
    let creep = bindings.first(Act::Creep).map(keys::key_name);
    assert_eq!(creep.as_deref(), Some("KeyW"));
    let free = keys::key_named("KeyJ").unwrap();
    let mut driver = bindings.driver.clone();
    driver.bind(Act::Launch, free).unwrap();
    driver.unbind(keys::key_named("Space").unwrap()).unwrap();
    rig.app.world_mut().resource_mut::<Bindings>().driver = driver;
    rig.updates(2);
    assert_eq!(rig.prompt().key.as_deref(), Some("KeyJ"), "{:?}", rig.prompt());
    rig.tap(KeyCode::Space);
    rig.updates(30);
    assert!(rig.app.world().resource::<Phase>().live().is_none());
    rig.tap(KeyCode::KeyJ);
    rig.until("a run", |w| w.resource::<Phase>().live().is_some());
    let guest = rig.app.world().resource::<Bindings>().controls_of(Who::Guest, Act::Creep);
    assert_ne!(keys::key_name(guest[0]), "KeyW");
}
