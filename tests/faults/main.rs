//! What goes wrong around the program, provoked: kills, power cuts, full and forbidden disks, folders that
//! go away, a second program, clocks that jump, slow disks, a digest. What is said of it stands in `docs/faults.md`.
//!
//! The promises are those SQLite documents for itself: what was acknowledged is there after a crash, what
//! was under way is there whole or not at all ("Atomic Commit In SQLite", sections 2 and 3; "How SQLite Is
//! Tested", sections on I/O errors and on crashes, sqlite.org). A fault that cannot be provoked here is
//! skipped with a word on standard error.
#![cfg(unix)]

#[path = "../history_support/mod.rs"]
mod support;

mod clock;
mod digest;
mod forbidden;
mod full;
mod gone;
mod kills;
mod power;
mod program;
mod scribe;
mod slow;
mod synced;
mod two;

use std::sync::{Mutex, MutexGuard, PoisonError};

/// One test at a time: a program that is being started holds, for a moment, whatever is open here, the locks
/// of other tests' folders too.
fn alone() -> MutexGuard<'static, ()> {
    static ALONE: Mutex<()> = Mutex::new(());
    ALONE.lock().unwrap_or_else(PoisonError::into_inner)
}
