//! `lastamber history`: one's own data, checked, out, in, together.
//!
//! Owns the sub-commands' options and what they print. Refuses to read or write a line: `history` does.

mod check;
mod export;
mod leave_out;
mod union;

use super::{CliError, print};
use crate::history::EXPORT_SCHEMA;
use clap::Subcommand;

/// One's own data: check, export, import, merge.
#[derive(Debug, Clone, Subcommand)]
pub enum HistoryCommand {
    /// Counts lines and names every damaged one with its place.
    Check(check::CheckArgs),
    /// Writes everything as one JSON or CSV file; nothing is lost on the way back.
    Export(export::ExportArgs),
    /// Takes an export in; what is there already is not taken twice.
    Import(union::ImportArgs),
    /// Takes the histories of other folders in, in the order of time.
    Merge(union::MergeArgs),
    /// Leaves a run out of the statistics, with a reason; a red stays counted.
    LeaveOut(leave_out::LeaveOutArgs),
    /// Takes a run in again that was left out.
    TakeIn(leave_out::LeaveOutArgs),
    /// Takes runs made by a script out; the old file stays beside the new one.
    TrimTestData(union::TrimArgs),
    /// Prints the JSON Schema of an export.
    Schema,
}

/// Runs the sub-command.
///
/// # Errors
/// [`CliError`] for files and folders that cannot be read or written.
pub fn run(command: &HistoryCommand) -> Result<(), CliError> {
    match command {
        HistoryCommand::Check(args) => check::run(args),
        HistoryCommand::Export(args) => export::run(args),
        HistoryCommand::Import(args) => union::import(args),
        HistoryCommand::Merge(args) => union::merge(args),
        HistoryCommand::LeaveOut(args) => leave_out::leave_out(args),
        HistoryCommand::TakeIn(args) => leave_out::take_in(args),
        HistoryCommand::TrimTestData(args) => union::trim(args),
        HistoryCommand::Schema => print(EXPORT_SCHEMA.trim_end()),
    }
}

/// `1 line`, `3 lines`.
fn lines(n: usize) -> String {
    format!("{n} line{}", if n == 1 { "" } else { "s" })
}
