//! Keys by XInput 2 raw events, on a connection and a thread of its own.
//!
//! Owns the thread and its event mask. Raw events ignore the focus, so the mask is empty unless
//! armed, and only bound controls are sent on. Refuses to decode time or meaning.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::Sender;
use std::thread::{self, JoinHandle};

use x11rb::connection::Connection;
use x11rb::errors::{ConnectionError, ReplyError};
use x11rb::protocol::Event;
use x11rb::protocol::xinput::{ConnectionExt as _, EventMask, XIEventMask};
use x11rb::protocol::xproto::{self, ConnectionExt as _};
use x11rb::rust_connection::RustConnection;

use super::Bound;
use crate::app::clock;
use crate::press::{Control, EdgeKind, Origin, Reading, ServerClock, SourceFact, keys};
use crate::units::{Mark, Span};

/// The device number that stands for every master keyboard and pointer: XIAllMasterDevices.
const ALL_MASTERS: u16 = 1;

/// How often the server is asked for its time at the start. Chosen: more than the check of its clock needs.
const ASKED: usize = 8;

/// A running listener; dropping it ends its thread.
pub struct X11Source {
    connection: Arc<RustConnection>,
    root: u32,
    /// A window of our own, never shown: a message to it wakes the thread to end it.
    own_window: u32,
    bound: Bound,
    seen: Arc<AtomicU64>,
    thread: Option<JoinHandle<()>>,
}

impl X11Source {
    /// Starts listening, disarmed, and asks the server for its time, so that even the first press is
    /// sharp. The error is a plain reason why this source cannot run here.
    pub fn start(sender: Sender<SourceFact>) -> Result<(Self, ServerClock), String> {
        if std::env::var_os("DISPLAY").is_none_or(|display| display.is_empty()) {
            return Err("not an X11 session (DISPLAY is not set)".to_owned());
        }
        let (connection, screen) =
            x11rb::connect(None).map_err(|e| format!("the X display cannot be reached: {e}"))?;
        let root = connection.setup().roots[screen].root;
        let own_window = prepare(&connection, root)
            .map_err(|e| format!("no XInput 2.1 raw events on this display: {e}"))?;
        let mut clock = ServerClock::new(coarse_lag());
        for _ in 0..ASKED {
            let (sent, server_ms, received) = ask_the_time(&connection, own_window)
                .map_err(|e| format!("the X display does not tell its time: {e}"))?;
            clock.observe_round_trip(sent, server_ms, received);
        }
        let (connection, bound) = (Arc::new(connection), Bound::default());
        let seen = Arc::new(AtomicU64::new(0));
        let listener = (Arc::clone(&connection), bound.clone(), Arc::clone(&seen));
        let thread = thread::Builder::new()
            .name("x11-presses".to_owned())
            .spawn(move || listen(&listener.0, own_window, &listener.1, &listener.2, &sender))
            .map_err(|e| format!("no thread to listen on: {e}"))?;
        Ok((Self { connection, root, own_window, bound, seen, thread: Some(thread) }, clock))
    }

    /// Raw key events received since the start, bound or not: a health figure.
    pub fn events_seen(&self) -> u64 {
        self.seen.load(Ordering::Relaxed)
    }

    /// Whether the thread still listens; it ends with the connection or the receiver.
    pub fn is_listening(&self) -> bool {
        self.thread.as_ref().is_some_and(|thread| !thread.is_finished())
    }

    /// Has edges of these controls sent from now on.
    pub fn arm(&self, controls: &[Control]) -> Result<(), ConnectionError> {
        self.bound.set(controls);
        select(&self.connection, self.root, !controls.is_empty())
    }

    /// Has nothing sent and nothing received any more.
    pub fn disarm(&self) -> Result<(), ConnectionError> {
        self.arm(&[])
    }
}

impl Drop for X11Source {
    fn drop(&mut self) {
        let wake = xproto::ClientMessageEvent::new(32, self.own_window, 1_u32, [0_u32; 5]);
        let no_mask = xproto::EventMask::NO_EVENT;
        let sent = self.connection.send_event(false, self.own_window, no_mask, wake).is_ok();
        // Without a connection the thread has ended by itself; a message not sent wakes nobody.
        if sent && self.connection.flush().is_ok() {
            self.thread.take().map(JoinHandle::join);
        }
    }
}

