//! What `docs/formats.md` says of files, taken at its word: every example is read by the program.

use lastamber::history::{EXPORT_SCHEMA, Settings, WholeHistory, load};
use lastamber::slips::{Cell, ImportOutcome, Slip, read_table};
use std::fs;
use std::process::Command;

const DOCUMENT: &str = include_str!("../docs/formats.md");

/// The examples of a kind: the blocks whose fence is followed by `tag`.
fn examples(tag: &str) -> Vec<String> {
    let fence = format!("\n```{tag}\n");
    let found: Vec<String> = DOCUMENT
        .split(&fence)
        .skip(1)
        .map(|rest| rest.split("\n```").next().unwrap().to_owned() + "\n")
        .collect();
    assert!(!found.is_empty(), "no example of {tag}");
    found
}

#[test]
fn the_lines_of_the_history_are_read_and_their_sums_fit() {
    for example in examples("jsonl history") {
        let loaded = load(example.as_bytes()).unwrap();
        assert_eq!((loaded.damaged_count, loaded.newer_count), (0, 1), "{:?}", loaded.damaged);
        assert_eq!((loaded.trials.len(), loaded.cars.len(), loaded.slips.len()), (1, 1, 1));
        assert_eq!(loaded.excluded(), [loaded.trials[0].id.clone()]);
        assert_eq!(loaded.cars[0].details.weight_lb, Some(3400.0));
        assert_eq!(loaded.slips[0].slip.own.t1320.unwrap().to_string(), "13.464");
        for line in example.lines() {
            // The rule as it stands there, worked apart from the program's reader.
            let (sum, value) =
                line.strip_prefix("{\"sum\":\"").unwrap().split_once("\",\"line\":").unwrap();
            let value = value.strip_suffix('}').unwrap();
            assert_eq!(sum, format!("{:08x}", crc32fast::hash(value.as_bytes())));
        }
    }
    assert!(DOCUMENT.contains(&format!("{:08x}", crc32fast::hash(b"123456789"))));
}

#[test]
fn the_settings_are_read_and_written_as_they_stand() {
    let place = tempfile::tempdir().unwrap();
    let file = place.path().join("settings.json");
    for example in examples("json settings") {
        fs::write(&file, &example).unwrap();
        let read = Settings::read(place.path());
        assert_eq!(read.trouble, None);
        assert!(read.settings.is_ticked("belts") && read.settings.choice("look") == Some("paper"));
        read.settings.save(place.path()).unwrap();
        assert_eq!(fs::read_to_string(&file).unwrap(), example);
    }
}

#[test]
fn the_tables_of_slips_are_taken_whole() {
    for example in examples("csv slips") {
        let report = read_table(example.as_bytes(), &Slip::default()).unwrap();
        let whole = |outcome: &ImportOutcome| matches!(outcome, ImportOutcome::Accepted { .. });
        assert!(report.lines.iter().all(|line| whole(&line.outcome)), "{report:?}");
        assert_eq!(report.lines.len(), example.lines().count() - 1);
        let rt = report.accepted().next().unwrap().own.rt.unwrap();
        assert_eq!(rt.to_string(), ".045");
    }
}

#[test]
fn every_column_of_a_slip_is_in_the_document() {
    for name in Cell::all().map(Cell::name) {
        let own = name.strip_prefix("other_").unwrap_or(&name);
        assert!(DOCUMENT.contains(&format!("`{own}`")), "{name}");
    }
}

#[test]
fn the_exports_are_taken() {
    for (tag, lines) in [("json export", 2), ("csv export", 1)] {
        for example in examples(tag) {
            let (read, demo) = WholeHistory::of_export(example.as_bytes()).unwrap();
            assert_eq!((read.lines.len(), demo), (lines, false));
            assert!(read.lines.iter().all(|line| line.understood().is_some()));
        }
    }
}

#[test]
fn the_columns_of_times_are_read_by_the_command() {
    let place = tempfile::tempdir().unwrap();
    let file = place.path().join("times.csv");
    for example in examples("csv times") {
        fs::write(&file, example).unwrap();
        let mut command = Command::new(env!("CARGO_BIN_EXE_lastamber"));
        command.args(["fit", file.to_str().unwrap(), "--column", "driver", "--json"]);
        let out = command.output().unwrap();
        let answer: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
        assert_eq!(answer["n"], 3);
    }
}

#[test]
fn every_kind_of_line_the_schema_knows_is_in_the_document() {
    let schema: serde_json::Value = serde_json::from_str(EXPORT_SCHEMA).unwrap();
    let kinds: Vec<&str> = schema["$defs"]
        .as_object()
        .unwrap()
        .values()
        .filter_map(|kind| kind["properties"]["kind"]["const"].as_str())
        .collect();
    assert_eq!(kinds.len(), 7);
    assert!(kinds.iter().all(|kind| DOCUMENT.contains(&format!("`{kind}`"))), "{kinds:?}");
}
