//! Pads, pedals and button boxes, read on a thread of their own.
//!
//! Owns the thread. The window does not tell of these devices, so an edge from here is both the
//! what and the when. Refuses to decode.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, SystemTime};

use gilrs::{Event, EventType, Gilrs, GilrsBuilder};

use super::Bound;
use crate::app::{clock, wake};
use crate::press::analog::{AnalogAxis, Threshold, Travel};
use crate::press::pad::{PadDating, PadDecoder, PadEvent};
use crate::press::pad_time::ClockPair;
use crate::press::{Control, SourceFact};
use crate::units::Span;

/// How often the thread looks whether it shall end; a press wakes it at once.
const LOOK_UP: Duration = Duration::from_millis(200);

/// Outside Linux the library polls, every 10 ms at worst (gilrs-core 0.6.8, XInput), and dates an
/// event with the moment it polled.
const POLL_LAG: Span = Span::from_ms(10);

/// Axes that can launch: ABS_Z and ABS_RZ, a pad's triggers, and ABS_GAS, a pedal
/// (`linux/input-event-codes.h`).
pub const LAUNCH_AXES: [u16; 3] = [0x02, 0x05, 0x09];

/// What the thread sends.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PadFact {
    /// A bound button moved.
    Edge(SourceFact),
    /// A device of this name is there.
    Connected(String),
    /// The device of this name is gone; what it held down will not tell that it was let go.
    Disconnected(String, Vec<Control>),
}

/// A running reader; dropping it ends its thread within 200 ms.
pub struct PadSource {
    bound: Bound,
    stop: Arc<AtomicBool>,
    axes: Sender<Threshold>,
    thread: Option<JoinHandle<()>>,
}

impl PadSource {
    /// Starts reading, disarmed. The error is a plain reason why no device can be read here.
    pub fn start(sender: Sender<PadFact>) -> Result<Self, String> {
        let (bound, stop) = (Bound::default(), Arc::new(AtomicBool::new(false)));
        let shared = (bound.clone(), Arc::clone(&stop));
        let (ready, started) = channel();
        let (axes, thresholds) = channel();
        let thread = thread::Builder::new()
            .name("pad-presses".to_owned())
            // The library's own filters swallow small movements: stamps would be wider for it.
            .spawn(move || match GilrsBuilder::new().with_default_filters(false).build() {
                Ok(gilrs) => {
                    // Nobody waiting any more means that the program is ending.
                    if ready.send(Ok(())).is_ok() {
                        read(gilrs, &shared.0, &shared.1, &thresholds, &sender);
                    }
                }
                Err(e) => drop(ready.send(Err(format!("pads cannot be read here: {e}")))),
            })
            .map_err(|e| format!("no thread to read pads on: {e}"))?;
        started.recv().unwrap_or_else(|_| Err("the pad reader ended at once".to_owned()))?;
        Ok(Self { bound, stop, axes, thread: Some(thread) })
    }

    /// Has edges of these buttons sent from now on.
    pub fn arm(&self, controls: &[Control]) {
        self.bound.set(controls);
    }

    /// Has everything that is pressed sent, or again what was armed alone.
    pub fn hear_any(&self, on: bool) {
        self.bound.set_any(on);
    }

    /// Has triggers and pedals count as down from this threshold on.
    pub fn set_threshold(&self, threshold: Threshold) {
        // A thread that has ended says so elsewhere.
        let _ = self.axes.send(threshold);
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
    stop: &AtomicBool,
    axes: &Receiver<Threshold>,
    to: &Sender<PadFact>,
) {
    let dating =
        if cfg!(target_os = "linux") { PadDating::Kernel } else { PadDating::Polled(POLL_LAG) };
    let mut decoder = PadDecoder::new(dating, clock::now());
    let mut first = None;
    while !stop.load(Ordering::Relaxed) {
        for threshold in axes.try_iter() {
            for code in LAUNCH_AXES {
                let axis = AnalogAxis::new(Travel::SHARE, threshold, None);
                decoder.follow_axis(code, axis);
            }
        }
        let Some(Event { id, event, time, .. }) = gilrs.next_event_blocking(Some(LOOK_UP)) else {
            continue;
        };
        let arrival = clock::now();
        let (event, code) = match event {
            EventType::ButtonPressed(_, code) => (PadEvent::Pressed, code),
            EventType::ButtonReleased(_, code) => (PadEvent::Released, code),
            EventType::ButtonChanged(_, value, code) => (PadEvent::ButtonValue(value), code),
            // Pedals rest at the lower end of −1 to 1; triggers already come as 0 to 1.
            EventType::AxisChanged(_, value, code) => {
                (PadEvent::AxisValue(f32::midpoint(value, 1.0)), code)
            }
            EventType::Connected | EventType::Disconnected => {
                let name = gilrs.gamepad(id).name().to_owned();
                let news = match event {
                    EventType::Connected => PadFact::Connected(name),
                    _ => {
                        let held = decoder.forget(id.into());
                        let is_first = first.is_none_or(|first| first == id);
                        let own = |c: Control| if is_first { c } else { c.on_second_pad() };
                        PadFact::Disconnected(name, held.into_iter().map(own).collect())
                    }
                };
                if to.send(news).is_err() {
                    return;
                }
                wake::call();
                continue;
            }
            _ => continue,
        };
        let (when, clocks) = ((time, arrival), read_both_clocks());
        let Some(mut fact) = decoder.read(id.into(), event, code.into_u32(), when, &clocks) else {
            continue;
        };
        // The pad that was worked first is the driver's.
        if *first.get_or_insert(id) != id {
            fact.control = fact.control.on_second_pad();
        }
        if bound.contains(fact.control) {
            if to.send(PadFact::Edge(fact)).is_err() {
                return;
            }
            wake::call();
        }
    }
}

/// Both clocks together; tried again when the thread lost its processor in between.
fn read_both_clocks() -> ClockPair {
    let read = || ClockPair { before: clock::now(), wall: SystemTime::now(), after: clock::now() };
    (0..3).map(|_| read()).find(ClockPair::is_close).unwrap_or_else(read)
}
