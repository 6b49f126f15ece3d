//! A self test of the rig, as it stands on disk.
//!
//! Owns the shape of the `rig` line, version 1: what ran, how evenly, and how sharp presses and lamps
//! are for it. Refuses what that is worth: nothing here is judged.
//!
//! ```text
//! {"kind":"rig","v":1,"id":"…","saved_at":"…","program":"0.1.0",
//!  "rig":{"device":"keyboard","control":"Space","launch_edge":"press","threshold":null,
//!         "limb":"right-hand","source":"server","display":"x11 1280x720","refresh_hz":60,
//!         "present_mode":"fifo"},
//!  "source_reason":null,"onset_grade":"feedback",
//!  "loop":{"period_ms":16.7,"jitter_median_ms":0.1,"jitter_worst_ms":1.9},
//!  "wake_up":{"median_ms":0.1,"p95_ms":0.3,"worst_ms":2.2},
//!  "clock_base":"holds","poll":{"found":{"period_ms":8.0,"presses":40}},
//!  "refresh_hz":59.94,"self_paced":false,"press_half_width_ms":0.5,"lamp_half_width_ms":0.3,
//!  "load_average":0.4,"ran_s":10.2}
//! ```

use serde::{Deserialize, Serialize};

use super::trial_line::RigPrintLine;
use super::words::{maybe_number, number};

/// What a self test found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RigLine {
    /// Unique for all machines and times, ordered by time, like the id of a run.
    pub id: String,
    /// Wall time of saving, ISO 8601 with zone.
    pub saved_at: String,
    /// Program version that ran the test.
    pub program: String,
    /// The rig: device, control, the press source that ran, display, present mode.
    pub rig: RigPrintLine,
    /// Why no better source of presses ran, in plain words; none if it is the best there is.
    pub source_reason: Option<String>,
    /// How well it is known when a lamp lit, in the words of a run's `onset_grade`.
    pub onset_grade: String,
    /// The program's own loop.
    #[serde(rename = "loop")]
    pub loop_time: LoopLine,
    /// From an event's own time to the listener that receives it.
    pub wake_up: WakeUpLine,
    /// Whether the times of events and of the program are on the same clock.
    pub clock_base: ClockBase,
    /// The device's own rhythm.
    pub poll: PollLine,
    /// Frames per second as measured.
    #[serde(with = "number")]
    pub refresh_hz: f64,
    /// The program waits for each frame itself, because the display does not make it wait.
    pub self_paced: bool,
    /// Half of the interval a press is known to lie in, milliseconds.
    #[serde(with = "number")]
    pub press_half_width_ms: f64,
    /// Half of the interval a lamp's light is known to lie in, milliseconds.
    #[serde(with = "number")]
    pub lamp_half_width_ms: f64,
    /// The system's one-minute load average when the test ended, where it has one.
    #[serde(default, with = "maybe_number")]
    pub load_average: Option<f64>,
    /// How long the test ran, seconds.
    #[serde(with = "number")]
    pub ran_s: f64,
}

/// How evenly the program's loop turns.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LoopLine {
    /// Median length of a turn, milliseconds.
    #[serde(with = "number")]
    pub period_ms: f64,
    /// Median distance of a turn from that, milliseconds.
    #[serde(with = "number")]
    pub jitter_median_ms: f64,
    /// Largest distance of a turn from it, milliseconds.
    #[serde(with = "number")]
    pub jitter_worst_ms: f64,
}

/// How soon a waiting thread of the program is woken.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct WakeUpLine {
    /// Half of the wake-ups take no longer, milliseconds.
    #[serde(with = "number")]
    pub median_ms: f64,
    /// 95 % take no longer, milliseconds.
    #[serde(with = "number")]
    pub p95_ms: f64,
    /// The longest, milliseconds.
    #[serde(with = "number")]
    pub worst_ms: f64,
}

/// Whether two clocks are the same one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ClockBase {
    /// Every event's time fits its arrival.
    Holds,
    /// Some do not: event times are not used.
    Fails,
    /// Nothing to compare came in, or the source gives no times.
    Unknown,
}

/// The rhythm in which the device can report a press.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum PollLine {
    /// The presses lie on a lattice.
    Found {
        /// Its period, milliseconds.
        #[serde(with = "number")]
        period_ms: f64,
        /// Presses it was found from.
        presses: u32,
    },
    /// None was found.
    NotFound {
        /// Why, in plain words.
        why: String,
        /// Presses there were.
        presses: u32,
    },
}

impl PollLine {
    /// The period, where one was found, milliseconds.
    pub fn period_ms(&self) -> Option<f64> {
        match self {
            Self::Found { period_ms, .. } => Some(*period_ms),
            Self::NotFound { .. } => None,
        }
    }
}
