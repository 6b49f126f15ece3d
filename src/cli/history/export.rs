//! `lastamber history export`.
//!
//! Owns its options. Refuses to leave a line out: what cannot be read is told of on standard error.

use super::super::folder::{Folder, told};
use super::super::{CliError, print};
use super::check::write;
use super::lines;
use crate::history::{WholeHistory, is_demo};
use clap::{Args, ValueEnum};
use std::io::{ErrorKind, Write};
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
    let history = WholeHistory::of_folder(&folder).map_err(told)?;
    let demo = is_demo(&folder);
    let text = match args.form {
        Form::Json => history.to_json(demo),
        Form::Csv => history.to_csv(demo),
    };
    if !history.damaged.is_empty() {
        eprintln!(
            "lastamber: {}: {} damaged and not in the export; `history check` names them.",
            folder.display(),
            lines(history.damaged.len())
        );
    }
    let Some(out) = &args.out else { return print_exactly(&text) };
    write(out, text.as_bytes())?;
    print(&format!("{}: {}.", out.display(), lines(history.lines.len())))
}

/// Without a line end of its own: the bytes are the export.
fn print_exactly(text: &str) -> Result<(), CliError> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            Err(CliError::data(format!("standard output: cannot be written: {error}")))
        }
        _ => Ok(()),
    }
}
