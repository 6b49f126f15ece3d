//! A long history file read in parts side by side.
//!
//! Owns where a file is cut, always behind a line end, and that the answer is the one of reading it in one
//! go. Refuses short files: they are read before a thread has begun. For whoever has the processor to
//! himself, never beside a start line.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom};
use std::ops::Range;
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{self, SyncSender};
use std::thread;

use super::error::HistoryError;
use super::folder::open_plain;
use super::load::{Loaded, Loading, MAX_REPORTED, load_with};
use super::quick::QuickRuns;
use super::read::{Entry, Found, Reader};
use crate::progress::Progress;
use crate::trial::TrialRecord;

/// No part is shorter, bytes. Chosen: reading it takes some milliseconds, many times a thread's start, and
/// the parts that wait for their turn take little memory.
const LEAST_PART: u64 = 2 << 20;
/// Bytes read from the disk at a time.
const READ_AT_ONCE: usize = 256 << 10;

/// What one part holds.
struct Part {
    entries: Vec<Entry<TrialRecord>>,
    /// Damaged places beyond those that are listed.
    more_damaged: usize,
    lines: u64,
    torn_tail: bool,
}

/// A part with its number, or why it could not be read.
type Sent = (usize, Result<Part, HistoryError>);

/// Reads a whole history from its file with as many threads as there are processors, telling how far it is.
///
/// # Errors
/// [`HistoryError::Open`], [`HistoryError::Read`], [`HistoryError::Cancelled`].
pub(super) fn load_file(path: &Path, progress: &Progress) -> Result<Loaded, HistoryError> {
    let mut file = open_plain(path)?;
    let length = file.metadata().map_or(0, |facts| facts.len());
    progress.begin("reading the history", length);
    let processors = thread::available_parallelism().map_or(1, usize::from);
    let parts = length / LEAST_PART;
    if parts < 2 || processors < 2 {
        let from = BufReader::with_capacity(READ_AT_ONCE, file);
        return load_with(from, progress).map_err(|error| error.of_file(path));
    }
    load_parts(path, &cuts(path, &mut file, length, parts)?, processors, progress)
}

/// Puts parts of a file together that are cut behind line ends; the last one reaches to the file's end.
fn load_parts(
    path: &Path,
    cuts: &[Range<u64>],
    threads: usize,
    progress: &Progress,
) -> Result<Loaded, HistoryError> {
    let (next, ended) = (AtomicUsize::new(0), AtomicBool::new(false));
    let (out, parts) = mpsc::sync_channel::<Sent>(threads);
    thread::scope(|scope| {
        for _ in 0..threads.min(cuts.len()) {
            let out = out.clone();
            scope.spawn(|| read_parts(path, cuts, &next, &ended, out));
        }
        drop(out);
        let loaded = put_together(parts, cuts, progress);
        // Who still reads need not go on after a failure.
        ended.store(true, Ordering::Relaxed);
        loaded
    })
}

/// Reads one part after the other until there are no more.
fn read_parts(
    path: &Path,
    cuts: &[Range<u64>],
    next: &AtomicUsize,
    ended: &AtomicBool,
    out: SyncSender<Sent>,
) {
    let mut quick = QuickRuns::default();
    while !ended.load(Ordering::Relaxed) {
        let number = next.fetch_add(1, Ordering::Relaxed);
        let Some(range) = cuts.get(number) else { return };
        if out.send((number, Part::read(path, range.clone(), &mut quick))).is_err() {
            return;
        }
    }
}

/// The history of parts that come in any order.
fn put_together(
    parts: mpsc::Receiver<Sent>,
    cuts: &[Range<u64>],
    progress: &Progress,
) -> Result<Loaded, HistoryError> {
    let mut loading = Loading::default();
    let (mut waiting, mut lines_before, mut torn_tail) = (BTreeMap::new(), 0, false);
    let mut turn = 0;
    for (number, part) in parts {
        waiting.insert(number, part?);
        while let Some(part) = waiting.remove(&turn) {
            progress.reach(cuts[turn].start)?;
            for entry in part.entries {
                loading.take(entry.moved(lines_before, cuts[turn].start));
            }
            loading.take_more_damaged(part.more_damaged);
            lines_before += part.lines;
            torn_tail = part.torn_tail;
            turn += 1;
        }
    }
    Ok(loading.finish(torn_tail))
}

impl Part {
    fn read(
        path: &Path,
        Range { start, end }: Range<u64>,
        quick: &mut QuickRuns,
    ) -> Result<Self, HistoryError> {
        let mut file = open_plain(path)?;
        file.seek(SeekFrom::Start(start)).map_err(|source| unread(path, start, source))?;
        let from = BufReader::with_capacity(READ_AT_ONCE, file.take(end - start));
        let mut reader = Reader::new(from);
        let (mut entries, mut damaged) = (Vec::new(), 0_usize);
        while let Some(entry) = reader
            .next_entry(|value| quick.read(value))
            .map_err(|error| error.further_on(start).of_file(path))?
        {
            let is_damaged = matches!(entry, Entry::Found(Found::Damaged(_)));
            damaged += usize::from(is_damaged);
            if !is_damaged || damaged <= MAX_REPORTED {
                entries.push(entry.without_raw());
            }
        }
        let more_damaged = damaged.saturating_sub(MAX_REPORTED);
        Ok(Self { entries, more_damaged, lines: reader.lines(), torn_tail: reader.torn_tail() })
    }
}

