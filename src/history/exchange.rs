//! A history on its way to other programs and other machines, and back.
//!
//! Owns the export's two forms (JSON, RFC 4180 CSV), the union of several histories, and putting such
//! a union in a folder. A line travels as its exact bytes, so that nothing is lost that this program
//! does not know. Refuses to drop a line: a file that is replaced stays beside the new one, and two
//! lines with one id that differ are told of.
//!
//! The JSON export is one object: `format` is `lastamber-history`, `version` 1, `demo` whether
//! everything is made up, and `lines` the lines, ordered by id and so by time. Its schema is
//! `assets/history.schema.json`.

use std::collections::HashMap;
use std::fs;
use std::io::BufRead;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;

use super::demo::write_whole;
use super::envelope;
use super::error::HistoryError;
use super::folder::{DataFolder, HISTORY_FILE};
use super::line::{Decoded, Line, decode};
use super::read::{Damaged, Found, Reader};

/// What the JSON export calls itself.
pub const EXPORT_FORMAT: &str = "lastamber-history";
/// The schema of the JSON export.
pub const EXPORT_SCHEMA: &str = include_str!("../../assets/history.schema.json");
const EXPORT_VERSION: u64 = 1;
const NEW_FILE: &str = "history.jsonl.new";

/// One line: its exact value and what orders it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct WholeLine {
    /// Its id; empty where a line this program does not know has none.
    pub id: String,
    /// Its kind.
    pub kind: String,
    /// Its value, byte for byte.
    pub json: String,
}

/// All lines of a history that can be read, once each, ordered by id.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct WholeHistory {
    /// The lines.
    pub lines: Vec<WholeLine>,
    /// What was set aside.
    pub damaged: Vec<Damaged>,
    /// Lines that repeat one before them exactly.
    pub repeated: usize,
    /// Lines whose id is taken by another that differs: those that were not kept.
    pub contrary: Vec<WholeLine>,
    /// Lines of a kind or version this program does not know.
    pub newer: usize,
}

#[derive(Serialize, Deserialize)]
struct Export<'a> {
    format: String,
    version: u64,
    demo: bool,
    #[serde(borrow)]
    lines: Vec<&'a RawValue>,
}

/// The parts of a value that order it, known or not.
#[derive(Deserialize)]
struct Head {
    #[serde(default)]
    id: String,
    #[serde(default)]
    kind: String,
}

impl WholeLine {
    /// A value as it stands in an export; `None` if it is no line of a history.
    fn of_json(json: &str) -> Result<Self, String> {
        if json.contains('\n') || json.contains('\r') {
            return Err("it runs over several rows".to_owned());
        }
        decode(json)?;
        let Head { id, kind } = serde_json::from_str(json).map_err(|error| error.to_string())?;
        Ok(Self { id, kind, json: json.to_owned() })
    }

    /// The line as this program understands it; `None` for a newer one.
    pub fn understood(&self) -> Option<Line> {
        match decode(&self.json) {
            Ok(Decoded::Line(line)) => Some(line),
            _ => None,
        }
    }
}

impl WholeHistory {
    /// Reads a history file.
    ///
    /// # Errors
    /// [`HistoryError::Read`].
    pub fn read(from: impl BufRead) -> Result<Self, HistoryError> {
        let mut history = Self::default();
        let mut lines = Vec::new();
        for found in Reader::new(from) {
            match found? {
                Found::Line { raw, .. } => lines.extend(WholeLine::of_json(&raw).ok()),
                Found::Newer { raw, .. } => {
                    history.newer += 1;
                    lines.extend(WholeLine::of_json(&raw).ok());
                }
                Found::Damaged(damaged) => history.damaged.push(damaged),
            }
        }
        history.add(lines);
        Ok(history)
    }

