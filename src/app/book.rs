//! The history in memory, for the rooms that explain it.
//!
//! Owns reading it again, beside the frames, once something was saved and a room asks for it. Refuses
//! to know what the lines mean, and to write.

use super::AppSystems;
use super::background::Work;
use super::data::DataPath;
use super::history_store::SaveNews;
use crate::history::{Loaded, SaveEvent, load_without_lock};
use bevy::prelude::*;
use std::sync::Arc;

/// All lines, as they were when last read.
#[derive(Resource, Debug, Default)]
pub struct Book {
    lines: Arc<Loaded>,
    /// How often it was read: whoever computed from an older reading computes again.
    edition: u64,
    /// Lines were saved since.
    stale: bool,
    /// Somebody wants the newest.
    wanted: bool,
    trouble: Option<String>,
    reading: Work<Result<Loaded, String>>,
}

impl Book {
    /// The lines as they were read when the folder was opened.
    pub fn new(lines: Loaded) -> Self {
        Self { lines: Arc::new(lines), edition: 1, ..Self::default() }
    }

    /// The lines.
    pub fn lines(&self) -> &Arc<Loaded> {
        &self.lines
    }

    /// Which reading this is.
    pub fn edition(&self) -> u64 {
        self.edition
    }

    /// Goes on counting editions where another book ended, so that nobody takes this one for that.
    pub fn count_on_from(&mut self, other: &Book) {
        self.edition += other.edition;
    }

    /// Why the history could not be read again.
    pub fn trouble(&self) -> Option<&str> {
        self.trouble.as_deref()
    }

    /// Whether what is here is what is on disk; where not, it will be read.
    pub fn is_current(&self) -> bool {
        !self.stale && !self.reading.is_under_way()
    }

    /// Asks for the newest lines.
    pub fn want(&mut self) {
        self.wanted = true;
    }
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Book>()
        .add_systems(Update, (note_saved, read_again).chain().in_set(AppSystems::Analyse));
}

fn note_saved(mut news: MessageReader<SaveNews>, mut book: ResMut<Book>) {
    for SaveNews(event) in news.read() {
        if matches!(event, SaveEvent::Saved { .. }) {
            book.bypass_change_detection().stale = true;
        }
    }
}

fn read_again(mut book: ResMut<Book>, path: Option<Res<DataPath>>) {
    let book = book.bypass_change_detection();
    if let Some(read) = book.reading.answer() {
        match read {
            Ok(lines) => {
                (book.lines, book.trouble) = (Arc::new(lines), None);
                book.edition += 1;
            }
            Err(why) => book.trouble = Some(format!("Your history can't be read: {why}")),
        }
    }
    let Some(path) = path else { return };
    if book.wanted && book.stale && !book.reading.is_under_way() {
        let folder = path.path.clone();
        let read = move || load_without_lock(&folder).map_err(|error| error.to_string());
        (book.wanted, book.stale) = (false, false);
        book.reading.start("read-history", read);
    }
}
