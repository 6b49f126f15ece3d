//! A constant delay measured by film, as it stands on disk.
//!
//! Owns the shape of the `film` line, version 1: what was filmed and counted, and what came out.
//! Refuses the arithmetic, and the choice which film is in force.
//!
//! ```text
//! {"kind":"film","v":1,"id":"…","saved_at":"…","program":"0.1.0","rig":{…},"fps":240.0,
//!  "frames":[9.0,10.5,…],"own_ms":[15.8,16.1,…],"left_out":[7],
//!  "offset_ms":24.1,"spread_ms":2.6,"standard_error_ms":1.2,"n":24}
//! ```

use serde::{Deserialize, Serialize};

use super::trial_line::RigPrintLine;
use super::words::{number, numbers};

/// What was filmed, and the delay that follows from it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FilmLine {
    /// Unique for all machines and times, ordered by time, like the id of a run.
    pub id: String,
    /// Wall time of saving, ISO 8601 with zone.
    pub saved_at: String,
    /// Program version that made the film's arithmetic.
    pub program: String,
    /// The rig that was filmed.
    pub rig: RigPrintLine,
    /// Frames per second of the film.
    #[serde(with = "number")]
    pub fps: f64,
    /// Frames from the press to the light, one for each press, in order.
    #[serde(with = "numbers")]
    pub frames: Vec<f64>,
    /// The program's own time from its stamp of the press to its stamp of the light, for the same
    /// presses, milliseconds.
    #[serde(with = "numbers")]
    pub own_ms: Vec<f64>,
    /// Places, from 1, of the presses the driver set aside.
    pub left_out: Vec<u32>,
    /// The delay: mean over the presses that count, milliseconds.
    #[serde(with = "number")]
    pub offset_ms: f64,
    /// Standard deviation from press to press, milliseconds.
    #[serde(with = "number")]
    pub spread_ms: f64,
    /// Standard error of the mean, what frames and reading can hide included, milliseconds.
    #[serde(with = "number")]
    pub standard_error_ms: f64,
    /// Presses that count.
    pub n: u32,
}