fn unread(path: &Path, at_byte: u64, source: io::Error) -> HistoryError {
    HistoryError::Read { path: Some(path.to_owned()), at_byte, source }
}

/// So many parts of about the same length, each but the first beginning behind a line end.
fn cuts(
    path: &Path,
    file: &mut File,
    length: u64,
    parts: u64,
) -> Result<Vec<Range<u64>>, HistoryError> {
    let mut starts = vec![0];
    for part in 1..parts {
        let about = part * (length / parts);
        let start = behind_line_end(file, about);
        let start = start.map_err(|source| unread(path, about, source))?;
        if start < length && starts.last().is_some_and(|last| *last < start) {
            starts.push(start);
        }
    }
    // A line that is being appended belongs to the last part.
    let ends = starts.iter().skip(1).copied().chain([u64::MAX]);
    Ok(starts.iter().copied().zip(ends).map(|(start, end)| start..end).collect())
}

/// The first place at or after `about` that stands behind a line end.
fn behind_line_end(file: &mut File, about: u64) -> io::Result<u64> {
    file.seek(SeekFrom::Start(about))?;
    let mut from = BufReader::new(file);
    let mut at = about;
    loop {
        let chunk = from.fill_buf()?;
        if chunk.is_empty() {
            return Ok(at);
        }
        if let Some(place) = chunk.iter().position(|byte| *byte == b'\n') {
            return Ok(at + place as u64 + 1);
        }
        let used = chunk.len();
        at += used as u64;
        from.consume(used);
    }
}

#[cfg(test)]
mod tests {
    use super::super::load::load;
    use super::*;
    use crate::demo::demo_lines;

    /// A demo with a damaged line, a lost newline, a repeated line, blank lines and a torn tail.
    fn damaged() -> Vec<u8> {
        let mut bytes = Vec::new();
        for (i, line) in demo_lines(3).unwrap().iter().take(60).enumerate() {
            let sealed = line.seal().unwrap();
            let mut one = sealed.bytes().to_vec();
            match i {
                7 | 31 => one[40] ^= 1,
                12 => _ = one.pop(),
                20 | 44 => one.extend_from_slice(b"\n  \n\n"),
                25 => one.extend_from_slice(sealed.bytes()),
                59 => one.truncate(100),
                _ => {}
            }
            bytes.extend_from_slice(&one);
        }
        bytes
    }

    #[test]
    fn wherever_a_file_is_cut_it_reads_as_in_one_go() {
        let bytes = damaged();
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("history.jsonl");
        std::fs::write(&path, &bytes).unwrap();
        let whole = load(&bytes[..]).unwrap();
        assert!(whole.damaged_count > 2 && whole.repeated_count == 1 && whole.torn_tail);
        let mut file = File::open(&path).unwrap();
        for parts in 1..40 {
            let cuts = cuts(&path, &mut file, bytes.len() as u64, parts).unwrap();
            assert!(cuts.len() as u64 <= parts && cuts.last().unwrap().end == u64::MAX);
            for threads in 1..4 {
                let loaded = load_parts(&path, &cuts, threads, &Progress::default()).unwrap();
                assert_eq!(loaded, whole, "{threads} {cuts:?}");
            }
        }
        assert_eq!(load_file(&path, &Progress::default()).unwrap(), whole);
    }

    #[test]
    fn damage_without_end_is_counted_whole_and_listed_in_part() {
        let bytes = b"x\n".repeat(5 * MAX_REPORTED);
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("history.jsonl");
        std::fs::write(&path, &bytes).unwrap();
        let mut file = File::open(&path).unwrap();
        let cuts = cuts(&path, &mut file, bytes.len() as u64, 3).unwrap();
        let loaded = load_parts(&path, &cuts, 2, &Progress::default()).unwrap();
        assert_eq!((cuts.len(), loaded), (3, load(&bytes[..]).unwrap()));
    }

    #[test]
    fn a_part_that_cannot_be_read_is_told_of_by_its_place_in_the_file() {
        let folder = tempfile::tempdir().unwrap();
        let read = Part::read(folder.path(), 5..9, &mut QuickRuns::default());
        let error = read.err().unwrap().to_string();
        let name = folder.path().display().to_string();
        assert!(error.contains(&name) && error.contains("after byte 5"), "{error}");
    }

    #[test]
    fn a_file_that_is_not_there_is_told_of_by_its_name() {
        let error =
            load_file(Path::new("/nowhere/history.jsonl"), &Progress::default()).unwrap_err();
        assert!(error.to_string().contains("/nowhere/history.jsonl"), "{error}");
    }
}
