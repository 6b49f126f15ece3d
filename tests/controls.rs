//! Controls whatever a driver does to them: bound, swapped, let go, written and read again.
//!
//! Owns the properties that hold after any sequence, and that a run made with any control is the same
//! from disk. Refuses single refusals and their sentences, which are tested beside the code.

#[path = "history_support/mod.rs"]
mod support;

use std::collections::BTreeMap;

use lastamber::controls::{Act, Controls, ControlsError, Offer, Set, reserved};
use lastamber::history::{Line, load};
use lastamber::press::Control;
use lastamber::press::keys::{device_word, key_name, key_named, mouse_button, named_keys};
use lastamber::seed::{Generator, generator};
use rand::RngExt;

const SEED: u64 = 20_261_126;

/// A control: mostly one that is bound at first or close to it, so that they meet.
fn any_control(from: &mut Generator) -> Control {
    let keys: Vec<Control> = named_keys().map(|(_, control)| control).collect();
    match from.random_range(0..10) {
        0..=3 => keys[from.random_range(0..keys.len())],
        4 => mouse_button(from.random_range(0x110..0x118)),
        5 => Control::PadButton(from.random_range(0x130..0x13f)),
        6 => Control::PadAxis(from.random_range(0..12)),
        7 => Control::Key(from.random_range(0..300)),
        _ => {
            let sets = Set::ALL.map(Controls::of);
            let bound = sets[from.random_range(0..2)].controls();
            bound[from.random_range(0..bound.len())]
        }
    }
}

/// One thing a driver may do; what is refused changes nothing.
fn do_anything(controls: &mut Controls, from: &mut Generator) {
    let before = controls.clone();
    let act = Act::ALL[from.random_range(0..4)];
    let control = any_control(from);
    let done = match from.random_range(0..12) {
        0..=3 => controls.bind(act, control),
        4..=5 => controls.swap(act, control),
        6..=9 => {
            let bound = controls.controls();
            controls.unbind(bound[from.random_range(0..bound.len())]).map(drop)
        }
        10 => controls.set_hold_to_brake(from.random()),
        _ => {
            if from.random_range(0..20) == 0 {
                controls.reset(Set::ALL[from.random_range(0..2)]);
            }
            Ok(())
        }
    };
    if let Err(refused) = done {
        assert_eq!(*controls, before, "refused, and yet changed: {refused}");
        assert!(refused.to_string().ends_with('.'), "{refused}");
    }
}

fn assert_the_rules_hold(controls: &Controls) {
    let has = |act| controls.controls_of(act).next().is_some();
    assert!(has(Act::Launch) && has(Act::Creep), "{controls:?}");
    assert!(has(Act::Brake) || !controls.holds_to_brake(), "{controls:?}");
    let all: usize = Act::ALL.iter().map(|act| controls.controls_of(*act).count()).sum();
    assert_eq!(all, controls.controls().len(), "a control is of one act");
    for control in controls.controls() {
        let acts: Vec<Act> = Act::ALL
            .into_iter()
            .filter(|act| controls.controls_of(*act).any(|bound| bound == control))
            .collect();
        assert_eq!(acts, [controls.act(control).unwrap()], "{control:?}");
        assert_eq!(reserved(control), None, "{control:?}");
    }
}

#[test]
fn whatever_is_bound_and_let_go_a_control_has_one_act_and_there_is_always_a_launch() {
    let mut from = generator(SEED);
    let (mut emptied, mut held) = (0, 0);
    for _ in 0..300 {
        let mut controls = Controls::of(Set::ALL[from.random_range(0..2)]);
        for _ in 0..120 {
            do_anything(&mut controls, &mut from);
            assert_the_rules_hold(&controls);
            emptied += usize::from(controls.controls_of(Act::Back).next().is_none());
            held += usize::from(controls.holds_to_brake());
        }
    }
    assert!(emptied > 1_000 && held > 1_000, "the sequences go to the ends: {emptied}, {held}");
}

