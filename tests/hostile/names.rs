//! Names made to harm, in every form a name comes out in.
//!
//! Owns the comparison with the same history under plain names: a page, a picture or a table has the same
//! bones, whatever the names. Files are data: no path in one is followed.

use super::hostile_names;
use lastamber::demo::demo_lines;
use lastamber::history::{Line, WholeHistory, history_file};
use std::fs;
use std::path::Path;
use std::process::Command;

fn run(folder: &Path, words: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lastamber"));
    command.env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY");
    let out = command.args(words).arg("--data").arg(folder).output().unwrap();
    let error = String::from_utf8_lossy(&out.stderr);
    assert!(out.status.success() && error.is_empty(), "{words:?}: {error:.300}");
    String::from_utf8(out.stdout).unwrap()
}

/// Names for driver, car, track, note and number on the window.
type Names = [String; 5];

/// Every name in some place; in a long run in every place.
fn all_names() -> Vec<Names> {
    let names = hostile_names();
    let long = std::env::var("LASTAMBER_LONG").is_ok_and(|value| value == "1");
    let starts = (0..names.len()).step_by(if long { 1 } else { 4 });
    starts.map(|k| std::array::from_fn(|i| names[(k + i) % names.len()].clone())).collect()
}

/// A history with these names.
fn folder_named([driver, car, track, note, number]: &Names) -> tempfile::TempDir {
    // A few evenings and everything that is no run: enough for every page.
    let mut lines = demo_lines(2).unwrap();
    let runs = lines.iter().filter(|line| matches!(line, Line::Trial(_))).count();
    let mut early = runs - 60;
    lines.retain(|line| {
        let drop = early > 0 && matches!(line, Line::Trial(_));
        early -= usize::from(drop);
        !drop
    });
    let mut bytes = Vec::new();
    for line in &mut lines {
        match line {
            Line::Trial(run) => (run.driver, run.car.name) = (driver.clone(), car.clone()),
            Line::Car(line) => line.name = car.clone(),
            Line::Slip(line) => {
                let slip = &mut line.slip;
                (slip.driver, slip.car, slip.track) = (driver.clone(), car.clone(), track.clone());
                (slip.note, slip.own.car_number) = (note.clone(), number.clone());
            }
            Line::Forecast(told) => (told.driver, told.car) = (driver.clone(), car.clone()),
            Line::Exclusion(line) => line.reason = note.clone(),
            Line::Rig(_) | Line::Film(_) => {}
        }
        bytes.extend(line.seal().unwrap().into_bytes());
    }
    let folder = tempfile::tempdir().unwrap();
    fs::write(history_file(folder.path()), bytes).unwrap();
    folder
}

/// Tags with the names of their attributes, in order: what a browser would make of a page.
fn bones(page: &str) -> Vec<String> {
    let mut bones = Vec::new();
    for tag in page.split('<').skip(1) {
        let inside = tag.split('>').next().unwrap();
        // What stands in quotes is a value: every other piece is not.
        let outside: String = inside.split('"').step_by(2).collect::<Vec<_>>().join("");
        bones.push(outside);
    }
    bones
}

#[test]
fn a_page_and_a_card_have_the_same_bones_whatever_the_names() {
    for name in all_names() {
        let plain: Names = name.each_ref().map(|name| "x".repeat(name.chars().count()));
        let (hostile, harmless) = (folder_named(&name), folder_named(&plain));
        let card = ["report", "--card"];
        for (words, out) in
            [(&["report", "--format", "html", "--out"][..], "r.html"), (&card, "c.svg")]
        {
            let [page, expected] = [&hostile, &harmless].map(|folder| {
                let file = folder.path().join(out);
                run(folder.path(), &[words, &[file.to_str().unwrap()]].concat());
                fs::read_to_string(file).unwrap()
            });
            assert!(
                !bones(&page).is_empty() && bones(&page) == bones(&expected),
                "{name:.40?} in {out}"
            );
            for word in [
                "<script",
                "]]>",
                "onload=\"",
                "\0",
                "\u{1b}",
                "\u{202e}",
                "\u{200f}",
                "\u{2067}",
                "\u{61c}",
            ] {
                assert!(!page.contains(word), "{word:?} of {name:.40?} in {out}");
            }
            // One quote of a value in another kind of quotes would end it.
            assert!(!page.contains("='"), "attributes stand in double quotes");
        }
    }
}

#[test]
fn a_terminal_gets_no_name_that_steers_it() {
    for name in all_names() {
        let folder = folder_named(&name);
        for words in
            [&["report"][..], &["slips", "list"], &["slips", "check"], &["history", "check"]]
        {
            let said = run(folder.path(), words);
            let wild = |c: char| {
                (c.is_control() && c != '\n') || "\u{202e}\u{200f}\u{2067}\u{61c}".contains(c)
            };
            let found: Vec<char> = said.chars().filter(|c| wild(*c)).collect();
            assert!(found.is_empty(), "{words:?} {name:.40?}: {found:?}");
        }
    }
}

#[test]
fn tables_and_json_give_the_names_back_and_shift_no_column() {
    for name in all_names() {
        let folder = folder_named(&name);
        let table = run(folder.path(), &["history", "export", "csv"]);
        let mut reader = csv::ReaderBuilder::new().from_reader(table.as_bytes());
        let columns = reader.headers().unwrap().len();
        let rows: Vec<_> = reader.records().map(Result::unwrap).collect();
        assert!(rows.iter().all(|row| row.len() == columns), "{name:.40?}");
        let json = run(folder.path(), &["history", "export"]);
        for export in [&table, &json] {
            let (back, _) = WholeHistory::of_export(export.as_bytes()).unwrap();
            let cars = back.lines.iter().filter_map(|line| match line.understood() {
                Some(Line::Car(car)) => Some(car.name.clone()),
                _ => None,
            });
            let cars: Vec<String> = cars.collect();
            assert!(!cars.is_empty() && cars.iter().all(|car| *car == name[1]), "{name:.40?}");
        }
        let report: serde_json::Value =
            serde_json::from_str(&run(folder.path(), &["report", "--format", "json"])).unwrap();
        assert!(report.is_object());
        let slips: serde_json::Value =
            serde_json::from_str(&run(folder.path(), &["slips", "list", "--json"])).unwrap();
        assert!(
            slips.to_string().contains(&serde_json::to_string(&name[1]).unwrap()),
            "{name:.40?}"
        );
    }
}

#[test]
fn no_path_in_a_file_is_followed() {
    let place = tempfile::tempdir().unwrap();
    let canary = place.path().join("canary");
    fs::write(&canary, "untouched").unwrap();
    let path = canary.to_str().unwrap();
    let folder = folder_named(&std::array::from_fn(|_| path.to_owned()));
    for words in [&["report"][..], &["slips", "list", "--csv"], &["history", "export"], &["rig"]] {
        let mut command = Command::new(env!("CARGO_BIN_EXE_lastamber"));
        command.args(words).arg("--data").arg(folder.path()).env_remove("DISPLAY");
        let out = command.output().unwrap();
        assert!(!String::from_utf8_lossy(&out.stdout).contains("untouched"), "{words:?}");
    }
    assert_eq!(fs::read_to_string(&canary).unwrap(), "untouched");
    // Only the named files are in the folder, and nothing was made beside them.
    let names =
        fs::read_dir(folder.path()).unwrap().count() + fs::read_dir(place.path()).unwrap().count();
    assert_eq!(names, 2);
}
