//! The data folder as the window opens it.
//!
//! Owns the step from a folder to a writer and the car in force. Refuses screens.

use super::garage::Garage;
use super::history_store::Store;
use crate::history::{DataFolder, HistoryError, Writer};
use bevy::prelude::*;
use std::path::{Path, PathBuf};

/// The data folder in use.
#[derive(Resource, Debug, Clone)]
pub struct DataPath(pub PathBuf);

/// Opens the data folder, reads the car in force and starts the writer.
pub fn open_data(path: &Path) -> Result<(Store, Garage), HistoryError> {
    let folder = DataFolder::open(path)?;
    let loaded = folder.load()?;
    for damaged in &loaded.damaged {
        warn!("{}: {damaged}", folder.history_path().display());
    }
    let writer = Writer::start(folder.open_log()?)?;
    Ok((Store::new(writer), Garage::from_lines(&loaded.cars)))
}
