//! What a desktop does to a window: close, hide, show again, size.
//!
//! Owns the requests, as a window manager would send them; under a bare server nobody else does. Refuses
//! keys.

use x11rb::connection::Connection;
use x11rb::protocol::xproto::{
    ClientMessageEvent, ConfigureWindowAux, ConnectionExt as _, EventMask,
};

use crate::keys::Keyboard;
use crate::xserver::Outcome;

/// Asks the program to close its window, as the cross in a title bar does (ICCCM 4.2.8.1).
pub fn close(keys: &Keyboard) -> Outcome<()> {
    let (c, window) = (keys.connection(), keys.window());
    let atom = |name: &str| {
        let reply = c.intern_atom(false, name.as_bytes()).map_err(told)?.reply();
        reply.map(|found| found.atom).map_err(told)
    };
    let data = [atom("WM_DELETE_WINDOW")?, x11rb::CURRENT_TIME, 0, 0, 0];
    let event = ClientMessageEvent::new(32, window, atom("WM_PROTOCOLS")?, data);
    c.send_event(false, window, EventMask::NO_EVENT, event).map_err(told)?.check().map_err(told)
}

/// Takes the window off the screen, as minimising does.
pub fn hide(keys: &Keyboard) -> Outcome<()> {
    keys.connection().unmap_window(keys.window()).map_err(told)?.check().map_err(told)
}

/// Puts it back.
pub fn show(keys: &Keyboard) -> Outcome<()> {
    keys.connection().map_window(keys.window()).map_err(told)?.check().map_err(told)
}

/// Gives it a size, px.
pub fn resize(keys: &Keyboard, size: (u32, u32)) -> Outcome<()> {
    let c = keys.connection();
    let wanted = ConfigureWindowAux::new().width(size.0).height(size.1);
    c.configure_window(keys.window(), &wanted).map_err(told)?;
    c.flush().map_err(told)
}

fn told(error: impl std::fmt::Display) -> String {
    format!("X server: {error}")
}
