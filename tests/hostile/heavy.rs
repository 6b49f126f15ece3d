//! Ten megabytes made to harm, for every file the program reads: 200 MB of memory and a second at most.
//!
//! Owns the limit (RLIMIT_DATA of setrlimit(2): what a program asks of the system for itself) and the time
//! (of the processor, in the release build). Skipped with a word where there is no `prlimit`.

use super::files_of::{Heavy, heavy_exports, heavy_histories, heavy_slips, heavy_times};
use std::fs;
use std::io::{self, Write};
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::sync::LazyLock;

const MEMORY: u64 = 200 << 20;

fn limited(words: &[&str]) -> Output {
    let mut command = Command::new("prlimit");
    command.arg(format!("--data={MEMORY}")).args([
        "--cpu=20",
        "--",
        env!("CARGO_BIN_EXE_lastamber"),
    ]);
    command.env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY");
    command.args(words).stdin(Stdio::null()).output().unwrap()
}

/// Processor time of the commands that have ended, s.
fn spent() -> f64 {
    let stat = fs::read_to_string("/proc/self/stat").unwrap();
    let fields: Vec<&str> = stat[stat.rfind(')').unwrap()..].split(' ').collect();
    // Fields 16 and 17 of proc_pid_stat(5), in hundredths; the second field ends with the bracket.
    (fields[14].parse::<f64>().unwrap() + fields[15].parse::<f64>().unwrap()) / 100.0
}

/// Whether programs can be limited here; asked once.
pub fn can_limit() -> bool {
    static THERE: LazyLock<bool> = LazyLock::new(|| {
        let asked = Command::new("prlimit").arg("--version").output();
        let there = asked.is_ok_and(|out| out.status.success());
        if !there {
            let _ = writeln!(io::stderr(), "SKIPPED: limits: prlimit (util-linux) is not here");
        }
        there
    });
    *THERE
}

/// An answer or an error, within the limits. Names the file in an error.
fn asked(what: &str, file: &Path, words: &[&str]) {
    let before = spent();
    let out = limited(words);
    let seconds = spent() - before;
    let error = String::from_utf8_lossy(&out.stderr);
    println!(
        "{what}: {words:.2?} {:?}, {seconds:.2} s, {} bytes",
        out.status.code(),
        out.stdout.len()
    );
    let code = out.status.code();
    assert!(matches!(code, Some(0 | 1)), "{what}: {code:?}: {error:.300}");
    assert!(error.lines().count() <= 3 && error.len() < 1500, "{what}: {error:.300}");
    if code == Some(1) {
        assert!(error.contains(&file.display().to_string()), "{what}: {error}");
    }
    // A test build takes longer; the promise is the release build's.
    let most = if cfg!(debug_assertions) { 10.0 } else { 1.0 };
    assert!(seconds < most, "{what}: {seconds} s");
}

/// Every file, asked about by every command that reads its kind.
fn all(heavy: Vec<Heavy>, name: &str, commands: &[&[&str]]) {
    if !can_limit() {
        return;
    }
    for Heavy { what, bytes } in heavy {
        assert!(bytes.len() >= 10_000_000 && bytes.len() < 11_000_000, "{what}: {}", bytes.len());
        let place = tempfile::tempdir().unwrap();
        let file = place.path().join(name);
        fs::write(&file, bytes).unwrap();
        let (file_text, folder) = (file.to_str().unwrap(), place.path().to_str().unwrap());
        for command in commands {
            let words: Vec<&str> = command
                .iter()
                .map(|word| match *word {
                    "FILE" => file_text,
                    "FOLDER" => folder,
                    word => word,
                })
                .collect();
            asked(what, &file, &words);
        }
    }
}

#[test]
fn histories_of_ten_megabytes_are_read_within_limits() {
    let commands: [&[&str]; 4] = [
        &["history", "check", "--data", "FOLDER"],
        &["slips", "list", "--data", "FOLDER"],
        &["history", "check", "--json", "--data", "FOLDER"],
        &["history", "export", "--data", "FOLDER"],
    ];
    // The two readers there are; a test build takes its time for the other two.
    let asked = if cfg!(debug_assertions) { &commands[..2] } else { &commands[..] };
    all(heavy_histories(), "history.jsonl", asked);
}

#[test]
fn tables_of_slips_of_ten_megabytes_are_read_within_limits() {
    let commands: [&[&str]; 2] = [
        &["slips", "check", "FILE"],
        &["slips", "import", "FILE", "--dry-run", "--data", "FOLDER"],
    ];
    all(heavy_slips(), "slips.csv", &commands);
}

#[test]
fn exports_of_ten_megabytes_are_read_within_limits() {
    all(heavy_exports(), "export.json", &[&["history", "import", "FILE", "--data", "FOLDER"]]);
}

#[test]
fn columns_of_ten_megabytes_are_read_within_limits() {
    let risk: &[&str] = &["risk", "FILE", "--column", "driver", "--threshold", "0.2"];
    all(heavy_times(), "times.csv", &[&["fit", "FILE", "--column", "driver"], risk]);
}
