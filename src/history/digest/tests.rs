//! A digest is believed only where it gives what reading the history gives.

use std::path::PathBuf;

use super::super::line::Line;
use super::super::load::{Loaded, load};
use super::super::opening::Opening;
use super::*;
use crate::demo::demo_lines;
use crate::history::ExclusionLine;
use crate::history::envelope::seal;
use crate::tree::{AbandonReason, Lamp, Outcome, VoidReason};
use crate::trial::{Aim, AimFrom, AimOf, Pause, TrialRecord};
use crate::units::Span;

/// A data folder with nothing but a history.
struct Folder {
    folder: tempfile::TempDir,
}

impl Folder {
    fn new(history: &[u8]) -> Self {
        let folder = Self { folder: tempfile::tempdir().unwrap() };
        folder.put(history);
        folder
    }

    fn history(&self) -> PathBuf {
        self.folder.path().join("history.jsonl")
    }

    fn digest(&self) -> PathBuf {
        self.folder.path().join(DIGEST_FILE)
    }

    fn put(&self, history: &[u8]) {
        fs::write(self.history(), history).unwrap();
    }

    /// Opened by who holds the folder, with a digest for any number of lines.
    fn open(&self, threads: usize) -> Loaded {
        let opening = Opening { threads, held: true, least_lines: 1 };
        opening.load(&self.history(), &Progress::default()).unwrap()
    }

    /// Opened by who only reads.
    fn look(&self) -> Loaded {
        Opening::one_processor().load(&self.history(), &Progress::default()).unwrap()
    }

