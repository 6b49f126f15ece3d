//! What an X server says of our frames, heard on a connection and a thread of its own.
//!
//! Owns the thread. The server tells every listener of a window when a frame was put on the screen, if
//! the driver presents through it. Refuses to pair words with frames.

use std::sync::mpsc::{Sender, channel};
use std::thread;

use bevy::ecs::system::NonSendMarker;
use bevy::prelude::*;
use bevy::winit::WINIT_WINDOWS;
use x11rb::connection::Connection;
use x11rb::errors::ReplyError;
use x11rb::protocol::Event as XEvent;
use x11rb::protocol::present::{CompleteKind, CompleteMode, ConnectionExt as _, EventMask};
use x11rb::protocol::xproto::ConnectionExt as _;
use x11rb::rust_connection::RustConnection;

use super::{Frames, ServerWords};
use crate::app::clock;
use crate::onset::{Completion, How};
use crate::units::{Mark, Span};

/// The server's time counts as ours while it is this close to the arrival. Chosen; the protocol does
/// not promise which clock it is.
const SAME_CLOCK: Span = Span::from_ms(500);

/// A running listener. Its thread ends with the receiver or the connection.
pub struct X11Words {
    /// A compositor runs on this screen.
    pub composited: bool,
}

impl X11Words {
    /// Listens for words on `window` of `display` (none: the one of the environment). The error is a
    /// plain reason why there can be none.
    pub fn start(
        display: Option<&str>,
        window: u32,
        to: Sender<Completion>,
    ) -> Result<Self, String> {
        let (connection, screen) =
            x11rb::connect(display).map_err(|e| format!("the X display cannot be reached: {e}"))?;
        let composited = prepare(&connection, screen, window)
            .map_err(|e| format!("this display does not tell when frames are shown: {e}"))?;
        thread::Builder::new()
            .name("x11-frames".to_owned())
            .spawn(move || listen(&connection, &to))
            .map_err(|e| format!("no thread to listen on: {e}"))?;
        Ok(Self { composited })
    }
}

/// Asks for the words; whether a compositor owns the screen.
fn prepare(connection: &RustConnection, screen: usize, window: u32) -> Result<bool, ReplyError> {
    connection.present_query_version(1, 0)?.reply()?;
    let id = connection
        .generate_id()
        .map_err(|_| ReplyError::ConnectionError(x11rb::errors::ConnectionError::UnknownError))?;
    connection.present_select_input(id, window, EventMask::COMPLETE_NOTIFY)?.check()?;
    let name = format!("_NET_WM_CM_S{screen}");
    let atom = connection.intern_atom(false, name.as_bytes())?.reply()?.atom;
    Ok(connection.get_selection_owner(atom)?.reply()?.owner != x11rb::NONE)
}

fn listen(connection: &RustConnection, to: &Sender<Completion>) {
    while let Ok(event) = connection.wait_for_event() {
        let arrival = clock::now();
        let XEvent::PresentCompleteNotify(word) = event else { continue };
        let at = Mark::from_ns(i64::try_from(word.ust).unwrap_or(0).saturating_mul(1_000));
        if word.kind != CompleteKind::PIXMAP || (arrival - at).abs() > SAME_CLOCK {
            continue;
        }
        let how = match word.mode {
            CompleteMode::FLIP => How::Flip,
            CompleteMode::SKIP => How::Skip,
            _ => How::Copy,
        };
        if to.send(Completion { serial: word.serial, at, how }).is_err() {
            return;
        }
    }
}

/// Listens to the words on our window as soon as there is one: before its first frame, or the
/// server's numbers could not be told from ours.
pub fn listen_once(
    windows: Query<Entity, With<Window>>,
    mut words: ResMut<ServerWords>,
    mut frames: ResMut<Frames>,
    mut done: Local<bool>,
    _on_the_main_thread: NonSendMarker,
) {
    let Some(entity) = windows.iter().next().filter(|_| !*done) else { return };
    let id = WINIT_WINDOWS
        .with_borrow(|windows| windows.get_window(entity).map(|window| u64::from(window.id())));
    let Some(id) = id.and_then(|id| u32::try_from(id).ok()) else { return };
    *done = true;
    let (to, from) = channel();
    *words = match X11Words::start(None, id, to) {
        Ok(listener) => {
            frames.ladder.composited = listener.composited;
            ServerWords::of(listener, from)
        }
        Err(reason) => ServerWords::none(reason),
    };
}
