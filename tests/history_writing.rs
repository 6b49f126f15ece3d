//! Writing: "saved" is said after the disk said it, failures lose nothing, one program at a time.

#[path = "history_support/mod.rs"]
mod support;

use std::io::{self, Write};
use std::path::Path;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};
use std::{fs, thread};

use lastamber::history::{
    DataFolder, HistoryError, Line, Log, SaveEvent, Sink, Writer, load, load_without_lock,
};
use support::{Disk, Happened, Plan};

const PATIENCE: Duration = Duration::from_secs(20);

fn cars(count: usize) -> Vec<Line> {
    (0..count).map(|index| support::some_car(&format!("c{index}")).into()).collect()
}

fn wait(writer: &mut Writer) -> SaveEvent {
    writer.wait_event(PATIENCE).expect("every line gets an answer")
}

fn saved(id: &str) -> SaveEvent {
    SaveEvent::Saved { id: id.to_owned() }
}

fn assert_failed(event: &SaveEvent, expected: &str) {
    match event {
        SaveEvent::SaveFailed { id, .. } => assert_eq!(id, expected),
        SaveEvent::Saved { .. } => panic!("{event:?} but {expected} cannot have been saved"),
    }
}

#[test]
fn a_line_is_written_in_one_piece_then_synced_then_called_saved() {
    let disk = Disk::default();
    let mut log = Log::resume(disk.clone(), true);
    let mut expected = Vec::new();
    for line in cars(3) {
        let saved = log.append(&line).unwrap();
        disk.note(Happened::Saved(saved.id));
        let sealed = line.seal().unwrap();
        expected.push(Happened::Wrote(sealed.bytes().to_vec()));
        expected.push(Happened::Synced);
        expected.push(Happened::Saved(sealed.id().to_owned()));
    }
    assert_eq!(disk.diary(), expected);
}

/// A sink whose sync says that it began and then waits to be let through.
struct Gate {
    began: Sender<()>,
    let_through: Receiver<()>,
}

impl Write for Gate {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        Ok(bytes.len())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Sink for Gate {
    fn sync(&mut self) -> io::Result<()> {
        self.began.send(()).map_err(io::Error::other)?;
        self.let_through.recv().map_err(io::Error::other)
    }
}

#[test]
fn nothing_is_called_saved_while_the_disk_is_still_at_work() {
    let (began, has_begun) = channel();
    let (open, let_through) = channel();
    let gate = Gate { began, let_through };
    let mut writer = Writer::start(Log::resume(gate, true)).unwrap();
    for line in cars(2) {
        let id = writer.submit(line).unwrap();
        has_begun.recv_timeout(PATIENCE).expect("the line was written and its sync began");
        assert_eq!(writer.wait_event(Duration::from_millis(30)), None);
        open.send(()).unwrap();
        assert_eq!(wait(&mut writer), saved(&id));
    }
}

#[test]
fn a_write_that_fails_after_any_number_of_bytes_is_made_good() {
    let lines = cars(3);
    let length = lines[1].seal().unwrap().bytes().len();
    for room in 0..=length {
        let plan = if room == length { Plan::FailSync } else { Plan::FailAfter(room) };
        let disk = Disk::with_plans([plan]);
        let mut log = Log::resume(disk.clone(), true);
        log.append(&lines[1]).unwrap_err();
        log.append(&lines[1]).unwrap();
        log.append(&lines[2]).unwrap();
        let [first, second] = [1, 2].map(|index| lines[index].seal().unwrap());
        let expected = [&first.bytes()[..room], b"\n", first.bytes(), second.bytes()].concat();
        assert_eq!(disk.bytes(), expected, "each attempt begins a line, after {room} bytes");
        let loaded = load(&disk.bytes()[..]).unwrap();
        assert_eq!(ids(&loaded.cars), ["c1", "c2"], "after {room} bytes");
        // A line that was whole but for its newline, or not confirmed, is there twice.
        assert_eq!(loaded.repeated_count, usize::from(room >= length - 1), "after {room} bytes");
        let torn = room > 0 && room < length - 1;
        assert_eq!(loaded.damaged_count, usize::from(torn), "after {room} bytes");
    }
}

fn ids(cars: &[lastamber::history::CarLine]) -> Vec<&str> {
    cars.iter().map(|car| car.id.as_str()).collect()
}

#[test]
fn a_failed_line_is_kept_retried_on_request_and_nothing_overtakes_it() {
    let disk =
        Disk::with_plans([Plan::Work, Plan::FailAfter(9), Plan::FailSync, Plan::FailAfter(0)]);
    let mut writer = Writer::start(Log::resume(disk.clone(), true)).unwrap();
    let lines = cars(4);
    writer.submit(lines[0].clone()).unwrap();
    // As a window asks, which waits for nobody.
    let began = Instant::now();
    let first = loop {
        assert!(began.elapsed() < PATIENCE, "no answer");
        match writer.try_event() {
            Some(event) => break event,
            None => thread::sleep(Duration::from_millis(1)),
        }
    };
    assert_eq!(first, saved("c0"));
    writer.submit(lines[1].clone()).unwrap();
    assert_failed(&wait(&mut writer), "c1");
    // The next one tries the failed one first; both are told that it failed again.
    writer.submit(lines[2].clone()).unwrap();
    assert_failed(&wait(&mut writer), "c1");
    assert_failed(&wait(&mut writer), "c2");
    writer.retry().unwrap();
    assert_failed(&wait(&mut writer), "c1");
    assert_failed(&wait(&mut writer), "c2");
    writer.submit(lines[3].clone()).unwrap();
    let answers: Vec<SaveEvent> = (0..3).map(|_| wait(&mut writer)).collect();
    assert_eq!(answers, ["c1", "c2", "c3"].map(saved));
    assert_eq!(writer.try_event(), None);

    let loaded = load(&disk.bytes()[..]).unwrap();
    assert_eq!(ids(&loaded.cars), ["c0", "c1", "c2", "c3"]);
    assert_eq!((loaded.repeated_count, loaded.torn_tail), (1, false));
}

#[test]
fn finishing_tries_once_more_and_hands_back_what_cannot_be_saved() {
    // Fails when handed in, works at the end.
    let disk = Disk::with_plans([Plan::FailSync]);
    let writer = Writer::start(Log::resume(disk.clone(), true)).unwrap();
    writer.submit(cars(1).remove(0)).unwrap();
    let finished = writer.finish();
    assert_eq!(finished.events.last(), Some(&saved("c0")));
    assert!(finished.unsaved.is_empty());

    // Never works.
    let disk = Disk::with_plans([Plan::FailAfter(0); 10]);
    let writer = Writer::start(Log::resume(disk, true)).unwrap();
    let lines = cars(2);
    lines.iter().for_each(|line| drop(writer.submit(line.clone()).unwrap()));
    let finished = writer.finish();
    let expected: Vec<_> = lines.iter().map(|line| line.seal().unwrap()).collect();
    assert_eq!(finished.unsaved, expected);
    assert_failed(finished.events.last().unwrap(), "c1");
}

#[test]
fn dropping_the_writer_writes_everything_handed_in() {
    let disk = Disk::default();
    let writer = Writer::start(Log::resume(disk.clone(), true)).unwrap();
    let runs = support::some_runs(50);
    runs.iter().for_each(|run| drop(writer.submit(run.clone()).unwrap()));
    drop(writer);
    assert_eq!(load(&disk.bytes()[..]).unwrap().trials, runs);
}

#[test]
fn a_folder_is_made_on_first_use_and_keeps_what_was_saved() {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("a/b");
    assert_eq!(load_without_lock(&path).unwrap().trials, []);
    let runs = support::some_runs(3);
    for run in &runs {
        let folder = DataFolder::open(&path).unwrap();
        let writer = Writer::start(folder.open_log().unwrap()).unwrap();
        writer.submit(run.clone()).unwrap();
        assert_eq!(writer.finish().events, [saved(&run.id.to_string())]);
    }
    assert_eq!(DataFolder::open(&path).unwrap().load().unwrap().trials, runs);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o700);
    }
}