    fn covered(&self) -> Option<Covered> {
        read(&self.history(), 1, &Progress::default()).map(|(_, covered)| covered)
    }

    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(self.folder.path()).unwrap();
        let mut names: Vec<_> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

/// What two histories hold, as words: a number that is none never equals itself.
fn assert_same(one: &Loaded, other: &Loaded) {
    assert_eq!(format!("{one:?}"), format!("{other:?}"));
}

/// Lines of every kind that the demo has, at most some of each.
fn demo(of_each: usize) -> Vec<Line> {
    let mut lines = demo_lines(4).unwrap();
    let mut counts = std::collections::HashMap::new();
    lines.retain(|line| {
        let count = counts.entry(line.kind()).or_insert(0);
        *count += 1;
        *count <= of_each
    });
    let trial = lines.iter().find(|line| matches!(line, Line::Trial(_))).unwrap().id().to_owned();
    lines.push(Line::from(ExclusionLine {
        id: "0199ffff-0000-7000-8000-000000000000".to_owned(),
        saved_at: String::new(),
        trial,
        excluded: true,
        reason: "the phone rang".to_owned(),
    }));
    lines
}

/// Runs of every way to end, with odd ids, times and numbers.
fn odd_runs() -> Vec<Line> {
    let lines = demo(8);
    let run = lines.iter().find_map(|line| match line {
        Line::Trial(line) => Some(TrialRecord::from((**line).clone())),
        _ => None,
    });
    let run = run.unwrap();
    let outcomes = [
        Outcome::Green,
        Outcome::Red,
        Outcome::LeftBeforeTree,
        Outcome::TimedOut,
        Outcome::Lapse,
        Outcome::Stayed,
        Outcome::Guessed { after_due_ns: -12_345 },
        Outcome::Abandoned(AbandonReason::FocusLost),
        Outcome::Void(VoidReason::NoOnset),
        Outcome::Void(VoidReason::LampLate { lamp: Lamp::Amber(2), late_ns: 21_000_000 }),
        Outcome::Void(VoidReason::LampHidden { lamp: Lamp::Green }),
        Outcome::Void(VoidReason::ControlLost),
    ];
    let odd = outcomes.into_iter().enumerate().map(|(i, outcome)| {
        let mut run = TrialRecord { outcome, ..run.clone() };
        run.id = format!("odd {i}").as_str().into();
        run.amber_spacing_off = i % 2 == 0;
        run.hitch = i % 3 == 0;
        run.colour_in_doubt = i % 4 == 0;
        run.lamp_corrected = i % 5 == 0;
        run.setup.seed = u64::MAX - i as u64;
        match i % 4 {
            0 => run.began = "no time".into(),
            1 => {
                run.began = "2026-05-01T10:00:00.123456789+02:00[Europe/Oslo]".into();
                run.parts = None;
                run.seen = crate::trial::SeenFacts::default().into();
            }
            2 => {
                run.setup.pause = Some(Pause {
                    planned: Span::from_ns(i64::MAX),
                    waited: Span::from_ns(i64::MIN),
                });
                run.setup.aim =
                    Some(Aim { of: AimOf::Light, at: Span::from_ms(20), from: AimFrom::Chosen });
                run.car.lag_s.sd = f64::NAN;
            }
            _ => {
                run.driver = "somebody else \"ü\"".into();
                run.seen.change(|seen| {
                    seen.amber_gaps_shown.push(Span::from_ns(-7));
                    seen.lamps.reverse();
                });
            }
        }
        Line::from(run)
    });
    odd.collect()
}

fn sealed(lines: &[Line]) -> Vec<u8> {
    lines.iter().flat_map(|line| line.seal().unwrap().into_bytes()).collect()
}

/// A history with all that can stand in one: whole lines of every kind, a newer kind, a line twice, an id
/// twice, damage of every sort, blank lines, ids out of order.
fn every_sort() -> Vec<u8> {
    let (lines, odd) = (demo(8), odd_runs());
    let mut bytes = sealed(&lines);
    bytes.extend(sealed(&odd[..6]));
    bytes.extend(seal(r#"{"kind":"weather","v":1,"id":"w","wind_mph":3}"#));
    bytes.extend(seal(r#"{"kind":"trial","v":1,"id":"nothing else"}"#));
    bytes.extend(b"\n  \n\xff\xfe\nno line\n{\"sum\":\"");
    bytes.push(b'\n');
    let mut altered = lines[3].seal().unwrap().into_bytes();
    altered[60] ^= 1;
    bytes.extend(&altered);
    bytes.extend(vec![b'x'; crate::history::MAX_LINE_BYTES + 5]);
    bytes.push(b'\n');
    bytes.extend(sealed(&lines[2..5]));
    let again = lines[2].to_json().unwrap().replace("\"v\":1,", "\"v\":1,\"saved_at\":\"x\",");
    bytes.extend(seal(&again));
    bytes.extend(sealed(&odd[6..]));
    bytes.extend(seal(&odd[7].to_json().unwrap().replace("somebody else", "nobody")));
    // A lost newline leaves two lines in one.
    bytes.pop();
    bytes.extend(sealed(&lines[..1]));
    bytes
}

#[test]
fn a_digest_gives_what_the_whole_history_gives() {
    let bytes = every_sort();
    let whole = load(&bytes[..]).unwrap();
    assert!(whole.damaged_count >= 7 && whole.repeated_count >= 3 && whole.newer_count == 1);
    assert!(!whole.slips.is_empty() && !whole.films.is_empty() && !whole.forecasts.is_empty());
    for threads in 1..4 {
        let folder = Folder::new(&bytes);
        assert_same(&folder.open(threads), &whole);
        let covered = folder.covered().expect("it was written");
        assert_eq!(covered.bytes(), bytes.len() as u64);
        assert_eq!(folder.names(), ["history.digest", "history.jsonl"]);
        let before = fs::read(folder.digest()).unwrap();
        assert_same(&folder.open(threads), &whole);
        assert_same(&folder.look(), &whole);
        assert_eq!(fs::read(folder.digest()).unwrap(), before, "there was nothing new");
    }
}

#[test]
fn wherever_a_digest_ends_the_rest_is_read_as_before() {
    let bytes = every_sort();
    let ends = bytes.iter().enumerate().filter(|(_, byte)| **byte == b'\n').map(|(i, _)| i + 1);
    for end in ends {
        let folder = Folder::new(&bytes[..end]);
        folder.open(1);
        assert!(folder.covered().is_some());
        for torn in [0, 1, 9] {
            folder.put(&bytes[..bytes.len() - torn]);
            assert_same(&folder.look(), &load(&bytes[..bytes.len() - torn]).unwrap());
        }
    }
}

#[test]
fn a_digest_grows_by_what_came_since_once_that_is_a_share_worth_writing() {
    let mut lines = demo(40);
    lines.truncate(64);
    let (bytes, odd) = (sealed(&lines), sealed(&odd_runs()));
    let folder = Folder::new(&bytes);
    folder.open(1);
    let covered = || folder.covered().unwrap();
    // One line more is below a thirty-second, twelve are above it.
    assert_eq!(covered().lines, 64);
    let first = 1 + odd.iter().position(|byte| *byte == b'\n').unwrap();
    folder.put(&[&bytes[..], &odd[..first]].concat());
    folder.open(1);
    assert_eq!((covered().lines, covered().bytes()), (64, bytes.len() as u64));
    let mut all = [&bytes[..], &odd].concat();
    folder.put(&all);
    folder.open(1);
    assert_eq!((covered().lines, covered().bytes()), (64 + 12, all.len() as u64));
    // Places of what comes then are those in the whole file, and so is how far the reading is.
    all.extend(b"no line\n");
    all.extend(sealed(&lines[..1]));
    folder.put(&all);
    assert_same(&folder.look(), &load(&all[..]).unwrap());
    let progress = Progress::default();
    Opening::one_processor().load(&folder.history(), &progress).unwrap();
    assert_eq!((progress.seen().done, progress.seen().total), (all.len() as u64, all.len() as u64));
}

#[test]
fn every_byte_of_a_digest_counts() {
    let mut lines = demo(3);
    lines.extend(odd_runs());
    let bytes = sealed(&lines);
    let folder = Folder::new(&bytes);
    let whole = folder.open(1);
    let digest = fs::read(folder.digest()).unwrap();
    for i in 0..digest.len() {
        let mut damaged = digest.clone();
        damaged[i] ^= 1 << (i % 8);
        fs::write(folder.digest(), &damaged).unwrap();
        assert!(folder.covered().is_none(), "byte {i}");
        if i % 97 == 0 {
            assert_same(&folder.look(), &whole);
            fs::write(folder.digest(), &digest[..i]).unwrap();
            assert_same(&folder.look(), &whole);
        }
    }
    for end in (0..digest.len()).step_by(7) {
        fs::write(folder.digest(), &digest[..end]).unwrap();
        assert!(folder.covered().is_none(), "cut off at {end}");
    }
    // Damaged, it is written anew by who holds the folder.
    assert_same(&folder.open(1), &whole);
    assert_eq!(fs::read(folder.digest()).unwrap(), digest);
}

#[test]
fn every_byte_of_the_history_that_changed_is_found_as_without_a_digest() {
    let lines = demo(3);
    let bytes = sealed(&lines);
    let folder = Folder::new(&bytes);
    folder.open(1);
    for i in 0..bytes.len() {
        let mut damaged = bytes.clone();
        damaged[i] ^= 1 << (i % 8);
        folder.put(&damaged);
        assert!(folder.covered().is_none(), "byte {i}");
        if i % 211 == 0 {
            assert_same(&folder.look(), &load(&damaged[..]).unwrap());
        }
    }
    for end in (0..bytes.len()).step_by(101) {
        folder.put(&bytes[..end]);
        assert_same(&folder.look(), &load(&bytes[..end]).unwrap());
    }
}

#[test]
fn a_history_that_was_replaced_edited_or_added_to_is_read_as_it_is() {
    let lines = demo(8);
    let folder = Folder::new(&sealed(&lines[..12]));
    folder.open(2);
    folder.put(&sealed(&lines));
    assert!(folder.covered().is_some(), "what was added costs nothing of what was read");
    let mut edited = lines.clone();
    edited.remove(4);
    let mut others = lines.clone();
    others.reverse();
    for now in [&edited[..], &others, &lines[1..], &lines[..12], &lines] {
        let bytes = sealed(now);
        folder.put(&bytes);
        let whole = load(&bytes[..]).unwrap();
        assert_same(&folder.look(), &whole);
        assert_same(&folder.open(2), &whole);
        assert_same(&folder.open(1), &whole);
    }
    // Without its history a digest is nothing, and goes with the next opening that cannot use it.
    folder.put(b"");
    assert_same(&folder.look(), &Loaded::default());
    assert!(folder.digest().exists());
    folder.open(1);
    assert_eq!(folder.names(), ["history.jsonl"]);
}

#[test]
fn a_line_that_a_digest_holds_is_known_when_it_comes_again() {
    let mut lines = demo(3);
    lines.extend(odd_runs());
    // Two at least of every kind but that one, so that no count is mistaken for its.
    let again: Vec<Line> = lines
        .iter()
        .filter_map(|line| match line.clone() {
            Line::Rig(mut rig) => {
                rig.id = "019a0001-0000-7000-8000-000000000000".to_owned();
                Some(Line::from(*rig))
            }
            Line::Film(mut film) => {
                film.id = "019a0002-0000-7000-8000-000000000000".to_owned();
                Some(Line::from(*film))
            }
            _ => None,
        })
        .collect();
    let mut taken = std::collections::HashSet::new();
    lines.extend(again.into_iter().filter(|line| taken.insert(line.kind())));
    let kinds: std::collections::HashSet<_> = lines.iter().map(Line::kind).collect();
    assert_eq!(kinds.len(), 7, "{kinds:?}");
    let bytes = sealed(&lines);
    let folder = Folder::new(&bytes);
    folder.open(1);
    for line in &lines {
        // A run has no time of saving, everything else has no program.
        let otherwise = line.to_json().unwrap().replace("\"saved_at\":\"", "\"saved_at\":\"x");
        let otherwise = otherwise.replace("\"program\":\"", "\"program\":\"x");
        for (again, damaged) in [(line.seal().unwrap().into_bytes(), 0), (seal(&otherwise), 1)] {
            folder.put(&[&bytes[..], &again].concat());
            assert!(folder.covered().is_some());
            let told = folder.look();
            assert_eq!(
                (told.repeated_count, told.damaged_count),
                (1 - damaged, damaged),
                "{line:?}"
            );
        }
    }
}

#[test]
fn a_digest_is_only_made_by_who_holds_the_folder_and_for_a_long_history() {
    let bytes = sealed(&demo(8));
    let lines = bytes.iter().filter(|byte| **byte == b'\n').count() as u64;
    let progress = Progress::default();
    let folder = Folder::new(&bytes);
    let open = |opening: Opening| opening.load(&folder.history(), &progress).unwrap();
    open(Opening::one_processor());
    open(Opening::all_processors());
    open(Opening::all_processors().held());
    open(Opening { threads: 2, held: false, least_lines: 1 });
    open(Opening { threads: 2, held: true, least_lines: lines + 1 });
    assert_eq!(folder.names(), ["history.jsonl"]);
    // Nor while its last line is not complete.
    folder.put(&bytes[..bytes.len() - 1]);
    folder.open(1);
    assert_eq!(folder.names(), ["history.jsonl"]);
    folder.put(&bytes);
    open(Opening { threads: 2, held: true, least_lines: lines });
    assert_eq!(folder.names(), ["history.digest", "history.jsonl"]);
}

#[test]
fn half_a_digest_is_passed_over_and_written_over() {
    let bytes = every_sort();
    let whole = load(&bytes[..]).unwrap();
    let made = Folder::new(&bytes);
    made.open(1);
    let digest = fs::read(made.digest()).unwrap();
    let folder = Folder::new(&bytes);
    let new = folder.folder.path().join(NEW_FILE);
    for end in [0, 1, 100, digest.len() / 2, digest.len() - 1] {
        fs::write(&new, &digest[..end]).unwrap();
        assert_same(&folder.look(), &whole);
        assert!(new.exists() && !folder.digest().exists(), "who only reads leaves it");
    }
    assert_same(&folder.open(1), &whole);
    assert_eq!(folder.names(), ["history.digest", "history.jsonl"]);
    assert_eq!(fs::read(folder.digest()).unwrap(), digest);
}

#[test]
fn where_a_digest_cannot_be_written_or_read_there_is_none() {
    let bytes = sealed(&demo(4));
    let whole = load(&bytes[..]).unwrap();
    for name in [DIGEST_FILE, NEW_FILE] {
        let folder = Folder::new(&bytes);
        fs::create_dir(folder.folder.path().join(name)).unwrap();
        assert_same(&folder.open(1), &whole);
        assert_same(&folder.look(), &whole);
        assert_eq!(folder.names(), [name, "history.jsonl"], "what stands there is left alone");
    }
}

#[test]
fn a_digest_leaves_room_on_the_disk() {
    let folder = Folder::new(b"");
    assert!(has_room(&folder.history(), 1000) && !has_room(&folder.history(), u64::MAX));
}

#[test]
fn a_digest_of_another_program_is_none() {
    let folder = Folder::new(&sealed(&demo(4)));
    folder.open(1);
    let digest = fs::read(folder.digest()).unwrap();
    let mut frames = FrameReader::new(&digest[..]);
    let head = frames.next().unwrap().to_vec();
    let of = |head: &[u8]| {
        let mut out = frames::FrameWriter::new(Vec::new());
        out.write(head).unwrap();
        let mut frames = FrameReader::new(&digest[..]);
        frames.next().unwrap();
        loop {
            match frames.next().unwrap() {
                [] => return out.finish().unwrap(),
                frame => out.write(frame).unwrap(),
            }
        }
    };
    assert_eq!(of(&head), digest);
    let text = String::from_utf8(head).unwrap();
    for (now, other) in [
        ("\"form\":1", "\"form\":2"),
        (env!("CARGO_PKG_VERSION"), "0.0.0"),
        ("[\"trial\",1]", "[\"trial\",2]"),
        ("[\"car\",1],", ""),
    ] {
        assert!(text.contains(now), "{text}");
        fs::write(folder.digest(), of(text.replace(now, other).as_bytes())).unwrap();
        assert!(folder.covered().is_none(), "{other}");
    }
}

#[test]
fn who_is_cancelled_is_told_so_and_nothing_is_written() {
    let folder = Folder::new(&sealed(&demo(8)));
    folder.open(1);
    let digest = fs::read(folder.digest()).unwrap();
    let progress = Progress::default();
    progress.cancel();
    let opening = Opening { threads: 2, held: true, least_lines: 1 };
    let ended = opening.load(&folder.history(), &progress);
    assert!(matches!(ended, Err(crate::history::HistoryError::Cancelled(_))));
    assert_eq!(fs::read(folder.digest()).unwrap(), digest);
}

#[test]
fn a_long_history_is_compared_in_many_blocks_and_read_on_in_parts() {
    let lines = demo(60);
    let once = sealed(&lines);
    let mut bytes = Vec::new();
    let mut i = 0;
    while bytes.len() < 9 << 20 {
        for line in lines.iter().filter(|line| matches!(line, Line::Trial(_))) {
            let id = format!("0190{:04x}-{:04x}-7000-8000-000000000000", i >> 16, i & 0xffff);
            bytes.extend(seal(&line.to_json().unwrap().replace(line.id(), &id)));
            i += 1;
        }
    }
    bytes.extend(once);
    let half = bytes[..5 << 20].iter().rposition(|byte| *byte == b'\n').unwrap() + 1;
    let folder = Folder::new(&bytes[..half]);
    folder.open(2);
    assert_eq!(folder.covered().unwrap().blocks.len(), 2);
    folder.put(&bytes);
    let whole = load(&bytes[..]).unwrap();
    assert_same(&folder.open(2), &whole);
    let covered = folder.covered().unwrap();
    assert!(covered.blocks.len() > 3 && covered.bytes() == bytes.len() as u64, "{covered:?}");
    for threads in 1..4 {
        let (loading, _) = read(&folder.history(), threads, &Progress::default()).unwrap();
        assert_same(&loading.finish(false), &whole);
        for at in [10, half, bytes.len() - 10] {
            let mut damaged = bytes.clone();
            damaged[at] ^= 4;
            folder.put(&damaged);
            assert!(read(&folder.history(), threads, &Progress::default()).is_none());
        }
        folder.put(&bytes);
    }
}
