//! Command lines put together at random from the program's own words: an answer or an error by the codes
//! that are documented, never a panic.
//!
//! Owns the words, as `--help` lists them. Every command line has a folder of its own as data folder, home
//! and place to be.

use super::heavy::can_limit;
use super::{NAMES, again_and_again};
use lastamber::demo::demo_lines;
use lastamber::history::write_demo;
use lastamber::seed::Generator;
use rand::RngExt;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// What stands in for a value.
const VALUES: [&str; 34] = [
    "0",
    "1",
    "-1",
    "0.5",
    ".28",
    "-0.05",
    "1e308",
    "-1e999",
    "NaN",
    "inf",
    "1,2",
    "0.28,0.02",
    "0.28,0.02,0.005",
    "-5,0,5",
    ",",
    "",
    " ",
    "-",
    "--",
    "=",
    "normal=0.245,0.025",
    "rt=0.060,0.030",
    "rt=.045",
    "weekend",
    "like-me",
    "2026-05-01",
    "2026-02-31",
    "launches.csv",
    "slips.csv",
    "export.json",
    "no-such-file",
    "driver",
    "last",
    "225/45R17",
];

/// Exit codes of `--help`, and 2 of a build without a window.
const DOCUMENTED: [i32; 4] = [0, 1, 2, 5];

/// A sub-command as its help shows it.
struct Known {
    path: Vec<String>,
    /// Options; whether a value belongs to each.
    options: Vec<(String, bool)>,
}

/// What a command line may take if it only waits: no program here does, but a busy machine lets it.
const MOST_WAITED: Duration = Duration::from_secs(120);
/// Seconds of the processor that a command line may take; the system ends one that takes more.
const MOST_CPU_S: u32 = if cfg!(debug_assertions) { 30 } else { 1 };

fn command(at: &Path) -> Command {
    let program = env!("CARGO_BIN_EXE_lastamber");
    let mut command = if can_limit() { Command::new("prlimit") } else { Command::new(program) };
    if can_limit() {
        command.args([&format!("--cpu={MOST_CPU_S}"), "--", program]);
    }
    command.env_clear().env("HOME", at).current_dir(at).stdin(Stdio::null());
    command
}

fn help_of(at: &Path, path: &[String]) -> String {
    let out = command(at).args(path).arg("-h").output().unwrap();
    String::from_utf8(out.stdout).unwrap()
}

/// All sub-commands, the window's options among them.
fn known(at: &Path, path: Vec<String>, found: &mut Vec<Known>) {
    let help = help_of(at, &path);
    let listed = help.lines().skip_while(|line| *line != "Commands:").skip(1);
    let subs = listed
        .take_while(|line| !line.is_empty())
        .filter_map(|line| line.split_whitespace().next());
    for sub in subs.filter(|sub| *sub != "help") {
        known(at, [&path[..], &[sub.to_owned()]].concat(), found);
    }
    let options = help.lines().filter_map(|line| {
        let (name, rest) = line.trim_start().strip_prefix("--")?.split_at_checked(
            line.trim_start()[2..].find([' ', '\n']).unwrap_or(line.trim_start().len() - 2),
        )?;
        Some((format!("--{name}"), rest.starts_with(" <")))
    });
    // Years take as long as they are asked for; no window is to open.
    let barred = |name: &str| ["--years", "--no-window"].contains(&name);
    let options = options.filter(|(name, _)| !barred(name)).collect();
    found.push(Known { path, options });
}

fn value(random: &mut Generator) -> String {
    match random.random_range(0..10) {
        // The system takes no NUL in a word.
        0 => NAMES[random.random_range(0..NAMES.len())].replace('\0', ""),
        1 => "9".repeat(random.random_range(1..400)),
        _ => VALUES[random.random_range(0..VALUES.len())].to_owned(),
    }
}

/// A command line: a sub-command, some of its options with likely and unlikely values, words between.
fn line(all: &[Known], random: &mut Generator) -> Vec<String> {
    let chosen = &all[random.random_range(0..all.len())];
    let mut words = chosen.path.clone();
    words.extend((chosen.path == ["demo"]).then(|| "--no-window".to_owned()));
    for _ in 0..random.random_range(0..7) {
        let strange = random.random_range(0..12) == 0;
        let from = if strange { &all[random.random_range(0..all.len())] } else { chosen };
        if from.options.is_empty() || random.random_range(0..4) == 0 {
            words.push(value(random));
            continue;
        }
        let (name, takes_value) = &from.options[random.random_range(0..from.options.len())];
        words.push(name.clone());
        if *takes_value != (random.random_range(0..15) == 0) {
            words.push(value(random));
        }
    }
    words
}

/// A folder with files to be named, as home and as place to be.
fn prepared() -> tempfile::TempDir {
    let place = tempfile::tempdir().unwrap();
    let at = |name: &str| place.path().join(name);
    let demo: Vec<_> = demo_lines(1).unwrap().into_iter().take(60).collect();
    write_demo(&at(".local/share/lastamber"), 1, &demo).unwrap();
    let times: String =
        (0..30).map(|i| format!("{:.3}\n", 0.2 + 0.001 * f64::from(i * 7 % 30))).collect();
    fs::write(at("launches.csv"), format!("driver\n{times}")).unwrap();
    fs::write(at("slips.csv"), "date,rt,et\n2026-05-01,.045,13.464\n").unwrap();
    fs::write(
        at("export.json"),
        r#"{"format":"lastamber-history","version":1,"demo":true,"lines":[]}"#,
    )
    .unwrap();
    place
}

#[test]
fn no_command_line_panics_and_every_one_ends_with_a_documented_code() {
    let place = prepared();
    let mut all = Vec::new();
    known(place.path(), Vec::new(), &mut all);
    assert!(all.len() > 22 && all.iter().map(|k| k.options.len()).sum::<usize>() > 120);
    let mut codes = [0_u64; 4];
    again_and_again("command lines", 250, |_, random| {
        let words = line(&all, random);
        let began = Instant::now();
        let out = command(place.path()).args(&words).output().unwrap();
        assert!(began.elapsed() < MOST_WAITED, "{words:?}: {:.2?}", began.elapsed());
        let error = String::from_utf8(out.stderr).expect("it speaks UTF-8");
        let code = out.status.code().unwrap_or_else(|| panic!("{words:?}: killed: {error}"));
        let place_of = DOCUMENTED.iter().position(|known| *known == code);
        let Some(place_of) = place_of else { panic!("{words:?} ended with {code}: {error}") };
        codes[place_of] += 1;
        assert!(!error.contains("panicked"), "{words:?}: {error}");
        if code != 0 {
            assert!(out.stdout.is_empty() && !error.is_empty(), "{words:?}: {error}");
        }
    });
    println!("codes {DOCUMENTED:?}: {codes:?}; each within {MOST_CPU_S} s of the processor");
    assert!(codes[0] > 5 && codes[1] > 5 && codes[2] > 20, "{codes:?}");
}
