//! A history on its way out: as an export, or as the history of a folder.
//!
//! Owns the writing of an export's two forms, line by line, and putting a union in a folder whole or not
//! at all. Refuses to throw away what was there: a file that is replaced stays beside the new one.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use super::envelope;
use super::error::HistoryError;
use super::exchange::{EXPORT_FORMAT, EXPORT_VERSION, WholeHistory};
use super::folder::{DataFolder, HISTORY_FILE};
use super::log::sync_folder_of;
use super::table::write_rows;
use crate::progress::Progress;

/// The history that takes the place of the one that is there, while it is written.
pub(super) const NEW_FILE: &str = "history.jsonl.new";

impl WholeHistory {
    /// The JSON export: every line a row of its own.
    pub fn to_json(&self, demo: bool) -> String {
        let nobody = Progress::default();
        in_memory(|out| self.write_json(demo, out, &nobody))
    }

    /// Writes the JSON export, telling how many lines are out.
    ///
    /// # Errors
    /// [`HistoryError::Write`], [`HistoryError::Cancelled`]: what is out by then is no export.
    pub fn write_json(
        &self,
        demo: bool,
        mut out: impl Write,
        progress: &Progress,
    ) -> Result<(), HistoryError> {
        progress.begin("writing the export", self.lines.len() as u64);
        let failed = |source| HistoryError::Write { path: None, source };
        let (format, version) = (EXPORT_FORMAT, EXPORT_VERSION);
        write!(out, "{{\"format\":\"{format}\",\"version\":{version},\"demo\":{demo},\"lines\":[")
            .map_err(failed)?;
        for (i, line) in self.lines.iter().enumerate() {
            progress.advance(1)?;
            let before = if i == 0 { "\n" } else { ",\n" };
            out.write_all(before.as_bytes()).map_err(failed)?;
            out.write_all(line.json().as_bytes()).map_err(failed)?;
        }
        let last = if self.lines.is_empty() { "]}\n" } else { "\n]}\n" };
        out.write_all(last.as_bytes()).and_then(|()| out.flush()).map_err(failed)
    }

    /// The CSV export: a row for every line, the line itself in its last column.
    pub fn to_csv(&self, demo: bool) -> String {
        let nobody = Progress::default();
        in_memory(|out| self.write_csv(demo, out, &nobody))
    }

    /// Writes the CSV export, telling how many lines are out.
    ///
    /// # Errors
    /// As [`WholeHistory::write_json`].
    pub fn write_csv(
        &self,
        demo: bool,
        out: impl Write,
        progress: &Progress,
    ) -> Result<(), HistoryError> {
        progress.begin("writing the export", self.lines.len() as u64);
        write_rows(&self.lines, demo, out, progress)
    }

    /// Puts these lines, and no others, in a folder that is held. The file that was there stays beside
    /// it under the name that is given back.
    ///
    /// # Errors
    /// [`HistoryError::Open`], [`HistoryError::Write`], [`HistoryError::Sync`] and
    /// [`HistoryError::Cancelled`]: then the old file is still in force, to the byte.
    pub fn replace(
        &self,
        folder: &DataFolder,
        progress: &Progress,
    ) -> Result<Option<PathBuf>, HistoryError> {
        let history = folder.history_path();
        progress.begin("writing the history", self.lines.len() as u64);
        let lines = self.lines.iter().map(|line| Ok(envelope::seal(&line.json())));
        let new = write_new(folder.path(), lines, progress)?;
        let kept = match history.exists() {
            true => {
                let kept = free_name(folder.path());
                keep_under(&history, &kept)
                    .map_err(|source| HistoryError::Write { path: Some(kept.clone()), source })?;
                Some(kept)
            }
            false => None,
        };
        put_in_place(&new, &history)?;
        Ok(kept)
    }
}

fn in_memory(write: impl FnOnce(&mut Vec<u8>) -> Result<(), HistoryError>) -> String {
    let mut bytes = Vec::new();
    write(&mut bytes).expect("memory takes every line, and nobody cancels");
    String::from_utf8(bytes).expect("every line is text")
}

/// Writes sealed lines beside the history and gives the file's name, once all of it is on the disk.
/// Nothing is left of one that could not be finished.
pub(super) fn write_new(
    folder: &Path,
    lines: impl Iterator<Item = Result<Vec<u8>, HistoryError>>,
    progress: &Progress,
) -> Result<PathBuf, HistoryError> {
    let path = folder.join(NEW_FILE);
    let file =
        File::create(&path).map_err(|source| HistoryError::Open { path: path.clone(), source })?;
    let written = write_all(&file, &path, lines, progress);
    if written.is_err() {
        // Left behind it would only be written over the next time.
        let _ = fs::remove_file(&path);
    }
    written.map(|()| path)
}

fn write_all(
    file: &File,
    path: &Path,
    lines: impl Iterator<Item = Result<Vec<u8>, HistoryError>>,
    progress: &Progress,
) -> Result<(), HistoryError> {
    let path = || Some(path.to_owned());
    let failed = |source: io::Error| HistoryError::Write { path: path(), source };
    let mut out = BufWriter::with_capacity(1 << 16, file);
    for line in lines {
        progress.advance(1)?;
        out.write_all(&line?).map_err(failed)?;
    }
    out.flush().map_err(failed)?;
    file.sync_all().map_err(|source| HistoryError::Sync { path: path(), source })?;
    // The last moment to think better of it.
    Ok(progress.go_on()?)
}

/// A second name for a file, or a copy of it where the system knows no such names: at no moment is there
/// no history.
fn keep_under(history: &Path, kept: &Path) -> io::Result<()> {
    fs::hard_link(history, kept).or_else(|_| {
        fs::copy(history, kept)?;
        File::open(kept)?.sync_all()
    })
}

/// Gives a finished file the name of the history, and makes the name durable.
pub(super) fn put_in_place(new: &Path, history: &Path) -> Result<(), HistoryError> {
    fs::rename(new, history)
        .map_err(|source| HistoryError::Write { path: Some(history.to_owned()), source })?;
    sync_folder_of(history);
    Ok(())
}

/// Where an old file may stay.
fn free_name(folder: &Path) -> PathBuf {
    let names = (1..).map(|n| folder.join(format!("{HISTORY_FILE}.old-{n}")));
    names.into_iter().find(|name| !name.exists()).expect("numbers do not end")
}
