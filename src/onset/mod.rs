//! When a frame's light left the screen: one stamp a frame, from the best that is known.
//!
//! Owns the ladder — completion feedback of the display server, a fit of the display's own grid, the
//! return of present where the display has no grid, the frame's whole interval — and the delay of a
//! lamp's height on the screen. Refuses threads, clocks and devices: every reading is handed in. Knows no
//! lamps: who drew what in which frame is told elsewhere.

pub mod feedback;
pub mod grid;
pub mod ladder;
pub mod pacing;
pub mod scan_out;

pub use feedback::{Completion, How};
pub use ladder::Ladder;
pub use scan_out::scan_out_delay;

use crate::units::{Mark, Span, Stamp};

/// What gave the time of a lamp, best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Grade {
    /// The display server told when the frame was put on the screen.
    Feedback,
    /// The grid of the display's refreshes, fitted to when frames were let through.
    Grid,
    /// The display has no grid: a frame is seen when it is handed over.
    Present,
    /// Somewhere in the frame that followed.
    #[default]
    Frame,
}

impl Grade {
    /// One word, as records and traces have it.
    pub fn word(self) -> &'static str {
        match self {
            Grade::Feedback => "feedback",
            Grade::Grid => "grid",
            Grade::Present => "present",
            Grade::Frame => "frame",
        }
    }
}

/// A frame handed to the display.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Handed {
    /// Number of the update that drew it.
    pub frame: u64,
    /// The mark of that update.
    pub decided: Mark,
    /// When the display gave an image to draw on.
    pub acquired: Mark,
    /// When the image had been handed back.
    pub returned: Mark,
    /// It is the first on a newly made surface: the server counts presents anew.
    pub fresh_surface: bool,
    /// The display did not make the program wait; it waits by itself.
    pub self_paced: bool,
    /// What the program waits for by itself, display or not.
    pub own_pace: Option<Span>,
    /// How late the program's own waiting before this frame ended.
    pub woke_late: Span,
}

/// A frame that reached the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seen {
    /// Number of the update that drew it.
    pub frame: u64,
    /// The mark of that update.
    pub decided: Mark,
    /// When it lit at the top of the screen.
    pub shown: Stamp,
    /// What gave the stamp.
    pub grade: Grade,
}
