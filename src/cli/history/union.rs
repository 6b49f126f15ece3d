//! `lastamber history import`, `merge` and `trim-test-data`.
//!
//! Owns their options and words. Refuses to mix what is made up with what is not, and to write where
//! nothing would change.

use super::super::folder::{Folder, told};
use super::super::long::Long;
use super::super::table::{name_of, with_cure};
use super::super::{CliError, print};
use super::lines;
use crate::history::{
    DataFolder, HistoryError, Line, WholeHistory, history_file, is_demo, mark_demo,
};
use crate::progress::Progress;
use clap::Args;
use std::fs::File;
use std::io::{self, BufReader, Read, Seek};
use std::path::{Path, PathBuf};

/// Takes an export in.
#[derive(Debug, Clone, Args)]
pub struct ImportArgs {
    /// The export, JSON or CSV.
    #[arg(value_name = "FILE")]
    file: PathBuf,

    #[command(flatten)]
    folder: Folder,

    /// Only says what would be taken.
    #[arg(long)]
    dry_run: bool,
}

/// Takes other folders' histories in.
#[derive(Debug, Clone, Args)]
pub struct MergeArgs {
    /// The other data folders.
    #[arg(value_name = "FOLDER", required = true)]
    others: Vec<PathBuf>,

    #[command(flatten)]
    folder: Folder,

    /// Only says what would be taken.
    #[arg(long)]
    dry_run: bool,
}

/// Takes runs made by a script out.
#[derive(Debug, Clone, Args)]
pub struct TrimArgs {
    #[command(flatten)]
    folder: Folder,

    /// Only says how many there are.
    #[arg(long)]
    dry_run: bool,
}

/// Runs `import`.
///
/// # Errors
/// [`CliError`] for an export that cannot be read as a whole: then nothing was taken.
pub fn import(args: &ImportArgs) -> Result<(), CliError> {
    let name = name_of(&args.file);
    let long = Long::begin();
    let of_export = of_export(&args.file, long.progress());
    let (from, demo) = of_export.map_err(|error| match error {
        NotTaken::File(e) => CliError::data(format!("{name}: cannot be read: {}", with_cure(&e))),
        NotTaken::Export(error @ HistoryError::Cancelled(_)) => nothing_taken(error),
        NotTaken::Export(error) => CliError::data(format!("{name}: {error}")),
    })?;
    take(&args.folder, vec![(name, from, demo)], args.dry_run, long.progress())
}

/// Why nothing is there to be taken.
enum NotTaken {
    File(io::Error),
    Export(HistoryError),
}

/// An export row by row where it is laid out as this program does it, else as a whole.
fn of_export(path: &Path, progress: &Progress) -> Result<(WholeHistory, bool), NotTaken> {
    let mut file = File::open(path).map_err(NotTaken::File)?;
    let facts = file.metadata().map_err(NotTaken::File)?;
    // What cannot be begun anew is not tried first.
    if facts.is_file() {
        progress.begin("reading the export", facts.len());
        let rows = WholeHistory::of_export_rows(BufReader::new(&file), progress);
        if let Some(read) = rows.map_err(NotTaken::Export)? {
            return Ok(read);
        }
        file.rewind().map_err(NotTaken::File)?;
    }
    let mut bytes = Vec::new();
    file.read_to_end(&mut bytes).map_err(NotTaken::File)?;
    WholeHistory::of_export_with(&bytes, progress).map_err(NotTaken::Export)
}

/// Runs `merge`.
///
/// # Errors
/// [`CliError`] for a folder that cannot be read or written.
pub fn merge(args: &MergeArgs) -> Result<(), CliError> {
    let long = Long::begin();
    let mut sources = Vec::new();
    for folder in &args.others {
        if !history_file(folder).exists() {
            let name = folder.display();
            return Err(CliError::data(format!(
                "{name}: no history.jsonl in it; name the data folder of the other machine"
            )));
        }
        let history = WholeHistory::of_folder_with(folder, long.progress());
        let history = history.map_err(nothing_taken)?;
        sources.push((folder.display().to_string(), history, is_demo(folder)));
    }
    take(&args.folder, sources, args.dry_run, long.progress())
}

