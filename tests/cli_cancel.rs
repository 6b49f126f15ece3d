//! Ctrl-C from outside: the real program is interrupted in the middle of long work, and what is on the
//! disk afterwards is what was there or a whole number of lines more; doing it again completes it.
#![cfg(unix)]

use lastamber::demo::demo_lines;
use lastamber::history::{
    HistoryError, Loaded, WholeHistory, load_with, load_without_lock, slips_in_force,
};
use lastamber::progress::{Cancelled, Progress};
use lastamber::slips::Slip;
use std::fs;
use std::io::{BufReader, Read, Write};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

/// `EX_TEMPFAIL` of sysexits.h.
const CANCELLED: i32 = 75;

fn start(words: &[&str]) -> Child {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lastamber"));
    command.args(words).env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY");
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
}

fn interrupt(child: &Child) {
    // An error is a program that has ended by itself.
    let id = child.id().to_string();
    let _ = Command::new("kill").args(["-INT", &id]).stderr(Stdio::null()).status();
}

/// The program, interrupted after a while.
fn interrupted(words: &[&str], after: Duration) -> Output {
    let child = start(words);
    std::thread::sleep(after);
    interrupt(&child);
    child.wait_with_output().unwrap()
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// An export of so many copies of the demo's lines under ids of their own.
fn big_export(copies: usize) -> String {
    let lines = demo_lines(1).unwrap();
    let mut bytes = Vec::new();
    for copy in 0..copies {
        for line in &lines {
            let value =
                line.to_json().unwrap().replacen(line.id(), &format!("{}-{copy:03}", line.id()), 1);
            let sum = crc32fast::hash(value.as_bytes());
            writeln!(bytes, "{{\"sum\":\"{sum:08x}\",\"line\":{value}}}").unwrap();
        }
    }
    let whole = WholeHistory::read(&bytes[..]).unwrap();
    assert_eq!(whole.lines.len(), copies * lines.len());
    whole.to_json(true)
}

/// Interrupts ever later until the program is done before; every time it was cancelled `check` looks, and
/// says whether all is as before. It may not be so where the program was killed: before its work begins to
/// listen, and between its end and the exit, Ctrl-C does what it always does.
fn interrupt_ever_later(
    words: &[&str],
    first: Duration,
    check: &mut dyn FnMut(&str) -> bool,
) -> usize {
    let (mut cancelled, mut after) = (0, first);
    loop {
        let out = interrupted(words, after);
        let said = String::from_utf8(out.stderr).unwrap();
        match out.status.code() {
            Some(CANCELLED) => {
                assert!(out.stdout.is_empty() && said.lines().count() <= 2, "{said}");
                assert!(said.contains("cancelled"), "{said}");
                assert!(check(&said), "{said}");
                cancelled += 1;
            }
            Some(0) => return cancelled,
            None if check("killed") => {}
            // Its work was over.
            None => return cancelled,
            other => panic!("{other:?}: {said}"),
        }
        after = after * 5 / 4 + Duration::from_millis(1);
    }
}

#[test]
fn an_import_that_is_interrupted_takes_nothing_and_completes_when_it_is_run_again() {
    let place = tempfile::tempdir().unwrap();
    let (own, other) = (place.path().join("own"), place.path().join("other"));
    let (small, big) = (place.path().join("small.json"), place.path().join("big.json"));
    fs::write(&small, big_export(1)).unwrap();
    fs::write(&big, big_export(12)).unwrap();
    for folder in [&own, &other] {
        let words = ["history", "import", text(&small), "--data", text(folder)];
        assert!(start(&words).wait_with_output().unwrap().status.success());
    }
    let history = own.join("history.jsonl");
    let before = fs::read(&history).unwrap();
    let words = ["history", "import", text(&big), "--data", text(&other)];
    assert!(start(&words).wait_with_output().unwrap().status.success());
    let uninterrupted = fs::read(other.join("history.jsonl")).unwrap();
    let words = ["history", "import", text(&big), "--data", text(&own)];
    let cancelled = interrupt_ever_later(&words, Duration::from_millis(40), &mut |said| {
        assert!(said == "killed" || said.contains("no line was taken") && said.contains("again"));
        let now = fs::read(&history).unwrap();
        assert!(now == before || said == "killed" && now == uninterrupted, "all lines or none");
        assert_eq!(load_without_lock(&own).unwrap().damaged_count, 0);
        assert!(said == "killed" || !own.join("history.jsonl.new").exists());
        now == before
    });
    assert!(cancelled > 0, "it was done too soon to be interrupted");
    assert_eq!(fs::read(&history).unwrap(), uninterrupted);
    assert!(uninterrupted.len() > 10 * before.len());
}

/// A table of slips that differ.
fn slip_table(slips: usize) -> String {
    let mut table = "date,driver,rt,et,mph\n".to_owned();
    for i in 0..slips {
        let (et, rt) = (12.0 + 0.001 * i as f64, 0.001 * (i % 400) as f64);
        table.push_str(&format!("2026-05-01,Demo driver,{rt:.3},{et:.3},100.{:02}\n", i % 100));
    }
    table
}

#[test]
fn slips_that_are_interrupted_are_whole_and_the_rest_comes_when_it_is_run_again() {
    let slips = 4000;
    let place = tempfile::tempdir().unwrap();
    let (folder, table) = (place.path().join("own"), place.path().join("slips.csv"));
    fs::write(&table, slip_table(slips)).unwrap();
    let words = ["slips", "import", text(&table), "--data", text(&folder), "--json"];
    let child = start(&words);
    let (history, began) = (folder.join("history.jsonl"), Instant::now());
    while fs::metadata(&history).map_or(0, |told| told.len()) < 4000 {
        assert!(began.elapsed() < Duration::from_secs(60), "nothing is written");
        std::thread::sleep(Duration::from_millis(1));
    }
    interrupt(&child);
    let out = child.wait_with_output().unwrap();
    assert_eq!((out.status.code(), out.stdout.is_empty()), (Some(CANCELLED), true));
    let there = load_without_lock(&folder).unwrap();
    assert_eq!((there.damaged_count, there.torn_tail), (0, false));
    let said = String::from_utf8(out.stderr).unwrap();
    let kept = there.slips.len();
    assert!(kept > 0 && kept < slips, "{kept}");
    assert!(said.contains(&format!("{kept} of {slips} slips were added")), "{said}");
    assert!(start(&words).wait_with_output().unwrap().status.success());
    let again = load_without_lock(&folder).unwrap();
    let uninterrupted = place.path().join("other");
    let words = ["slips", "import", text(&table), "--data", text(&uninterrupted)];
    assert!(start(&words).wait_with_output().unwrap().status.success());
    let whole = load_without_lock(&uninterrupted).unwrap();
    let book = |loaded: &Loaded| -> Vec<Slip> {
        slips_in_force(&loaded.slips).into_iter().map(|line| line.slip.clone()).collect()
    };
    assert_eq!((book(&again).len(), book(&again)), (slips, book(&whole)));
}

#[test]
fn a_demo_and_an_export_that_are_interrupted_leave_what_was_there() {
    let place = tempfile::tempdir().unwrap();
    let (folder, out) = (place.path().join("demo"), place.path().join("export.csv"));
    let big = place.path().join("big.json");
    let words = ["demo", "--years", "3", "--no-window", "--data", text(&folder)];
    let made = interrupted(&words, Duration::from_millis(500));
    assert_eq!(made.status.code(), Some(CANCELLED));
    assert!(String::from_utf8(made.stderr).unwrap().contains("the folder is as it was"));
    assert!(!folder.join("history.jsonl").exists());
    fs::write(&big, big_export(6)).unwrap();
    let words = ["history", "import", text(&big), "--data", text(&folder)];
    assert!(start(&words).wait_with_output().unwrap().status.success());
    fs::write(&out, "an older export").unwrap();
    let words = ["history", "export", "csv", "--data", text(&folder), "--out", text(&out)];
    interrupt_ever_later(&words, Duration::from_millis(30), &mut |said| {
        let is_old = fs::read(&out).unwrap() == b"an older export";
        assert!(is_old || said == "killed");
        is_old
    });
    let page = place.path().join("report.html");
    // To a file: a program that waits for a reader of its output is not done.
    let report = ["report", "--format", "html", "--out", text(&page)];
    for words in [&["history", "check"][..], &report] {
        let words = [words, &["--data", text(&folder)]].concat();
        let cancelled = interrupt_ever_later(&words, Duration::from_millis(20), &mut |said| {
            said == "killed" || said.contains("nothing was changed")
        });
        assert!(cancelled > 0, "{words:?}");
    }
    let (whole, demo) = WholeHistory::of_export(&fs::read(&out).unwrap()).unwrap();
    assert_eq!((whole.lines.len(), demo), (6 * demo_lines(1).unwrap().len(), true));
}

/// A file or a reader in whose middle somebody wishes for the end.
struct Impatient<T> {
    inner: T,
    left: usize,
    progress: Progress,
}

impl<T> Impatient<T> {
    fn count(&mut self, bytes: usize) {
        self.left = self.left.saturating_sub(bytes);
        if self.left == 0 {
            self.progress.cancel();
        }
    }
}

impl<T: Read> Read for Impatient<T> {
    fn read(&mut self, to: &mut [u8]) -> std::io::Result<usize> {
        let room = to.len().min(512);
        let read = self.inner.read(&mut to[..room])?;
        self.count(read);
        Ok(read)
    }
}

impl<T: Write> Write for Impatient<T> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.count(bytes.len());
        self.inner.write(bytes)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.inner.flush()
    }
}

