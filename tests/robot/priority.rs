//! Real-time priority for everything a timing passes through, where it is asked for.
//!
//! Owns `LASTAMBER_ROBOT_PRIORITY=1`: the server, the robot and the program's listener and render threads get the
//! processor when they ask for it, which is what an idle machine gives. Needs the right to do so
//! (`chrt` of util-linux, as root). Refuses to raise anything unasked.

use std::fs;
use std::process::Command;

use crate::rig::Rig;
use crate::xserver::{Outcome, XServer};

/// Threads of the program that a press or a lamp passes through, by the start of their names: the
/// listeners, the loop that draws with its workers, and the software renderer's.
const THREADS: [(&str, u32); 5] = [
    ("x11-presses", 20),
    ("x11-frames", 20),
    ("lastamber", 10),
    ("Compute Task", 10),
    ("llvmpipe", 10),
];

/// Whether priority was asked for.
pub fn is_asked() -> bool {
    std::env::var("LASTAMBER_ROBOT_PRIORITY").is_ok_and(|v| v == "1")
}

/// For the table.
pub fn words() -> &'static str {
    if is_asked() { "real-time for server, robot, listeners and drawing" } else { "normal" }
}

/// Raises everything, if it was asked for.
pub fn raise(server: &XServer, rig: &Rig) -> Outcome<()> {
    if !is_asked() {
        return Ok(());
    }
    raise_one(server.id(), 40)?;
    // The robot's own thread, by the number the kernel gives it.
    let own = fs::read_link("/proc/thread-self").map_err(|e| e.to_string())?;
    let own = own.file_name().and_then(|n| n.to_str()).and_then(|n| n.parse().ok());
    raise_one(own.ok_or("this thread has no number")?, 30)?;
    let tasks = format!("/proc/{}/task", rig.pid());
    for task in fs::read_dir(&tasks).map_err(|e| format!("{tasks}: {e}"))? {
        let task = task.map_err(|e| e.to_string())?.path();
        let name = fs::read_to_string(task.join("comm")).unwrap_or_default();
        let number = task.file_name().and_then(|n| n.to_str()).and_then(|n| n.parse().ok());
        let level = THREADS.iter().find(|(start, _)| name.starts_with(start));
        if let (Some(number), Some((_, level))) = (number, level) {
            raise_one(number, *level)?;
        }
    }
    Ok(())
}

fn raise_one(thread: u32, level: u32) -> Outcome<()> {
    let (level, thread) = (level.to_string(), thread.to_string());
    let done = Command::new("chrt")
        .args(["--fifo", "--pid", &level, &thread])
        .output()
        .map_err(|e| format!("chrt cannot be started: {e}"))?;
    if done.status.success() {
        Ok(())
    } else {
        Err(format!("no real-time priority: {}", String::from_utf8_lossy(&done.stderr)))
    }
}
