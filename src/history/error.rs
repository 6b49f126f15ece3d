//! What can go wrong with the history, in one or two lines: which file, what, and the cure.

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::progress::Cancelled;

/// A failure of the history. Damaged lines are no failure: they are reported by the reader.
#[derive(Debug, Error)]
pub enum HistoryError {
    /// Another instance holds the lock of the folder.
    #[error(
        "{} is in use by another Last Amber.\nClose that one first, or choose another folder with --data DIR.",
        path.display()
    )]
    InUse {
        /// The data folder.
        path: PathBuf,
    },
    /// Neither a data directory nor a home directory is set.
    #[error(
        "no home directory is set, so there is no place for the data.\nSet HOME, or choose a folder with --data DIR."
    )]
    NoHome,
    /// The folder could not be made or entered.
    #[error("cannot use {} as the data folder: {source}.\n{}", path.display(), cure(source))]
    Folder {
        /// The data folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// An export cannot be read; nothing was taken from it.
    #[error("{place}: {why}; nothing was taken")]
    Import {
        /// Where in it.
        place: String,
        /// What is wrong there.
        why: String,
    },
    /// A run was to be left out without a reason.
    #[error("run {trial} is not left out: give a reason")]
    NoReason {
        /// Id of the run.
        trial: String,
    },
    /// A demo was to be written over a history that is none.
    #[error(
        "{} holds runs that are no demo; nothing was changed.\nChoose another folder with --data DIR.",
        path.display()
    )]
    NotADemo {
        /// The folder.
        path: PathBuf,
    },
    /// The lock file could not be opened or locked.
    #[error("cannot lock {}: {source}.\n{}", path.display(), cure(source))]
    Lock {
        /// The lock file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A history file could not be opened.
    #[error("cannot open {}: {source}.\n{}", path.display(), cure(source))]
    Open {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A history file broke off while being read.
    #[error("reading {} failed after byte {at_byte}: {source}.\n{}", name(path), cure(source))]
    Read {
        /// The file, where it is one.
        path: Option<PathBuf>,
        /// Bytes read before the failure.
        at_byte: u64,
        /// What the system said.
        source: io::Error,
    },
    /// A line could not be written out whole.
    #[error("not saved{}: {source}. {}", place(path), cure(source))]
    Write {
        /// The file, where it is known.
        path: Option<PathBuf>,
        /// What the system said.
        source: io::Error,
    },
    /// A line was written, but the system did not confirm that it is on the disk.
    #[error("not saved{}, the disk did not confirm: {source}. {}", place(path), cure(source))]
    Sync {
        /// The file, where it is known.
        path: Option<PathBuf>,
        /// What the system said.
        source: io::Error,
    },
    /// The file a line was written to is no longer the one that bears its name.
    #[error(
        "not saved: {} was removed or replaced while the program ran. Save again: it is made anew, without what was in it before.",
        path.display()
    )]
    Gone {
        /// The history file.
        path: PathBuf,
    },
    /// A line is longer than any reader accepts.
    #[error(
        "not saved: {id} is {bytes} bytes long, more than a line may be. Shorten the names in it."
    )]
    TooLong {
        /// Id of the line.
        id: String,
        /// Its length.
        bytes: usize,
    },
    /// A line without an id could not be told from others.
    #[error("not saved: the line has no id.")]
    NoId,
    /// A line could not be put into JSON.
    #[error("not saved: {id} cannot be written down: {source}.")]
    Encode {
        /// Id of the line.
        id: String,
        /// Why.
        source: serde_json::Error,
    },
    /// The writer thread could not be started.
    #[error("cannot start the writer thread: {source}.\nClose other programs and start again.")]
    Thread {
        /// What the system said.
        source: io::Error,
    },
    /// Reading or writing was given up because somebody wished so; the file is as it was.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
    /// The writer thread has ended.
    #[error("not saved: the writer thread has ended. Start the program again.")]
    WriterGone,
}

impl HistoryError {
    /// The same with the name of the file that was read.
    pub(super) fn of_file(self, file: &Path) -> Self {
        match self {
            Self::Read { at_byte, source, .. } => {
                Self::Read { path: Some(file.to_owned()), at_byte, source }
            }
            other => other,
        }
    }

    /// The same where what was read begins so many bytes into the file.
    pub(super) fn further_on(self, bytes: u64) -> Self {
        match self {
            Self::Read { path, at_byte, source } => {
                Self::Read { path, at_byte: at_byte + bytes, source }
            }
            other => other,
        }
    }
}

/// A file's name, or what a history without one is called.
fn name(path: &Option<PathBuf>) -> String {
    path.as_ref().map_or_else(|| "the history".to_owned(), |path| path.display().to_string())
}

/// Where something was to be saved, for the middle of a sentence.
fn place(path: &Option<PathBuf>) -> String {
    path.as_ref().map_or_else(String::new, |path| format!(" in {}", path.display()))
}

/// What the user can do about an answer of the system.
pub(super) fn cure(source: &io::Error) -> &'static str {
    use io::ErrorKind as Kind;
    match source.kind() {
        Kind::PermissionDenied => {
            "Give yourself the right to write there, or choose another folder with --data DIR."
        }
        Kind::ReadOnlyFilesystem => "The disk is read-only: choose another folder with --data DIR.",
        Kind::StorageFull | Kind::QuotaExceeded => "Free some space, then save again.",
        Kind::FileTooLarge => {
            "The file may not grow: raise its limit (ulimit -f), or choose another folder with --data DIR."
        }
        Kind::InvalidInput => "Move it away, or choose another folder with --data DIR.",
        Kind::ResourceBusy => "Close the other one, then save again.",
        Kind::IsADirectory => {
            "A folder stands where a file should: move it, or choose another folder with --data DIR."
        }
        Kind::NotADirectory | Kind::AlreadyExists => {
            "A file stands where a folder should: move it, or choose another folder with --data DIR."
        }
        Kind::Unsupported => {
            "This file system cannot lock files: choose a folder on a local disk with --data DIR."
        }
        _ => "Check the disk, or choose another folder with --data DIR.",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::ErrorKind as Kind;

    #[test]
    fn every_answer_of_the_system_has_a_cure_of_its_own() {
        for (kind, words) in [
            (Kind::PermissionDenied, "Give yourself the right"),
            (Kind::ReadOnlyFilesystem, "The disk is read-only"),
            (Kind::StorageFull, "Free some space"),
            (Kind::QuotaExceeded, "Free some space"),
            (Kind::FileTooLarge, "The file may not grow"),
            (Kind::InvalidInput, "Move it away"),
            (Kind::ResourceBusy, "Close the other one"),
            (Kind::IsADirectory, "A folder stands where a file should"),
            (Kind::NotADirectory, "A file stands where a folder should"),
            (Kind::AlreadyExists, "A file stands where a folder should"),
            (Kind::Unsupported, "This file system cannot lock files"),
            (Kind::TimedOut, "Check the disk"),
        ] {
            assert!(cure(&kind.into()).starts_with(words), "{kind:?}");
        }
    }
}
