//! `lastamber rig` from outside: its lines, its JSON, and what it refuses.

#[path = "history_support/mod.rs"]
mod support;

use assert_cmd::Command;
use lastamber::history::{ClockBase, DataFolder, FilmLine, Line, PollLine, RigLine};
use lastamber::tree::{Outcome, Parts};
use lastamber::units::Span;
use serde_json::{Value, json};
use std::fs;
use std::path::Path;
use tempfile::TempDir;

fn lastamber(folder: &Path, more: &[&str]) -> Command {
    let mut command = Command::cargo_bin("lastamber").unwrap();
    command.env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY");
    command.arg("rig").arg("--data").arg(folder).args(more);
    command
}

fn folder_with(lines: &[Line]) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("history.jsonl"), support::file_of(lines)).unwrap();
    folder
}

fn text_of(lines: &[Line]) -> String {
    let folder = folder_with(lines);
    let run = lastamber(folder.path(), &[]).output().unwrap();
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    assert!(run.stderr.is_empty());
    String::from_utf8(run.stdout).unwrap()
}

fn json_of(lines: &[Line]) -> Value {
    let folder = folder_with(lines);
    let run = lastamber(folder.path(), &["--json"]).output().unwrap();
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    serde_json::from_slice(&run.stdout).unwrap()
}

fn film() -> FilmLine {
    FilmLine { n: 25, ..support::some_film("f") }
}

/// A rig with nothing left to improve but its delay.
fn good_rig() -> RigLine {
    RigLine {
        source_reason: None,
        poll: PollLine::Found { period_ms: 1.0, presses: 40 },
        ..support::some_rig_test("r")
    }
}

#[test]
fn a_rig_nobody_filmed_is_said_to_be_assumed_in_the_first_line() {
    let text = text_of(&[good_rig().into()]);
    let lines: Vec<&str> = text.lines().collect();
    let want = "This rig: presses ±0.5 ms (own listener, X11), lamps ±0.3 ms; constant delay \
                assumed 35 ± 15 ms, not filmed.";
    assert_eq!(lines[0], want);
    // With the delay off by one SD Φ(−35/15) = 1.0 % and Φ(−5/15) = 36.9 %.
    assert!(text.contains("red lights anywhere from 1 to 37 %"), "{text}");
    assert!(text.contains("A phone that films 240 frames a second measures"), "{text}");
    assert!(text.contains("Your control is asked every 1 ms (from 40 presses)"), "{text}");
    assert!(text.contains("For keyboard Space, press, right-hand; x11 1280x720"), "{text}");
}

#[test]
fn a_filmed_rig_has_its_own_delay_and_nothing_left_to_improve() {
    let text = text_of(&[film().into(), good_rig().into()]);
    let first = text.lines().next().unwrap();
    assert!(first.ends_with("constant delay filmed 24.1 ± 1.2 ms."), "{text}");
    assert!(text.contains("sharp enough for a red-light figure"), "{text}");
    assert!(!text.contains("phone") && !text.contains("anew") && !text.contains("could"), "{text}");
}

#[test]
fn a_rig_that_changed_since_its_film_starts_anew_and_says_why() {
    let mut rig = good_rig();
    rig.rig.display = "x11 1920x1080".to_owned();
    let text = text_of(&[film().into(), rig.clone().into()]);
    let want = "Since the film, display: x11 1280x720 → x11 1920x1080; offset starts anew (assumed \
                35 ± 15 ms).";
    assert_eq!(text.lines().nth(1), Some(want));
    let json = json_of(&[film().into(), rig.into()]);
    let change = json!([{"what": "display", "was": "x11 1280x720", "is": "x11 1920x1080"}]);
    assert_eq!(json["offset"]["changes"], change);
    assert_eq!(json["offset"]["from"], "assumed");
}

#[test]
fn whatever_is_poor_about_a_rig_has_its_own_advice() {
    let mut rig = RigLine {
        onset_grade: "frame".to_owned(),
        clock_base: ClockBase::Fails,
        press_half_width_ms: 8.3,
        lamp_half_width_ms: f64::NAN,
        ..support::some_rig_test("r")
    };
    rig.rig.source = "frame".to_owned();
    rig.wake_up.worst_ms = 30.0;
    let text = text_of(&[support::some_film("f").into(), rig.into()]);
    let first = text.lines().next().unwrap();
    assert!(first.contains("presses ±8.3 ms (the window's frames), lamps an unknown"), "{text}");
    for advice in [
        "Presses could be timed better: no right to read the keyboard device.",
        "the events' clock is another: only arrivals count",
        "Your control is asked every 8 ms (from 40 presses): ±2.3 ms more",
        "A control that is asked every millisecond would scatter less",
        "Nothing here says where in a frame a lamp lights",
        "Something else kept this machine busy: frames or wake-ups came up to 30 ms off.",
        "press source: server → frame; offset starts anew",
    ] {
        assert!(text.contains(advice), "{advice}: {text}");
    }
}