#[test]
fn reading_and_writing_stop_at_the_next_line() {
    let lines = demo_lines(2).unwrap();
    let bytes: Vec<u8> =
        lines.iter().flat_map(|line| line.seal().unwrap().bytes().to_vec()).collect();
    let half = bytes.len() / 2;
    let impatient = |progress: &Progress| {
        let inner = &bytes[..];
        BufReader::with_capacity(512, Impatient { inner, left: half, progress: progress.clone() })
    };
    let is_cancelled =
        |told: Result<(), HistoryError>| matches!(told, Err(HistoryError::Cancelled(Cancelled)));
    let progress = Progress::default();
    assert!(is_cancelled(load_with(impatient(&progress), &progress).map(drop)));
    let done = progress.seen().done as usize;
    assert!(done >= half && done < half + 8000, "{done} of {half}");
    let progress = Progress::default();
    assert!(is_cancelled(WholeHistory::read_with(impatient(&progress), &progress).map(drop)));
    let whole = WholeHistory::read(&bytes[..]).unwrap();
    let progress = Progress::default();
    let out = Impatient { inner: Vec::new(), left: half, progress: progress.clone() };
    assert!(is_cancelled(whole.write_json(true, out, &progress)));
    let seen = progress.seen();
    assert!(seen.done > 0 && seen.done < seen.total && seen.total == lines.len() as u64);
    let export = whole.to_json(true);
    assert!(is_cancelled(WholeHistory::of_export_with(export.as_bytes(), &progress).map(drop)));
}
