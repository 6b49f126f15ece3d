//! A folder of made-up lines, marked as such.
//!
//! Owns the mark (a file beside the history) and writing such a folder whole or not at all. Refuses to
//! write over lines that are not marked: they may be somebody's own.

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};

use super::error::HistoryError;
use super::exchange_out::{put_in_place, write_new};
use super::folder::{DataFolder, default_path};
use super::line::{Line, SealedLine};
use crate::progress::Progress;

/// The mark. Whatever stands in it, a folder with a file of this name is a demo.
pub const DEMO_FILE: &str = "DEMO";
const DEMO_FOLDER: &str = "demo";

/// Whether everything in a folder is made up; windows, reports and exports say so.
pub fn is_demo(folder: &Path) -> bool {
    folder.join(DEMO_FILE).exists()
}

/// Where the demo lies when no folder is named: `demo` in the usual data folder.
///
/// # Errors
/// [`HistoryError::NoHome`].
pub fn default_demo_path() -> Result<PathBuf, HistoryError> {
    Ok(default_path()?.join(DEMO_FOLDER))
}

/// Marks a folder whose lines come from a demo.
///
/// # Errors
/// [`HistoryError::Open`], [`HistoryError::Write`], [`HistoryError::Sync`].
pub fn mark_demo(folder: &Path) -> Result<(), HistoryError> {
    write_whole(&folder.join(DEMO_FILE), b"Everything in this folder is made up.\n")
}

/// Makes a folder a demo that holds these lines and no others. An earlier demo in it is replaced.
///
/// # Errors
/// [`HistoryError::NotADemo`] if the folder holds a history without the mark, and whatever can go
/// wrong with a folder, its lock and its files.
pub fn write_demo(path: &Path, seed: u64, lines: &[Line]) -> Result<(), HistoryError> {
    write_demo_with(path, seed, lines, &Progress::default())
}

/// The same, telling how many lines are written.
///
/// # Errors
/// As [`write_demo`], and [`HistoryError::Cancelled`]: what was there stays, to the byte.
pub fn write_demo_with(
    path: &Path,
    seed: u64,
    lines: &[Line],
    progress: &Progress,
) -> Result<(), HistoryError> {
    let folder = DataFolder::open(path)?;
    let history = folder.history_path();
    if history.exists() && !is_demo(path) {
        return Err(HistoryError::NotADemo { path: path.to_owned() });
    }
    progress.begin("writing the history", lines.len() as u64);
    let sealed = lines.iter().map(|line| line.seal().map(SealedLine::into_bytes));
    let new = write_new(path, sealed, progress)?;
    // The mark first: made-up lines are never without it.
    let words = format!("Everything in this folder is made up.\nseed {seed}\n");
    write_whole(&path.join(DEMO_FILE), words.as_bytes())?;
    put_in_place(&new, &history)
}

fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), HistoryError> {
    let mut file = File::create(path)
        .map_err(|source| HistoryError::Open { path: path.to_owned(), source })?;
    let path = || Some(path.to_owned());
    file.write_all(bytes).map_err(|source| HistoryError::Write { path: path(), source })?;
    file.sync_all().map_err(|source| HistoryError::Sync { path: path(), source })
}
