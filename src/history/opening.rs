//! A history file opened the shortest way.
//!
//! Owns the order: what a digest has of it, then the rest, line by line, and for who holds the folder a new
//! digest where the rest was long. Refuses any answer but the one of reading the file from end to end.

use std::fs::File;
use std::io::{BufReader, Seek, SeekFrom};
use std::path::Path;
use std::thread;

use super::digest::{self, Covered};
use super::error::HistoryError;
use super::folder::open_plain;
use super::load::{Loaded, Loading};
use super::parts::{LEAST_PART, READ_AT_ONCE, Rest, Threads, cuts, load_parts};
use super::quick::QuickRuns;
use super::read::Reader;
use super::summed::Summed;
use crate::progress::Progress;

/// A digest is made for so many lines that it does not have yet. Chosen: they are read in a tenth of a second.
const LEAST_LINES: u64 = 20_000;
/// And for one in so many of those it has: writing it anew takes as long as reading about a tenth of them.
const LEAST_SHARE: u64 = 32;

/// How a history is opened.
#[derive(Debug, Clone, Copy)]
pub(super) struct Opening {
    /// Threads at once.
    pub threads: usize,
    /// Whether the folder is held, so that nobody else writes to it.
    pub held: bool,
    /// Lines without a digest for which one is made.
    pub least_lines: u64,
}

/// What is read by now.
struct Opened {
    loading: Loading,
    covered: Covered,
    /// A digest of some of it was there.
    had_digest: bool,
    torn_tail: bool,
}

impl Opening {
    /// With every processor there is.
    pub fn all_processors() -> Self {
        let threads = thread::available_parallelism().map_or(1, usize::from);
        Self { threads, held: false, least_lines: LEAST_LINES }
    }

    /// With one, as beside a start line.
    pub fn one_processor() -> Self {
        Self { threads: 1, ..Self::all_processors() }
    }

    /// By who holds the folder.
    pub fn held(self) -> Self {
        Self { held: true, ..self }
    }

    /// Reads a whole history from its file, telling how far it is.
    ///
    /// # Errors
    /// [`HistoryError::Open`], [`HistoryError::Read`], [`HistoryError::Cancelled`].
    pub fn load(self, path: &Path, progress: &Progress) -> Result<Loaded, HistoryError> {
        let mut file = open_plain(path)?;
        let length = file.metadata().map_or(0, |facts| facts.len());
        let begin = || progress.begin("reading the history", length);
        begin();
        let mut opened = Opened {
            loading: Loading::default(),
            covered: Covered::default(),
            had_digest: false,
            torn_tail: false,
        };
        if let Some((loading, covered)) = digest::read(path, self.threads, progress) {
            opened = Opened { loading, covered, had_digest: true, torn_tail: false };
        } else {
            progress.go_on()?;
            begin();
        }
        self.read_rest(path, &mut file, length, &mut opened, progress)?;
        Ok(opened.loading.finish(opened.torn_tail))
    }

    /// Reads what stands behind the covered bytes.
    fn read_rest(
        self,
        path: &Path,
        file: &mut File,
        length: u64,
        opened: &mut Opened,
        progress: &Progress,
    ) -> Result<(), HistoryError> {
        let start = opened.covered.bytes();
        let lines_before = opened.covered.lines;
        let parts = length.saturating_sub(start) / LEAST_PART;
        let rest = if parts < 2 || self.threads < 2 {
            let from = Summed::new(file, self.held);
            read_straight(path, from, (lines_before, start), &mut opened.loading, progress)?
        } else {
            let cuts = cuts(path, file, start..length, parts)?;
            let threads = Threads { count: self.threads, sums: self.held };
            load_parts(path, &cuts, threads, lines_before, &mut opened.loading, progress)?
        };
        opened.torn_tail = rest.torn_tail;
        if self.held {
            let least = self.least_lines.max(lines_before / LEAST_SHARE);
            let is_long = rest.lines >= least && rest.ends_in_newline;
            opened.covered.blocks.extend(rest.blocks);
            opened.covered.lines += rest.lines;
            let written = is_long && digest::write(path, &opened.loading, &opened.covered);
            if !written && !opened.had_digest {
                digest::remove(path);
            }
        }
        Ok(())
    }
}

/// Reads on in one go from a place in the file.
fn read_straight(
    path: &Path,
    mut from: Summed<&mut File>,
    (lines_before, start): (u64, u64),
    loading: &mut Loading,
    progress: &Progress,
) -> Result<Rest, HistoryError> {
    let unread = |error: HistoryError| error.further_on(start).of_file(path);
    let there = from.get_mut().seek(SeekFrom::Start(start));
    there.map_err(|source| unread(HistoryError::Read { path: None, at_byte: 0, source }))?;
    let mut quick = QuickRuns::default();
    let mut reader = Reader::new(BufReader::with_capacity(READ_AT_ONCE, &mut from));
    while let Some(entry) = reader.next_entry(|value| quick.read(value)).map_err(unread)? {
        progress.reach(start + reader.offset())?;
        loading.take(entry.moved(lines_before, start));
    }
    let (lines, torn_tail) = (reader.lines(), reader.torn_tail());
    let (block, ends_in_newline) = from.finish();
    Ok(Rest { lines, torn_tail, ends_in_newline, blocks: vec![block] })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_opens_says_with_how_many_processors_and_whether_the_folder_is_held() {
        assert_eq!(Opening::one_processor().threads, 1);
        let all = thread::available_parallelism().map_or(1, usize::from);
        let held = Opening::all_processors().held();
        assert_eq!((held.threads, held.held, held.least_lines), (all, true, LEAST_LINES));
        assert!(!Opening::all_processors().held && !Opening::one_processor().held);
    }
}
