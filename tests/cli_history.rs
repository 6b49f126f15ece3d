//! `lastamber history` from outside: check, export, import, merge, trim, and the schema of an export.

#[path = "history_support/mod.rs"]
mod support;

use assert_cmd::Command;
use lastamber::demo::demo_lines;
use lastamber::history::{
    EXPORT_SCHEMA, Line, TrialLine, WholeHistory, load_without_lock, write_demo,
};
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};
use support::file_of;
use tempfile::TempDir;

fn history(folder: &Path, words: &[&str]) -> std::process::Output {
    let mut command = Command::cargo_bin("lastamber").unwrap();
    command.env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY").arg("history").args(words);
    if words != ["schema"] {
        command.arg("--data").arg(folder);
    }
    command.output().unwrap()
}

fn said(folder: &Path, words: &[&str]) -> String {
    let out = history(folder, words);
    assert!(out.status.success(), "{words:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

fn folder_of(bytes: &[u8]) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("history.jsonl"), bytes).unwrap();
    folder
}

/// Lines of every kind, a damaged one, one of a newer program and one written twice.
fn everything() -> Vec<u8> {
    let mut lines: Vec<Line> =
        support::some_runs(40).into_iter().map(|run| Line::from(TrialLine::from(run))).collect();
    lines.push(support::some_car("car").into());
    lines.push(support::some_rig_test("rig").into());
    lines.push(support::some_film("film").into());
    let mut bytes = file_of(&lines);
    bytes.extend(file_of(&lines[3..4]));
    bytes.extend_from_slice(b"{\"sum\":\"00000000\",\"line\":{\"kind\":\"car\"}}\n");
    let newer = r#"{"kind":"engine","v":2,"id":"z","odd":[1,   2.50]}"#;
    let sum = crc32fast::hash(newer.as_bytes());
    bytes.extend_from_slice(format!("{{\"sum\":\"{sum:08x}\",\"line\":{newer}}}\n").as_bytes());
    bytes
}

#[test]
fn a_damaged_line_is_named_with_its_place_and_can_be_had() {
    let folder = folder_of(&everything());
    let out = folder.path().join("damaged");
    let text = said(folder.path(), &["check", "--damaged-out", out.to_str().unwrap()]);
    assert!(text.contains("40 trial") && text.contains("line 45 (byte "), "{text}");
    assert!(text.contains("Of a newer program: 1 line") && text.contains("counted once: 1 line"));
    assert_eq!(fs::read(out).unwrap(), b"{\"sum\":\"00000000\",\"line\":{\"kind\":\"car\"}}\n");
    let json: Value = serde_json::from_str(&said(folder.path(), &["check", "--json"])).unwrap();
    assert_eq!(json["damaged"][0]["line"], 45);
    assert_eq!((&json["lines"], &json["newer"]), (&44.into(), &1.into()));
}

#[test]
fn out_and_in_and_out_again_are_the_same_bytes() {
    let folder = folder_of(&everything());
    for form in ["json", "csv"] {
        let first = history(folder.path(), &["export", form]);
        assert!(String::from_utf8_lossy(&first.stderr).contains("1 line damaged"));
        let elsewhere = tempfile::tempdir().unwrap();
        let file = elsewhere.path().join("export");
        fs::write(&file, &first.stdout).unwrap();
        let place = elsewhere.path().join("data");
        let taken = said(&place, &["import", file.to_str().unwrap()]);
        assert!(taken.contains("new 44, there already 0"), "{taken}");
        let second = history(&place, &["export", form]);
        assert_eq!(first.stdout, second.stdout, "{form}");
        // Once more changes nothing, not a byte.
        let before = fs::read(place.join("history.jsonl")).unwrap();
        let taken = said(&place, &["import", file.to_str().unwrap()]);
        assert!(taken.contains("Nothing was changed"), "{taken}");
        assert_eq!(fs::read(place.join("history.jsonl")).unwrap(), before);
    }
}

#[test]
fn a_table_has_units_in_its_heads_and_ends_lines_as_rfc_4180() {
    let folder = folder_of(&everything());
    let table = String::from_utf8(history(folder.path(), &["export", "csv"]).stdout).unwrap();
    let heads = table.lines().next().unwrap();
    for head in ["time (ISO 8601 with zone)", "car part (ms)", "light (s)", "depth (in)"] {
        assert!(heads.contains(head), "{head}");
    }
    assert!(table.ends_with("\r\n"));
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let columns = reader.headers().unwrap().len();
    assert!(reader.records().all(|record| record.unwrap().len() == columns));
}

