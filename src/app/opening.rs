//! A data folder being opened beside the frames, so that a long history keeps nobody from seeing the window.
//!
//! Owns that work, whose folder it is and how far it has come. Refuses screens, and to wait longer than a
//! glance.

use super::background::Work;
use super::data::{Opened, open_data_telling};
use crate::history::{HistoryError, Profile};
use crate::progress::Progress;
use bevy::prelude::*;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// A folder that opens in this time is opened at once, without a screen in between. Chosen: no pause is
/// felt, and years of practice are read in it.
pub const AT_ONCE: Duration = Duration::from_millis(150);

/// See the head of the file. Dropping it gives the work up and the folder back.
#[derive(Resource)]
pub struct Opening {
    path: PathBuf,
    /// Another driver takes the wheel; none: the program begins.
    whose: Option<Profile>,
    work: Work<Result<Opened, HistoryError>>,
    progress: Progress,
}

impl Opening {
    /// Begins to open the folder the program was started with.
    pub fn at_start(path: &Path) -> Self {
        Self::begin(path, None)
    }

    /// Begins to open another driver's folder.
    pub fn of_another(profile: &Profile) -> Self {
        Self::begin(&profile.path, Some(profile.clone()))
    }

    fn begin(path: &Path, whose: Option<Profile>) -> Self {
        let (path, progress, mut work) = (path.to_owned(), Progress::default(), Work::default());
        let (folder, telling) = (path.clone(), progress.clone());
        work.start("open-history", move || open_data_telling(&folder, &telling));
        Self { path, whose, work, progress }
    }

    /// A folder that has come so far and comes no further.
    #[cfg(test)]
    pub(super) fn stuck_at((done, total): (u64, u64), path: &Path, whose: Option<Profile>) -> Self {
        let (path, progress, mut work) = (path.to_owned(), Progress::default(), Work::default());
        progress.begin("reading the history", total);
        progress.reach(done).unwrap();
        let giving_up = progress.wish();
        work.start("stuck", move || {
            while !giving_up.load(std::sync::atomic::Ordering::Relaxed) {
                std::thread::sleep(Duration::from_millis(5));
            }
            Err(crate::progress::Cancelled.into())
        });
        Self { path, whose, work, progress }
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The driver who takes the wheel with it.
    pub fn whose(&self) -> Option<&Profile> {
        self.whose.as_ref()
    }

    /// What was opened, once it is.
    pub fn answer(&mut self) -> Option<Result<Opened, HistoryError>> {
        self.answer_within(Duration::ZERO)
    }

    /// The same, waited for at most `patience`.
    pub fn answer_within(&mut self, patience: Duration) -> Option<Result<Opened, HistoryError>> {
        match self.work.answer_within(patience) {
            // The system gave no thread, or it broke off: then here and now.
            None if !self.work.is_under_way() => {
                Some(open_data_telling(&self.path, &self.progress))
            }
            answer => answer,
        }
    }

    /// Bytes read and bytes there are; none before the first.
    pub fn bytes(&self) -> Option<(u64, u64)> {
        let seen = self.progress.seen();
        (seen.total > 0).then_some((seen.done.min(seen.total), seen.total))
    }
}

impl Drop for Opening {
    fn drop(&mut self) {
        self.progress.cancel();
    }
}
