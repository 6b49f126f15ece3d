//! Work beside the frames: one thread, one answer.
//!
//! Owns handing work to a thread and taking its answer without waiting. Refuses to say what is worked
//! on. Nothing here runs between staged and verdict: rooms ask for work when they are entered.

use super::wake;
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread;
use std::time::Duration;

/// Work under way, or none.
#[derive(Debug)]
pub struct Work<T>(Option<Mutex<Receiver<T>>>);

impl<T> Default for Work<T> {
    fn default() -> Self {
        Self(None)
    }
}

impl<T: Send + 'static> Work<T> {
    /// Starts work; what was under way is forgotten. False where the system gives no thread.
    pub fn start(&mut self, name: &str, work: impl FnOnce() -> T + Send + 'static) -> bool {
        let (to, from) = channel();
        let thread = thread::Builder::new().name(name.to_owned()).spawn(move || {
            // Nobody listening means that something newer was asked, or that the program is ending.
            let _ = to.send(work());
            wake::call();
        });
        self.0 = thread.is_ok().then(|| Mutex::new(from));
        self.0.is_some()
    }

    /// Whether something is under way.
    pub fn is_under_way(&self) -> bool {
        self.0.is_some()
    }

    /// The answer, once; `None` while it is worked on.
    pub fn answer(&mut self) -> Option<T> {
        self.answer_within(Duration::ZERO)
    }

    /// The same, waited for at most `patience`.
    pub fn answer_within(&mut self, patience: Duration) -> Option<T> {
        match self.0.as_mut()?.get_mut().ok()?.recv_timeout(patience) {
            Ok(answer) => {
                self.0 = None;
                Some(answer)
            }
            Err(RecvTimeoutError::Disconnected) => {
                // The thread ended without an answer: it panicked, and said so on its own.
                self.0 = None;
                None
            }
            Err(RecvTimeoutError::Timeout) => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wait<T: Send + 'static>(work: &mut Work<T>) -> Option<T> {
        while work.is_under_way() {
            if let Some(answer) = work.answer() {
                return Some(answer);
            }
            thread::yield_now();
        }
        None
    }

    #[test]
    fn an_answer_comes_once_and_the_newest_work_counts() {
        let mut work = Work::default();
        assert!(work.start("old", || 1) && work.start("new", || 2));
        assert_eq!(wait(&mut work), Some(2));
        assert_eq!(work.answer(), None);
    }

    #[test]
    fn work_that_breaks_off_is_not_under_way_for_ever() {
        let mut work: Work<u8> = Work::default();
        work.start("breaks", || panic!("on purpose"));
        assert_eq!(wait(&mut work), None);
        assert!(!work.is_under_way());
    }
}
