//! Machines that cannot show anything: the program says so and what to do, and ends.
//!
//! Owns the two ways of lacking something. Refuses to wait for an engine.

use super::xserver::{Outcome, XServer};
use std::process::Command;

/// A display nobody answers at.
const NOBODY: &str = ":4093";

/// Starts the program without a display and without an adapter.
pub fn start_without() -> Outcome<()> {
    let told = said(NOBODY, false)?;
    expect(&told, &["display :4093 can't be opened", "desktop session"])?;
    let server = XServer::start(320, 200)?;
    let told = said(&server.display(), true)?;
    expect(&told, &["no graphics adapter", "mesa-vulkan-drivers"])
}

/// What it says on standard error before it ends with 2.
fn said(display: &str, hide_drivers: bool) -> Outcome<String> {
    let folder = tempfile::tempdir().map_err(|error| error.to_string())?;
    let mut program = Command::new(env!("CARGO_BIN_EXE_lastamber"));
    program.arg("--data").arg(folder.path()).env("DISPLAY", display).env_remove("WAYLAND_DISPLAY");
    if hide_drivers {
        // The Vulkan loader then finds no driver; there is no other way to draw.
        program.env("VK_DRIVER_FILES", folder.path()).env("VK_ICD_FILENAMES", folder.path());
    }
    let output = program.output().map_err(|error| error.to_string())?;
    if output.status.code() != Some(2) || !output.stdout.is_empty() {
        return Err(format!("ended with {} instead of 2: {output:?}", output.status));
    }
    Ok(String::from_utf8_lossy(&output.stderr).into_owned())
}

fn expect(told: &str, words: &[&str]) -> Outcome<()> {
    match words.iter().find(|word| !told.contains(**word)) {
        Some(word) => Err(format!("nothing of `{word}` in: {told}")),
        None => Ok(()),
    }
}
