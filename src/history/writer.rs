//! The one writer thread: runs go in, "saved" or "not saved" comes out.
//!
//! Owns the waiting line of unsaved lines. Order is kept: nothing is written before what was
//! handed in earlier. A failed line stays in memory and is tried again with the next line, on
//! request and at the end. Refuses to drop a line silently and to say "saved" before the disk did.

use std::collections::VecDeque;
use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use super::error::HistoryError;
use super::line::{Line, SealedLine};
use super::log::{Log, Sink};

/// What became of a line. Each line handed in gets at least one such answer; after a failure there
/// is a further one for each attempt.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SaveEvent {
    /// It is on the disk.
    Saved {
        /// Its id.
        id: String,
    },
    /// It is not; it stays in memory.
    SaveFailed {
        /// Its id.
        id: String,
        /// What went wrong and what to do about it.
        why: String,
    },
}

/// What is left when the writer ends.
#[derive(Debug, Default)]
pub struct Finished {
    /// Answers nobody had fetched yet.
    pub events: Vec<SaveEvent>,
    /// Lines that never reached the disk, to be rescued some other way.
    pub unsaved: Vec<SealedLine>,
}

/// Hand of the writer thread. Dropping it writes what is waiting, once more if need be, and waits
/// for the thread.
#[derive(Debug)]
pub struct Writer {
    orders: Option<Sender<Order>>,
    /// The mutex is never contended; it only lets the value be shared between threads.
    events: Mutex<Receiver<SaveEvent>>,
    thread: Option<JoinHandle<Vec<SealedLine>>>,
}

enum Order {
    Save(SealedLine),
    Retry,
}

impl Writer {
    /// Starts the thread on a log.
    ///
    /// # Errors
    /// [`HistoryError::Thread`].
    pub fn start<S: Sink + Send + 'static>(log: Log<S>) -> Result<Self, HistoryError> {
        Self::start_calling(log, || ())
    }

    /// The same; after every answer, once it can be fetched, `call` is called from the thread.
    ///
    /// # Errors
    /// [`HistoryError::Thread`].
    pub fn start_calling<S: Sink + Send + 'static>(
        log: Log<S>,
        call: impl Fn() + Send + 'static,
    ) -> Result<Self, HistoryError> {
        let (orders, inbox) = mpsc::channel();
        let (outbox, events) = mpsc::channel();
        // A closed outbox is no reason to stop: the lines matter, not who listens.
        let tell = move |event| {
            drop(outbox.send(event));
            call();
        };
        let thread = thread::Builder::new()
            .name("history writer".to_owned())
            .spawn(move || write_until_closed(log, &inbox, &tell))
            .map_err(|source| HistoryError::Thread { source })?;
        Ok(Self { orders: Some(orders), events: Mutex::new(events), thread: Some(thread) })
    }

    /// Hands in a run or any other line and returns its id without waiting for the disk. Lines
    /// that failed before are tried first.
    ///
    /// # Errors
    /// As [`Line::seal`], and [`HistoryError::WriterGone`]; the line is then not waiting anywhere.
    pub fn submit(&self, line: impl Into<Line>) -> Result<String, HistoryError> {
        let line = line.into().seal()?;
        let id = line.id().to_owned();
        self.send(Order::Save(line))?;
        Ok(id)
    }

    /// Tries the lines that failed once more.
    ///
    /// # Errors
    /// [`HistoryError::WriterGone`].
    pub fn retry(&self) -> Result<(), HistoryError> {
        self.send(Order::Retry)
    }

    /// The next answer, if there is one already.
    pub fn try_event(&mut self) -> Option<SaveEvent> {
        self.receiver().try_recv().ok()
    }

    /// The next answer, waited for at most `patience`.
    pub fn wait_event(&mut self, patience: Duration) -> Option<SaveEvent> {
        self.receiver().recv_timeout(patience).ok()
    }

    /// Writes what is waiting, once more if need be, ends the thread and says what is left.
    pub fn finish(mut self) -> Finished {
        let unsaved = self.close();
        Finished { events: self.receiver().try_iter().collect(), unsaved }
    }

    fn send(&self, order: Order) -> Result<(), HistoryError> {
        let orders = self.orders.as_ref().ok_or(HistoryError::WriterGone)?;
        orders.send(order).map_err(|_| HistoryError::WriterGone)
    }

    fn receiver(&mut self) -> &mut Receiver<SaveEvent> {
        self.events.get_mut().unwrap_or_else(PoisonError::into_inner)
    }

    /// Closing the channel lets the thread work off what is in it and end.
    fn close(&mut self) -> Vec<SealedLine> {
        self.orders = None;
        self.thread.take().and_then(|thread| thread.join().ok()).unwrap_or_default()
    }
}

impl Drop for Writer {
    fn drop(&mut self) {
        self.close();
    }
}

/// The thread: returns the lines that could not be saved.
fn write_until_closed<S: Sink>(
    mut log: Log<S>,
    inbox: &Receiver<Order>,
    tell: &dyn Fn(SaveEvent),
) -> Vec<SealedLine> {
    let mut waiting = VecDeque::new();
    for order in inbox {
        if let Order::Save(line) = order {
            waiting.push_back(line);
        }
        write_waiting(&mut log, &mut waiting, tell);
    }
    write_waiting(&mut log, &mut waiting, tell);
    waiting.into()
}

/// Writes from the front until one fails; that one and all behind it are told so.
fn write_waiting<S: Sink>(
    log: &mut Log<S>,
    waiting: &mut VecDeque<SealedLine>,
    tell: &dyn Fn(SaveEvent),
) {
    while let Some(line) = waiting.front() {
        match log.append_sealed(line) {
            Ok(saved) => {
                waiting.pop_front();
                tell(SaveEvent::Saved { id: saved.id });
            }
            Err(error) => {
                let why = error.to_string();
                for line in waiting.iter() {
                    tell(SaveEvent::SaveFailed { id: line.id().to_owned(), why: why.clone() });
                }
                return;
            }
        }
    }
}
