//! The append-only log: one line, whole, on the disk, and only then "saved".
//!
//! Owns the order write → sync → answer, and the fresh line after anything that may have been left
//! half written. Refuses to rewrite, truncate or seek: what was written stays where it is.

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::Path;

use super::error::HistoryError;
use super::line::{Line, SealedLine};

/// Something that can be written to and made durable.
pub trait Sink: Write {
    /// Returns only when everything written is on the disk.
    ///
    /// # Errors
    /// Whatever the system says; what was written may then be there or not.
    fn sync(&mut self) -> io::Result<()>;

    /// The file's name, for messages.
    fn path(&self) -> Option<&Path> {
        None
    }

    /// Whether what was written is to be found under that name. A sink that says no makes itself anew
    /// before it is written to again.
    fn is_in_place(&mut self) -> bool {
        true
    }
}

impl Sink for File {
    fn sync(&mut self) -> io::Result<()> {
        self.sync_data()
    }
}

/// A line is on the disk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Saved {
    /// Its id.
    pub id: String,
}

/// Appends lines to a sink.
#[derive(Debug)]
pub struct Log<S> {
    sink: S,
    at_line_start: bool,
}

impl<S: Sink> Log<S> {
    /// A log that goes on at the end of `sink`. `at_line_start` says whether the sink is empty or
    /// ends in a newline; if in doubt `false`, which costs one blank line.
    pub fn resume(sink: S, at_line_start: bool) -> Self {
        Self { sink, at_line_start }
    }

    /// Writes one line and waits until it is on the disk.
    ///
    /// # Errors
    /// As [`Line::seal`] and [`Log::append_sealed`].
    pub fn append(&mut self, line: &Line) -> Result<Saved, HistoryError> {
        self.append_sealed(&line.seal()?)
    }

    /// Writes one sealed line in a single `write_all` and waits until it is on the disk.
    ///
    /// # Errors
    /// [`HistoryError::Write`] or [`HistoryError::Sync`]: the line may be there not at all, in
    /// part or whole. Appending it again is right in each case, because it starts on a fresh line
    /// and a line that is there twice counts once. The sync is never merely repeated: after a
    /// failed one a system may forget what it could not write. [`HistoryError::Gone`]: it is in a file
    /// that nobody finds any more.
    pub fn append_sealed(&mut self, line: &SealedLine) -> Result<Saved, HistoryError> {
        let fresh = std::mem::replace(&mut self.at_line_start, false);
        let written = if fresh {
            self.sink.write_all(line.bytes())
        } else {
            self.sink.write_all(&[b"\n", line.bytes()].concat())
        };
        let path = self.sink.path().map(Path::to_owned);
        if let Err(source) = written.and_then(|()| self.sink.flush()) {
            return Err(HistoryError::Write { path, source });
        }
        if let Err(source) = self.sink.sync() {
            return Err(HistoryError::Sync { path, source });
        }
        if !self.sink.is_in_place() {
            return Err(HistoryError::Gone { path: path.unwrap_or_default() });
        }
        self.at_line_start = true;
        Ok(Saved { id: line.id().to_owned() })
    }

    /// The sink.
    pub fn into_sink(self) -> S {
        self.sink
    }
}

impl Log<File> {
    /// Opens the file at `path` for appending, making it if it is not there.
    ///
    /// # Errors
    /// [`HistoryError::Open`].
    pub fn open(path: &Path) -> Result<Self, HistoryError> {
        let (file, at_line_start) = open_for_append(path)
            .map_err(|source| HistoryError::Open { path: path.to_owned(), source })?;
        Ok(Self::resume(file, at_line_start))
    }
}

/// The file, and whether it is empty or ends in a newline.
pub(super) fn open_for_append(path: &Path) -> io::Result<(File, bool)> {
    let mut options = OpenOptions::new();
    options.read(true).append(true).create(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(path)?;
    if file.metadata()?.len() == 0 {
        sync_folder_of(path);
        return Ok((file, true));
    }
    file.seek(SeekFrom::End(-1))?;
    let mut last = [0];
    file.read_exact(&mut last)?;
    Ok((file, last == *b"\n"))
}

/// Makes the name of a new file durable where the system can. Where it cannot, nothing is lost but
/// that certainty, so a failure is no reason to refuse the run.
pub(super) fn sync_folder_of(path: &Path) {
    if cfg!(unix)
        && let Some(folder) = path.parent()
        && let Ok(folder) = File::open(folder)
    {
        let _ = folder.sync_all();
    }
}
