//! The digest of a long history: killed over it, no room for it, no right to write it, a history another
//! program changed.
//!
//! Owns that it is never missed: what the program says and keeps is as if there were none. Every byte of one,
//! and of a history with one, is damaged in the unit tests beside the code.

use super::program::{ask, ask_by, can, command, is_long, skipped, text};
use lastamber::demo::demo_lines;
use lastamber::history::{DataFolder, Line, Loaded, history_file, load, load_without_lock};
use lastamber::seed::generator;
use rand::RngExt;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// More lines than a history has to have for a digest.
const LINES: usize = 20_100;

/// A folder with a long history: runs of the demo over and over, each with an id of its own.
struct Long {
    place: tempfile::TempDir,
}

impl Long {
    fn new() -> Self {
        let long = Self { place: tempfile::tempdir().unwrap() };
        fs::create_dir(long.folder()).unwrap();
        fs::write(history_file(&long.folder()), runs(0)).unwrap();
        long
    }

    fn folder(&self) -> PathBuf {
        self.place.path().join("own")
    }

    fn digest(&self) -> PathBuf {
        self.folder().join("history.digest")
    }

    fn new_digest(&self) -> PathBuf {
        self.folder().join("history.digest.new")
    }

    /// Opened, after which there is a digest.
    fn open(&self) -> Loaded {
        DataFolder::open(&self.folder()).unwrap().load().unwrap()
    }

    /// As read line by line, whatever digest there is.
    fn read(&self) -> Loaded {
        load(&fs::read(history_file(&self.folder())).unwrap()[..]).unwrap()
    }
}

/// So many runs, with ids from a number on.
fn runs(from: usize) -> Vec<u8> {
    let lines = demo_lines(1).unwrap();
    let runs: Vec<_> = lines
        .into_iter()
        .filter_map(|line| match line {
            Line::Trial(run) => Some(run),
            _ => None,
        })
        .collect();
    let mut bytes = Vec::new();
    for i in 0..LINES {
        let mut run = runs[i % runs.len()].clone();
        run.id = format!("{:08x}-0000-7000-8000-000000000000", from + i);
        bytes.extend(Line::Trial(run).seal().unwrap().into_bytes());
    }
    bytes
}

#[test]
fn a_long_history_says_the_same_with_its_digest_and_without() {
    let _alone = crate::alone();
    let long = Long::new();
    let folder = long.folder();
    let report = ["report", "--data", text(&folder), "--format", "json"];
    let before = ask(&report).well();
    assert!(!long.digest().exists(), "who only reads writes nothing");
    let opened = long.open();
    assert!(long.digest().exists() && !long.new_digest().exists());
    assert!(opened == long.read() && opened.trials.len() == LINES);
    assert_eq!(ask(&report).well(), before);
    assert!(load_without_lock(&folder).unwrap() == opened);
    // Another program adds a line, takes one out of the middle, cuts the end off.
    let history = history_file(&folder);
    let bytes = fs::read(&history).unwrap();
    let middle = bytes.len() / 2;
    let [from, to] = [middle, middle + 3000]
        .map(|at| at + bytes[at..].iter().position(|byte| *byte == b'\n').unwrap() + 1);
    let without = [&bytes[..from], &bytes[to..]].concat();
    let more = runs(LINES);
    for changed in [&[&bytes[..], &more].concat(), &without, &bytes[..middle], &bytes[..]] {
        fs::write(&history, changed).unwrap();
        assert!(load_without_lock(&folder).unwrap() == long.read());
        assert!(long.open() == long.read());
    }
    // And with a byte altered it is told of as ever.
    let mut altered = bytes.clone();
    altered[middle] ^= 1;
    fs::write(&history, &altered).unwrap();
    let looked = load_without_lock(&folder).unwrap();
    assert!(looked.damaged_count == 1 && looked == long.read());
    let checked = ask(&["history", "check", "--data", text(&folder)]).well();
    assert!(checked.contains("altered: its checksum does not fit"), "{checked}");
}

#[test]
fn a_kill_over_a_digest_leaves_the_history_as_it_was() {
    let _alone = crate::alone();
    let long = Long::new();
    let folder = long.folder();
    let history = history_file(&folder);
    let bytes = fs::read(&history).unwrap();
    let words = ["slips", "add", "rt=.045", "--data", text(&folder)];
    let began = Instant::now();
    ask(&words).well();
    let whole = began.elapsed();
    assert!(long.digest().exists());
    let mut random = generator(20_261_127);
    let (mut killed, mut half) = (0, 0);
    for _ in 0..if is_long() { 200 } else { 10 } {
        fs::write(&history, &bytes).unwrap();
        let _ = fs::remove_file(long.digest());
        let mut child = command(&[]).args(words).spawn().unwrap();
        // Most of them while the new digest is there and has not got its name.
        let deadline = Instant::now() + whole.mul_f64(random.random_range(0.5..1.2));
        while Instant::now() < deadline && !long.new_digest().exists() {
            std::thread::sleep(Duration::from_micros(200));
        }
        std::thread::sleep(whole.mul_f64(random.random_range(0.0..0.02)));
        child.kill().unwrap();
        killed += usize::from(child.wait().unwrap().code().is_none());
        half += usize::from(long.new_digest().exists());
        assert!(fs::read(&history).unwrap().starts_with(&bytes));
        let read = long.read();
        assert!(load_without_lock(&folder).unwrap() == read);
        assert!(long.open() == read);
        assert!(long.digest().exists() && !long.new_digest().exists());
        assert!(long.open() == read);
    }
    println!("{killed} killed, {half} with half a digest");
    assert!(killed > 0, "this proves nothing");
}

#[test]
fn where_a_digest_does_not_fit_nothing_is_said_of_it() {
    let _alone = crate::alone();
    if !can(&["prlimit", "--version"]) {
        return skipped("a limit on files: prlimit (util-linux) is not here");
    }
    let long = Long::new();
    let folder = long.folder();
    let room = fs::metadata(history_file(&folder)).unwrap().len() / 100;
    let script = format!("trap '' XFSZ; exec prlimit --fsize={room} -- \"$0\" \"$@\"");
    let tool = ["sh", "-c", &script];
    ask_by(&tool, &["slips", "add", "rt=.045", "--data", text(&folder)]).gave_up(&format!(
        "lastamber: not saved in {}: File too large (os error 27). The file may not grow: raise its limit \
         (ulimit -f), or choose another folder with --data DIR.",
        history_file(&folder).display()
    ));
    assert!(!long.digest().exists() && !long.new_digest().exists());
}

/// A super-user without powers is held to the rights of files as everybody is (capabilities(7)).
const POWERLESS: [&str; 3] = ["setpriv", "--bounding-set=-all", "--inh-caps=-all"];

#[test]
fn a_digest_that_may_not_be_read_or_replaced_is_none() {
    let _alone = crate::alone();
    if !can(&[&POWERLESS[..], &["true"]].concat()) {
        return skipped("rights of files: setpriv is not here");
    }
    let long = Long::new();
    let folder = long.folder();
    let report = ["report", "--data", text(&folder)];
    let said = ask(&report).well();
    long.open();
    set_mode(&long.digest(), 0o000);
    assert_eq!(ask_by(&POWERLESS, &report).well(), said);
    set_mode(&folder, 0o500);
    assert_eq!(ask_by(&POWERLESS, &report).well(), said);
    set_mode(&folder, 0o700);
    ask_by(&POWERLESS, &["slips", "add", "rt=.045", "--data", text(&folder)]).well();
    assert!(load_without_lock(&folder).unwrap() == long.read());
}

fn set_mode(path: &Path, mode: u32) {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
}
