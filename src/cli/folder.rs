//! The data folder as a sub-command is given it.
//!
//! Owns the option and the words of a history's errors. Refuses to write: who does opens the folder.

use super::CliError;
use crate::history::{DataFolder, HistoryError, Loaded, default_path, load_with_all_processors};
use clap::Args;
use std::path::PathBuf;

/// Where the data are.
#[derive(Debug, Clone, Args)]
pub struct Folder {
    /// Folder of your data; the window's if not given.
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
}

impl Folder {
    /// The folder.
    pub fn path(&self) -> Result<PathBuf, CliError> {
        match &self.data {
            Some(path) => Ok(path.clone()),
            None => default_path().map_err(told),
        }
    }

    /// All lines, without holding the folder; damaged ones are told of on standard error.
    pub fn load(&self) -> Result<Loaded, CliError> {
        let path = self.path()?;
        let loaded = load_with_all_processors(&path).map_err(told)?;
        if loaded.damaged_count > 0 {
            let (name, count) = (path.display(), loaded.damaged_count);
            eprintln!(
                "lastamber: {name}: {count} damaged lines set aside; all others are read. \
                 `lastamber history check` says where and why."
            );
        }
        Ok(loaded)
    }

    /// The folder, held for writing.
    pub fn open(&self) -> Result<DataFolder, CliError> {
        DataFolder::open(&self.path()?).map_err(told)
    }
}

/// A history's own messages end in a full stop, which the caller adds.
pub fn told(error: HistoryError) -> CliError {
    match error {
        HistoryError::Cancelled(_) => {
            CliError::cancelled("cancelled; nothing was changed. Run it again to go on")
        }
        error => CliError::data(error.to_string().trim_end_matches('.')),
    }
}
