//! What the driver set, as a file beside the history.
//!
//! Owns the shape of `settings.json`, saving it whole or not at all, and setting a damaged one aside.
//! Keys this program does not know stay in the file. Refuses what a setting means.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::error::cure;

const SETTINGS_FILE: &str = "settings.json";
/// Where a new version is written before it takes the old one's place.
const NEW_FILE: &str = "settings.json.new";
/// Where a damaged one goes.
const DAMAGED_FILE: &str = "settings.json.damaged";
/// A larger file is not one of ours.
const MAX_BYTES: u64 = 1 << 20;

/// Everything that is set. A key that is missing is as it was at first.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Size of all text, 1 is 100 %.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub text_scale: Option<f64>,
    /// The drill's word.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drill: Option<String>,
    /// The declared style's word.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub style: Option<String>,
    /// `left` or `right`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lane: Option<String>,
    /// Choices made in the rooms, by room and name: words and typed numbers.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub choices: BTreeMap<String, String>,
    /// Things ticked on a list, by their keys.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub ticked: Vec<String>,
    /// Keys of other versions.
    #[serde(flatten)]
    other: Map<String, Value>,
}

/// What reading gave.
#[derive(Debug, Default)]
pub struct ReadSettings {
    /// The settings; the first ones where there were none or none that could be read.
    pub settings: Settings,
    /// What to tell the driver.
    pub trouble: Option<String>,
}

impl Settings {
    /// Reads the settings of a data folder. A file that is none is renamed and reported; nothing of it
    /// is lost.
    pub fn read(folder: &Path) -> ReadSettings {
        let path = folder.join(SETTINGS_FILE);
        let damaged = match read_whole(&path) {
            Ok(None) => return ReadSettings::default(),
            Ok(Some(text)) => match serde_json::from_str(&text) {
                Ok(settings) => return ReadSettings { settings, trouble: None },
                Err(error) => error.to_string(),
            },
            Err(error) => error.to_string(),
        };
        let aside = folder.join(DAMAGED_FILE);
        let kept = match fs::rename(&path, &aside) {
            Ok(()) => format!("it is kept as {}", aside.display()),
            Err(error) => format!("it could not be set aside: {error}"),
        };
        let trouble = format!(
            "{} can't be read ({damaged}); {kept}, and everything is as it was at first.",
            path.display()
        );
        ReadSettings { settings: Self::default(), trouble: Some(trouble) }
    }

    /// Saves them: the file is the old one or the new one, whatever happens.
    ///
    /// # Errors
    /// What the system says, with the file's name and what to do about it.
    pub fn save(&self, folder: &Path) -> io::Result<()> {
        self.save_new(folder).map_err(|error| {
            let (name, cure) = (folder.join(SETTINGS_FILE), cure(&error));
            io::Error::new(error.kind(), format!("{}: {error}. {cure}", name.display()))
        })
    }

    fn save_new(&self, folder: &Path) -> io::Result<()> {
        let text = serde_json::to_string_pretty(self)? + "\n";
        let new: PathBuf = folder.join(NEW_FILE);
        let mut file = File::create(&new)?;
        file.write_all(text.as_bytes())?;
        file.sync_all()?;
        fs::rename(&new, folder.join(SETTINGS_FILE))?;
        // The name is in the folder, which is written for itself.
        File::open(folder)?.sync_all()
    }

    /// A choice made in a room.
    pub fn choice(&self, name: &str) -> Option<&str> {
        self.choices.get(name).map(String::as_str)
    }

    /// Whether a thing on a list is ticked.
    pub fn is_ticked(&self, key: &str) -> bool {
        self.ticked.iter().any(|ticked| ticked == key)
    }

    /// Ticks a thing, or takes the tick back.
    pub fn tick(&mut self, key: &str) {
        if self.is_ticked(key) {
            self.ticked.retain(|ticked| ticked != key);
        } else {
            self.ticked.push(key.to_owned());
        }
    }
}

/// The file's text; none where there is no file.
fn read_whole(path: &Path) -> io::Result<Option<String>> {
    match fs::metadata(path) {
        Ok(found) if !found.is_file() => {
            Err(io::Error::new(ErrorKind::InvalidData, "it is no plain file"))
        }
        Ok(found) if found.len() > MAX_BYTES => {
            Err(io::Error::new(ErrorKind::InvalidData, "it is too large for a settings file"))
        }
        Ok(_) => fs::read_to_string(path).map(Some),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
        Err(error) => Err(error),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder() -> tempfile::TempDir {
        tempfile::tempdir().unwrap()
    }

    #[test]
    fn only_settings_that_are_not_there_are_none() {
        let folder = folder();
        let nowhere = folder.path().join("nowhere").join(SETTINGS_FILE);
        assert_eq!(read_whole(&nowhere).unwrap(), None);
        fs::write(folder.path().join("file"), b"x").unwrap();
        for (size, is_read) in [(MAX_BYTES, true), (MAX_BYTES + 1, false)] {
            let large = folder.path().join("large");
            fs::write(&large, " ".repeat(size as usize)).unwrap();
            assert_eq!(read_whole(&large).is_ok(), is_read, "{size}");
        }
        let under_a_file = folder.path().join("file").join(SETTINGS_FILE);
        assert_eq!(read_whole(&under_a_file).unwrap_err().kind(), ErrorKind::NotADirectory);
    }

    #[test]
    fn what_was_set_is_read_again_and_unknown_keys_stay() {
        let folder = folder();
        let text = r#"{"text_scale":1.5,"lane":"right","from_later":{"a":[1]}}"#;
        fs::write(folder.path().join(SETTINGS_FILE), text).unwrap();
        let mut settings = Settings::read(folder.path()).settings;
        assert_eq!((settings.text_scale, settings.lane.as_deref()), (Some(1.5), Some("right")));
        settings.tick("belts");
        settings.choices.insert("odds opponent".to_owned(), "weekend".to_owned());
        settings.save(folder.path()).unwrap();
        let again = Settings::read(folder.path());
        assert_eq!(again.settings, settings);
        assert!(again.trouble.is_none() && again.settings.is_ticked("belts"));
        let text = fs::read_to_string(folder.path().join(SETTINGS_FILE)).unwrap();
        assert!(text.contains("from_later"), "{text}");
        assert!(!folder.path().join(NEW_FILE).exists());
    }

    #[test]
    fn a_damaged_file_is_set_aside_and_told_of() {
        for wrong in ["", "{", "[1]", "{\"ticked\":3}", "\u{0}\u{0}"] {
            let folder = folder();
            fs::write(folder.path().join(SETTINGS_FILE), wrong).unwrap();
            let read = Settings::read(folder.path());
            assert_eq!(read.settings, Settings::default());
            assert!(read.trouble.unwrap().contains("kept as"), "{wrong:?}");
            let aside = fs::read_to_string(folder.path().join(DAMAGED_FILE)).unwrap();
            assert_eq!(aside, wrong);
        }
    }

    #[test]
    fn no_file_is_no_trouble_and_a_folder_that_is_gone_is_an_error_to_save_to() {
        let folder = folder();
        let read = Settings::read(folder.path());
        assert!(read.trouble.is_none() && read.settings == Settings::default());
        assert!(Settings::default().save(&folder.path().join("gone")).is_err());
    }

    #[test]
    fn a_tick_is_taken_back_by_a_second_one() {
        let mut settings = Settings::default();
        settings.tick("a");
        settings.tick("b");
        settings.tick("a");
        assert_eq!(settings.ticked, ["b"]);
    }
}
