//! The display server's word of a frame against the light itself.
//!
//! Owns a plain client that presents pictures the way a hardware driver does. A software renderer does not, so the
//! program's listener is shown here on somebody else's window. Refuses the engine.

use std::sync::mpsc::channel;
use std::time::Duration;

use lastamber::app::onset::x11_words::X11Words;
use lastamber::onset::How;
use x11rb::connection::Connection;
use x11rb::protocol::present::ConnectionExt as _;
use x11rb::protocol::xproto::{
    ConnectionExt as _, CreateGCAux, CreateWindowAux, Gcontext, Pixmap, Rectangle, Window,
    WindowClass,
};
use x11rb::rust_connection::RustConnection;

use crate::framebuffer::Framebuffer;
use crate::keys::{now_ns, sleep_until};
use crate::measure::{median, robust_sd, worst};
use crate::xserver::{Outcome, XServer};

/// A square window in the corner of the screen.
const SIDE: u16 = 64;
/// Where the robot looks.
const LOOKED_AT: (i32, i32) = (32, 32);
/// Between two pictures, ns: no multiple of the server's refresh.
const STEP_NS: i64 = 43_000_000;
/// The server's word may be this far from the light in the middle of all frames, ms. On a quiet machine
/// it is 0.04 ms before the pixel changes.
const MEDIAN_BAR_MS: f64 = 2.0;

/// Presents `count` pictures, dark and bright in turn.
pub fn present_and_look(count: usize) -> Outcome<()> {
    let server = XServer::start(320, 240)?;
    let (connection, screen) =
        x11rb::connect(Some(&server.display())).map_err(|e| e.to_string())?;
    let (window, pictures) = client(&connection, screen).map_err(|e| e.to_string())?;
    let (to, words) = channel();
    let listener = X11Words::start(Some(&server.display()), window, to)?;
    let eyes = Framebuffer::open(&server.framebuffer_path())?;
    let mut errors_ms = Vec::new();
    for number in 0..count {
        let (bright, begun) = (number % 2 == 0, now_ns());
        present(&connection, window, pictures[usize::from(bright)], number as u32)
            .map_err(|e| e.to_string())?;
        let lit_ns = see(&eyes, bright)?;
        let word = words
            .recv_timeout(Duration::from_secs(2))
            .map_err(|_| format!("the server said nothing of picture {number}"))?;
        if word.serial != number as u32 || word.how == How::Skip {
            return Err(format!("picture {number} was presented, the word is {word:?}"));
        }
        errors_ms.push((word.at.ns() - lit_ns) as f64 * 1e-6);
        sleep_until(begun + STEP_NS);
    }
    println!(
        "\n{count} pictures: the server's word minus the light: median {:+.3} ms, robust SD {:.3} ms, \
         the worst {:.2} ms; compositor: {}",
        median(&errors_ms),
        robust_sd(&errors_ms),
        worst(&errors_ms),
        listener.composited
    );
    let middle = median(&errors_ms);
    if middle.abs() <= MEDIAN_BAR_MS {
        Ok(())
    } else {
        Err(format!("the median distance of word and light is {middle:+.2} ms"))
    }
}

/// Waits for the light; the moment it was seen, ns.
fn see(eyes: &Framebuffer, bright: bool) -> Outcome<i64> {
    let give_up = now_ns() + 2_000_000_000;
    loop {
        let lit = eyes.brightness(LOOKED_AT)? > 3 * 128;
        let now = now_ns();
        if lit == bright {
            return Ok(now);
        }
        if now > give_up {
            return Err(format!("a picture was presented and never seen, bright: {bright}"));
        }
        sleep_until(now + 50_000);
    }
}

type Shown = Result<(Window, [Pixmap; 2]), Box<dyn std::error::Error>>;

/// A window, and a dark and a bright picture for it.
fn client(connection: &RustConnection, screen: usize) -> Shown {
    let screen = &connection.setup().roots[screen];
    let window = connection.generate_id()?;
    let aux = CreateWindowAux::new().background_pixel(screen.black_pixel);
    let class = WindowClass::INPUT_OUTPUT;
    let (depth, root, visual) = (screen.root_depth, screen.root, screen.root_visual);
    connection
        .create_window(depth, window, root, 0, 0, SIDE, SIDE, 0, class, visual, &aux)?
        .check()?;
    connection.map_window(window)?.check()?;
    let mut pictures = [0; 2];
    for (picture, colour) in pictures.iter_mut().zip([screen.black_pixel, screen.white_pixel]) {
        *picture = connection.generate_id()?;
        connection.create_pixmap(depth, *picture, window, SIDE, SIDE)?.check()?;
        let brush: Gcontext = connection.generate_id()?;
        let aux = CreateGCAux::new().foreground(colour);
        connection.create_gc(brush, *picture, &aux)?.check()?;
        let whole = Rectangle { x: 0, y: 0, width: SIDE, height: SIDE };
        connection.poly_fill_rectangle(*picture, brush, &[whole])?.check()?;
    }
    Ok((window, pictures))
}

fn present(
    connection: &RustConnection,
    window: Window,
    picture: Pixmap,
    serial: u32,
) -> Result<(), Box<dyn std::error::Error>> {
    let none = x11rb::NONE;
    connection
        .present_pixmap(
            window,
            picture,
            serial,
            none,
            none,
            0,
            0,
            none,
            none,
            none,
            0,
            0,
            0,
            0,
            &[],
        )?
        .check()?;
    Ok(())
}
