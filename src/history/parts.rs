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

use super::digest::Block;
use super::error::HistoryError;
use super::folder::open_plain;
use super::load::{Loading, MAX_REPORTED};
use super::quick::QuickRuns;
use super::read::{Entry, Found, Reader};
use super::summed::Summed;
use crate::progress::Progress;
use crate::trial::TrialRecord;

/// No part is shorter, bytes. Chosen: reading it takes some milliseconds, many times a thread's start, and
/// the parts that wait for their turn take little memory.
pub(super) const LEAST_PART: u64 = 2 << 20;
/// Bytes read from the disk at a time.
pub(super) const READ_AT_ONCE: usize = 256 << 10;

/// What one part holds.
struct Part {
    entries: Vec<Entry<TrialRecord>>,
    /// Damaged places beyond those that are listed.
    more_damaged: usize,
    lines: u64,
    torn_tail: bool,
    block: Block,
    ends_in_newline: bool,
}

/// What the parts come to.
#[derive(Debug, Default)]
pub(super) struct Rest {
    pub lines: u64,
    pub torn_tail: bool,
    /// Bytes of each part, and their sum where it was wanted.
    pub blocks: Vec<Block>,
    pub ends_in_newline: bool,
}

/// Who reads.
#[derive(Debug, Clone, Copy)]
pub(super) struct Threads {
    pub count: usize,
    /// Whether checksums of whole parts are wanted.
    pub sums: bool,
}

/// A part with its number, or why it could not be read.
type Sent = (usize, Result<Part, HistoryError>);

/// Puts parts of a file together that are cut behind line ends, behind what `loading` has of it; the last one
/// reaches to the file's end.
///
/// # Errors
/// [`HistoryError::Open`], [`HistoryError::Read`], [`HistoryError::Cancelled`].
pub(super) fn load_parts(
    path: &Path,
    cuts: &[Range<u64>],
    threads: Threads,
    lines_before: u64,
    loading: &mut Loading,
    progress: &Progress,
) -> Result<Rest, HistoryError> {
    let (next, ended) = (AtomicUsize::new(0), AtomicBool::new(false));
    let (out, parts) = mpsc::sync_channel::<Sent>(threads.count);
    thread::scope(|scope| {
        for _ in 0..threads.count.min(cuts.len()) {
            let out = out.clone();
            scope.spawn(|| read_parts(path, cuts, threads.sums, &next, &ended, out));
        }
        drop(out);
        let rest = put_together(parts, cuts, lines_before, loading, progress);
        // Who still reads need not go on after a failure.
        ended.store(true, Ordering::Relaxed);
        rest
    })
}

/// Reads one part after the other until there are no more.
fn read_parts(
    path: &Path,
    cuts: &[Range<u64>],
    sums: bool,
    next: &AtomicUsize,
    ended: &AtomicBool,
    out: SyncSender<Sent>,
) {
    let mut quick = QuickRuns::default();
    while !ended.load(Ordering::Relaxed) {
        let number = next.fetch_add(1, Ordering::Relaxed);
        let Some(range) = cuts.get(number) else { return };
        if out.send((number, Part::read(path, range.clone(), sums, &mut quick))).is_err() {
            return;
        }
    }
}

/// Takes parts that come in any order.
fn put_together(
    parts: mpsc::Receiver<Sent>,
    cuts: &[Range<u64>],
    lines_before: u64,
    loading: &mut Loading,
    progress: &Progress,
) -> Result<Rest, HistoryError> {
    let (mut waiting, mut rest, mut turn) = (BTreeMap::new(), Rest::default(), 0);
    for (number, part) in parts {
        waiting.insert(number, part?);
        while let Some(part) = waiting.remove(&turn) {
            progress.reach(cuts[turn].start)?;
            for entry in part.entries {
                loading.take(entry.moved(lines_before + rest.lines, cuts[turn].start));
            }
            loading.take_more_damaged(part.more_damaged);
            rest.lines += part.lines;
            rest.torn_tail = part.torn_tail;
            rest.blocks.push(part.block);
            rest.ends_in_newline = part.ends_in_newline;
            turn += 1;
        }
    }
    Ok(rest)
}

impl Part {
    fn read(
        path: &Path,
        Range { start, end }: Range<u64>,
        sums: bool,
        quick: &mut QuickRuns,
    ) -> Result<Self, HistoryError> {
        let mut file = open_plain(path)?;
        file.seek(SeekFrom::Start(start)).map_err(|source| unread(path, start, source))?;
        let mut from = Summed::new(file.take(end - start), sums);
        let mut reader = Reader::new(BufReader::with_capacity(READ_AT_ONCE, &mut from));
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
        let (lines, torn_tail) = (reader.lines(), reader.torn_tail());
        let (block, ends_in_newline) = from.finish();
        Ok(Self { entries, more_damaged, lines, torn_tail, block, ends_in_newline })
    }
}

fn unread(path: &Path, at_byte: u64, source: io::Error) -> HistoryError {
    HistoryError::Read { path: Some(path.to_owned()), at_byte, source }
}

