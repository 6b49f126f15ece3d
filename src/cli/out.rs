//! Files a sub-command writes where it is told to.
//!
//! Owns that such a file is there whole or not at all: one that was there stays until the new one is on
//! the disk. Refuses to know what is in it.

use super::CliError;
use std::fs::{self, File};
use std::io::{self, ErrorKind, Write};
use std::path::Path;

/// Writes a file whole.
pub fn write_file(path: &Path, bytes: &[u8]) -> Result<(), CliError> {
    in_file(path, |file| file.write_all(bytes).map_err(|error| unwritable(path, &error)))
}

/// Lets `write` fill a file beside the one that is asked for, which then takes its place. A device or a
/// pipe is written to as it is.
pub fn in_file(
    path: &Path,
    write: impl FnOnce(&mut File) -> Result<(), CliError>,
) -> Result<(), CliError> {
    let failed = |error: io::Error| unwritable(path, &error);
    if !fs::metadata(path).map_or(true, |told| told.is_file()) {
        return write(&mut File::create(path).map_err(failed)?);
    }
    let mut beside = path.as_os_str().to_owned();
    beside.push(".new");
    let new = Path::new(&beside);
    let mut file = File::create(new).map_err(failed)?;
    let written = write(&mut file).and_then(|()| {
        file.sync_all().map_err(failed)?;
        fs::rename(new, path).map_err(failed)
    });
    if written.is_err() {
        // Left behind it would only be written over the next time.
        let _ = fs::remove_file(new);
    }
    written
}

/// What is told of a file that cannot be written.
pub fn unwritable(path: &Path, error: &io::Error) -> CliError {
    let cure = match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
            "free some space, or name another place"
        }
        ErrorKind::NotFound => "make its folder first, or name another place",
        _ => "name another place",
    };
    CliError::data(format!("{}: cannot be written: {error}; {cure}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_cannot_be_finished_leaves_the_old_one() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("report.html");
        write_file(&path, b"old").unwrap();
        let error = in_file(&path, |file| {
            file.write_all(b"half").unwrap();
            Err(CliError::data("enough"))
        });
        assert_eq!(error.unwrap_err().message, "enough");
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        write_file(&path, b"new").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"new");
        let error = write_file(&folder.path().join("none/report.html"), b"").unwrap_err();
        assert!(error.message.contains("none/report.html") && error.message.contains("make its"));
    }
}
