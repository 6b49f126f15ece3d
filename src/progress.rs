//! How far long work has come, and the wish to end it.
//!
//! Owns one token, shared between who works and who looks on. Refuses terminals, windows, signals,
//! clocks and threads: who draws a bar, listens for a key or guesses the time that is left holds a
//! clone and asks. Nothing waits on it; each call is an atomic or two.
//!
//! Who works calls [`Progress::begin`] for every stretch and [`Progress::advance`] after every part of
//! it, and gives up on [`Cancelled`], leaving nothing half done. Who looks on reads
//! [`Progress::seen`], in a frame or on a thread of its own, and may call [`Progress::cancel`].
//! Work nobody looks at is handed `&Progress::default()`.
//!
//! ```
//! use lastamber::progress::{Cancelled, Progress};
//!
//! fn sum(numbers: &[u64], progress: &Progress) -> Result<u64, Cancelled> {
//!     progress.begin("adding up", numbers.len() as u64);
//!     let mut sum = 0;
//!     for number in numbers {
//!         progress.advance(1)?;
//!         sum += number;
//!     }
//!     Ok(sum)
//! }
//!
//! let progress = Progress::default();
//! let for_the_window = progress.clone();
//! assert_eq!(sum(&[1, 2, 3], &progress), Ok(6));
//! let seen = for_the_window.seen();
//! assert_eq!((seen.what, seen.done, seen.total), ("adding up", 3, 3));
//! for_the_window.cancel();
//! assert_eq!(sum(&[1, 2, 3], &progress), Err(Cancelled));
//! ```

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use thiserror::Error;

/// The work was given up because somebody wished so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("cancelled")]
pub struct Cancelled;

/// A token of long work; its clones are the same token.
#[derive(Debug, Clone, Default)]
pub struct Progress {
    stretch: Arc<Stretch>,
    cancelled: Arc<AtomicBool>,
}

#[derive(Debug, Default)]
struct Stretch {
    what: Mutex<&'static str>,
    done: AtomicU64,
    total: AtomicU64,
}

/// How far the stretch at hand has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seen {
    /// What is being done, like `reading the history`; empty before the first stretch.
    pub what: &'static str,
    /// Parts done, in whatever they are counted.
    pub done: u64,
    /// All parts; 0 where nobody knows.
    pub total: u64,
}

impl Progress {
    /// Begins a stretch of `total` parts; 0 where their number is not known.
    pub fn begin(&self, what: &'static str, total: u64) {
        self.stretch.total.store(total, Ordering::Relaxed);
        self.stretch.done.store(0, Ordering::Relaxed);
        *self.stretch.what.lock().unwrap_or_else(PoisonError::into_inner) = what;
    }

    /// So many parts more are done.
    ///
    /// # Errors
    /// [`Cancelled`] once somebody wished for the end.
    pub fn advance(&self, parts: u64) -> Result<(), Cancelled> {
        self.stretch.done.fetch_add(parts, Ordering::Relaxed);
        self.go_on()
    }

    /// So many parts are done by now.
    ///
    /// # Errors
    /// As [`Progress::advance`].
    pub fn reach(&self, done: u64) -> Result<(), Cancelled> {
        self.stretch.done.store(done, Ordering::Relaxed);
        self.go_on()
    }

    /// Whether to go on.
    ///
    /// # Errors
    /// As [`Progress::advance`].
    pub fn go_on(&self) -> Result<(), Cancelled> {
        if self.cancelled.load(Ordering::Relaxed) { Err(Cancelled) } else { Ok(()) }
    }

    /// Wishes for the end; whoever works finds out with its next part.
    pub fn cancel(&self) {
        self.cancelled.store(true, Ordering::Relaxed);
    }

    /// The wish itself, for who can only set a flag, as a handler of signals.
    pub fn wish(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.cancelled)
    }

    /// How far it has come.
    pub fn seen(&self) -> Seen {
        Seen {
            what: *self.stretch.what.lock().unwrap_or_else(PoisonError::into_inner),
            done: self.stretch.done.load(Ordering::Relaxed),
            total: self.stretch.total.load(Ordering::Relaxed),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_new_stretch_counts_from_nothing_and_a_wish_stays() {
        let progress = Progress::default();
        progress.begin("one", 3);
        assert_eq!(progress.advance(2), Ok(()));
        progress.cancel();
        progress.begin("two", 9);
        assert_eq!(progress.seen(), Seen { what: "two", done: 0, total: 9 });
        assert_eq!(progress.clone().reach(4), Err(Cancelled));
        assert_eq!(progress.seen().done, 4);
    }
}
