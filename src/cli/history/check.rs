//! `lastamber history check`.
//!
//! Owns its options, its words and its JSON, and handing out damaged bytes. Refuses to mend anything.

use super::super::folder::{Folder, told};
use super::super::long::Long;
use super::super::out::write_file;
use super::super::{CliError, print, print_json};
use super::lines;
use crate::history::{Damaged, Found, Reader, WholeHistory, history_file, is_demo};
use crate::report::tame;
use clap::Args;
use serde::Serialize;
use std::collections::BTreeMap;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Counts lines and names every damaged one with its place.
#[derive(Debug, Clone, Args)]
pub struct CheckArgs {
    #[command(flatten)]
    folder: Folder,

    /// Writes the damaged lines, byte for byte, to this file.
    #[arg(long, value_name = "FILE")]
    damaged_out: Option<PathBuf>,

    /// Prints JSON: folder, demo, lines, kinds, newer, repeated, contrary, damaged_count, damaged (the first
    /// thousand: line, byte, why, text).
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Serialize)]
struct Answer {
    folder: String,
    demo: bool,
    lines: usize,
    kinds: BTreeMap<String, usize>,
    newer: usize,
    repeated: usize,
    contrary: Vec<String>,
    damaged_count: usize,
    damaged: Vec<Place>,
}

#[derive(Debug, Serialize)]
struct Place {
    line: u64,
    byte: u64,
    why: String,
    text: String,
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a folder that cannot be read or a file that cannot be written.
pub fn run(args: &CheckArgs) -> Result<(), CliError> {
    let folder = args.folder.path()?;
    let long = Long::harmless("history check");
    let history = WholeHistory::of_folder_with(&folder, long.progress()).map_err(told)?;
    drop(long);
    if let Some(out) = &args.damaged_out {
        let bytes = damaged_bytes(&history_file(&folder))?;
        write_file(out, &bytes)?;
    }
    let mut kinds = BTreeMap::new();
    for line in &history.lines {
        *kinds.entry(tame(line.kind())).or_default() += 1;
    }
    let place = |d: &Damaged| Place {
        line: d.line_number,
        byte: d.byte_offset,
        why: d.why.to_string(),
        text: d.text.clone(),
    };
    let answer = Answer {
        folder: folder.display().to_string(),
        demo: is_demo(&folder),
        lines: history.lines.len(),
        kinds,
        newer: history.newer,
        repeated: history.repeated,
        contrary: history.contrary.iter().map(|l| format!("{} {}", l.kind(), l.id())).collect(),
        damaged_count: history.damaged_count,
        damaged: history.damaged.iter().map(place).collect(),
    };
    if args.json { print_json(&answer) } else { print(&in_words(&answer)) }
}

fn in_words(answer: &Answer) -> String {
    let mut text = String::new();
    if answer.demo {
        text.push_str("DEMO: everything here is made up.\n");
    }
    let kinds: Vec<String> = answer.kinds.iter().map(|(kind, n)| format!("{n} {kind}")).collect();
    text.push_str(&format!("{}: {}", answer.folder, lines(answer.lines)));
    if !kinds.is_empty() {
        text.push_str(&format!(" ({})", kinds.join(", ")));
    }
    text.push_str(".\n");
    if answer.newer > 0 {
        text.push_str(&format!("Of a newer program: {}; they stay.\n", lines(answer.newer)));
    }
    if answer.repeated > 0 {
        text.push_str(&format!("Written twice, counted once: {}.\n", lines(answer.repeated)));
    }
    for id in &answer.contrary {
        text.push_str(&format!("{}: said twice and differently; the first stays.\n", tame(id)));
    }
    for place in &answer.damaged {
        let Place { line, byte, why, text: begins } = place;
        text.push_str(&format!("line {line} (byte {byte}): {why}: {begins}\n"));
    }
    let more = answer.damaged_count - answer.damaged.len();
    if more > 0 {
        text.push_str(&format!("… and {more} more damaged places.\n"));
    }
    text.push_str(match answer.damaged.is_empty() {
        true => "Nothing is damaged.",
        false => "Damaged lines stay in the file; --damaged-out FILE writes them out.",
    });
    text
}

/// The bytes of every damaged place, up to the end of its line.
fn damaged_bytes(history: &Path) -> Result<Vec<u8>, CliError> {
    let unread = |e| CliError::data(format!("{}: cannot be read: {e}", history.display()));
    let bytes = match fs::read(history) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
        read => read.map_err(unread)?,
    };
    let mut out = Vec::new();
    let mut done = None;
    for found in Reader::new(&bytes[..]) {
        let Found::Damaged(place) = found.map_err(told)? else { continue };
        // Two places of one line are written once: the first runs to the end.
        if done == Some(place.line_number) {
            continue;
        }
        done = Some(place.line_number);
        let from = usize::try_from(place.byte_offset).unwrap_or(usize::MAX).min(bytes.len());
        let rest = &bytes[from..];
        let end = rest.iter().position(|byte| *byte == b'\n').unwrap_or(rest.len());
        out.extend_from_slice(&rest[..end]);
        out.push(b'\n');
    }
    Ok(out)
}
