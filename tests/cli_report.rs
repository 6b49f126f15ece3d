//! `lastamber report` from outside: its forms, the mark of a demo, and what it refuses.

use assert_cmd::Command;
use lastamber::demo::demo_lines;
use lastamber::history::{Line, write_demo};
use serde_json::Value;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

fn lastamber(folder: &Path, more: &[&str]) -> Command {
    let mut command = Command::cargo_bin("lastamber").unwrap();
    command.env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY");
    command.args(["report", "--data"]).arg(folder).args(more);
    command
}

fn demo() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    write_demo(folder.path(), 1, &demo_lines(1).unwrap()).unwrap();
    folder
}

fn text_of(folder: &Path, more: &[&str]) -> String {
    let out = lastamber(folder, more).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

#[test]
fn a_terminal_gets_the_weeks_the_last_session_aim_and_the_track() {
    let folder = demo();
    let text = text_of(folder.path(), &[]);
    println!("{text}");
    assert!(text.starts_with("DEMO"));
    for page in ["Weeks\n=====", "The last session\n", "Aim\n===", "Home and track\n"] {
        assert!(text.contains(page), "{page}");
    }
    assert!(text.chars().all(|c| !c.is_control() || c == '\n'));
    // The same history makes the same report.
    assert_eq!(text, text_of(folder.path(), &[]));
}

#[test]
fn the_page_is_one_file_that_fetches_nothing() {
    let folder = demo();
    let out = folder.path().join("report.html");
    let said = text_of(folder.path(), &["--format", "html", "--out", out.to_str().unwrap()]);
    assert!(said.contains("report.html is written."));
    let page = fs::read_to_string(out).unwrap();
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains("DEMO"));
    assert!(page.matches("<svg").count() > 10, "plots and time bars");
    for word in ["<script", "<link rel=\"style", "@import", "https://", "NaN", "Infinity"] {
        assert!(!page.contains(word), "{word}");
    }
    let outside = page.matches("http://").count();
    assert_eq!(outside, page.matches("http://www.w3.org/2000/svg").count());
}

#[test]
fn programs_get_numbers_with_their_intervals() {
    let folder = demo();
    let json: Value = serde_json::from_str(&text_of(folder.path(), &["--format", "json"])).unwrap();
    assert_eq!(json["demo"], true);
    assert_eq!(json["sessions"].as_array().unwrap().len(), 18);
    let spread = &json["sessions"][0]["spread_ms"];
    assert!(spread["low"].as_f64() < spread["value"].as_f64(), "{spread}");
    assert!(json["red"]["n"].as_u64().unwrap() > 300);
    let part = ["--format", "json", "--from", "2026-05-01", "--to", "2026-05-08"];
    let part: Value = serde_json::from_str(&text_of(folder.path(), &part)).unwrap();
    assert_eq!((&part["from"], &part["to"]), (&"2026-05-01".into(), &"2026-05-08".into()));
}

#[test]
fn a_name_made_to_harm_stays_text_in_every_form() {
    let name = "</title><script>alert(1)</script>\u{1b}[2J\u{202e}";
    let mut lines = demo_lines(2).unwrap();
    for line in &mut lines {
        if let Line::Trial(trial) = line {
            trial.driver = name.to_owned();
            trial.car.name = name.to_owned();
        }
    }
    let folder = tempfile::tempdir().unwrap();
    write_demo(folder.path(), 2, &lines).unwrap();
    let page = text_of(folder.path(), &["--format", "html"]);
    assert!(!page.contains("<script") && !page.contains('\u{1b}') && !page.contains('\u{202e}'));
    let text = text_of(folder.path(), &[]);
    assert!(text.chars().all(|c| (!c.is_control() || c == '\n') && c != '\u{202e}'));
}

#[test]
fn nothing_to_report_on_is_an_error_with_its_cure() {
    let folder = demo();
    let empty = tempfile::tempdir().unwrap();
    for (folder, more, word) in [
        (empty.path(), vec![], "no run to report on"),
        (folder.path(), vec!["--driver", "Nobody"], "drivers here: Demo driver"),
        (folder.path(), vec!["--from", "2026-05-08", "--to", "2026-05-01"], "swap them"),
        (folder.path(), vec!["--out", "/nowhere/at/all.txt"], "cannot be written"),
    ] {
        let out = lastamber(folder, &more).output().unwrap();
        assert_eq!(out.status.code(), Some(1), "{more:?}");
        assert!(out.stdout.is_empty(), "{more:?}");
        let said = String::from_utf8(out.stderr).unwrap();
        assert!(said.contains(word) && said.lines().count() <= 2, "{said}");
    }
}
