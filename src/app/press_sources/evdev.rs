//! Keys by the kernel's own events, each keyboard on a thread of its own. Opt-in: it needs leave to read
//! the devices.
//!
//! Owns opening and reading them. Refuses to decode, and to widen anybody's rights.

use std::fs::File;
use std::io::{self, ErrorKind};
use std::sync::Arc;
use std::sync::mpsc::Sender;
use std::thread;
use std::time::UNIX_EPOCH;

use evdev::raw_stream::RawDevice;
use evdev::{InputEvent, KeyCode};
use rustix::ioctl::{Setter, ioctl, opcode};

use super::Bound;
use crate::app::clock;
use crate::press::evdev::{EvdevDevice, InputRecord, Told};
use crate::press::{Control, SourceFact};

/// `EVIOCSCLOCKID` of `linux/input.h`: which clock dates a device's events.
const SET_CLOCK: rustix::ioctl::Opcode = opcode::write::<i32>(b'E', 0xa0);
/// `CLOCK_MONOTONIC` of `linux/time.h`, the program's clock.
const MONOTONIC: i32 = 1;

/// Running readers. A thread ends with its device or the receiver.
pub struct EvdevSource {
    bound: Bound,
    /// One clone in every running thread.
    readers: Arc<()>,
}

impl EvdevSource {
    /// Starts reading every keyboard, disarmed. The error is a plain reason why none can be read.
    pub fn start(sender: &Sender<SourceFact>) -> Result<Self, String> {
        let (bound, mut refused, readers) = (Bound::default(), false, Arc::new(()));
        let folder = std::fs::read_dir("/dev/input").map_err(|e| format!("/dev/input: {e}"))?;
        for path in folder.flatten().map(|entry| entry.path()) {
            if !path.file_name().is_some_and(|n| n.to_string_lossy().starts_with("event")) {
                continue;
            }
            match open(&path) {
                Ok(Some(device)) => {
                    let (bound, sender) = (bound.clone(), sender.clone());
                    let (thread, reader) = (thread::Builder::new(), Arc::clone(&readers));
                    let started = thread.name("evdev-presses".to_owned()).spawn(move || {
                        read(device, bound, sender);
                        drop(reader);
                    });
                    started.map_err(|e| format!("no thread to read keys on: {e}"))?;
                }
                Ok(None) => {}
                Err(error) => refused |= error.kind() == ErrorKind::PermissionDenied,
            }
        }
        let source = Self { bound, readers };
        match (source.is_listening(), refused) {
            (true, _) => Ok(source),
            (_, true) => {
                Err("you may not read the keyboards in /dev/input. Your system's group for \
                input devices grants it, but then every program of yours can read every key: the \
                X11 listener needs no such leave"
                    .to_owned())
            }
            _ => Err("no keyboard in /dev/input".to_owned()),
        }
    }

    /// Whether any keyboard is still read.
    pub fn is_listening(&self) -> bool {
        Arc::strong_count(&self.readers) > 1
    }

    /// Has edges of these controls sent from now on.
    pub fn arm(&self, controls: &[Control]) {
        self.bound.set(controls);
    }
}

/// Opens a keyboard, to be read only, with events on our clock. None if it is something else.
fn open(path: &std::path::Path) -> io::Result<Option<RawDevice>> {
    let device = RawDevice::from_fd(File::open(path)?.into())?;
    if !device.supported_keys().is_some_and(|keys| keys.contains(KeyCode::KEY_SPACE)) {
        return Ok(None);
    }
    // SAFETY: the opcode is the header's, and it takes a pointer to an int, which the kernel reads.
    #[allow(unsafe_code)]
    unsafe {
        ioctl(&device, Setter::<SET_CLOCK, i32>::new(MONOTONIC))?;
    }
    Ok(Some(device))
}

fn read(mut device: RawDevice, bound: Bound, sender: Sender<SourceFact>) {
    let codes = |state: io::Result<evdev::AttributeSet<KeyCode>>| -> Vec<u16> {
        state.map(|keys| keys.iter().map(KeyCode::code).collect()).unwrap_or_default()
    };
    let mut decoder = EvdevDevice::new(codes(device.get_key_state()), clock::now());
    let send = |fact: SourceFact| !bound.contains(fact.control) || sender.send(fact).is_ok();
    while let Ok(events) = device.fetch_events().map(|events| events.collect::<Vec<_>>()) {
        let arrival = clock::now();
        for event in events {
            let heard = match decoder.read(record(&event), arrival) {
                Told::Nothing => true,
                Told::Edge(fact) => send(fact),
                Told::StateLost => {
                    let down = codes(device.get_key_state());
                    decoder.restate(&down, &[], clock::now()).into_iter().all(send)
                }
            };
            if !heard {
                return;
            }
        }
    }
}

fn record(event: &InputEvent) -> InputRecord {
    // The library dresses the kernel's time as wall time; on the monotonic clock it is none.
    let time = event.timestamp().duration_since(UNIX_EPOCH).unwrap_or_default();
    InputRecord {
        sec: i64::try_from(time.as_secs()).unwrap_or(i64::MAX),
        usec: i64::from(time.subsec_micros()),
        kind: event.event_type().0,
        code: event.code(),
        value: event.value(),
    }
}
