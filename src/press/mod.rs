//! Stamps of control edges: what the window says, narrowed by what a source on its own thread says.
//!
//! Owns the words (control, edge, fact), the decoding of each source's clock, and the matching of
//! facts with window edges. Refuses threads, clocks and devices: every reading is handed in.

pub mod analog;
pub mod edge;
pub mod evdev;
pub mod facts;
pub mod health;
pub mod keys;
pub mod lattice;
pub mod matcher;
pub mod pad;
pub mod pad_time;
pub mod server_time;

pub use edge::{Control, EdgeKind};
pub use facts::{Reading, SourceFact};
pub use health::SourceHealth;
pub use matcher::{Counters, Matcher, StampedEdge, WindowEdge};
pub use server_time::{ClockBase, ServerClock};

/// What gave the time of a control edge, best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Origin {
    /// The kernel's event time.
    Kernel,
    /// The display server's event, received on a thread of its own.
    Server,
    /// A pad, pedal or button box, read on a thread of its own.
    Pad,
    /// Only known to lie between two drains of the window's event queue.
    Frame,
}
