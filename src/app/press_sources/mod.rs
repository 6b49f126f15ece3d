//! Threads that listen to devices and send raw facts; the core decides what they are worth.
//!
//! Owns the set of controls a source may speak of. Refuses to interpret: what is not bound is
//! dropped unread, and while nothing is armed nothing is sent.

use std::sync::{Arc, PoisonError, RwLock};

use crate::press::Control;

pub mod evdev;
pub mod pad;
pub mod x11;

/// The controls a source may send, shared with its thread. Empty until armed.
#[derive(Debug, Clone, Default)]
struct Bound(Arc<RwLock<Heard>>);

#[derive(Debug, Default)]
struct Heard {
    controls: Vec<Control>,
    /// Whatever is pressed, for binding anew.
    any: bool,
}

impl Bound {
    fn contains(&self, control: Control) -> bool {
        // A writer that panicked cannot have left half a list: it is replaced as a whole.
        let heard = self.0.read().unwrap_or_else(PoisonError::into_inner);
        heard.any || heard.controls.contains(&control)
    }

    fn set(&self, controls: &[Control]) {
        self.0.write().unwrap_or_else(PoisonError::into_inner).controls = controls.to_vec();
    }

    fn set_any(&self, any: bool) {
        self.0.write().unwrap_or_else(PoisonError::into_inner).any = any;
    }
}
