//! Calling the window from other threads.
//!
//! Owns the one way to have a window that rests look up: a press of a pad, a line on disk, an answer that
//! was worked out. Refuses to say what happened: whoever calls has left word where it is looked for.

use bevy::winit::WinitUserEvent;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};
use winit::event_loop::EventLoopProxy;

static WINDOW: OnceLock<EventLoopProxy<WinitUserEvent>> = OnceLock::new();
static CALLED: AtomicBool = AtomicBool::new(false);

/// From now on this window is called.
pub fn call_here(window: EventLoopProxy<WinitUserEvent>) {
    // There is one window to a program: the first one stays.
    let _ = WINDOW.set(window);
}

/// Calls the window, if there is one; costs next to nothing and never waits.
pub fn call() {
    CALLED.store(true, Ordering::Release);
    if let Some(window) = WINDOW.get() {
        // A window that is gone needs no call.
        let _ = window.send_event(WinitUserEvent::WakeUp);
    }
}

/// Whether somebody called since this was asked last.
pub fn was_called() -> bool {
    CALLED.swap(false, Ordering::AcqRel)
}
