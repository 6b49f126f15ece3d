//! A history on its way to other programs and other machines, and back.
//!
//! Owns the reading of a history and of an export's two forms (JSON, RFC 4180 CSV), and the union of
//! several histories. A line travels as its exact bytes, so that nothing is lost that this program does
//! not know. Refuses to drop a line: two lines with one id that differ are told of.
//!
//! The JSON export is one object: `format` is `lastamber-history`, `version` 1, `demo` whether
//! everything is made up, and `lines` the lines, ordered by id and so by time. Its schema is
//! `assets/history.schema.json`.

use std::io::BufRead;
use std::path::Path;

use serde::Deserialize;
use serde_json::value::RawValue;

use super::error::HistoryError;
use super::folder::{history_file, open_for_reading};
use super::load::MAX_REPORTED;
use super::quick::QuickRuns;
use super::read::{Damaged, Entry, Found, Reader};
use super::table::{Row, each_row};
use super::whole_line::WholeLine;
use crate::progress::Progress;

/// What the JSON export calls itself.
pub const EXPORT_FORMAT: &str = "lastamber-history";
/// The schema of the JSON export.
pub const EXPORT_SCHEMA: &str = include_str!("../../assets/history.schema.json");
pub(super) const EXPORT_VERSION: u64 = 1;

/// All lines of a history that can be read, once each, ordered by id.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct WholeHistory {
    /// The lines.
    pub lines: Vec<WholeLine>,
    /// What was set aside, the first [`MAX_REPORTED`] places.
    pub damaged: Vec<Damaged>,
    /// How many places were set aside.
    pub damaged_count: usize,
    /// Lines that repeat one before them exactly.
    pub repeated: usize,
    /// Lines whose id is taken by another that differs: those that were not kept.
    pub contrary: Vec<WholeLine>,
    /// Lines of a kind or version this program does not know.
    pub newer: usize,
}

#[derive(Deserialize)]
struct Export<'a> {
    format: String,
    version: u64,
    demo: bool,
    #[serde(borrow)]
    lines: Vec<&'a RawValue>,
}

impl WholeHistory {
    /// Reads a history file.
    ///
    /// # Errors
    /// [`HistoryError::Read`].
    pub fn read(from: impl BufRead) -> Result<Self, HistoryError> {
        Self::read_with(from, &Progress::default())
    }

    /// The same, telling after every line how many bytes are read.
    ///
    /// # Errors
    /// As [`WholeHistory::read`], and [`HistoryError::Cancelled`].
    pub fn read_with(from: impl BufRead, progress: &Progress) -> Result<Self, HistoryError> {
        let mut history = Self::default();
        let mut lines = Vec::new();
        let (mut reader, mut quick) = (Reader::new(from), QuickRuns::default());
        while let Some(entry) = reader.next_entry(|json| WholeLine::of_run(json, &mut quick))? {
            progress.reach(reader.offset())?;
            match entry {
                Entry::Quick { value, .. } => lines.push(value),
                Entry::Found(Found::Line { line, raw, .. }) => {
                    lines.push(WholeLine::of_line(&line, &raw));
                }
                Entry::Found(Found::Newer { kind, raw, .. }) => {
                    history.newer += 1;
                    lines.push(WholeLine::of_newer(&kind, &raw));
                }
                Entry::Found(Found::Damaged(damaged)) => {
                    history.damaged_count += 1;
                    if history.damaged.len() < MAX_REPORTED {
                        history.damaged.push(damaged);
                    }
                }
            }
        }
        history.add(lines);
        Ok(history)
    }

    /// Reads a folder's history without holding it, telling how far it is; a folder that is not there is
    /// empty.
    ///
    /// # Errors
    /// [`HistoryError::Open`], [`HistoryError::Read`], [`HistoryError::Cancelled`].
    pub fn of_folder_with(folder: &Path, progress: &Progress) -> Result<Self, HistoryError> {
        match open_for_reading(folder, progress)? {
            Some(file) => {
                Self::read_with(file, progress).map_err(|e| e.of_file(&history_file(folder)))
            }
            None => Ok(Self::default()),
        }
    }

    /// Reads an export, JSON or CSV, and says whether it is of a demo.
    ///
    /// # Errors
    /// [`HistoryError::Import`] with the place and what is wrong there; then nothing was taken.
    pub fn of_export(bytes: &[u8]) -> Result<(Self, bool), HistoryError> {
        Self::of_export_with(bytes, &Progress::default())
    }

    /// The same, telling how far it is.
    ///
    /// # Errors
    /// As [`WholeHistory::of_export`], and [`HistoryError::Cancelled`].
    pub fn of_export_with(bytes: &[u8], progress: &Progress) -> Result<(Self, bool), HistoryError> {
        progress.begin("reading the export", 0);
        let text = std::str::from_utf8(bytes).map_err(|error| HistoryError::Import {
            place: format!("byte {}", error.valid_up_to()),
            why: "not UTF-8, so no export; `lastamber history export` writes one".to_owned(),
        })?;
        let text = text.trim_start_matches('\u{feff}');
        let mut lines = Vec::new();
        let demo = match text.trim_start().starts_with('{') {
            true => of_json_export(text, progress, &mut lines)?,
            false => of_csv_export(text, progress, &mut lines)?,
        };
        Ok((Self::of_lines(lines), demo))
    }