/// So many parts of a range of about the same length, each but the first beginning behind a line end.
///
/// # Errors
/// [`HistoryError::Read`].
pub(super) fn cuts(
    path: &Path,
    file: &mut File,
    Range { start: from, end: length }: Range<u64>,
    parts: u64,
) -> Result<Vec<Range<u64>>, HistoryError> {
    let mut starts = vec![from];
    for part in 1..parts {
        let about = from + part * ((length - from) / parts);
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
    use super::super::load::{Loaded, load};
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

    fn in_parts(path: &Path, cuts: &[Range<u64>], threads: Threads) -> (Loaded, Rest) {
        let mut loading = Loading::default();
        let progress = Progress::default();
        let rest = load_parts(path, cuts, threads, 0, &mut loading, &progress).unwrap();
        (loading.finish(rest.torn_tail), rest)
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
            let cuts = cuts(&path, &mut file, 0..bytes.len() as u64, parts).unwrap();
            assert!(cuts.len() as u64 <= parts && cuts.last().unwrap().end == u64::MAX);
            for count in 1..4 {
                let (loaded, rest) = in_parts(&path, &cuts, Threads { count, sums: true });
                assert_eq!(loaded, whole, "{count} {cuts:?}");
                for (block, cut) in rest.blocks.iter().zip(&cuts) {
                    let part = &bytes[cut.start as usize..][..block.bytes as usize];
                    assert_eq!(block.sum, crc32fast::hash(part));
                }
                let summed: u64 = rest.blocks.iter().map(|block| block.bytes).sum();
                assert_eq!((summed, rest.ends_in_newline), (bytes.len() as u64, false));
            }
        }
    }

    #[test]
    fn parts_are_about_equal_begin_behind_line_ends_and_are_never_empty() {
        let bytes = damaged();
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("history.jsonl");
        std::fs::write(&path, &bytes).unwrap();
        let mut file = File::open(&path).unwrap();
        let length = bytes.len() as u64;
        let longest = bytes.split(|byte| *byte == b'\n').map(<[u8]>::len).max().unwrap() as u64;
        for from in [0, 5_000] {
            for part in cuts(&path, &mut file, from..length, 6).unwrap() {
                let end = part.end.min(length);
                assert!(end - part.start <= (length - from) / 6 + longest + 1, "{part:?}");
            }
        }
        // Far more than there are lines.
        let cuts = cuts(&path, &mut file, 0..length, length / 3).unwrap();
        for (one, next) in cuts.iter().zip(&cuts[1..]) {
            assert!(one.start < next.start && one.end == next.start, "{one:?} {next:?}");
            assert_eq!(bytes[next.start as usize - 1], b'\n');
        }
        assert!(cuts.last().unwrap().start < length);
        let (loaded, _) = in_parts(&path, &cuts, Threads { count: 2, sums: false });
        assert_eq!(loaded, load(&bytes[..]).unwrap());
    }

    #[test]
    fn a_cut_in_a_long_line_is_made_behind_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("history.jsonl");
        std::fs::write(&path, [&[b'x'; 50_000][..], b"\nlast\n"].concat()).unwrap();
        let mut file = File::open(&path).unwrap();
        let cuts = cuts(&path, &mut file, 0..50_006, 2).unwrap();
        assert_eq!(cuts, [0..50_001, 50_001..u64::MAX]);
    }

    #[test]
    fn a_part_keeps_only_so_many_damaged_lines_in_memory() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("history.jsonl");
        std::fs::write(&path, b"x\n".repeat(MAX_REPORTED + 7)).unwrap();
        let part = Part::read(&path, 0..u64::MAX, false, &mut QuickRuns::default()).unwrap();
        assert_eq!((part.entries.len(), part.more_damaged), (MAX_REPORTED, 7));
    }

    #[test]
    fn damage_without_end_is_counted_whole_and_listed_in_part() {
        let bytes = b"x\n".repeat(5 * MAX_REPORTED);
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("history.jsonl");
        std::fs::write(&path, &bytes).unwrap();
        let mut file = File::open(&path).unwrap();
        let cuts = cuts(&path, &mut file, 0..bytes.len() as u64, 3).unwrap();
        let (loaded, rest) = in_parts(&path, &cuts, Threads { count: 2, sums: false });
        assert_eq!((cuts.len(), loaded), (3, load(&bytes[..]).unwrap()));
        assert!(rest.ends_in_newline && rest.lines == 5 * MAX_REPORTED as u64);
    }

    #[test]
    fn a_part_that_cannot_be_read_is_told_of_by_its_place_in_the_file() {
        let folder = tempfile::tempdir().unwrap();
        let read = Part::read(folder.path(), 5..9, true, &mut QuickRuns::default());
        let error = read.err().unwrap().to_string();
        let name = folder.path().display().to_string();
        assert!(error.contains(&name) && error.contains("after byte 5"), "{error}");
    }
}