/// Checks the extension, tries the mask once with a reply, so that a display that forbids it says
/// so, and makes the window that messages to ourselves go to.
fn prepare(connection: &RustConnection, root: u32) -> Result<u32, ReplyError> {
    let version = connection.xinput_xi_query_version(2, 2)?.reply()?;
    if (version.major_version, version.minor_version) < (2, 1) {
        return Err(ConnectionError::UnsupportedExtension.into());
    }
    for armed in [true, false] {
        connection.xinput_xi_select_events(root, &[mask(armed)])?.check()?;
    }
    let window = connection.generate_id().map_err(|_| ConnectionError::UnknownError)?;
    // It also hears of changes to itself: that is how the server is asked for its time.
    let aux = xproto::CreateWindowAux::new().event_mask(xproto::EventMask::PROPERTY_CHANGE);
    let class = xproto::WindowClass::INPUT_ONLY;
    connection.create_window(0, window, root, 0, 0, 1, 1, 0, class, 0, &aux)?.check()?;
    Ok(window)
}

/// Changes nothing about a property of our own window; the server dates the news of it. The marks
/// before the asking and after the answer enclose the server's date.
fn ask_the_time(
    connection: &RustConnection,
    own_window: u32,
) -> Result<(Mark, u32, Mark), ConnectionError> {
    let sent = clock::now();
    let (append, name) = (xproto::PropMode::APPEND, xproto::AtomEnum::WM_NAME);
    let kind = xproto::AtomEnum::STRING;
    connection.change_property(append, own_window, name, kind, 8, 0, &[])?.ignore_error();
    connection.flush()?;
    loop {
        if let Event::PropertyNotify(news) = connection.wait_for_event()? {
            return Ok((sent, news.time, clock::now()));
        }
    }
}

fn mask(armed: bool) -> EventMask {
    let keys = XIEventMask::RAW_KEY_PRESS | XIEventMask::RAW_KEY_RELEASE;
    let buttons = XIEventMask::RAW_BUTTON_PRESS | XIEventMask::RAW_BUTTON_RELEASE;
    let mask = if armed { keys | buttons } else { XIEventMask::default() };
    EventMask { deviceid: ALL_MASTERS, mask: vec![mask] }
}

fn select(connection: &RustConnection, root: u32, armed: bool) -> Result<(), ConnectionError> {
    connection.xinput_xi_select_events(root, &[mask(armed)])?.ignore_error();
    connection.flush()
}

/// How far the server's clock may lag besides being cut to milliseconds: the X.Org server
/// (`os/utils.c`, `GetTimeInMillis`) takes the coarse monotonic clock where it is good to 1 ms.
fn coarse_lag() -> Span {
    #[cfg(target_os = "linux")]
    {
        let step = rustix::time::clock_getres(rustix::time::ClockId::MonotonicCoarse);
        if step.tv_sec == 0 && step.tv_nsec / 1_000 <= 1_000 {
            return Span::from_ns(step.tv_nsec);
        }
    }
    Span::ZERO
}

fn key(keycode: u32) -> Option<Control> {
    keys::evdev_from_x11(keycode).map(Control::Key)
}

fn mouse(button: u32) -> Option<Control> {
    keys::mouse_from_x11(button)
}

/// The thread: stamps the arrival before anything else is done with an event.
fn listen(
    connection: &RustConnection,
    own_window: u32,
    bound: &Bound,
    seen: &AtomicU64,
    sender: &Sender<SourceFact>,
) {
    while let Ok(event) = connection.wait_for_event() {
        let arrival = clock::now();
        let (control, time, edge) = match event {
            Event::XinputRawKeyPress(raw) => (key(raw.detail), raw.time, EdgeKind::Down),
            Event::XinputRawKeyRelease(raw) => (key(raw.detail), raw.time, EdgeKind::Up),
            Event::XinputRawButtonPress(raw) => (mouse(raw.detail), raw.time, EdgeKind::Down),
            Event::XinputRawButtonRelease(raw) => (mouse(raw.detail), raw.time, EdgeKind::Up),
            Event::ClientMessage(message) if message.window == own_window => return,
            _ => continue,
        };
        seen.fetch_add(1, Ordering::Relaxed);
        let Some(control) = control.filter(|control| bound.contains(*control)) else {
            continue;
        };
        let reading = Reading::Server { arrival, server_ms: time };
        let fact = SourceFact { source: Origin::Server, control, edge, reading };
        if sender.send(fact).is_err() {
            return;
        }
    }
}
