//! SIGKILL at random moments: the data open, nothing acknowledged is lost, no half line is taken.
//!
//! Owns the moments (from a seed) and what may be on the disk afterwards. Ten kills run with the other
//! tests, five hundred with
//! `LASTAMBER_LONG=1 cargo test --release --no-default-features --test faults kills -- --nocapture`.

use super::program::{PROGRAM, ask, command, is_long, slip_table, text};
use super::scribe::{Scribe, count_in_settings, numbers_on_disk};
use lastamber::demo::demo_lines;
use lastamber::history::{
    DataFolder, SlipLine, WholeHistory, Why, is_demo, load_without_lock, slips_in_force,
};
use lastamber::seed::{Generator, generator};
use rand::RngExt;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// How a process that was to be killed ended.
enum End {
    Killed,
    /// It was done before.
    Done(String),
}

/// Starts the program, kills it after a while, and says how it ended.
fn killed_after(words: &[&str], after: Duration) -> End {
    let mut child = command(&[]).args(words).spawn().unwrap();
    std::thread::sleep(after);
    child.kill().unwrap();
    let output = child.wait_with_output().unwrap();
    match output.status.code() {
        None => End::Killed,
        Some(0) => End::Done(String::from_utf8(output.stdout).unwrap()),
        Some(_) => panic!("{}", String::from_utf8_lossy(&output.stderr)),
    }
}

/// How long something takes that is left alone.
fn time_of(words: &[&str]) -> Duration {
    let began = Instant::now();
    ask(words).well();
    began.elapsed()
}

/// Somewhere within that, or a little after.
fn moment(whole: Duration, random: &mut Generator) -> Duration {
    whole.mul_f64(random.random_range(0.0..1.15))
}

/// Lines that kills have cut short so far: each stays where it is, and the next begins behind it.
fn cut_short(folder: &Path) -> usize {
    load_without_lock(folder).unwrap().damaged_count
}

/// The folder opens at once; to the lines cut short before this kill at most the last one is added.
fn opens(folder: &Path, before: usize) {
    let held = DataFolder::open(folder).expect("the lock of a killed program blocks nobody");
    let loaded = held.load().unwrap();
    assert!(loaded.damaged.iter().all(|line| line.why == Why::CutShort), "{:?}", loaded.damaged);
    let added = loaded.damaged_count - before;
    assert!(added == 0 || (added == 1 && loaded.torn_tail), "{:?}", loaded.damaged);
}

/// The window's writer: runs, cars, slips and settings.
struct Writing {
    place: tempfile::TempDir,
    kept: BTreeSet<usize>,
    settings: Option<usize>,
}

impl Writing {
    fn new() -> Self {
        Self { place: tempfile::tempdir().unwrap(), kept: BTreeSet::new(), settings: None }
    }

    fn kill_once(&mut self, random: &mut Generator) -> usize {
        let folder = self.place.path();
        let from = self.kept.last().map_or(0, |last| last + 1);
        let cut = cut_short(folder);
        let scribe = Scribe::start(folder, from);
        // Somewhere in a save: some take a millisecond, some ten.
        scribe.wait_for(random.random_range(0..12));
        std::thread::sleep(Duration::from_micros(random.random_range(0..12_000)));
        let told = scribe.kill();
        let acknowledged = told.lines.len();
        self.kept.extend(told.lines);
        self.settings = self.settings.max(told.settings);
        opens(folder, cut);
        let disk = numbers_on_disk(folder);
        let lost: Vec<_> = self.kept.difference(&disk).collect();
        assert!(lost.is_empty(), "acknowledged, yet not on the disk: {lost:?}");
        // One may be whole on the disk whose acknowledgement was still under way.
        assert!(disk.len() <= self.kept.len() + 1, "{} of {}", disk.len(), self.kept.len());
        let count = count_in_settings(folder);
        assert!(count >= self.settings, "{count:?} of {:?}", self.settings);
        // What was on the disk after one kill has to survive the next as well.
        (self.kept, self.settings) = (disk, count);
        acknowledged
    }
}