#[test]
fn two_machines_come_together_in_order_the_same_from_either_and_again() {
    let lines = demo_lines(4).unwrap();
    let (odd, even): (Vec<_>, Vec<_>) =
        lines.iter().enumerate().partition(|(i, _)| i.is_multiple_of(2));
    let part = |lines: &[(usize, &Line)]| folder_of(&file_of(lines.iter().map(|(_, l)| *l)));
    let (one, two) = (part(&odd), part(&even));
    let untouched = fs::read(one.path().join("history.jsonl")).unwrap();
    let text = said(one.path(), &["merge", two.path().to_str().unwrap(), "--dry-run"]);
    assert!(text.contains("Nothing was changed"), "{text}");
    let text = said(one.path(), &["merge", two.path().to_str().unwrap()]);
    assert!(text.contains("there before stays as"), "{text}");
    assert_eq!(fs::read(one.path().join("history.jsonl.old-1")).unwrap(), untouched);
    let whole = fs::read(one.path().join("history.jsonl")).unwrap();
    assert_eq!(whole, file_of(&lines), "as if it had been driven on one machine");
    said(one.path(), &["merge", two.path().to_str().unwrap()]);
    assert_eq!(fs::read(one.path().join("history.jsonl")).unwrap(), whole);
    said(two.path(), &["merge", one.path().to_str().unwrap()]);
    assert_eq!(fs::read(two.path().join("history.jsonl")).unwrap(), whole);
}

#[test]
fn what_is_made_up_and_what_is_not_are_never_mixed() {
    let made_up = tempfile::tempdir().unwrap();
    write_demo(made_up.path(), 1, &demo_lines(1).unwrap()).unwrap();
    let own = folder_of(&everything());
    for (into, from) in [(own.path(), made_up.path()), (made_up.path(), own.path())] {
        let before = fs::read(into.join("history.jsonl")).unwrap();
        let out = history(into, &["merge", from.to_str().unwrap()]);
        assert_eq!((out.status.code(), out.stdout.is_empty()), (Some(1), true));
        assert!(String::from_utf8_lossy(&out.stderr).contains("not mixed"));
        assert_eq!(fs::read(into.join("history.jsonl")).unwrap(), before);
    }
    let export = said(made_up.path(), &["export"]);
    assert!(export.contains("\"demo\":true"));
    let file = made_up.path().join("export.json");
    fs::write(&file, export).unwrap();
    let fresh = made_up.path().join("fresh");
    said(&fresh, &["import", file.to_str().unwrap()]);
    assert!(lastamber::history::is_demo(&fresh), "the mark travels");
}

#[test]
fn a_run_is_left_out_with_a_reason_and_taken_in_again() {
    let folder = folder_of(&everything());
    let out = history(folder.path(), &["leave-out", "run-3"]);
    assert_eq!((out.status.code(), out.stdout.is_empty()), (Some(1), true));
    assert!(String::from_utf8_lossy(&out.stderr).contains("--reason"));
    let out = history(folder.path(), &["leave-out", "run-99", "--reason", "phone"]);
    assert!(String::from_utf8_lossy(&out.stderr).contains("no run run-99"));
    let excluded = || load_without_lock(folder.path()).unwrap().excluded();
    said(folder.path(), &["leave-out", "run-3", "--reason", "the phone rang"]);
    assert_eq!(excluded(), ["run-3"]);
    said(folder.path(), &["take-in", "run-3"]);
    assert!(excluded().is_empty());
    assert_eq!(history(folder.path(), &["take-in", "run-3"]).status.code(), Some(1));
    assert_eq!(load_without_lock(folder.path()).unwrap().exclusions.len(), 2);
}

#[test]
fn runs_of_a_script_can_be_taken_out_and_the_old_file_stays() {
    let mut runs = support::some_runs(10);
    runs.iter_mut().enumerate().for_each(|(i, run)| run.setup.scripted = i < 4);
    let lines: Vec<Line> = runs.into_iter().map(|run| TrialLine::from(run).into()).collect();
    let folder = folder_of(&file_of(&lines));
    assert!(said(folder.path(), &["trim-test-data", "--dry-run"]).contains("4 of 10 lines"));
    assert_eq!(load_without_lock(folder.path()).unwrap().trials.len(), 10);
    said(folder.path(), &["trim-test-data"]);
    assert_eq!(load_without_lock(folder.path()).unwrap().trials.len(), 6);
    assert_eq!(fs::read(folder.path().join("history.jsonl.old-1")).unwrap(), file_of(&lines));
}

#[test]
fn what_is_no_export_is_refused_with_its_place_and_nothing_is_taken() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("x");
    for (bytes, word) in [
        (&b"{\"format\":\"x\"}"[..], "line 1, column 14"),
        (b"{\"format\":\"lastamber-history\",\"version\":9,\"demo\":false,\"lines\":[]}", "version 1"),
        (b"{\"format\":\"lastamber-history\",\"version\":1,\"demo\":false,\"lines\":[{\"kind\":\"car\",\"v\":1}]}", "line 1 of its lines"),
        (b"a,b\r\n1,2\r\n", "no column `line (JSON)`"),
        (b"\xff\xfe", "byte 0: not UTF-8, so no export; `lastamber history export` writes one"),
    ] {
        fs::write(&file, bytes).unwrap();
        let out = history(folder.path(), &["import", file.to_str().unwrap()]);
        assert_eq!((out.status.code(), out.stdout.is_empty()), (Some(1), true));
        let error = String::from_utf8(out.stderr).unwrap();
        assert!(error.contains(word) && error.contains('x'), "{error}");
        assert!(!folder.path().join("history.jsonl").exists());
    }
    let out = history(folder.path(), &["merge", "/nowhere"]);
    assert!(String::from_utf8_lossy(&out.stderr).contains("no history.jsonl"));
}

