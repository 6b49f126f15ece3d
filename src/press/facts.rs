//! What a source sends: one edge of one control and the raw reading of its time.
//!
//! Owns the decoding of a reading into a stamp. Refuses to decide which window edge a fact belongs
//! to, and never lets a stamp reach past the fact's own arrival: nothing is received before it
//! happens.

use crate::press::{Control, EdgeKind, Origin, ServerClock};
use crate::units::{Mark, Span, Stamp};

/// Half width of a stamp from the kernel's event time.
///
/// Chosen, because the kernel's event time is cut to whole microseconds and its clock has to be
/// compared with ours by two readings in a row; `pad_time` refuses comparisons wider than this.
pub const KERNEL_DOUBT: Span = Span::from_us(50);

/// The time of an edge as its source gives it, undecoded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    /// The display server's millisecond counter and the arrival on the source's own thread.
    Server {
        /// When the event was received.
        arrival: Mark,
        /// The event's own time: whole milliseconds, wrapping after 49.7 days.
        server_ms: u32,
    },
    /// The kernel's event time, already on our clock.
    Kernel {
        /// The kernel's time of the event.
        at: Mark,
        /// When the event was received.
        arrival: Mark,
    },
    /// Nothing but the arrival: it happened at most `lag` before.
    Arrival {
        /// When the event was received.
        arrival: Mark,
        /// The longest the event can have waited, ≥ 0.
        lag: Span,
    },
    /// An axis crossed its threshold between two samples.
    Crossing {
        /// Between which marks, and the likeliest one.
        between: Stamp,
        /// When the second sample was received.
        arrival: Mark,
    },
}

impl Reading {
    /// When the source's thread received the event.
    pub fn arrival(self) -> Mark {
        match self {
            Self::Server { arrival, .. }
            | Self::Kernel { arrival, .. }
            | Self::Arrival { arrival, .. }
            | Self::Crossing { arrival, .. } => arrival,
        }
    }

    /// The stamp of a reading that is none of the display server's.
    pub(super) fn own_stamp(self) -> Stamp {
        self.stamp(&ServerClock::default())
    }

    /// The reading as a stamp. `clock` knows how far the display server's counter can be believed;
    /// the other readings do not use it.
    pub fn stamp(self, clock: &ServerClock) -> Stamp {
        match self {
            Self::Server { arrival, server_ms } => clock.stamp(arrival, server_ms),
            Self::Kernel { at, arrival } => {
                let at = at.min(arrival);
                Stamp::new(at - KERNEL_DOUBT, at, arrival.min(at + KERNEL_DOUBT))
            }
            Self::Arrival { arrival, lag } => Stamp::between(arrival - lag.abs(), arrival),
            Self::Crossing { between, arrival } => {
                let latest = between.latest().min(arrival);
                Stamp::new(between.earliest().min(latest), between.best(), latest)
            }
        }
    }
}

/// One edge of one control, told by a source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SourceFact {
    /// Who says so.
    pub source: Origin,
    /// Which control moved.
    pub control: Control,
    /// Which way.
    pub edge: EdgeKind,
    /// When, undecoded.
    pub reading: Reading,
}

impl SourceFact {
    /// [`Reading::stamp`] of its reading.
    pub fn stamp(&self, clock: &ServerClock) -> Stamp {
        self.reading.stamp(clock)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stamp_of(reading: Reading) -> Stamp {
        let fact = SourceFact {
            source: Origin::Kernel,
            control: Control::Key(57),
            edge: EdgeKind::Down,
            reading,
        };
        fact.stamp(&ServerClock::default())
    }

    #[test]
    fn a_kernel_time_is_kept_and_never_reaches_past_the_arrival() {
        let at = Mark::from_ns(5_000_000);
        let s = stamp_of(Reading::Kernel { at, arrival: at + Span::from_us(20) });
        assert_eq!(s.best(), at);
        assert_eq!(s.earliest(), at - KERNEL_DOUBT);
        assert_eq!(s.latest(), at + Span::from_us(20));
    }

    #[test]
    fn a_kernel_time_after_its_own_arrival_is_pulled_back_to_it() {
        let arrival = Mark::from_ns(5_000_000);
        let s = stamp_of(Reading::Kernel { at: arrival + Span::from_ms(3), arrival });
        assert_eq!((s.best(), s.latest()), (arrival, arrival));
    }

    #[test]
    fn a_crossing_ends_with_the_arrival_of_the_sample_that_showed_it() {
        let ms = |ms: i64| Mark::from_ns(ms * 1_000_000);
        let between = Stamp::new(ms(10), ms(17), ms(18));
        let s = stamp_of(Reading::Crossing { between, arrival: ms(16) });
        assert_eq!((s.earliest(), s.best(), s.latest()), (ms(10), ms(16), ms(16)));
        let s = stamp_of(Reading::Crossing { between, arrival: ms(9) });
        assert_eq!((s.earliest(), s.latest()), (ms(9), ms(9)));
    }

    #[test]
    fn a_polled_edge_lies_in_the_middle_of_its_lag() {
        let arrival = Mark::from_ns(50_000_000);
        let s = stamp_of(Reading::Arrival { arrival, lag: Span::from_ms(10) });
        assert_eq!(s.best(), Mark::from_ns(45_000_000));
        assert_eq!(s.width(), Span::from_ms(10));
    }
}
