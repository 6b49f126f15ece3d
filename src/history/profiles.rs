//! Drivers who share a machine, each with a data folder of their own.
//!
//! Owns where those folders lie (`drivers/` in the usual data folder), which names they may have and the
//! file that keeps a name as it was written. Refuses to look into them: each is a data folder like any
//! other, for the window and for every command.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Where the folders lie, in the folder of the driver whose machine it is.
pub const DRIVERS_FOLDER: &str = "drivers";
/// The name as it was written, in a driver's folder.
const NAME_FILE: &str = "driver";
/// Longest name, characters.
const LONGEST: usize = 40;

/// A driver with a folder of his own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Profile {
    /// As written.
    pub name: String,
    /// The data folder.
    pub path: PathBuf,
}

/// Why there is no such driver.
#[derive(Debug, Error)]
pub enum ProfileError {
    /// Nothing a folder could be named after.
    #[error("`{0}` is no name: use 1 to {LONGEST} letters, digits, spaces or hyphens")]
    Name(String),
    /// There is one already.
    #[error("there is a driver `{0}` already")]
    Taken(String),
    /// The folder can't be made.
    #[error("{path} can't be made: {source}")]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// The drivers of a machine, by name; folders without a readable name are called by their own.
pub fn profiles(home: &Path) -> Vec<Profile> {
    let Ok(entries) = fs::read_dir(home.join(DRIVERS_FOLDER)) else { return Vec::new() };
    let folders = entries.flatten().map(|entry| entry.path()).filter(|path| path.is_dir());
    let mut found: Vec<Profile> = folders.filter_map(profile_at).collect();
    found.sort_by(|a, b| a.name.cmp(&b.name));
    found
}

fn profile_at(path: PathBuf) -> Option<Profile> {
    let written = fs::read_to_string(path.join(NAME_FILE)).ok();
    let written = written.map(|name| name.trim().to_owned()).filter(|name| is_name(name));
    let own = path.file_name()?.to_str()?.to_owned();
    Some(Profile { name: written.unwrap_or(own), path })
}

/// Makes a driver's folder.
///
/// # Errors
/// [`ProfileError`].
pub fn add_profile(home: &Path, name: &str) -> Result<Profile, ProfileError> {
    let name = name.trim();
    if !is_name(name) {
        return Err(ProfileError::Name(name.to_owned()));
    }
    let path = home.join(DRIVERS_FOLDER).join(folder_name(name));
    if path.exists() {
        return Err(ProfileError::Taken(name.to_owned()));
    }
    let fail = |source| ProfileError::Folder { path: path.clone(), source };
    fs::create_dir_all(&path).map_err(fail)?;
    fs::write(path.join(NAME_FILE), format!("{name}\n")).map_err(fail)?;
    Ok(Profile { name: name.to_owned(), path })
}

/// The folder whose `drivers/` a data folder belongs to: its own, unless it is one of them.
pub fn home_of(data: &Path) -> PathBuf {
    let drivers = data.parent().filter(|up| up.file_name().is_some_and(|n| n == DRIVERS_FOLDER));
    drivers.and_then(Path::parent).unwrap_or(data).to_owned()
}

/// Letters of any script, digits, spaces and hyphens, at least one of them a letter or digit.
fn is_name(name: &str) -> bool {
    let fits = |c: char| c.is_alphanumeric() || c == ' ' || c == '-';
    (1..=LONGEST).contains(&name.chars().count())
        && name.chars().all(fits)
        && name.chars().any(char::is_alphanumeric)
}

/// A name that is a folder's on any system: small letters, hyphens for spaces.
fn folder_name(name: &str) -> String {
    let small = name.to_lowercase();
    small.split([' ', '-']).filter(|part| !part.is_empty()).collect::<Vec<_>>().join("-")
}

#[cfg(test)]
mod tests {
    use super::*;
    use tempfile::TempDir;

    #[test]
    fn a_driver_has_a_folder_and_is_found_again_by_name() {
        let home = TempDir::new().unwrap();
        assert!(profiles(home.path()).is_empty());
        let second = add_profile(home.path(), " Second  Driver ").unwrap();
        assert!(second.path.ends_with("drivers/second-driver"));
        add_profile(home.path(), "Ämilia").unwrap();
        let names: Vec<String> = profiles(home.path()).into_iter().map(|p| p.name).collect();
        assert_eq!(names, ["Second  Driver", "Ämilia"]);
        assert_eq!(home_of(&second.path), home.path());
        assert_eq!(home_of(home.path()), home.path());
    }

    #[test]
    fn names_that_lead_elsewhere_or_nowhere_are_refused() {
        let home = TempDir::new().unwrap();
        for name in ["", "  ", "..", "a/b", "a\\b", "-", "x\u{0}y", &"n".repeat(41)] {
            assert!(matches!(add_profile(home.path(), name), Err(ProfileError::Name(_))), "{name}");
        }
        assert!(!home.path().join(DRIVERS_FOLDER).exists());
        add_profile(home.path(), "One Two").unwrap();
        let again = add_profile(home.path(), "one two").unwrap_err();
        assert!(again.to_string().contains("already"), "{again}");
    }

    #[test]
    fn a_folder_with_a_damaged_name_is_called_by_its_own() {
        let home = TempDir::new().unwrap();
        let path = add_profile(home.path(), "Guest").unwrap().path;
        for damage in [&b"\xff\xfe"[..], b"../../elsewhere", b""] {
            fs::write(path.join(NAME_FILE), damage).unwrap();
            assert_eq!(profiles(home.path())[0].name, "guest");
        }
    }
}