#[test]
fn what_was_written_is_read_again_whatever_was_bound() {
    let mut from = generator(SEED + 1);
    for _ in 0..300 {
        let mut controls = Controls::default();
        for _ in 0..from.random_range(0..200) {
            do_anything(&mut controls, &mut from);
        }
        let mut choices: BTreeMap<String, String> = controls.to_choices().into_iter().collect();
        choices.insert("look".to_owned(), "dark".to_owned());
        let read = Controls::from_choices(&choices);
        assert_eq!(read.trouble, Vec::<String>::new());
        assert_eq!(read.controls, controls);
    }
}

#[test]
fn damaged_choices_are_read_to_controls_that_work_and_told_of() {
    let mut from = generator(SEED + 2);
    let (mut told, mut whole) = (0, 0);
    for _ in 0..2_000 {
        let mut controls = Controls::default();
        for _ in 0..from.random_range(0..60) {
            do_anything(&mut controls, &mut from);
        }
        let mut choices: BTreeMap<String, String> = controls.to_choices().into_iter().collect();
        for text in choices.values_mut() {
            if from.random_range(0..3) == 0 {
                damage(text, &mut from);
            }
        }
        if from.random_range(0..4) == 0 {
            let name = choices.keys().next().cloned().unwrap();
            choices.remove(&name);
        }
        let read = Controls::from_choices(&choices);
        assert_the_rules_hold(&read.controls);
        assert!(read.trouble.iter().all(|told| told.len() < 600 && !told.contains('\u{1b}')));
        told += usize::from(!read.trouble.is_empty());
        whole += usize::from(read.controls == controls);
    }
    assert!(told > 500 && whole > 50, "{told} told of, {whole} read whole");
}

/// Replaces, doubles or cuts a letter here and there.
fn damage(text: &mut String, from: &mut Generator) {
    for _ in 0..from.random_range(0..3) {
        let mut letters: Vec<char> = text.chars().collect();
        if letters.is_empty() {
            return;
        }
        let at = from.random_range(0..letters.len());
        match from.random_range(0..4) {
            0 => letters[at] = ['\u{1b}', ' ', 'ä', '9', '\u{202e}'][from.random_range(0..5)],
            1 => letters.truncate(at),
            2 => letters.extend_from_within(..at),
            _ => drop(letters.remove(at)),
        }
        *text = letters.into_iter().collect();
    }
}

#[test]
fn a_swap_gives_the_act_that_loses_a_control_one_of_the_same_device() {
    let mut from = generator(SEED + 3);
    let mut swapped = 0;
    for _ in 0..500 {
        let mut controls = Controls::of(Set::ALL[from.random_range(0..2)]);
        for _ in 0..from.random_range(0..10) {
            do_anything(&mut controls, &mut from);
        }
        let act = Act::ALL[from.random_range(0..4)];
        let control = any_control(&mut from);
        let refused = controls.bind(act, control);
        let Err(ControlsError::Taken { has, offer: Offer::Swap(other), .. }) = refused else {
            continue;
        };
        let (mine, theirs) = (controls.controls_of(act).count(), controls.controls_of(has).count());
        controls.swap(act, control).unwrap();
        assert_eq!((controls.act(control), controls.act(other)), (Some(act), Some(has)));
        assert_eq!(controls.controls_of(act).count(), mine);
        assert_eq!(controls.controls_of(has).count(), theirs);
        swapped += usize::from(device_word(control) == device_word(other));
    }
    assert!(swapped > 50, "{swapped}");
}

#[test]
fn a_run_made_with_any_control_is_the_same_from_disk() {
    let controls =
        ["MouseLeft", "MouseForward", "MouseButton279", "KeyF", "PadButton304", "PadAxis9"];
    for (name, mut run) in controls.into_iter().zip(support::some_runs(controls.len())) {
        run.rig.control = name.to_owned();
        run.rig.device = device_word(key_named(name).unwrap()).to_owned();
        let loaded = load(Line::from(run.clone()).seal().unwrap().bytes()).unwrap();
        let [read] = loaded.trials.as_slice() else { panic!("{name}") };
        assert_eq!(read, &run);
        assert_eq!(key_name(key_named(&read.rig.control).unwrap()), name);
    }
}
