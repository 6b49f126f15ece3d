//! The data folder as the window opens it.
//!
//! Owns the step from a folder to a writer, the car in force and what is known of the rig. Refuses
//! screens.

use super::garage::Garage;
use super::history_store::Store;
use super::rig::Rig;
use crate::history::{DataFolder, HistoryError, Writer};
use bevy::prelude::*;
use std::path::{Path, PathBuf};

/// The data folder in use.
#[derive(Resource, Debug, Clone)]
pub struct DataPath(pub PathBuf);

/// Opens the data folder, reads car and rig and starts the writer.
pub fn open_data(path: &Path) -> Result<(Store, Garage, Rig), HistoryError> {
    let folder = DataFolder::open(path)?;
    let loaded = folder.load()?;
    for damaged in &loaded.damaged {
        warn!("{}: {damaged}", folder.history_path().display());
    }
    let writer = Writer::start(folder.open_log()?)?;
    let rig = Rig::from_lines(&loaded.rigs, &loaded.films);
    Ok((Store::new(writer), Garage::from_lines(&loaded.cars), rig))
}
