//! Speed of a long history: opening it, and appending to one of ten, a hundred thousand and a million
//! lines.
//!
//! `LASTAMBER_LONG=1` opens and appends to a million runs (1.9 GB in the folder of temporary files);
//! without it everything is a tenth as long. `LASTAMBER_HISTORY=DIR` opens that folder instead, as the window
//! does: a digest is written into it. What memory it takes is said once; run twice on the same folder, once
//! without a digest and once with one. The table is in DEVELOPERS.md.

use criterion::{Criterion, criterion_group, criterion_main};
use lastamber::demo::demo_lines;
use lastamber::history::{
    DataFolder, Line, Log, SealedLine, Sink, load_with_all_processors, load_without_lock,
};
use std::fs::{File, OpenOptions};
use std::hint::black_box;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Runs of the made-up weeks over and over, each with an id of its own.
fn write_history(folder: &Path, runs: usize) -> PathBuf {
    let lines = demo_lines(1).expect("the demo can be made");
    let runs_of_it = lines.into_iter().filter_map(|line| match line {
        Line::Trial(run) => Some(run),
        _ => None,
    });
    let mut of_it: Vec<_> = runs_of_it.collect();
    let path = folder.join("history.jsonl");
    let mut out = BufWriter::new(File::create(&path).expect("the folder can be written to"));
    for i in 0..runs {
        let place = i % of_it.len();
        let (high, low) = (i >> 16, i & 0xffff);
        of_it[place].id = format!("0190{high:04x}-{low:04x}-7000-8000-000000000000");
        let line = Line::Trial(of_it[place].clone()).seal().expect("a run can be sealed");
        out.write_all(line.bytes()).expect("there is room for the history");
    }
    out.flush().expect("there is room for the history");
    path
}

/// A file of which nobody waits for the disk: what is left is the program's own time.
struct Unflushed(File);

impl Write for Unflushed {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl Sink for Unflushed {
    fn sync(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn a_run() -> Line {
    let mut lines = demo_lines(2).expect("the demo can be made").into_iter();
    lines.find(|line| matches!(line, Line::Trial(_))).expect("a demo has runs")
}

fn append(c: &mut Criterion) {
    let long = std::env::var_os("LASTAMBER_LONG").is_some();
    let line = a_run();
    for runs in [10, if long { 100_000 } else { 10_000 }, if long { 1_000_000 } else { 100_000 }] {
        let folder = tempfile::tempdir().expect("there is a folder for temporary files");
        let path = write_history(folder.path(), runs);
        let mut group = c.benchmark_group(format!("append to {runs} lines"));
        group.sample_size(20);
        let mut log = Log::open(&path).expect("the history can be opened");
        group.bench_function("with the disk's flush", |b| b.iter(|| log.append(black_box(&line))));
        let file = OpenOptions::new().append(true).open(&path).expect("the history is there");
        let mut log = Log::resume(Unflushed(file), true);
        group.bench_function("without", |b| b.iter(|| log.append(black_box(&line))));
        let sealed: SealedLine = line.seal().expect("a run can be sealed");
        let mut flushed = File::create(folder.path().join("beside")).expect("there is room");
        group.bench_function("the same bytes and flush alone", |b| {
            b.iter(|| flushed.write_all(sealed.bytes()).and_then(|()| flushed.sync_data()));
        });
        group.finish();
    }
}

fn open(c: &mut Criterion) {
    let long = std::env::var_os("LASTAMBER_LONG").is_some();
    let folder = tempfile::tempdir().expect("there is a folder for temporary files");
    let given = std::env::var_os("LASTAMBER_HISTORY").map(PathBuf::from);
    let runs = if long { 1_000_000 } else { 100_000 };
    let path = given.unwrap_or_else(|| {
        write_history(folder.path(), runs);
        folder.path().to_owned()
    });
    open_once(&path);
    let mut group = c.benchmark_group(format!("open {runs} runs"));
    group.sample_size(10);
    group.bench_function("with a digest, all processors", |b| {
        b.iter(|| load_with_all_processors(&path));
    });
    group.bench_function("with a digest, one processor", |b| b.iter(|| load_without_lock(&path)));
    let digest = path.join("history.digest");
    std::fs::remove_file(&digest).expect("so long a history gets a digest");
    group.bench_function("all processors", |b| b.iter(|| load_with_all_processors(&path)));
    group.bench_function("one processor", |b| b.iter(|| load_without_lock(&path)));
    let folder = DataFolder::open(&path).expect("nobody else has the folder");
    group.bench_function("all processors, and the digest is written", |b| {
        b.iter(|| {
            // Away with the one before, so that each time all of it is read.
            let _ = std::fs::remove_file(&digest);
            folder.load()
        });
    });
    group.finish();
}

/// Opens a history as the window does and says how long it took and what memory it takes: with a digest if
/// there is one, else one is written.
fn open_once(path: &Path) {
    let there = path.join("history.digest").exists();
    let folder = DataFolder::open(path).expect("nobody else has the folder");
    let (before, began, processor_s) = (memory_mb("VmRSS"), Instant::now(), processor_s());
    let loaded = folder.load().expect("the history can be read");
    let (took, processor_s) = (began.elapsed(), self::processor_s() - processor_s);
    let held = memory_mb("VmRSS") - before;
    println!(
        "{} runs, {} a digest: {took:.2?}, {processor_s:.2} s of processor time, {held:.0} MB held, {:.0} MB \
         at most, {:.0} bytes a run",
        loaded.trials.len(),
        if there { "with" } else { "without" },
        memory_mb("VmHWM"),
        1e6 * held / loaded.trials.len() as f64
    );
}

/// Processor time of this process as the system tells it, s; nothing where it does not.
fn processor_s() -> f64 {
    let told = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // Behind the name in brackets; in hundredths of a second on every Linux there is.
    let behind = told.rsplit(')').next().unwrap_or_default();
    let ticks = behind.split_whitespace().skip(11).take(2).map(|ticks| ticks.parse::<f64>());
    ticks.sum::<Result<f64, _>>().map_or(f64::NAN, |ticks| ticks / 100.0)
}

/// Memory of this process as the system tells it, MB; nothing where it does not.
fn memory_mb(what: &str) -> f64 {
    let told = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = told.lines().find(|line| line.starts_with(what));
    let kb = line.and_then(|line| line.split_whitespace().nth(1)?.parse::<f64>().ok());
    kb.map_or(f64::NAN, |kb| kb * 1024.0 / 1e6)
}

criterion_group!(benches, open, append);
criterion_main!(benches);
