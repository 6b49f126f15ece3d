//! The made-up weeks: the same every time, whole, marked, and true to their own numbers.

use lastamber::demo::{demo_lines, truth};
use lastamber::history::{Line, is_demo, load_without_lock, write_demo};
use lastamber::rules::TreeKind;
use lastamber::stats::Sample;
use lastamber::stats::offset::Films;
use lastamber::stats::risk::RedLine;
use lastamber::strategy::own::{OwnCar, OwnLines, OwnRuns, OwnSlips, setups, way_to_the_track};
use lastamber::tree::Outcome;
use lastamber::trial::{Drill, Style};
use std::collections::BTreeSet;
use std::process::Command;

#[test]
fn the_same_seed_makes_up_the_same_bytes_and_another_does_not() {
    let bytes = |seed| -> Vec<u8> {
        let lines = demo_lines(seed).unwrap();
        lines.iter().flat_map(|line| line.seal().unwrap().bytes().to_vec()).collect()
    };
    assert_eq!(bytes(7), bytes(7));
    assert_ne!(bytes(7), bytes(8));
}

#[test]
fn every_line_is_read_again_in_the_order_of_time_and_says_demo() {
    let folder = tempfile::tempdir().unwrap();
    let lines = demo_lines(1).unwrap();
    write_demo(folder.path(), 1, &lines).unwrap();
    assert!(is_demo(folder.path()));
    let ids: Vec<&str> = lines.iter().map(Line::id).collect();
    assert!(ids.is_sorted());
    let loaded = load_without_lock(folder.path()).unwrap();
    assert_eq!((loaded.damaged_count, loaded.newer_count, loaded.repeated_count), (0, 0, 0));
    assert_eq!(loaded.slips.len(), 14);
    assert!(loaded.forecasts.len() > 10 && loaded.films.len() == 1 && loaded.cars.len() == 1);
    assert!(loaded.trials.iter().all(|run| run.driver.starts_with("Demo")));
    assert!(loaded.trials.iter().all(|run| run.car.name.starts_with("Demo")));
    assert!(loaded.slips.iter().all(|line| line.slip.track.starts_with("Demo")));
}

#[test]
fn six_weeks_hold_everything_a_screen_can_show() {
    let lines = demo_lines(1).unwrap();
    let runs: Vec<_> = lines
        .iter()
        .filter_map(|line| match line {
            Line::Trial(trial) => Some(trial.as_ref()),
            _ => None,
        })
        .collect();
    let days: BTreeSet<&str> = runs.iter().map(|run| &run.began[..10]).collect();
    assert_eq!(days.len(), 18);
    let ended = |wanted: fn(&Outcome) -> bool| runs.iter().filter(|r| wanted(&r.outcome)).count();
    assert!((430..=480).contains(&ended(|o| matches!(o, Outcome::Green | Outcome::Red))));
    assert!(ended(|o| *o == Outcome::Red) >= 10);
    for wanted in [
        (|o| matches!(o, Outcome::Void(_))) as fn(&Outcome) -> bool,
        |o| matches!(o, Outcome::Abandoned(_)),
        |o| *o == Outcome::Lapse,
        |o| *o == Outcome::LeftBeforeTree,
        |o| *o == Outcome::Stayed,
    ] {
        assert!(ended(wanted) >= 2);
    }
    let drilled = |drill, style| {
        runs.iter().filter(|run| run.setup.drill == drill && run.setup.style == style).count()
    };
    assert_eq!(drilled(Drill::ReactOrTime, Style::React), 60);
    assert_eq!(drilled(Drill::ReactOrTime, Style::TimeIt), 60);
    assert!(drilled(Drill::GuessTest, Style::React) >= 40);
}

#[test]
fn what_is_true_is_found_again() {
    for seed in 1..=5 {
        let folder = tempfile::tempdir().unwrap();
        write_demo(folder.path(), seed, &demo_lines(seed).unwrap()).unwrap();
        let loaded = load_without_lock(folder.path()).unwrap();
        let lines = OwnLines::from(&loaded);
        let known = setups(&lines);
        let timed = known.iter().find(|known| known.setup.style == Style::TimeIt).unwrap();
        assert_eq!(timed.slips, 14);
        let part = OwnCar::new(&lines, &timed.setup).part;
        let line = RedLine::of_car(part, TreeKind::full().green_gap().as_secs_f64()).unwrap();
        let runs = OwnRuns::new(&lines, &timed.setup, line.at_s());
        // What is left to learn at the end, and who fell back to reacting, move the level by less
        // than ten milliseconds.
        let last = Sample::new(runs.driver_parts_s().split_off(200)).unwrap();
        let level_ms = 1000.0 * last.values().iter().sum::<f64>() / last.n() as f64;
        assert!((level_ms - truth::TIME_IT_PLATEAU_MS).abs() < 10.0, "{seed}: {level_ms}");
        let offset = Films::new(&loaded.films).choose(&loaded.trials[0].rig, None).offset.ms;
        assert!((offset.value - truth::RIG_DELAY_MS).abs() < 3.0 * offset.sd, "{seed}");
        let pool = runs.pool().unwrap().unwrap();
        let home = way_to_the_track(&pool, &line, &OwnSlips::new(&lines, &timed.setup)).unwrap();
        let off_ms = 1000.0 * home.offset_s.value - truth::HOME_TO_TRACK_MS;
        // Learning goes on between the first evening and the nights: a few milliseconds more doubt.
        let sd_ms = (1000.0 * home.offset_s.sd).hypot(6.0);
        assert!(off_ms.abs() < 3.0 * sd_ms, "{seed}: {off_ms} of {sd_ms}");
    }
}

#[test]
fn without_a_folder_it_lies_in_the_usual_one_for_data() {
    let home = tempfile::tempdir().unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_lastamber"));
    command.args(["demo", "--no-window"]).current_dir(home.path());
    let out = command.env("XDG_DATA_HOME", home.path().join("share")).output().unwrap();
    assert!(out.status.success(), "{out:?}");
    let made = home.path().join("share/lastamber/demo");
    assert!(made.join("DEMO").exists() && made.join("history.jsonl").exists());
}

#[test]
fn the_command_makes_a_marked_folder_and_leaves_runs_of_somebodys_own_alone() {
    let folder = tempfile::tempdir().unwrap();
    let place = folder.path().join("made up");
    let demo = || {
        let mut command = Command::new(env!("CARGO_BIN_EXE_lastamber"));
        command.args(["demo", "--no-window", "--seed", "3", "--data"]).arg(&place).output().unwrap()
    };
    let out = demo();
    assert!(out.status.success(), "{out:?}");
    assert!(String::from_utf8_lossy(&out.stdout).starts_with("DEMO: six weeks of Demo driver"));
    let first = std::fs::read(place.join("history.jsonl")).unwrap();
    assert!(demo().status.success());
    assert_eq!(std::fs::read(place.join("history.jsonl")).unwrap(), first);
    std::fs::remove_file(place.join("DEMO")).unwrap();
    let out = demo();
    assert_eq!(out.status.code(), Some(1));
    assert!(out.stdout.is_empty());
    assert!(String::from_utf8_lossy(&out.stderr).contains("no demo"));
    assert_eq!(std::fs::read(place.join("history.jsonl")).unwrap(), first);
}
