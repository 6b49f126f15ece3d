//! The one writer thread as the engine sees it.
//!
//! Owns handing lines in and telling what became of them. Refuses to decide when a verdict may be
//! shown: it only says `Saved` or `SaveFailed`.

use super::trace_file::TraceFile;
use crate::history::{HistoryError, Line, SaveEvent, Writer};
use bevy::prelude::*;

/// The writer thread, while the data folder is held.
#[derive(Resource, Default)]
pub struct Store(Option<Writer>);

impl Store {
    /// A store that writes through `writer`.
    pub fn new(writer: Writer) -> Self {
        Self(Some(writer))
    }

    /// Hands a line in without waiting; the answer comes as [`SaveNews`].
    pub fn submit(&self, line: impl Into<Line>) -> Result<String, HistoryError> {
        self.0.as_ref().ok_or(HistoryError::WriterGone)?.submit(line)
    }

    /// Tries lines again that could not be saved.
    pub fn retry(&self) {
        if let Some(Err(error)) = self.0.as_ref().map(Writer::retry) {
            error!("{error}");
        }
    }
}

/// What became of a line.
#[derive(Message, Debug, Clone, PartialEq, Eq)]
pub struct SaveNews(pub SaveEvent);

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Store>()
        .add_message::<SaveNews>()
        .add_systems(Update, read_save_news.in_set(super::AppSystems::ReadPresses));
}

fn read_save_news(
    mut store: ResMut<Store>,
    mut news: MessageWriter<SaveNews>,
    mut trace: ResMut<TraceFile>,
) {
    let Some(writer) = &mut store.0 else { return };
    while let Some(event) = writer.try_event() {
        match &event {
            SaveEvent::Saved { id } => trace.event(format_args!("saved {id}")),
            SaveEvent::SaveFailed { id, why } => {
                error!("run {id}: {why}");
                trace.event(format_args!("save-failed {id}"));
            }
        }
        news.write(SaveNews(event));
    }
}
