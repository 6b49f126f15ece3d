//! What a desktop does to a window: close, hide, show again, size, another density.
//!
//! Owns the requests, as a window manager would send them; under a bare server nobody else does. Refuses
//! keys.

use x11rb::connection::Connection;
use x11rb::protocol::xproto::{
    Atom, ClientMessageEvent, ConfigureWindowAux, ConnectionExt as _, CreateWindowAux, EventMask,
    PropMode, Window, WindowClass,
};
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

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

/// A desktop that tells programs how dense the screen is (the XSETTINGS protocol of freedesktop.org): its
/// word changes when a window comes to another monitor, or when the user changes the scale.
pub struct Desktop {
    connection: RustConnection,
    window: Window,
    settings: Atom,
    serial: u32,
}

impl Desktop {
    /// Takes charge of the screen, before the program starts.
    pub fn manage(display: &str) -> Outcome<Self> {
        let (connection, screen) = x11rb::connect(Some(display)).map_err(told)?;
        let root = connection.setup().roots[screen].root;
        let atom = |name: String| {
            let reply = connection.intern_atom(false, name.as_bytes()).map_err(told)?.reply();
            reply.map(|found| found.atom).map_err(told)
        };
        let (charge, settings) =
            (atom(format!("_XSETTINGS_S{screen}"))?, atom("_XSETTINGS_SETTINGS".to_owned())?);
        let window = connection.generate_id().map_err(told)?;
        let (class, aux) = (WindowClass::INPUT_ONLY, CreateWindowAux::new());
        connection
            .create_window(0, window, root, -1, -1, 1, 1, 0, class, x11rb::COPY_FROM_PARENT, &aux)
            .map_err(told)?;
        connection.set_selection_owner(window, charge, x11rb::CURRENT_TIME).map_err(told)?;
        let mut desktop = Self { connection, window, settings, serial: 0 };
        desktop.density(96)?;
        Ok(desktop)
    }

    /// From now on the screen has so many dots an inch; 96 is 100 %.
    pub fn density(&mut self, dots_an_inch: u32) -> Outcome<()> {
        const NAME: &[u8] = b"Xft/DPI\0";
        self.serial += 1;
        // Least significant byte first, three bytes unused, then the serial and one setting: an integer
        // of a name of seven letters, padded to eight, in 1024ths.
        let mut words = vec![0, 0, 0, 0];
        words.extend(self.serial.to_le_bytes());
        words.extend(1_u32.to_le_bytes());
        words.extend([0, 0]);
        words.extend((NAME.len() as u16 - 1).to_le_bytes());
        words.extend(NAME);
        words.extend(self.serial.to_le_bytes());
        words.extend((dots_an_inch * 1024).to_le_bytes());
        let (settings, c) = (self.settings, &self.connection);
        c.change_property8(PropMode::REPLACE, self.window, settings, settings, &words)
            .map_err(told)?
            .check()
            .map_err(told)
    }
}

fn told(error: impl std::fmt::Display) -> String {
    format!("X server: {error}")
}
