//! Speed of a long history: opening it, and appending to one of ten, a hundred thousand and a million
//! lines.
//!
//! `LASTAMBER_LONG=1` opens and appends to a million runs (1.9 GB in the folder of temporary files);
//! without it everything is a tenth as long. `LASTAMBER_HISTORY=DIR` opens that folder instead and says
//! what memory it takes. The table is in DEVELOPERS.md.

use criterion::{Criterion, criterion_group, criterion_main};
use lastamber::demo::demo_lines;
use lastamber::history::{
    Line, Log, SealedLine, Sink, load_with_all_processors, load_without_lock,
};
use std::fs::{File, OpenOptions};
use std::hint::black_box;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

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
        of_it[place].id = format!("0190{i:08x}-7000-8000-0000-000000000000");
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
    let before = memory_mb("VmRSS");
    let loaded = load_with_all_processors(&path).expect("the history can be read");
    let held = memory_mb("VmRSS") - before;
    println!(
        "{} runs: {held:.0} MB held, {:.0} MB at most, {:.0} bytes a run",
        loaded.trials.len(),
        memory_mb("VmHWM"),
        1e6 * held / loaded.trials.len() as f64
    );
    drop(loaded);
    let mut group = c.benchmark_group(format!("open {runs} runs"));
    group.sample_size(10);
    group.bench_function("all processors", |b| b.iter(|| load_with_all_processors(&path)));
    group.bench_function("one processor", |b| b.iter(|| load_without_lock(&path)));
    group.finish();
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
