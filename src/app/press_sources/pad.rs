//! Pads, pedals and button boxes, read on a thread of their own.
//!
//! Owns the thread. The window does not tell of these devices, so an edge from here is both the
//! what and the when. Refuses sticks and analogue travel, and to decode time.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Sender;
use std::thread::{self, JoinHandle};
use std::time::{Duration, SystemTime};

use gilrs::{Event, EventType, Gilrs};

use super::Bound;
use crate::app::clock;
use crate::press::pad_time::{ClockPair, pad_reading};
use crate::press::{Control, EdgeKind, Origin, Reading, SourceFact};
use crate::units::{Mark, Span};

/// How often the thread looks whether it shall end; a press wakes it at once.
const LOOK_UP: Duration = Duration::from_millis(200);

/// Outside Linux the library polls, every 10 ms at worst (gilrs-core 0.6.8, XInput), and dates an
/// event with the moment it polled.
const POLL_LAG: Span = Span::from_ms(10);

/// What the thread sends.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PadFact {
    /// A bound button moved.
    Edge(SourceFact),
    /// A device of this name is there.
    Connected(String),
    /// The device of this name is gone; its buttons will not tell that they were let go.
    Disconnected(String),
}

/// A running reader; dropping it ends its thread within 200 ms.
pub struct PadSource {
    bound: Bound,
    /// Every button is sent, for binding one.
    any: Arc<AtomicBool>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl PadSource {
    /// Starts reading, disarmed. The error is a plain reason why no device can be read here.
    pub fn start(sender: Sender<PadFact>) -> Result<Self, String> {
        let (bound, any) = (Bound::default(), Arc::new(AtomicBool::new(false)));
        let stop = Arc::new(AtomicBool::new(false));
        let shared = (bound.clone(), Arc::clone(&any), Arc::clone(&stop));
        let (ready, started) = std::sync::mpsc::channel();
        let thread = thread::Builder::new()
            .name("pad-presses".to_owned())
            .spawn(move || match Gilrs::new() {
                Ok(gilrs) => {
                    // Nobody waiting any more means that the program is ending.
                    if ready.send(Ok(())).is_ok() {
                        read(gilrs, &shared.0, &shared.1, &shared.2, &sender);
                    }
                }
                Err(e) => drop(ready.send(Err(format!("pads cannot be read here: {e}")))),
            })
            .map_err(|e| format!("no thread to read pads on: {e}"))?;
        started.recv().unwrap_or_else(|_| Err("the pad reader ended at once".to_owned()))?;
        Ok(Self { bound, any, stop, thread: Some(thread) })
    }

    /// Has edges of these buttons sent from now on.
    pub fn arm(&self, controls: &[Control]) {
        self.bound.set(controls);
        self.any.store(false, Ordering::Relaxed);
    }

    /// Has edges of every button sent, so that one can be chosen.
    pub fn arm_any(&self) {
        self.any.store(true, Ordering::Relaxed);
    }

    /// Has no edge sent any more.
    pub fn disarm(&self) {
        self.arm(&[]);
    }
}

impl Drop for PadSource {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.take().map(JoinHandle::join);
    }
}

/// The thread.
fn read(
    mut gilrs: Gilrs,
    bound: &Bound,
    any: &AtomicBool,
    stop: &AtomicBool,
    to: &Sender<PadFact>,
) {
    while !stop.load(Ordering::Relaxed) {
        let Some(Event { id, event, time, .. }) = gilrs.next_event_blocking(Some(LOOK_UP)) else {
            continue;
        };
        let arrival = clock::now();
        let name =
            || gilrs.connected_gamepad(id).map_or_else(String::new, |pad| pad.name().to_owned());
        let fact = match event {
            EventType::ButtonPressed(_, code) => {
                edge(code.into_u32(), EdgeKind::Down, time, arrival)
            }
            EventType::ButtonReleased(_, code) => {
                edge(code.into_u32(), EdgeKind::Up, time, arrival)
            }
            EventType::Connected => PadFact::Connected(name()),
            EventType::Disconnected => PadFact::Disconnected(gilrs.gamepad(id).name().to_owned()),
            _ => continue,
        };
        if let PadFact::Edge(edge) = fact
            && !any.load(Ordering::Relaxed)
            && !bound.contains(edge.control)
        {
            continue;
        }
        if to.send(fact).is_err() {
            return;
        }
    }
}

/// The lower half of the code is enough: buttons and axes of the kernel do not share numbers there.
fn edge(code: u32, edge: EdgeKind, time: SystemTime, arrival: Mark) -> PadFact {
    let reading = if cfg!(target_os = "linux") {
        pad_reading(time, arrival, &read_both_clocks())
    } else {
        Reading::Arrival { arrival, lag: POLL_LAG }
    };
    let control = Control::PadButton((code & 0xFFFF) as u16);
    PadFact::Edge(SourceFact { source: Origin::Pad, control, edge, reading })
}

/// Both clocks together; tried again when the thread lost its processor in between.
fn read_both_clocks() -> ClockPair {
    let read = || ClockPair { before: clock::now(), wall: SystemTime::now(), after: clock::now() };
    (0..3).map(|_| read()).find(ClockPair::is_close).unwrap_or_else(read)
}
