//! A hand on the keyboard: presses and releases through the X test extension, and where they go.
//!
//! Owns the connection, the search for the program's window and its input focus. Refuses to press
//! anything it has no scan code for.

use std::thread;
use std::time::Duration;

use rustix::time::{ClockId, clock_gettime};
use x11rb::connection::Connection;
use x11rb::protocol::xproto::{
    AtomEnum, ConnectionExt as _, InputFocus, KEY_PRESS_EVENT, KEY_RELEASE_EVENT, MapState, Window,
};
use x11rb::protocol::xtest::ConnectionExt as _;
use x11rb::rust_connection::RustConnection;

use crate::xserver::Outcome;

/// X key codes are the kernel's scan codes plus this.
const SCANCODE_TO_X: u8 = 8;
/// The title the program's window has.
const TITLE: &str = "Last Amber";

/// Nanoseconds of the monotonic clock, the one the program's trace uses.
pub fn now_ns() -> i64 {
    let t = clock_gettime(ClockId::Monotonic);
    t.tv_sec * 1_000_000_000 + t.tv_nsec
}

/// Sleeps until `moment_ns` of the monotonic clock; a moment that has passed costs nothing.
pub fn sleep_until(moment_ns: i64) {
    let left = moment_ns - now_ns();
    if left > 0 {
        thread::sleep(Duration::from_nanos(left.unsigned_abs()));
    }
}

/// The moments that enclose one key edge: before it was sent, and after the server answered a
/// question asked after it.
#[derive(Debug, Clone, Copy)]
pub struct Sent {
    pub before_ns: i64,
    pub after_ns: i64,
}

/// A connection that types into one window.
pub struct Keyboard {
    connection: RustConnection,
    root: Window,
    window: Window,
}

impl Keyboard {
    /// Connects to `display`; no window is chosen yet.
    pub fn connect(display: &str) -> Outcome<Self> {
        let (connection, screen) = x11rb::connect(Some(display))
            .map_err(|e| format!("no connection to display {display}: {e}"))?;
        let root = connection.setup().roots[screen].root;
        connection
            .xtest_get_version(2, 2)
            .map_err(told)?
            .reply()
            .map_err(|e| format!("the server has no XTEST extension: {e}"))?;
        Ok(Self { connection, root, window: x11rb::NONE })
    }

    /// The connection, for what is done to windows rather than typed.
    pub fn connection(&self) -> &RustConnection {
        &self.connection
    }

    /// The chosen window.
    pub fn window(&self) -> Window {
        self.window
    }

    /// Finds the window of process `pid`, or else one with the program's title, or else one of
    /// `size`. `None` while there is none that can be seen.
    pub fn find_window(&mut self, pid: u32, size: (u32, u32)) -> Outcome<Option<Window>> {
        let mut best: Option<(u8, Window)> = None;
        let mut open = vec![self.root];
        while let Some(parent) = open.pop() {
            let Ok(tree) = self.connection.query_tree(parent).map_err(told)?.reply() else {
                continue;
            };
            for window in tree.children {
                open.push(window);
                let score = self.likeness(window, pid, size)?;
                if score > best.map_or(0, |(s, _)| s) {
                    best = Some((score, window));
                }
            }
        }
        self.window = best.map_or(x11rb::NONE, |(_, w)| w);
        Ok(best.map(|(_, w)| w))
    }

    /// Gives the chosen window the input focus: under a bare server nobody else does.
    pub fn focus(&self) -> Outcome<()> {
        let held = self.connection.get_input_focus().map_err(told)?.reply().map_err(told)?.focus;
        if held == self.window {
            return Ok(());
        }
        self.connection
            .set_input_focus(InputFocus::PARENT, self.window, x11rb::CURRENT_TIME)
            .map_err(told)?
            .check()
            .map_err(|e| format!("the window does not take the input focus: {e}"))
    }