/// Slips in force, by their quarter mile.
fn slips(folder: &Path) -> Vec<String> {
    let loaded = load_without_lock(folder).unwrap();
    let et = |line: &&SlipLine| line.slip.own.t1320.unwrap().to_string();
    slips_in_force(&loaded.slips).iter().map(et).collect()
}

/// `slips import`: whole slips, in order, and the rest comes when it is run again.
struct Importing {
    place: tempfile::TempDir,
    whole: Duration,
    done: usize,
}

const TABLE: usize = 60;

impl Importing {
    fn new() -> Self {
        let place = tempfile::tempdir().unwrap();
        let table = place.path().join("first.csv");
        fs::write(&table, slip_table(0, TABLE)).unwrap();
        let folder = place.path().join("own");
        let whole = time_of(&["slips", "import", text(&table), "--data", text(&folder)]);
        Self { place, whole, done: TABLE }
    }

    fn kill_once(&mut self, random: &mut Generator) -> usize {
        let (folder, table) = (self.place.path().join("own"), self.place.path().join("next.csv"));
        fs::write(&table, slip_table(self.done, TABLE)).unwrap();
        let (before, cut) = (slips(&folder), cut_short(&folder));
        let words = ["slips", "import", text(&table), "--data", text(&folder)];
        let end = killed_after(&words, moment(self.whole, random));
        opens(&folder, cut);
        let after = slips(&folder);
        assert_eq!(after[..before.len()], before[..], "what was there is there");
        let new = after.len() - before.len();
        match end {
            End::Killed => assert!(new <= TABLE),
            End::Done(_) => assert_eq!(new, TABLE, "all of them were acknowledged"),
        }
        ask(&words).well();
        let whole = slips(&folder);
        assert_eq!(whole.len(), before.len() + TABLE, "none is missing and none there twice");
        assert_eq!(whole[..after.len()], after[..]);
        self.done += TABLE;
        new
    }
}

/// `slips add`: what says "saved" is there.
fn adding(folder: &Path, random: &mut Generator) -> usize {
    let (before, cut) = (load_without_lock(folder).unwrap().slips.len(), cut_short(folder));
    let words = ["slips", "add", "--column", ".045 1.963 - - - - - -", "--data", text(folder)];
    let end = killed_after(&words, Duration::from_micros(random.random_range(0..12_000)));
    if !folder.exists() {
        return 0;
    }
    opens(folder, cut);
    let after = load_without_lock(folder).unwrap().slips;
    assert!(after.len() == before || after.len() == before + 1);
    let End::Done(said) = end else { return 0 };
    let id = said.lines().next().unwrap().strip_prefix("saved ").unwrap();
    assert_eq!(after.last().unwrap().id, id);
    1
}

/// An export of the demo's first lines under ids of their own.
fn export_of(copy: usize) -> String {
    let mut bytes = Vec::new();
    for line in demo_lines(1).unwrap().iter().take(400) {
        let id = line.id();
        let value = line.to_json().unwrap().replacen(id, &format!("{id}-{copy:05}"), 1);
        let sum = crc32fast::hash(value.as_bytes());
        bytes.extend(format!("{{\"sum\":\"{sum:08x}\",\"line\":{value}}}\n").into_bytes());
    }
    WholeHistory::read(&bytes[..]).unwrap().to_json(true)
}

/// `history import` and `merge`: all lines or none; `export`: the old file or the new one.
struct Exchanging {
    place: tempfile::TempDir,
    whole: Duration,
    copies: usize,
}

impl Exchanging {
    fn new() -> Self {
        let place = tempfile::tempdir().unwrap();
        let (folder, file) = (place.path().join("own"), place.path().join("first.json"));
        fs::write(&file, export_of(0)).unwrap();
        let whole = time_of(&["history", "import", text(&file), "--data", text(&folder)]);
        Self { place, whole, copies: 1 }
    }

