//! Stamps of control edges: what the window says, narrowed by what a source on its own thread says.

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