    /// The history of lines in any order.
    pub(super) fn of_lines(lines: Vec<WholeLine>) -> Self {
        let mut history = Self::default();
        history.add(lines);
        history
    }

    /// Takes lines in; the first of an id stays. Gives how many were new.
    pub fn add(&mut self, lines: impl IntoIterator<Item = WholeLine>) -> usize {
        let before = self.lines.len();
        let mut all = std::mem::take(&mut self.lines);
        all.extend(lines);
        // Stable: of two lines with one id the one that was there first comes first.
        all.sort_by(WholeLine::in_order);
        let nameless = all.partition_point(WholeLine::is_nameless);
        // Lines of the future may have no id: only equal ones are the same.
        all[..nameless].sort();
        for line in all {
            match self.lines.last() {
                Some(last) if *last == line => self.repeated += 1,
                Some(last) if line.is_named_like(last) => self.contrary.push(line),
                _ => self.lines.push(line),
            }
        }
        self.lines.len() - before
    }
}

/// Adds the lines of an export and says whether it is of a demo.
fn of_json_export(
    text: &str,
    progress: &Progress,
    lines: &mut Vec<WholeLine>,
) -> Result<bool, HistoryError> {
    let export: Export = serde_json::from_str(text).map_err(|error| HistoryError::Import {
        place: format!("line {}, column {}", error.line(), error.column()),
        why: error.to_string(),
    })?;
    if export.format != EXPORT_FORMAT || export.version != EXPORT_VERSION {
        return Err(HistoryError::Import {
            place: "its head".to_owned(),
            why: format!("not `{EXPORT_FORMAT}` of version {EXPORT_VERSION}"),
        });
    }
    progress.begin("reading the export", export.lines.len() as u64);
    let mut quick = QuickRuns::default();
    for (i, raw) in export.lines.iter().enumerate() {
        progress.advance(1)?;
        let place = || format!("line {} of its lines", i + 1);
        lines.push(
            WholeLine::of_json(raw.get(), &mut quick)
                .map_err(|why| HistoryError::Import { place: place(), why })?,
        );
    }
    Ok(export.demo)
}

/// The same of a table.
fn of_csv_export(
    text: &str,
    progress: &Progress,
    lines: &mut Vec<WholeLine>,
) -> Result<bool, HistoryError> {
    progress.begin("reading the export", text.len() as u64);
    let mut quick = QuickRuns::default();
    each_row(text, &mut |row: Row| {
        progress.reach(row.byte)?;
        let place = || format!("line {}", row.line);
        lines.push(
            WholeLine::of_json(row.json, &mut quick)
                .map_err(|why| HistoryError::Import { place: place(), why })?,
        );
        Ok(())
    })
}

#[cfg(test)]
mod tests {
    use super::super::envelope;
    use super::*;

    fn whole(values: &[&str]) -> WholeHistory {
        let bytes: Vec<u8> = values.iter().flat_map(|value| envelope::seal(value)).collect();
        WholeHistory::read(&bytes[..]).unwrap()
    }

    const CAR: &str =
        r#"{"kind":"car","v":1,"id":"b","saved_at":"","name":"x, \"y\"","later":[1,  2]}"#;
    const NEWER: &str = r#"{"kind":"engine","v":3,"id":"a","what":1e400}"#;

    #[test]
    fn what_this_program_does_not_know_travels_byte_for_byte() {
        let history = whole(&[CAR, NEWER, CAR]);
        assert_eq!((history.lines.len(), history.repeated, history.newer), (2, 1, 1));
        for export in [history.to_json(false), history.to_csv(false)] {
            let (back, demo) = WholeHistory::of_export(export.as_bytes()).unwrap();
            assert_eq!((&back.lines, demo), (&history.lines, false), "{export}");
            assert_eq!(
                (back.to_json(false), back.to_csv(false)),
                (history.to_json(false), history.to_csv(false))
            );
        }
    }

    #[test]
    fn so_many_damaged_lines_are_told_one_by_one_and_all_are_counted() {
        let damaged = "no line of a history\n".repeat(MAX_REPORTED + 3);
        let history = WholeHistory::read(damaged.as_bytes()).unwrap();
        assert_eq!(history.damaged.len(), MAX_REPORTED);
        assert_eq!(history.damaged_count, MAX_REPORTED + 3);
    }

    #[test]
    fn the_union_is_the_same_from_either_side_and_again() {
        let (one, two) = (whole(&[CAR]), whole(&[NEWER, CAR]));
        let union = |a: &WholeHistory, b: &WholeHistory| {
            let mut union = a.clone();
            union.add(b.lines.clone());
            union.lines
        };
        assert_eq!(union(&one, &two), union(&two, &one));
        let mut again = two.clone();
        assert_eq!(again.add(one.lines.clone()), 0);
        assert_eq!(again.lines, two.lines);
    }

    #[test]
    fn an_id_that_says_two_things_is_told_of() {
        let other = CAR.replace("later", "sooner");
        let history = whole(&[CAR, &other]);
        assert_eq!((history.lines.len(), history.contrary.len()), (1, 1));
        assert_eq!(history.lines[0].json(), CAR);
    }
}