#[test]
fn a_second_program_is_refused_while_the_first_lives() {
    let place = tempfile::tempdir().unwrap();
    let first = DataFolder::open(place.path()).unwrap();
    let refused = DataFolder::open(place.path()).unwrap_err();
    assert!(matches!(&refused, HistoryError::InUse { path } if path == place.path()));
    let text = refused.to_string();
    assert!(
        text.contains(&place.path().display().to_string()) && text.contains("--data"),
        "{text}"
    );
    assert!(text.lines().count() <= 2);
    drop(first);
    DataFolder::open(place.path()).unwrap();
}

#[test]
fn the_lock_outlives_the_folder_until_the_last_line_is_down() {
    let place = tempfile::tempdir().unwrap();
    let folder = DataFolder::open(place.path()).unwrap();
    let writer = Writer::start(folder.open_log().unwrap()).unwrap();
    drop(folder);
    assert!(matches!(DataFolder::open(place.path()), Err(HistoryError::InUse { .. })));
    drop(writer);
    DataFolder::open(place.path()).unwrap();
}

#[test]
fn a_lock_file_left_behind_blocks_nobody() {
    let place = tempfile::tempdir().unwrap();
    fs::write(place.path().join("lock"), "12345\n").unwrap();
    DataFolder::open(place.path()).unwrap();
}

#[test]
fn a_folder_that_cannot_be_used_is_named_with_a_cure() {
    let place = tempfile::tempdir().unwrap();
    let file = place.path().join("file");
    fs::write(&file, "").unwrap();
    for path in [file.clone(), file.join("below")] {
        assert_clear(DataFolder::open(&path).unwrap_err(), &path);
    }
    let taken = place.path().join("taken");
    fs::create_dir_all(taken.join("lock")).unwrap();
    assert_clear(DataFolder::open(&taken).unwrap_err(), &taken.join("lock"));
    fs::remove_dir(taken.join("lock")).unwrap();
    fs::create_dir_all(taken.join("history.jsonl")).unwrap();
    let error = DataFolder::open(&taken).unwrap().open_log().unwrap_err();
    assert_clear(error, &taken.join("history.jsonl"));
}

fn assert_clear(error: HistoryError, path: &Path) {
    let text = error.to_string();
    assert!(text.contains(&path.display().to_string()), "{text}");
    assert!(text.contains("--data DIR") && text.lines().count() <= 2, "{text}");
}

#[test]
fn a_writer_can_be_shared_between_threads() {
    let disk = Disk::default();
    let writer = Writer::start(Log::resume(disk.clone(), true)).unwrap();
    thread::scope(|scope| {
        for line in cars(4) {
            scope.spawn(|| writer.submit(line).unwrap());
        }
    });
    assert!(writer.finish().unsaved.is_empty());
    assert_eq!(load(&disk.bytes()[..]).unwrap().cars.len(), 4);
}
