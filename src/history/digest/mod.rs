//! A digest of the beginning of a long history: what reading it gave, to be had again in a fraction of the
//! time.
//!
//! Owns the file `history.digest` beside the history, and when it is believed: only where every byte of the
//! history that it covers still has the checksum it had when it was read, and every byte of the digest its
//! own. Refuses to be the truth. It holds nothing that is not in the history, may be deleted at any time, and
//! whatever is wrong with it (not there, of another program, cut off, damaged, of other bytes, not to be read)
//! is the same as no digest, and said to nobody: the history is read as if there had never been one.
//!
//! It is written whole, beside the old one, and takes its name when it is complete; nobody waits for the disk
//! over it, because one that did not get there whole is not believed.

mod form;
mod frames;
mod runs;

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufReader, BufWriter, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::thread;

use self::frames::FrameReader;
use super::folder::open_plain;
use super::load::Loading;
use crate::progress::Progress;

pub(super) const DIGEST_FILE: &str = "history.digest";
const NEW_FILE: &str = "history.digest.new";
/// Bytes read from the disk at a time.
const READ_AT_ONCE: usize = 256 << 10;

/// Bytes of the history that follow one another, and their CRC-32 as they were read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Block {
    pub bytes: u64,
    pub sum: u32,
}

/// The beginning of a history, up to a line end.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Covered {
    pub blocks: Vec<Block>,
    /// Physical lines in it.
    pub lines: u64,
}

impl Covered {
    /// How many bytes it is.
    pub fn bytes(&self) -> u64 {
        self.blocks.iter().map(|block| block.bytes).sum()
    }
}

/// The history up to where its digest covers it, and how far that is; `None` if there is no digest to be
/// believed. Bytes that are compared are told to `progress`, and whoever is cancelled gets none.
pub(super) fn read(
    history: &Path,
    threads: usize,
    progress: &Progress,
) -> Option<(Loading, Covered)> {
    let file = open_plain(&beside(history, DIGEST_FILE)).ok()?;
    let length = file.metadata().ok()?.len();
    let mut frames = FrameReader::new(BufReader::with_capacity(READ_AT_ONCE, file));
    let head = form::read_head(&mut frames)?;
    let blocks = head.blocks.iter().map(|(bytes, sum)| Block { bytes: *bytes, sum: *sum });
    let covered = Covered { blocks: blocks.collect(), lines: head.lines };
    let bytes = covered.blocks.iter().try_fold(0_u64, |sum, block| sum.checked_add(block.bytes))?;
    if bytes > fs::metadata(history).ok()?.len() {
        return None;
    }
    let (next, differs) = (AtomicUsize::new(0), AtomicBool::new(false));
    let compare = || {
        if compare_blocks(history, &covered.blocks, &next, &differs, progress).is_none() {
            differs.store(true, Ordering::Relaxed);
        }
    };
    let is_same = || !differs.load(Ordering::Relaxed);
    let loading = thread::scope(|scope| {
        (1..threads).for_each(|_| _ = scope.spawn(compare));
        let loading = form::read(&mut frames, head, length, is_same);
        match loading {
            Some(_) => compare(),
            None => differs.store(true, Ordering::Relaxed),
        }
        loading
    })?;
    is_same().then_some((loading, covered))
}

/// Compares one block after the other until there are no more or one differs, also in another thread.
fn compare_blocks(
    history: &Path,
    blocks: &[Block],
    next: &AtomicUsize,
    differs: &AtomicBool,
    progress: &Progress,
) -> Option<()> {
    let mut file = open_plain(history).ok()?;
    let mut buffer = vec![0; READ_AT_ONCE];
    let (mut at, mut passed) = (0_u64, 0);
    while !differs.load(Ordering::Relaxed) {
        let number = next.fetch_add(1, Ordering::Relaxed);
        let Some(block) = blocks.get(number) else { return Some(()) };
        at += blocks[passed..number].iter().map(|block| block.bytes).sum::<u64>();
        passed = number;
        file.seek(SeekFrom::Start(at)).ok()?;
        if sum_of(&mut file, block.bytes, &mut buffer).ok()? != block.sum {
            return None;
        }
        progress.advance(block.bytes).ok()?;
    }
    Some(())
}

/// The CRC-32 of so many bytes.
fn sum_of(from: &mut impl Read, bytes: u64, buffer: &mut [u8]) -> io::Result<u32> {
    let mut hasher = crc32fast::Hasher::new();
    let mut left = bytes;
    while left > 0 {
        let some = usize::try_from(left).unwrap_or(usize::MAX).min(buffer.len());
        from.read_exact(&mut buffer[..some])?;
        hasher.update(&buffer[..some]);
        left -= some as u64;
    }
    Ok(hasher.finalize())
}

/// Writes what was read of the covered bytes, in place of an older digest, and says whether that went well.
/// Where it did not, an older one stays.
pub(super) fn write(history: &Path, loading: &Loading, covered: &Covered) -> bool {
    if !has_room(history, covered.bytes()) {
        return false;
    }
    let (path, new) = (beside(history, DIGEST_FILE), beside(history, NEW_FILE));
    let written = create(&new)
        .and_then(|file| {
            form::write(BufWriter::with_capacity(READ_AT_ONCE, file), loading, covered)
        })
        .and_then(|_| fs::rename(&new, &path));
    if written.is_err() {
        let _ = fs::remove_file(&new);
    }
    written.is_ok()
}

/// Whether the disk has room for as much again as the history takes, many times what a digest does: a run
/// must never go without room for it.
fn has_room(history: &Path, bytes: u64) -> bool {
    #[cfg(unix)]
    {
        let folder = history.parent().unwrap_or(Path::new("."));
        let told = rustix::fs::statvfs(folder);
        told.is_ok_and(|told| told.f_bavail.saturating_mul(told.f_frsize) >= bytes)
    }
    #[cfg(not(unix))]
    {
        let _ = (history, bytes);
        true
    }
}

/// Takes away a digest that is of no use.
pub(super) fn remove(history: &Path) {
    let _ = fs::remove_file(beside(history, DIGEST_FILE));
}

/// A file for the user alone.
fn create(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}

fn beside(history: &Path, name: &str) -> PathBuf {
    history.with_file_name(name)
}

#[cfg(test)]
mod tests;