/// As much of JSON Schema (draft 2020-12) as the schema of an export uses.
fn fits(schema: &Value, value: &Value, root: &Value) -> Result<(), String> {
    if let Some(name) = schema["$ref"].as_str() {
        return fits(root.pointer(&name[1..]).ok_or(name)?, value, root);
    }
    if let Some(wanted) = schema.get("const").filter(|wanted| *wanted != value) {
        return Err(format!("{value} is not {wanted}"));
    }
    if let Some(barred) = schema.get("not").filter(|barred| fits(barred, value, root).is_ok()) {
        return Err(format!("{value} fits {barred}"));
    }
    if schema["enum"].as_array().is_some_and(|words| !words.contains(value)) {
        return Err(format!("{value} is none of {}", schema["enum"]));
    }
    let is = |name: &str| match name {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "integer" => value.is_i64() || value.is_u64(),
        "number" => value.is_number(),
        "boolean" => value.is_boolean(),
        _ => value.is_null(),
    };
    let fine = match &schema["type"] {
        Value::Null => true,
        Value::Array(names) => names.iter().any(|name| is(name.as_str().unwrap())),
        name => is(name.as_str().unwrap()),
    };
    if !fine {
        return Err(format!("{value} is no {}", schema["type"]));
    }
    let required = schema["required"].as_array().filter(|_| value.is_object());
    for name in required.into_iter().flatten() {
        value.get(name.as_str().unwrap()).ok_or(format!("no {name} in {value}"))?;
    }
    for (name, part) in schema["properties"].as_object().into_iter().flatten() {
        if let Some(inside) = value.get(name) {
            fits(part, inside, root).map_err(|why| format!("{name}: {why}"))?;
        }
    }
    if let (Some(part), Some(items)) = (schema.get("items"), value.as_array()) {
        items.iter().try_for_each(|item| fits(part, item, root))?;
    }
    if let Some(choices) = schema["anyOf"].as_array() {
        let tried: Vec<_> = choices.iter().map(|choice| fits(choice, value, root)).collect();
        if tried.iter().all(Result::is_err) {
            return Err(format!("{value} fits none: {tried:?}"));
        }
    }
    Ok(())
}

#[test]
fn exports_fit_the_schema_and_other_things_do_not() {
    let schema: Value = serde_json::from_str(EXPORT_SCHEMA).unwrap();
    assert_eq!(said(Path::new("."), &["schema"]).trim_end(), EXPORT_SCHEMA.trim_end());
    let made_up = file_of(&demo_lines(1).unwrap());
    for bytes in [made_up, everything()] {
        let export = WholeHistory::read(&bytes[..]).unwrap().to_json(false);
        let export: Value = serde_json::from_str(&export).unwrap();
        fits(&schema, &export, &schema).unwrap();
        let mut without = export.clone();
        without["lines"][0].as_object_mut().unwrap().remove("kind");
        assert!(fits(&schema, &without, &schema).is_err());
        let mut odd = export;
        odd["lines"][5]["id"] = 5.into();
        assert!(fits(&schema, &odd, &schema).is_err());
    }
}

/// Damages exports; `LASTAMBER_LONG=1` does so for ten minutes.
#[test]
fn an_import_never_panics_and_takes_all_or_nothing() {
    use rand::RngExt;
    let mut random = lastamber::seed::generator(77);
    let whole = WholeHistory::read(&everything()[..]).unwrap();
    let forms = [whole.to_json(false), whole.to_csv(true)];
    let long = std::env::var_os("LASTAMBER_LONG").is_some();
    let time = if long { Duration::from_secs(600) } else { Duration::from_millis(1500) };
    let (start, mut tried, mut taken) = (Instant::now(), 0_u64, 0_u64);
    while start.elapsed() < time {
        let mut bytes = forms[random.random_range(0..2)].clone().into_bytes();
        for _ in 0..random.random_range(1..6) {
            if bytes.is_empty() {
                break;
            }
            let at = random.random_range(0..bytes.len());
            match random.random_range(0..4) {
                0 => bytes[at] = random.random(),
                1 => drop(bytes.drain(at..(at + 40).min(bytes.len()))),
                2 => bytes.truncate(at.max(1)),
                _ => bytes.insert(at, b"\",{}[]\\\n\r0e-"[random.random_range(0..12)]),
            }
        }
        tried += 1;
        let Ok((back, demo)) = WholeHistory::of_export(&bytes) else { continue };
        taken += 1;
        // What was taken goes out and comes back the same.
        for export in [back.to_json(demo), back.to_csv(demo)] {
            let (again, _) = WholeHistory::of_export(export.as_bytes()).unwrap();
            assert_eq!(again.lines, back.lines);
        }
    }
    println!("{tried} damaged exports, {taken} of them could be read as a whole");
    assert!(tried > 100 && taken > 0);
}
