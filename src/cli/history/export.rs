//! `lastamber history export`.
//!
//! Owns its options. Refuses to leave a line out: what
//! cannot be read is told of on standard error.

use super::super::folder::{Folder, told};
use super::super::long::Long;
use super::super::out::{in_file, unwritable};
use super::super::{CliError, print};
use super::lines;
use crate::history::{HistoryError, WholeHistory, is_demo};
use clap::{Args, ValueEnum};
use std::io::{self, BufWriter, ErrorKind, Write};
use std::path::PathBuf;

/// Writes everything as one file.
#[derive(Debug, Clone, Args)]
pub struct ExportArgs {
    /// `json` for programs, `csv` for spreadsheets; both can be taken back.
    #[arg(value_enum, default_value_t = Form::Json)]
    form: Form,

    #[command(flatten)]
    folder: Folder,

    /// Writes to this file instead of standard output.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// The forms of an export.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    Json,
    Csv,
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for a folder that cannot be read or a file that cannot be written.
pub fn run(args: &ExportArgs) -> Result<(), CliError> {
    let folder = args.folder.path()?;
    let long = Long::begin();
    let history = WholeHistory::of_folder_with(&folder, long.progress());
    let history = history.map_err(|error| failed("nothing was written", error))?;
    let demo = is_demo(&folder);
    if history.damaged_count > 0 {
        eprintln!(
            "lastamber: {}: {} damaged and not in the export; `history check` names them.",
            folder.display(),
            lines(history.damaged_count)
        );
    }
    let write = |to: &mut dyn Write| match args.form {
        Form::Json => history.write_json(demo, BufWriter::new(to), long.progress()),
        Form::Csv => history.write_csv(demo, BufWriter::new(to), long.progress()),
    };
    let Some(out) = &args.out else { return on_standard_output(write) };
    in_file(out, |file| {
        write(file).map_err(|error| match error {
            HistoryError::Write { source, .. } => unwritable(out, &source),
            error => failed("nothing was written", error),
        })
    })?;
    drop(long);
    print(&format!("{}: {}.", out.display(), lines(history.lines.len())))
}

/// Without a line end of its own: the bytes are the export. A reader that went away has had enough.
fn on_standard_output(
    write: impl FnOnce(&mut dyn Write) -> Result<(), HistoryError>,
) -> Result<(), CliError> {
    match write(&mut io::stdout().lock()) {
        Err(HistoryError::Write { source, .. }) if source.kind() == ErrorKind::BrokenPipe => Ok(()),
        Err(HistoryError::Write { source, .. }) => {
            Err(CliError::data(format!("standard output: cannot be written: {source}")))
        }
        told => told.map_err(|error| failed("what is out is no whole export", error)),
    }
}

fn failed(kept: &str, error: HistoryError) -> CliError {
    match error {
        HistoryError::Cancelled(_) => {
            CliError::cancelled(format!("cancelled; {kept}. Run it again for the whole export"))
        }
        error => told(error),
    }
}