/// Takes histories into one's own: all of their lines or none.
fn take(
    folder: &Folder,
    sources: Vec<(String, WholeHistory, bool)>,
    dry_run: bool,
    progress: &Progress,
) -> Result<(), CliError> {
    let held = folder.open()?;
    let mut own = WholeHistory::of_folder_with(held.path(), progress).map_err(nothing_taken)?;
    let demo = must_not_mix(held.path(), &own, &sources)?;
    let mut said = Vec::new();
    let mut new = 0;
    for (name, from, _) in sources {
        let contrary = own.contrary.len();
        let all = from.lines.len();
        let taken = own.add(from.lines);
        new += taken;
        let there = all - taken;
        said.push(format!("{name}: new {taken}, there already {there}."));
        for line in &own.contrary[contrary..] {
            let (kind, id) = (crate::report::tame(line.kind()), crate::report::tame(&line.id()));
            said.push(format!(
                "{name}: {kind} {id} differs from the one that is there, which stays."
            ));
        }
        if from.damaged_count > 0 {
            let damaged = lines(from.damaged_count);
            said.push(format!("{name}: {damaged} damaged and left there."));
        }
    }
    if dry_run || new == 0 {
        said.push("Nothing was changed.".to_owned());
        return print(&said.join("\n"));
    }
    progress.go_on().map_err(|cancelled| nothing_taken(cancelled.into()))?;
    if demo {
        mark_demo(held.path()).map_err(told)?;
    }
    put(&own, &held, &mut said, progress)?;
    print(&said.join("\n"))
}

/// Lines are taken all or not at all: who cancelled has what was there.
fn nothing_taken(error: HistoryError) -> CliError {
    match error {
        HistoryError::Cancelled(_) => CliError::cancelled(
            "cancelled; no line was taken and your history is as it was. Run it again to take all",
        ),
        error => told(error),
    }
}

/// Whether what comes of it is a demo.
fn must_not_mix(
    path: &Path,
    own: &WholeHistory,
    sources: &[(String, WholeHistory, bool)],
) -> Result<bool, CliError> {
    let demo = sources.iter().any(|(.., demo)| *demo);
    let real = sources.iter().find(|(_, history, demo)| !demo && !history.lines.is_empty());
    let mixed = match (demo, real, is_demo(path)) {
        (true, Some((name, ..)), _) => Some(name.clone()),
        (false, Some((name, ..)), true) => Some(name.clone()),
        (true, None, false) if !own.lines.is_empty() => Some(path.display().to_string()),
        _ => None,
    };
    match mixed {
        Some(name) => Err(CliError::data(format!(
            "{name}: a demo and somebody's own runs are not mixed; nothing was taken. Choose another \
             folder with --data DIR"
        ))),
        None => Ok(demo),
    }
}

/// Runs `trim-test-data`.
///
/// # Errors
/// [`CliError`] for a folder that cannot be read or written.
pub fn trim(args: &TrimArgs) -> Result<(), CliError> {
    let long = Long::begin();
    let held = args.folder.open()?;
    let mut own =
        WholeHistory::of_folder_with(held.path(), long.progress()).map_err(nothing_taken)?;
    let before = own.lines.len();
    own.lines.retain(|line| match line.understood() {
        Some(Line::Trial(trial)) => !trial.setup.scripted,
        _ => true,
    });
    let scripted = before - own.lines.len();
    let mut said = vec![format!("Runs made by a script: {scripted} of {}.", lines(before))];
    if args.dry_run || scripted == 0 {
        said.push("Nothing was changed.".to_owned());
        return print(&said.join("\n"));
    }
    put(&own, &held, &mut said, long.progress())?;
    print(&said.join("\n"))
}

fn put(
    own: &WholeHistory,
    held: &DataFolder,
    said: &mut Vec<String>,
    progress: &Progress,
) -> Result<(), CliError> {
    if let Some(kept) = own.replace(held, progress).map_err(nothing_taken)? {
        said.push(format!("What was there before stays as {}.", kept.display()));
    }
    Ok(())
}