    /// Reads a folder's history without holding it; a folder that is not there is empty.
    ///
    /// # Errors
    /// [`HistoryError::Open`], [`HistoryError::Read`].
    pub fn of_folder(folder: &Path) -> Result<Self, HistoryError> {
        let path = folder.join(HISTORY_FILE);
        match fs::File::open(&path) {
            Ok(file) => Self::read(std::io::BufReader::new(file)),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Self::default()),
            Err(source) => Err(HistoryError::Open { path, source }),
        }
    }

    /// Reads an export, JSON or CSV, and says whether it is of a demo.
    ///
    /// # Errors
    /// [`HistoryError::Import`] with the place and what is wrong there; then nothing was taken.
    pub fn of_export(bytes: &[u8]) -> Result<(Self, bool), HistoryError> {
        let text = std::str::from_utf8(bytes).map_err(|error| HistoryError::Import {
            place: format!("byte {}", error.valid_up_to()),
            why: "not UTF-8".to_owned(),
        })?;
        let text = text.trim_start_matches('\u{feff}');
        let (lines, demo) = match text.trim_start().starts_with('{') {
            true => of_json_export(text)?,
            false => super::table::of_csv_export(text)?,
        };
        let mut history = Self::default();
        for (place, json) in lines {
            let line = WholeLine::of_json(&json);
            let line = line.map_err(|why| HistoryError::Import { place, why })?;
            history.lines.push(line);
        }
        let lines = std::mem::take(&mut history.lines);
        history.add(lines);
        Ok((history, demo))
    }

    /// Takes lines in; the first of an id stays. Gives how many were new.
    pub fn add(&mut self, lines: impl IntoIterator<Item = WholeLine>) -> usize {
        let key = |line: &WholeLine| (line.kind.clone(), line.id.clone());
        let mut known: HashMap<(String, String), usize> =
            self.lines.iter().enumerate().map(|(i, line)| (key(line), i)).collect();
        let before = self.lines.len();
        for line in lines {
            match known.get(&key(&line)) {
                // Lines of the future may have no id: only equal ones are the same.
                _ if line.id.is_empty() => match self.lines.contains(&line) {
                    true => self.repeated += 1,
                    false => self.lines.push(line),
                },
                Some(place) if self.lines[*place].json == line.json => self.repeated += 1,
                Some(_) => self.contrary.push(line),
                None => {
                    known.insert(key(&line), self.lines.len());
                    self.lines.push(line);
                }
            }
        }
        let new = self.lines.len() - before;
        self.lines.sort();
        new
    }

    /// The JSON export: every line a row of its own.
    pub fn to_json(&self, demo: bool) -> String {
        let rows: Vec<&str> = self.lines.iter().map(|line| line.json.as_str()).collect();
        let lines = match rows.is_empty() {
            true => String::new(),
            false => format!("\n{}\n", rows.join(",\n")),
        };
        format!(
            "{{\"format\":\"{EXPORT_FORMAT}\",\"version\":{EXPORT_VERSION},\"demo\":{demo},\"lines\":[{lines}]}}\n"
        )
    }

    /// The CSV export: a row for every line, the line itself in its last column.
    pub fn to_csv(&self, demo: bool) -> String {
        super::table::to_csv_export(&self.lines, demo)
    }

    /// Puts these lines, and no others, in a folder that is held. The file that was there stays beside
    /// it under the name that is given back.
    ///
    /// # Errors
    /// [`HistoryError::Open`], [`HistoryError::Write`], [`HistoryError::Sync`]: then the old file is
    /// still in force.
    pub fn replace(&self, folder: &DataFolder) -> Result<Option<PathBuf>, HistoryError> {
        let history = folder.history_path();
        let bytes: Vec<u8> = self.lines.iter().flat_map(|l| envelope::seal(&l.json)).collect();
        let new = folder.path().join(NEW_FILE);
        write_whole(&new, &bytes)?;
        let kept = match history.exists() {
            true => {
                let kept = free_name(folder.path());
                // A second name for the old file first: at no moment is there no history.
                fs::hard_link(&history, &kept)
                    .or_else(|_| fs::copy(&history, &kept).map(drop))
                    .map_err(|source| HistoryError::Write { source })?;
                Some(kept)
            }
            false => None,
        };
        fs::rename(&new, &history).map_err(|source| HistoryError::Write { source })?;
        Ok(kept)
    }
}

/// Where an old file may stay.
fn free_name(folder: &Path) -> PathBuf {
    let names = (1..).map(|n| folder.join(format!("{HISTORY_FILE}.old-{n}")));
    names.into_iter().find(|name| !name.exists()).expect("numbers do not end")
}

/// Where a line stands and the line.
pub(super) type Placed = (String, String);

fn of_json_export(text: &str) -> Result<(Vec<Placed>, bool), HistoryError> {
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
    let lines = export.lines.iter().enumerate();
    let lines =
        lines.map(|(i, raw)| (format!("line {} of its lines", i + 1), raw.get().to_owned()));
    Ok((lines.collect(), export.demo))
}

#[cfg(test)]
mod tests {
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
        assert_eq!(history.lines[0].json, CAR);
    }
}