#[test]
fn the_newest_self_test_counts_and_damage_is_told() {
    let mut newer = good_rig();
    newer.id = "r2".to_owned();
    newer.press_half_width_ms = 0.7;
    let folder = folder_with(&[good_rig().into(), newer.into()]);
    let history = folder.path().join("history.jsonl");
    let mut bytes = fs::read(&history).unwrap();
    bytes.extend_from_slice(b"{\"sum\":\"torn");
    fs::write(&history, bytes).unwrap();
    let run = lastamber(folder.path(), &[]).output().unwrap();
    let text = String::from_utf8(run.stdout).unwrap();
    assert!(text.starts_with("This rig: presses ±0.7 ms"), "{text}");
    assert!(
        text.ends_with("set aside as damaged: 1; `lastamber history check` names them.\n"),
        "{text}"
    );
}

#[test]
fn the_json_has_the_documented_keys_with_the_unit_last() {
    let mut red = support::some_runs(1).remove(0);
    red.rig = support::some_rig().into();
    red.setup.scripted = false;
    red.offset.from = "assumed".to_owned();
    red.outcome = Outcome::Red;
    // 30 − 35 = −5 ms then; with 24.1 ms of delay 5.9 ms after green.
    red.parts = Some(Parts {
        driver_raw: Span::from_ms(230),
        offset: Span::from_ms(35),
        car: Span::from_ms(300),
        interval: Span::from_ms(500),
        early_doubt: Span::ZERO,
        late_doubt: Span::ZERO,
    });
    let json = json_of(&[red.into(), film().into(), good_rig().into()]);
    let help = Command::cargo_bin("lastamber").unwrap().args(["rig", "--help"]).output().unwrap();
    let help = String::from_utf8(help.stdout).unwrap();
    let told: Vec<&str> = help.split(|c: char| !c.is_alphanumeric() && c != '_').collect();
    // Shares, counts and the load average have no unit.
    let bare = ["threshold", "load_average", "in_force", "if_shorter", "if_longer"];
    let mut values = vec![&json];
    while let Some(value) = values.pop() {
        for (key, inner) in value.as_object().into_iter().flatten() {
            assert!(told.contains(&key.as_str()), "{key} is not in the help");
            let unit = ["_ms", "_s", "_hz"].iter().any(|unit| key.ends_with(unit));
            assert!(!inner.is_f64() || unit || bare.contains(&key.as_str()), "{key} has no unit");
            values.push(inner);
        }
    }
    assert_eq!(json["press_half_width_ms"], 0.5);
    assert_eq!((&json["poll_period_ms"], &json["poll_presses"]), (&json!(1.0), &json!(40)));
    assert_eq!((&json["clock_base"], &json["threshold"]), (&json!("holds"), &Value::Null));
    assert_eq!(json["offset"]["film_id"], "f");
    assert_eq!(json["offset"]["mean_ms"], 24.1);
    let reread = json!({"runs": 1, "green_to_red": 0, "red_to_green": 1});
    assert_eq!(json["reread"]["counts"], reread);
    let chance = json["red_light"]["in_force"].as_f64().unwrap();
    assert!((chance - 0.0912).abs() < 5e-5, "{chance}");
    // 1/√12 of press, device and 0.6 of lamp: √(1 + 1 + 0.36)/√12.
    let sd = json["run_sd_ms"].as_f64().unwrap();
    assert!((sd - (2.36_f64 / 12.0).sqrt()).abs() < 1e-12, "{sd}");
}

#[test]
fn reading_neither_needs_nor_takes_the_lock() {
    let folder = folder_with(&[good_rig().into()]);
    let held = DataFolder::open(folder.path()).unwrap();
    lastamber(folder.path(), &[]).assert().success();
    drop(held);
    fs::remove_file(folder.path().join("lock")).unwrap();
    lastamber(folder.path(), &["--json"]).assert().success();
    assert!(!folder.path().join("lock").exists());
}

/// Refused with code 1, nothing on standard output, `says` in at most two lines of standard error.
fn refuses(folder: &Path, says: &[&str]) {
    let run = lastamber(folder, &[]).output().unwrap();
    let error = String::from_utf8(run.stderr).unwrap();
    assert_eq!(run.status.code(), Some(1), "{error}");
    assert!(run.stdout.is_empty() && error.lines().count() <= 2, "{error}");
    for words in says {
        assert!(error.contains(words), "{words}: {error}");
    }
}

#[test]
fn without_a_self_test_it_says_where_to_make_one() {
    let empty = tempfile::tempdir().unwrap();
    let cure = "open This rig in the menu";
    refuses(empty.path(), &["no self test", &empty.path().display().to_string(), cure]);
    let nowhere = empty.path().join("nowhere");
    refuses(&nowhere, &["no self test", cure]);
    assert!(!nowhere.exists(), "reading makes no folder");
    refuses(folder_with(&[film().into()]).path(), &["no self test"]);
}

#[test]
fn a_folder_that_cannot_be_read_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("a-file");
    fs::write(&file, "").unwrap();
    refuses(&file, &["cannot open", "a-file"]);
}
