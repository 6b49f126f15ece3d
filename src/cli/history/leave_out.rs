//! `lastamber history leave-out` and `take-in`.
//!
//! Owns their options and words. Refuses a run that is not there, and to leave one out without a
//! reason.

use super::super::folder::{Folder, told};
use super::super::{CliError, print, wall};
use crate::history::{DataFolder, ExclusionLine, Line, Loaded, new_id};
use clap::Args;

/// Leaves a run out of the statistics, or takes it in again: a line of its own, nothing is erased.
#[derive(Debug, Clone, Args)]
pub struct LeaveOutArgs {
    /// The run's id, or `last` for the newest.
    #[arg(value_name = "RUN")]
    run: String,

    /// Why, in your words; nothing is left out without.
    #[arg(long, value_name = "TEXT", default_value = "")]
    reason: String,

    #[command(flatten)]
    folder: Folder,
}

/// Runs `leave-out`.
///
/// # Errors
/// [`CliError`] without a reason or such a run.
pub fn leave_out(args: &LeaveOutArgs) -> Result<(), CliError> {
    let (held, loaded) = opened(args)?;
    let run = id_of(args, &loaded)?;
    let (id, at) = stamped();
    let line = ExclusionLine::leaving_out(id, at, &run, &args.reason)
        .map_err(|e| CliError::data(format!("{e} with --reason TEXT")))?;
    save(&held, line)?;
    print(&format!("{run} is left out; if it was red, it stays counted as one."))
}

/// Runs `take-in`.
///
/// # Errors
/// [`CliError`] for a run that is not left out.
pub fn take_in(args: &LeaveOutArgs) -> Result<(), CliError> {
    let (held, loaded) = opened(args)?;
    let run = id_of(args, &loaded)?;
    if !loaded.excluded().contains(&run) {
        return Err(CliError::data(format!("run {run} is not left out; nothing was changed")));
    }
    let (id, at) = stamped();
    save(&held, ExclusionLine::taking_in(id, at, &run, &args.reason))?;
    print(&format!("{run} counts again."))
}

fn opened(args: &LeaveOutArgs) -> Result<(DataFolder, Loaded), CliError> {
    let held = args.folder.open()?;
    let loaded = held.load().map_err(told)?;
    Ok((held, loaded))
}

fn id_of(args: &LeaveOutArgs, loaded: &Loaded) -> Result<String, CliError> {
    let found = match args.run.as_str() {
        "last" => loaded.trials.last(),
        id => loaded.trials.iter().find(|run| run.id == id),
    };
    found.map(|run| run.id.to_string()).ok_or_else(|| {
        let name = crate::report::tame(&args.run);
        CliError::data(format!(
            "no run {name} here; `lastamber history export csv` lists their ids"
        ))
    })
}

/// An id ordered by time, and now.
fn stamped() -> (String, String) {
    (new_id(), wall::now().to_string())
}

fn save(held: &DataFolder, line: ExclusionLine) -> Result<(), CliError> {
    let mut log = held.open_log().map_err(told)?;
    log.append(&Line::from(line)).map(drop).map_err(told)
}
