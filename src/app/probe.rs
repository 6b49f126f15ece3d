//! Whether there is a display and something to draw with, before the engine starts.
//!
//! Owns the questions and what to do about a "no". Refuses to choose between adapters: the engine
//! does. Without this a machine that lacks either ends in a panic of the engine.

use bevy::tasks::block_on;
use wgpu::{Backends, Instance, InstanceDescriptor};

/// Asks for a display and for an adapter.
///
/// # Errors
/// A sentence or two for the driver, with the cure.
pub fn probe(wayland: bool) -> Result<(), String> {
    if !wayland {
        x11rb::connect(None).map_err(|error| {
            let display = std::env::var("DISPLAY").unwrap_or_default();
            format!(
                "the display {display} can't be opened ({error}).\n\
                 Start it from a desktop session, or set DISPLAY to one that runs."
            )
        })?;
    }
    let mut descriptor = InstanceDescriptor::new_without_display_handle_from_env();
    // The engine asks the same backends.
    descriptor.backends = Backends::from_env().unwrap_or(Backends::all());
    let backends = descriptor.backends;
    let instance = Instance::new(descriptor);
    if block_on(instance.enumerate_adapters(backends)).is_empty() {
        return Err(
            "there is no graphics adapter here that can be used: no Vulkan driver answers.\n\
                    Install the driver of your graphics card, or a software one (on Debian the \
                    package mesa-vulkan-drivers)."
                .to_owned(),
        );
    }
    Ok(())
}