    /// Takes the input focus away from every window.
    pub fn focus_nothing(&self) -> Outcome<()> {
        self.connection
            .set_input_focus(InputFocus::NONE, x11rb::NONE, x11rb::CURRENT_TIME)
            .map_err(told)?
            .check()
            .map_err(|e| format!("the focus cannot be taken away: {e}"))
    }

    /// The chosen window's top left corner on the screen, pixels.
    pub fn window_origin(&self) -> Outcome<(i32, i32)> {
        let at = self
            .connection
            .translate_coordinates(self.window, self.root, 0, 0)
            .map_err(told)?
            .reply()
            .map_err(told)?;
        Ok((i32::from(at.dst_x), i32::from(at.dst_y)))
    }

    /// Presses `key`, a W3C code name.
    pub fn down(&self, key: &str) -> Outcome<Sent> {
        self.edge(KEY_PRESS_EVENT, key)
    }

    /// Releases `key`.
    pub fn up(&self, key: &str) -> Outcome<Sent> {
        self.edge(KEY_RELEASE_EVENT, key)
    }

    fn edge(&self, kind: u8, key: &str) -> Outcome<Sent> {
        let code = scancode(key).ok_or_else(|| format!("the robot has no key {key:?}"))?;
        let before_ns = now_ns();
        self.connection
            .xtest_fake_input(kind, code + SCANCODE_TO_X, 0, self.root, 0, 0, 0)
            .map_err(told)?;
        self.connection.get_input_focus().map_err(told)?.reply().map_err(told)?;
        Ok(Sent { before_ns, after_ns: now_ns() })
    }

    /// How much `window` looks like the program's: 0 not at all, 3 by process number.
    fn likeness(&self, window: Window, pid: u32, size: (u32, u32)) -> Outcome<u8> {
        let c = &self.connection;
        let Ok(seen) = c.get_window_attributes(window).map_err(told)?.reply() else { return Ok(0) };
        let Ok(shape) = c.get_geometry(window).map_err(told)?.reply() else { return Ok(0) };
        if seen.map_state != MapState::VIEWABLE || shape.width < 64 || shape.height < 64 {
            return Ok(0);
        }
        let atom = c.intern_atom(false, b"_NET_WM_PID").map_err(told)?.reply().map_err(told)?.atom;
        let owner = c.get_property(false, window, atom, AtomEnum::CARDINAL, 0, 1).map_err(told)?;
        if owner.reply().is_ok_and(|p| p.value32().is_some_and(|mut v| v.next() == Some(pid))) {
            return Ok(3);
        }
        let name =
            c.get_property(false, window, AtomEnum::WM_NAME, AtomEnum::ANY, 0, 64).map_err(told)?;
        if name.reply().is_ok_and(|p| String::from_utf8_lossy(&p.value).contains(TITLE)) {
            return Ok(2);
        }
        Ok(u8::from((u32::from(shape.width), u32::from(shape.height)) == size))
    }
}

/// The kernel's scan code of a W3C code name on a PC keyboard (linux/input-event-codes.h).
fn scancode(key: &str) -> Option<u8> {
    Some(match key {
        "Escape" => 1,
        "Digit1" => 2,
        "Digit2" => 3,
        "Digit3" => 4,
        "Digit4" => 5,
        "Digit5" => 6,
        "Digit6" => 7,
        "Digit7" => 8,
        "Digit8" => 9,
        "Digit9" => 10,
        "Digit0" => 11,
        "Backspace" => 14,
        "Tab" => 15,
        "Enter" => 28,
        "KeyD" => 32,
        "KeyF" => 33,
        "ShiftLeft" => 42,
        "Space" => 57,
        "ArrowUp" => 103,
        "ArrowLeft" => 105,
        "ArrowRight" => 106,
        "ArrowDown" => 108,
        _ => return None,
    })
}

fn told(error: impl std::fmt::Display) -> String {
    format!("X server: {error}")
}
