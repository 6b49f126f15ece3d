//! What a control does: which key, mouse button, pad button or pedal is for which act.
//!
//! Owns the acts, the sets to begin with, binding by a driver's own choice, what must stay free and
//! why, and the words a choice is kept in. Refuses devices, edges and times, which are `press`, and
//! whether pressing or letting go launches: that is the car's answer (`car::EdgeAnswer`).

mod act;
mod bound;
mod choices;
mod error;
mod reserved;
mod sets;
mod words;

pub use act::Act;
pub use bound::Controls;
pub use choices::ReadControls;
pub use error::{ControlsError, Offer};
pub use reserved::{Reserved, reserved, reserved_keys};
pub use sets::Set;
pub use words::words;
