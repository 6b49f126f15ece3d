//! The data folder as the window opens it.
//!
//! Owns the step from a folder to a writer, the car in force, what is known of the rig and the lines to
//! be explained. Refuses screens.

use super::book::Book;
use super::garage::Garage;
use super::history_store::Store;
use super::rig::Rig;
use super::settings::InForce;
use super::wake;
use crate::history::{DataFolder, HistoryError, Settings, Writer, is_demo};
use crate::progress::Progress;
use bevy::prelude::*;
use std::path::{Path, PathBuf};

/// The data folder in use.
#[derive(Resource, Debug, Clone)]
pub struct DataPath {
    /// Where it is.
    pub path: PathBuf,
    demo: bool,
}

impl DataPath {
    /// Whether everything in it is made up.
    pub fn is_demo(&self) -> bool {
        self.demo
    }
}

impl From<PathBuf> for DataPath {
    fn from(path: PathBuf) -> Self {
        Self { demo: is_demo(&path), path }
    }
}

/// What an opened folder gives.
pub struct Opened {
    /// Where new lines go.
    pub store: Store,
    /// The car in force.
    pub garage: Garage,
    /// What is known of the rig.
    pub rig: Rig,
    /// All lines.
    pub book: Book,
    /// What the driver set.
    pub settings: InForce,
}

/// Opens the data folder, reads it and starts the writer.
pub fn open_data(path: &Path) -> Result<Opened, HistoryError> {
    open_data_telling(path, &Progress::default())
}

/// The same, telling how far it is.
///
/// # Errors
/// As for [`DataFolder::open`] and [`DataFolder::load_with`], given up on request included.
pub fn open_data_telling(path: &Path, progress: &Progress) -> Result<Opened, HistoryError> {
    let folder = DataFolder::open(path)?;
    let loaded = folder.load_with(progress)?;
    for damaged in &loaded.damaged {
        warn!("{}: {damaged}", folder.history_path().display());
    }
    let settings = InForce::new(Settings::read(path));
    if let Some(trouble) = &settings.trouble {
        warn!("{trouble}");
    }
    let writer = Writer::start_calling(folder.open_log()?, wake::call)?;
    Ok(Opened {
        store: Store::new(writer),
        garage: Garage::from_lines(&loaded.cars),
        rig: Rig::from_lines(&loaded.rigs, &loaded.films),
        book: Book::new(loaded),
        settings,
    })
}

impl Opened {
    /// Puts all of it in force in place of another folder.
    pub fn take_over(mut self, world: &mut World) {
        if let Some(before) = world.get_resource::<Book>() {
            self.book.count_on_from(before);
        }
        self.put_in(world);
    }

    /// Puts all of it in force.
    pub fn put_in(self, world: &mut World) {
        world.insert_resource(self.store);
        world.insert_resource(self.garage);
        world.insert_resource(self.rig);
        world.insert_resource(self.book);
        world.insert_resource(self.settings);
    }
}
