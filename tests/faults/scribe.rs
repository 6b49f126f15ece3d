//! A process that does nothing but save: runs, cars, slips and settings, one after the other, and says so
//! when the writer said so. What it saves is known from its number.
//!
//! Owns what is saved and how it is looked at afterwards. Refuses to end by itself: it is killed.

use super::program::text;
use super::support;
use lastamber::history::{
    CarLine, DataFolder, Line, Loaded, SaveEvent, Settings, SlipLine, Writer, load_without_lock,
};
use lastamber::rules::SlipTime;
use lastamber::slips::{LaneSlip, Slip};
use lastamber::trial::TrialRecord;
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

const FOLDER: &str = "LASTAMBER_SCRIBE_FOLDER";
const FROM: &str = "LASTAMBER_SCRIBE_FROM";
/// One that nobody kills ends then.
const LIFE: Duration = Duration::from_secs(120);
/// The setting that counts.
const COUNT: &str = "scribe";

/// The child's whole life; the parent asks for it by name.
#[test]
#[ignore = "it is the child of other tests, which start it"]
fn writes_until_it_is_killed() {
    let _alone = crate::alone();
    let folder = std::env::var_os(FOLDER).expect("only a parent starts it");
    let from: usize = std::env::var(FROM).unwrap().parse().unwrap();
    let folder = Path::new(&folder);
    let held = DataFolder::open(folder).unwrap();
    held.load().unwrap();
    let mut writer = Writer::start(held.open_log().unwrap()).unwrap();
    let mut settings = Settings::read(folder).settings;
    let runs = support::some_runs(8);
    let began = Instant::now();
    say("ready");
    for number in from.. {
        if number % 3 == 0 {
            settings.choices.insert(COUNT.to_owned(), number.to_string());
            settings.save(folder).unwrap();
            say(&format!("settings {number}"));
        }
        let id = writer.submit(line(number, &runs)).unwrap();
        match writer.wait_event(LIFE) {
            Some(SaveEvent::Saved { id: saved }) if saved == id => say(&format!("saved {number}")),
            other => panic!("{other:?}"),
        }
        assert!(began.elapsed() < LIFE, "nobody killed it");
    }
}

fn say(words: &str) {
    // In one write: a kill cuts between lines.
    let mut out = std::io::stdout().lock();
    out.write_all(format!("\n@{words}\n").as_bytes()).and_then(|()| out.flush()).unwrap();
}

/// What is saved under a number: runs, cars and slips in turn.
fn line(number: usize, runs: &[TrialRecord]) -> Line {
    let id = id_of(number);
    match number % 3 {
        0 => TrialRecord { id: id.into(), ..runs[number % runs.len()].clone() }.into(),
        1 => CarLine { name: format!("car {number}"), ..support::some_car(&id) }.into(),
        _ => slip(number, id).into(),
    }
}

fn slip(number: usize, id: String) -> SlipLine {
    let et = SlipTime::from_ten_thousandths(100_000 + number as i64);
    let own = LaneSlip { t1320: Some(et), ..LaneSlip::default() };
    let slip = Slip { own, note: format!("slip {number}"), ..Slip::default() };
    SlipLine { id, saved_at: String::new(), corrects: None, withdrawn: false, slip }
}

fn id_of(number: usize) -> String {
    format!("scribe-{number:08}")
}

/// The child, and what it says.
pub struct Scribe {
    child: Child,
    heard: Arc<AtomicUsize>,
    hears: JoinHandle<Vec<String>>,
}

/// What it had been told was saved when it was killed.
#[derive(Debug, Default)]
pub struct Acknowledged {
    pub lines: BTreeSet<usize>,
    pub settings: Option<usize>,
}

impl Scribe {
    /// Starts one that goes on at a number, and waits until it has the folder.
    pub fn start(folder: &Path, from: usize) -> Self {
        let mut command = Command::new(std::env::current_exe().unwrap());
        command.args(["scribe::writes_until_it_is_killed", "--exact", "--ignored", "--nocapture"]);
        command.env(FOLDER, text(folder)).env(FROM, from.to_string());
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::inherit());
        let mut child = command.spawn().unwrap();
        let mut said = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
        assert!(said.any(|line| line == "@ready"), "it never had the folder");
        let heard = Arc::new(AtomicUsize::new(0));
        let counts = Arc::clone(&heard);
        let hears = thread::spawn(move || {
            said.inspect(|line| {
                counts.fetch_add(usize::from(line.starts_with("@saved")), Ordering::SeqCst);
            })
            .collect()
        });
        Self { child, heard, hears }
    }

    /// Waits until so many lines were acknowledged.
    pub fn wait_for(&self, lines: usize) {
        let began = Instant::now();
        while self.heard.load(Ordering::SeqCst) < lines {
            assert!(began.elapsed() < LIFE, "it saves nothing");
            thread::sleep(Duration::from_micros(200));
        }
    }

    /// Kills it as the system kills: it is not asked.
    pub fn kill(mut self) -> Acknowledged {
        self.child.kill().unwrap();
        let ended = self.child.wait().unwrap();
        assert!(ended.code().is_none(), "it ended by itself: {ended}");
        let mut told = Acknowledged::default();
        for line in self.hears.join().unwrap() {
            if let Some(number) = line.strip_prefix("@saved ") {
                told.lines.insert(number.parse().unwrap());
            }
            if let Some(number) = line.strip_prefix("@settings ") {
                told.settings = Some(number.parse().unwrap());
            }
        }
        told
    }
}

/// The numbers that are on the disk. Every line that is read is the very one that was handed in.
pub fn numbers_on_disk(folder: &Path) -> BTreeSet<usize> {
    let loaded = load_without_lock(folder).unwrap();
    let runs = support::some_runs(8);
    let mut numbers = BTreeSet::new();
    for found in all_lines(&loaded) {
        let number: usize = found.id().strip_prefix("scribe-").unwrap().parse().unwrap();
        let expected = line(number, &runs).to_json().unwrap();
        assert_eq!(found.to_json().unwrap(), expected, "half a line, or another");
        assert!(numbers.insert(number), "{number} is there twice");
    }
    assert_eq!((loaded.newer_count, loaded.repeated_count), (0, 0));
    numbers
}

fn all_lines(loaded: &Loaded) -> Vec<Line> {
    let trials = loaded.trials.iter().cloned().map(Line::from);
    let cars = loaded.cars.iter().cloned().map(Line::from);
    trials.chain(cars).chain(loaded.slips.iter().cloned().map(Line::from)).collect()
}

/// The count in the settings; nothing is wrong with their file.
pub fn count_in_settings(folder: &Path) -> Option<usize> {
    let read = Settings::read(folder);
    assert!(read.trouble.is_none(), "{:?}", read.trouble);
    read.settings.choice(COUNT).map(|count| count.parse().unwrap())
}
