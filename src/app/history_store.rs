//! The one writer thread as the engine sees it.
//!
//! Owns handing lines in and telling what became of them. Refuses to decide when a verdict may be
//! shown: it only says `Saved` or `SaveFailed`.

use super::AppSystems;
use super::clock::Now;
use super::trace_file::TraceFile;
use crate::history::{HistoryError, Line, SaveEvent, Writer};
use crate::units::{Mark, Span};
use bevy::prelude::*;
use std::collections::HashSet;

/// How often lines that could not be saved are tried again (chosen).
const RETRY_EVERY: Span = Span::from_ms(3_000);

/// The writer thread, while the data folder is held.
#[derive(Resource, Default)]
pub struct Store {
    writer: Option<Writer>,
    /// Ids of lines that are not on disk.
    failed: HashSet<String>,
}

impl Store {
    /// A store that writes through `writer`.
    pub fn new(writer: Writer) -> Self {
        Self { writer: Some(writer), failed: HashSet::new() }
    }

    /// Hands a line in without waiting; the answer comes as [`SaveNews`].
    pub fn submit(&self, line: impl Into<Line>) -> Result<String, HistoryError> {
        self.writer.as_ref().ok_or(HistoryError::WriterGone)?.submit(line)
    }

    /// What became of lines since the last time.
    pub fn news(&mut self) -> Vec<SaveEvent> {
        let Store { writer: Some(writer), failed } = self else { return Vec::new() };
        let mut news = Vec::new();
        while let Some(event) = writer.try_event() {
            match &event {
                SaveEvent::Saved { id } => {
                    failed.remove(id);
                }
                SaveEvent::SaveFailed { id, why } => {
                    failed.insert(id.clone());
                    error!("{id}: {why}");
                }
            }
            news.push(event);
        }
        news
    }

    /// Whether lines wait for being tried again.
    pub fn has_unsaved(&self) -> bool {
        !self.failed.is_empty()
    }

    /// Tries lines again that could not be saved.
    fn retry(&self) {
        if let Some(Err(error)) = self.writer.as_ref().map(Writer::retry) {
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
        .add_systems(Update, read_save_news.in_set(AppSystems::ReadPresses))
        .add_systems(Update, try_again.in_set(AppSystems::Record));
}

fn read_save_news(
    mut store: ResMut<Store>,
    mut news: MessageWriter<SaveNews>,
    mut trace: ResMut<TraceFile>,
) {
    for event in store.bypass_change_detection().news() {
        match &event {
            SaveEvent::Saved { id } => trace.event(format_args!("saved {id}")),
            SaveEvent::SaveFailed { id, .. } => trace.event(format_args!("save-failed {id}")),
        }
        news.write(SaveNews(event));
    }
}

/// Tries again what could not be saved: a disk may have room again.
fn try_again(now: Res<Now>, store: Res<Store>, mut tried: Local<Option<Mark>>) {
    if store.has_unsaved() && tried.is_none_or(|at| now.mark - at >= RETRY_EVERY) {
        *tried = Some(now.mark);
        store.retry();
    }
}