    fn kill_once(&mut self, random: &mut Generator) -> usize {
        let at = |name: &str| self.place.path().join(name);
        let (folder, file, other) = (at("own"), at("next.json"), at("other"));
        let history = folder.join("history.jsonl");
        let before = fs::read(&history).unwrap();
        fs::write(&file, export_of(self.copies)).unwrap();
        let import = ["history", "import", text(&file), "--data", text(&folder)];
        let merge = ["history", "merge", text(&other), "--data", text(&folder)];
        let by_merge = random.random::<bool>();
        if by_merge {
            let _ = fs::remove_dir_all(&other);
            ask(&["history", "import", text(&file), "--data", text(&other)]).well();
        }
        let words = if by_merge { merge } else { import };
        let end = killed_after(&words, moment(self.whole, random));
        let after = fs::read(&history).unwrap();
        opens(&folder, 0);
        let kept = after == before;
        assert!(!kept || matches!(end, End::Killed), "it was acknowledged");
        let again = time_of(&words);
        if kept {
            // The history grows, and so does the time it takes.
            self.whole = again;
        }
        let whole = fs::read(&history).unwrap();
        assert!(kept || after == whole, "all lines or none");
        self.copies += 1;
        self.export_once(random);
        usize::from(!kept)
    }

    fn export_once(&self, random: &mut Generator) {
        let (folder, out) = (self.place.path().join("own"), self.place.path().join("out.json"));
        fs::write(&out, "an older export").unwrap();
        let words = ["history", "export", "--out", text(&out), "--data", text(&folder)];
        killed_after(&words, moment(self.whole, random));
        let there = fs::read(&out).unwrap();
        assert!(there == b"an older export" || WholeHistory::of_export(&there).is_ok());
    }
}

/// `demo`: the old one or the new one, never without its mark.
fn demo(folder: &Path, whole: Duration, random: &mut Generator) -> usize {
    let history = folder.join("history.jsonl");
    let before = fs::read(&history).unwrap();
    let seed = random.random_range(2..1000).to_string();
    let words = ["demo", "--no-window", "--seed", &seed, "--data", text(folder)];
    let end = killed_after(&words, moment(whole, random));
    opens(folder, 0);
    assert!(is_demo(folder), "made-up lines are never without their mark");
    let after = fs::read(&history).unwrap();
    let loaded = load_without_lock(folder).unwrap();
    assert_eq!((loaded.damaged_count, loaded.torn_tail), (0, false));
    assert!(after == before || loaded.trials.len() > 300, "a whole one");
    assert!(after != before || matches!(end, End::Killed), "it was acknowledged");
    usize::from(after != before)
}

#[test]
fn a_kill_at_any_moment_loses_nothing_that_was_acknowledged() {
    let _alone = crate::alone();
    let kills = if is_long() { 500 } else { 10 };
    let mut random = generator(20_261_126);
    let mut writing = Writing::new();
    let (mut importing, mut exchanging) = (Importing::new(), Exchanging::new());
    let place = tempfile::tempdir().unwrap();
    let (added, made_up) = (place.path().join("added"), place.path().join("demo"));
    let whole = time_of(&["demo", "--no-window", "--data", text(&made_up)]);
    let mut told = [(0, 0); 5];
    for kill in 0..kills {
        // Half of them at the writer the window has, the others at what the command line writes.
        let which = if kill % 2 == 0 { 0 } else { 1 + kill / 2 % 4 };
        told[which].0 += 1;
        told[which].1 += match which {
            0 => writing.kill_once(&mut random),
            1 => importing.kill_once(&mut random),
            2 => adding(&added, &mut random),
            3 => exchanging.kill_once(&mut random),
            _ => demo(&made_up, whole, &mut random),
        };
    }
    let names = ["writer", "slips import", "slips add", "import and merge", "demo"];
    for (name, (kills, kept)) in names.iter().zip(told) {
        println!("{name}: {kills} kills, {kept} acknowledged or taken");
    }
    assert!(told[0].1 >= 2 * told[0].0, "too little was acknowledged: this proves nothing");
}

#[test]
fn a_program_that_holds_the_folder_leaves_no_lock_when_it_is_killed() {
    let _alone = crate::alone();
    let place = tempfile::tempdir().unwrap();
    let scribe = Scribe::start(place.path(), 0);
    assert!(DataFolder::open(place.path()).is_err());
    scribe.kill();
    let mut again = Command::new(PROGRAM);
    again.args(["history", "check", "--data", text(place.path())]).stdout(Stdio::null());
    assert!(again.status().unwrap().success());
    DataFolder::open(place.path()).unwrap();
}
