//! A long history file read in parts side by side.
//!
//! Owns where a file is cut, always behind a line end, and that the answer is the one of reading it in one
//! go. Refuses short files: they are read before a thread has begun. For whoever has the processor to
//! himself, never beside a start line.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom};
use std::ops::Range;
use std::path::Path;
use std::thread;

use super::error::HistoryError;
use super::folder::open_plain;
use super::load::{Loaded, Loading, MAX_REPORTED, load};
use super::read::{Found, Reader};

/// No part is shorter, bytes. Chosen: reading it takes some ten milliseconds, many times a thread's start.
const LEAST_PART: u64 = 4 << 20;
/// What is found before it is put together at one time takes memory; more parts than this bring little.
const MOST_PARTS: u64 = 8;

/// What one part holds.
struct Part {
    found: Vec<Found>,
    /// Damaged places beyond those that are listed.
    more_damaged: usize,
    lines: u64,
    torn_tail: bool,
}

/// Reads a whole history from its file with as many threads as there are processors.
///
/// # Errors
/// [`HistoryError::Open`], [`HistoryError::Read`].
pub(super) fn load_file(path: &Path) -> Result<Loaded, HistoryError> {
    let mut file = open_plain(path)?;
    let length = file.metadata().map_or(0, |facts| facts.len());
    let processors = thread::available_parallelism().map_or(1, |n| n.get() as u64);
    let parts = (length / LEAST_PART).min(processors).min(MOST_PARTS);
    if parts < 2 {
        return load(BufReader::new(file)).map_err(|e| e.of_file(path));
    }
    load_parts(path, &cuts(path, &mut file, length, parts)?)
}

/// Puts parts of a file together that are cut behind line ends; the last one reaches to the file's end.
fn load_parts(path: &Path, cuts: &[Range<u64>]) -> Result<Loaded, HistoryError> {
    let parts: Vec<Result<Part, HistoryError>> = thread::scope(|scope| {
        let read = |range: &Range<u64>| {
            let range = range.clone();
            scope.spawn(move || Part::read(path, range))
        };
        let reading: Vec<_> = cuts.iter().map(read).collect();
        let ended = reading.into_iter().map(|part| part.join());
        ended.map(|part| part.unwrap_or_else(|panic| std::panic::resume_unwind(panic))).collect()
    });
    let mut loading = Loading::default();
    let mut lines_before = 0;
    let mut torn_tail = false;
    for (part, range) in parts.into_iter().zip(cuts) {
        let part = part?;
        for found in part.found {
            loading.take(found.moved(lines_before, range.start));
        }
        loading.take_more_damaged(part.more_damaged);
        lines_before += part.lines;
        torn_tail = part.torn_tail;
    }
    Ok(loading.finish(torn_tail))
}

impl Part {
    fn read(path: &Path, Range { start, end }: Range<u64>) -> Result<Self, HistoryError> {
        let mut file = open_plain(path)?;
        let failed = |source| unread(path, start, source);
        file.seek(SeekFrom::Start(start)).map_err(failed)?;
        let mut reader = Reader::new(BufReader::new(file.take(end - start)));
        let (mut found, mut damaged) = (Vec::new(), 0_usize);
        while let Some(mut next) = reader.next_found().map_err(|e| e.of_file(path))? {
            next.forget_raw();
            let is_damaged = matches!(next, Found::Damaged(_));
            damaged += usize::from(is_damaged);
            if !is_damaged || damaged <= MAX_REPORTED {
                found.push(next);
            }
        }
        let more_damaged = damaged.saturating_sub(MAX_REPORTED);
        Ok(Self { found, more_damaged, lines: reader.lines(), torn_tail: reader.torn_tail() })
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
            assert_eq!(load_parts(&path, &cuts).unwrap(), whole, "{cuts:?}");
        }
        assert_eq!(load_file(&path).unwrap(), whole);
    }

    #[test]
    fn damage_without_end_is_counted_whole_and_listed_in_part() {
        let bytes = b"x\n".repeat(5 * MAX_REPORTED);
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("history.jsonl");
        std::fs::write(&path, &bytes).unwrap();
        let mut file = File::open(&path).unwrap();
        let cuts = cuts(&path, &mut file, bytes.len() as u64, 3).unwrap();
        assert_eq!((cuts.len(), load_parts(&path, &cuts).unwrap()), (3, load(&bytes[..]).unwrap()));
    }

    #[test]
    fn a_file_that_is_not_there_is_told_of_by_its_name() {
        let error = load_file(Path::new("/nowhere/history.jsonl")).unwrap_err();
        assert!(error.to_string().contains("/nowhere/history.jsonl"), "{error}");
    }
}
