//! A line for every event, for tests and robots that follow a run from outside.
//!
//! Owns the trace file. Each line is `<monotonic ns> <words>`, flushed at once. Refuses to matter:
//! a trace that can't be written is reported once and dropped.

use super::clock;
use crate::units::Mark;
use bevy::prelude::*;
use std::fmt::Display;
use std::fs::File;
use std::io::Write;
use std::path::Path;

/// Where trace lines go, if anywhere.
#[derive(Resource, Default)]
pub struct TraceFile(Option<File>);

impl TraceFile {
    /// A trace that writes to `path`, from the start.
    pub fn create(path: &Path) -> std::io::Result<Self> {
        Ok(Self(Some(File::create(path)?)))
    }

    /// Whether anybody follows.
    pub fn is_on(&self) -> bool {
        self.0.is_some()
    }

    /// Writes one event, dated now.
    pub fn event(&mut self, words: impl Display) {
        if self.is_on() {
            self.event_at(clock::now(), words);
        }
    }

    /// Writes one event, dated `at`.
    pub fn event_at(&mut self, at: Mark, words: impl Display) {
        let Some(file) = &mut self.0 else { return };
        // One write per line: a reader never sees half a line of a program that was killed.
        let line = format!("{} {words}\n", at.ns());
        if let Err(error) = file.write_all(line.as_bytes()) {
            warn!("the trace can't be written any more: {error}");
            self.0 = None;
        }
    }
}
