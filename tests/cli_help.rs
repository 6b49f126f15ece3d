//! `--help` of every sub-command: all its parts are there, and its examples work.
//!
//! Owns a walk over the sub-commands as the program itself lists them.

use lastamber::demo::demo_lines;
use lastamber::history::{WholeHistory, write_demo};
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

fn run(at: &Path, words: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lastamber"));
    command.env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY").env("XDG_DATA_HOME", at);
    command.current_dir(at).args(words).output().unwrap()
}

fn help_of(path: &[String], long: bool) -> String {
    let mut words: Vec<&str> = path.iter().map(String::as_str).collect();
    words.push(if long { "--help" } else { "-h" });
    let out = run(Path::new("."), &words);
    assert!(out.status.success() && out.stderr.is_empty(), "{path:?}");
    String::from_utf8(out.stdout).unwrap()
}

/// The lines of one part of a help, without the blanks before them.
fn part<'a>(help: &'a str, head: &str) -> Vec<&'a str> {
    let after = help.lines().skip_while(|line| *line != head).skip(1);
    after.take_while(|line| line.is_empty() || line.starts_with(' ')).map(str::trim).collect()
}

/// Every sub-command that does something, as words.
fn commands(path: Vec<String>, found: &mut Vec<Vec<String>>) {
    let help = help_of(&path, false);
    let subs = part(&help, "Commands:");
    if subs.is_empty() {
        found.push(path);
        return;
    }
    for sub in subs.iter().filter_map(|line| line.split(' ').next()) {
        if !sub.is_empty() && sub != "help" {
            commands([&path[..], &[sub.to_owned()]].concat(), found);
        }
    }
}

fn all_commands() -> Vec<Vec<String>> {
    let mut found = Vec::new();
    commands(Vec::new(), &mut found);
    assert!(found.len() > 20, "{found:?}");
    found
}

#[test]
fn every_help_has_all_its_parts() {
    for path in all_commands() {
        let help = help_of(&path, true);
        let first = help.lines().next().unwrap();
        assert!(first.split(' ').count() >= 2, "{path:?} does not say what it does: {first}");
        for head in ["Usage: lastamber", "Options:", "Files:", "Examples:", "Exit codes:"] {
            assert!(help.contains(head), "{path:?} has no {head}\n{help}");
        }
        let files = part(&help, "Files:").join(" ");
        assert!(files.contains("rites") || files.contains("ppends"), "{path:?}: {files}");
        let codes = part(&help, "Exit codes:").join("\n");
        assert!(codes.starts_with("0 ") && codes.contains("\n1 ") && codes.contains("\n2 "));
        let manual = help.split("\nFiles:").nth(1).unwrap();
        let wide = manual.lines().find(|line| line.chars().count() > 100);
        assert_eq!(wide, None, "{path:?}: too wide");
    }
}

#[test]
fn every_option_is_explained_and_every_number_has_its_limits() {
    for path in all_commands() {
        let help = help_of(&path, true);
        let lines: Vec<&str> = help.split("\nFiles:").next().unwrap().lines().collect();
        let options: Vec<usize> =
            (0..lines.len()).filter(|i| lines[*i].trim_start().starts_with("--")).collect();
        for at in &options {
            let line = lines[*at].trim_start();
            let explained = line.split("  ").nth(1).or(lines.get(at + 1).copied()).unwrap_or("");
            assert!(explained.trim().len() > 4, "{path:?}: {line}");
        }
        let numeric = ["<S>", "<IN>", "<MS>", "<LB>", "<HP>", "<MPH>", "<SEED>", "<N>", "<MU>"];
        let takes_numbers =
            options.iter().any(|at| numeric.iter().any(|word| lines[*at].contains(word)));
        assert!(!takes_numbers || help.contains("\nLimits:\n"), "{path:?} takes numbers");
    }
}

/// A command line as a shell takes it apart, quotes and all.
fn shell_words(line: &str) -> Vec<String> {
    let (mut words, mut word, mut quoted) = (Vec::new(), String::new(), false);
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(std::mem::take(&mut word)),
            c => word.push(c),
        }
    }
    words.push(word);
    words
}

/// A folder with the files the examples name.
fn prepared() -> tempfile::TempDir {
    let place = tempfile::tempdir().unwrap();
    let at = |name: &str| place.path().join(name);
    let lines = demo_lines(1).unwrap();
    write_demo(&at("lastamber"), 1, &lines).unwrap();
    write_demo(&at("other-folder"), 2, &demo_lines(2).unwrap()).unwrap();
    let bytes: Vec<u8> = lines.iter().flat_map(|l| l.seal().unwrap().into_bytes()).collect();
    fs::write(at("export.json"), WholeHistory::read(&bytes[..]).unwrap().to_json(true)).unwrap();
    let times: String =
        (0..60).map(|i| format!("{:.3}\n", 0.2 + 0.001 * (i * 7 % 50) as f64)).collect();
    fs::write(at("launches.csv"), format!("driver\n{times}")).unwrap();
    fs::write(at("slips.csv"), "date,rt,et,mph\n2026-05-01,.045,13.464,105.04\n").unwrap();
    place
}

#[test]
fn every_example_works_as_it_stands() {
    let place = prepared();
    let mut ran = 0;
    for path in all_commands() {
        let examples = part(&help_of(&path, true), "Examples:").join("\n").replace("\\\n", "");
        for line in examples.lines() {
            if line.is_empty() {
                continue;
            }
            let words = shell_words(line);
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            assert_eq!(words[0], "lastamber", "{line}");
            assert!(line.contains(&path.join(" ")), "an example of another command: {line}");
            let out = run(place.path(), &words[1..]);
            let error = String::from_utf8_lossy(&out.stderr);
            assert!(out.status.success() && error.is_empty(), "{line}: {error}");
            assert!(!out.stdout.is_empty(), "{line} said nothing");
            ran += 1;
        }
    }
    assert!(ran > 30, "{ran}");
}

#[test]
fn limits_are_those_that_are_kept() {
    let refused = [
        ("rollout --tyre-in 17 --g 0.5", "18 to 40 in"),
        ("rollout --tyre-in 26 --g 7", "0.05 to 6 g"),
        ("rollout --tyre-in 26 --sixty-foot 0.7", "0.8 to 5 s"),
        ("pass --weight-lb 299 --power-hp 310", "300 to 12000 lb"),
        ("pass --weight-lb 3400 --power-hp 310 --grip 5", "0.2 to 4"),
        ("pass --weight-lb 3400 --power-hp 310 --shifts 5", "0 to 4"),
        ("tech --et 1", "2 to 60 s"),
        ("tech --mph 401", "10 to 400 mph"),
        ("demo --years 11 --no-window", "1..=10"),
    ];
    for (line, limits) in refused {
        let words: Vec<&str> = line.split(' ').collect();
        let out = run(Path::new("."), &words);
        let error = String::from_utf8(out.stderr).unwrap();
        assert!(out.stdout.is_empty() && error.contains(limits), "{line}: {error}");
        assert!(!error.contains(" ;") && !error.contains(" ."), "{error}");
        let command = words[0].to_owned();
        let help = help_of(&[command], true).replace("\n  ", " ");
        assert!(help.contains(&limits.replace("..=", " to ")), "{line}: {limits}\n{help}");
    }
}
