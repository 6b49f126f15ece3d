//! The data folder: where it is, and that only one program writes to it.
//!
//! Owns the names of the files in it and the lock. The lock is the system's, tied to a living
//! process: a lock *file* left behind by a killed one blocks nobody. Refuses to break a lock.

use std::fs::{self, DirBuilder, File, OpenOptions, TryLockError};
use std::io::{self, BufReader, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use etcetera::BaseStrategy;

use super::error::HistoryError;
use super::load::Loaded;
use super::log::{Log, Sink, open_for_append};
use super::opening::Opening;
use crate::progress::Progress;

pub(super) const HISTORY_FILE: &str = "history.jsonl";
const LOCK_FILE: &str = "lock";
const PROGRAM_FOLDER: &str = "lastamber";

/// A data folder held by this program. The lock lives as long as this value or any log of it.
#[derive(Debug)]
pub struct DataFolder {
    path: PathBuf,
    lock: Arc<File>,
}

/// The history file together with the lock of its folder, so that nobody else writes before the
/// last line is down.
#[derive(Debug)]
pub struct LockedFile {
    path: PathBuf,
    file: File,
    lock: Arc<File>,
    /// Another file has the name by now, or none.
    gone: bool,
}

/// The folder used when none is named: `lastamber` in the user's data directory
/// (`$XDG_DATA_HOME`, else `~/.local/share`).
///
/// # Errors
/// [`HistoryError::NoHome`].
pub fn default_path() -> Result<PathBuf, HistoryError> {
    let base = etcetera::choose_base_strategy().map_err(|_| HistoryError::NoHome)?;
    Ok(base.data_dir().join(PROGRAM_FOLDER))
}

/// The history file of a folder, there or not.
pub fn history_file(folder: &Path) -> PathBuf {
    folder.join(HISTORY_FILE)
}

/// Reads the history of a folder without holding it, as a report does beside the running program.
/// A line just being written then shows as a torn tail. A folder that is not there is empty.
///
/// # Errors
/// [`HistoryError::Open`], [`HistoryError::Read`].
pub fn load_without_lock(folder: &Path) -> Result<Loaded, HistoryError> {
    load_without_lock_with(folder, &Progress::default())
}

/// The same, telling how far it is.
///
/// # Errors
/// As [`load_without_lock`], and [`HistoryError::Cancelled`].
pub fn load_without_lock_with(folder: &Path, progress: &Progress) -> Result<Loaded, HistoryError> {
    load_as(Opening::one_processor(), folder, progress)
}

/// The same with every processor there is, for who has nothing else to do: never beside a start line.
///
/// # Errors
/// As [`load_without_lock`].
pub fn load_with_all_processors(folder: &Path) -> Result<Loaded, HistoryError> {
    load_as(Opening::all_processors(), folder, &Progress::default())
}

fn load_as(opening: Opening, folder: &Path, progress: &Progress) -> Result<Loaded, HistoryError> {
    match opening.load(&folder.join(HISTORY_FILE), progress) {
        Err(HistoryError::Open { source, .. }) if source.kind() == ErrorKind::NotFound => {
            Ok(Loaded::default())
        }
        loaded => loaded,
    }
}

/// The history of a folder from its first byte, its length told; `None` where there is none.
pub(super) fn open_for_reading(
    folder: &Path,
    progress: &Progress,
) -> Result<Option<BufReader<File>>, HistoryError> {
    let path = folder.join(HISTORY_FILE);
    let file = match open_plain(&path) {
        Ok(file) => file,
        Err(HistoryError::Open { source, .. }) if source.kind() == ErrorKind::NotFound => {
            return Ok(None);
        }
        Err(error) => return Err(error),
    };
    progress.begin("reading the history", file.metadata().map_or(0, |told| told.len()));
    Ok(Some(BufReader::new(file)))
}

/// Opens a file for reading. A pipe or a device under its name is refused: it might never end.
pub(super) fn open_plain(path: &Path) -> Result<File, HistoryError> {
    let opened = fs::metadata(path).and_then(|told| {
        let readable = told.is_file() || told.is_dir();
        let other = || Err(io::Error::new(ErrorKind::InvalidInput, "it is no plain file"));
        if readable { File::open(path) } else { other() }
    });
    opened.map_err(|source| HistoryError::Open { path: path.to_owned(), source })
}

impl DataFolder {
    /// Makes the folder on first use and locks it.
    ///
    /// # Errors
    /// [`HistoryError::InUse`] while another program (or another value in this one) holds it;
    /// [`HistoryError::Folder`], [`HistoryError::Lock`] if the system refuses.
    pub fn open(path: &Path) -> Result<Self, HistoryError> {
        let folder = path.to_owned();
        make_folder(path)
            .map_err(|source| HistoryError::Folder { path: folder.clone(), source })?;
        let lock_path = path.join(LOCK_FILE);
        let lock = open_lock(&lock_path)
            .map_err(|source| HistoryError::Lock { path: lock_path.clone(), source })?;
        match lock.try_lock() {
            Ok(()) => Ok(Self { path: folder, lock: Arc::new(lock) }),
            Err(TryLockError::WouldBlock) => Err(HistoryError::InUse { path: folder }),
            Err(TryLockError::Error(source)) => Err(HistoryError::Lock { path: lock_path, source }),
        }
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The history file.
    pub fn history_path(&self) -> PathBuf {
        self.path.join(HISTORY_FILE)
    }

    /// Reads the whole history with every processor there is: who opens a folder has nothing else to do.
    ///
    /// # Errors
    /// [`HistoryError::Open`], [`HistoryError::Read`].
    pub fn load(&self) -> Result<Loaded, HistoryError> {
        self.load_with(&Progress::default())
    }

    /// The same, telling how far it is.
    ///
    /// # Errors
    /// As [`DataFolder::load`], and [`HistoryError::Cancelled`].
    pub fn load_with(&self, progress: &Progress) -> Result<Loaded, HistoryError> {
        load_as(Opening::all_processors().held(), &self.path, progress)
    }

    /// Opens the history for appending. Nothing is written until the first line is.
    ///
    /// # Errors
    /// [`HistoryError::Open`].
    pub fn open_log(&self) -> Result<Log<LockedFile>, HistoryError> {
        let path = self.history_path();
        let (file, at_line_start) = open_for_append(&path)
            .map_err(|source| HistoryError::Open { path: path.clone(), source })?;
        let locked = LockedFile { path, file, lock: Arc::clone(&self.lock), gone: false };
        Ok(Log::resume(locked, at_line_start))
    }
}

impl LockedFile {
    /// The file once more under its name; a folder that was removed is made anew, and locked.
    fn make_anew(&mut self) -> io::Result<()> {
        let folder = self.path.parent().unwrap_or(Path::new("."));
        if !is_file_at(&self.lock, &folder.join(LOCK_FILE)) {
            let held = DataFolder::open(folder).map_err(|error| match error {
                HistoryError::Folder { source, .. } | HistoryError::Lock { source, .. } => source,
                _ => {
                    io::Error::new(ErrorKind::ResourceBusy, "another Last Amber has the folder now")
                }
            })?;
            self.lock = held.lock;
        }
        (self.file, _) = open_for_append(&self.path)?;
        self.gone = false;
        Ok(())
    }
}

impl Write for LockedFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.gone {
            self.make_anew()?;
        }
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl Sink for LockedFile {
    fn sync(&mut self) -> io::Result<()> {
        self.file.sync()
    }

    fn path(&self) -> Option<&Path> {
        Some(&self.path)
    }

    fn is_in_place(&mut self) -> bool {
        self.gone = !is_file_at(&self.file, &self.path);
        !self.gone
    }
}

/// Whether an open file is the one a name leads to; where the system cannot tell, it is.
fn is_file_at(file: &File, path: &Path) -> bool {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        let id = |told: fs::Metadata| (told.dev(), told.ino());
        match (file.metadata().map(id), fs::metadata(path).map(id)) {
            (Ok(open), Ok(named)) => open == named,
            _ => false,
        }
    }
    #[cfg(not(unix))]
    {
        let _ = file;
        path.exists()
    }
}

/// Makes the folder and those above it, for the user alone.
fn make_folder(path: &Path) -> io::Result<()> {
    let mut builder = DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path)?;
    // A folder that may not be entered is found out here, with its own name in the message.
    fs::read_dir(path).map(drop)
}

fn open_lock(path: &Path) -> io::Result<File> {
    OpenOptions::new().read(true).write(true).create(true).truncate(false).open(path)
}
