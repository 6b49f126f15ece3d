//! The pad library's event time, which is wall time, brought onto our clock.
//!
//! Owns the conversion and its refusals. Refuses to read clocks: the reading of both clocks
//! together is handed in.

use std::time::{Duration, SystemTime};

use crate::press::Reading;
use crate::press::facts::KERNEL_DOUBT;
use crate::units::{Mark, Span};

/// The longest a pad's event can have waited where only its arrival is known although the kernel
/// woke us for it: chosen, as for the display server's events.
pub const PAD_DELIVERY: Span = Span::from_ms(20);

/// An event older than this is not believed: the wall clock was set meanwhile. Chosen.
const OLDEST: Duration = Duration::from_secs(1);

/// Both clocks read together: the wall clock between two readings of ours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClockPair {
    /// Our clock, read just before the wall clock.
    pub before: Mark,
    /// The wall clock.
    pub wall: SystemTime,
    /// Our clock, read just after the wall clock.
    pub after: Mark,
}

impl ClockPair {
    /// How much time the pair leaves open.
    pub fn gap(&self) -> Span {
        self.after - self.before
    }

    /// Whether the pair is close enough for a kernel time: a thread that lost its processor between
    /// the readings makes one that is not.
    pub fn is_close(&self) -> bool {
        (Span::ZERO..=KERNEL_DOUBT).contains(&self.gap())
    }
}

/// The reading of a pad event with wall time `event`, received at `arrival`, given both clocks read
/// after it.
///
/// The event's age is the wall clock minus its time; its mark is the middle of the pair minus the
/// age. A negative age, one above one second or a pair that is not close leaves only the arrival.
pub fn pad_reading(event: SystemTime, arrival: Mark, pair: &ClockPair) -> Reading {
    match pair.wall.duration_since(event) {
        Ok(age) if age <= OLDEST && pair.is_close() => {
            let age =
                Span::from_ns(i64::from(age.subsec_nanos()) + age.as_secs() as i64 * 1_000_000_000);
            Reading::Kernel { at: (pair.before + pair.gap().half() - age).min(arrival), arrival }
        }
        _ => Reading::Arrival { arrival, lag: PAD_DELIVERY },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BOOT: u64 = 1_700_000_000;

    fn wall(us: u64) -> SystemTime {
        SystemTime::UNIX_EPOCH + Duration::from_secs(BOOT) + Duration::from_micros(us)
    }

    fn mark(us: i64) -> Mark {
        Mark::from_ns(us * 1_000)
    }

    /// Both clocks read `gap_us` apart at wall microsecond `us`; ours started 7 s after the wall's.
    fn pair(us: u64, gap_us: i64) -> ClockPair {
        let before = mark(us as i64 - 7_000_000);
        ClockPair { before, wall: wall(us), after: before + Span::from_us(gap_us) }
    }

    #[test]
    fn a_stream_of_pad_events_keeps_its_spacing_whatever_the_wake_up_delays() {
        // (event, read) in wall microseconds: a pedal pressed every 250 ms or so, read late by
        // 60 µs to 9 ms.
        let stream = [
            (8_000_000, 8_000_060),
            (8_250_128, 8_250_302),
            (8_499_871, 8_508_871),
            (8_750_004, 8_750_075),
        ];
        for (event, read) in stream {
            let arrival = mark(read as i64 - 7_000_000);
            let reading = pad_reading(wall(event), arrival, &pair(read, 0));
            assert_eq!(reading, Reading::Kernel { at: mark(event as i64 - 7_000_000), arrival });
        }
    }

    #[test]
    fn a_wall_clock_set_back_leaves_only_the_arrival() {
        let arrival = mark(1_000_000);
        let reading = pad_reading(wall(8_000_000), arrival, &pair(7_999_999, 1));
        assert_eq!(reading, Reading::Arrival { arrival, lag: PAD_DELIVERY });
    }

    #[test]
    fn a_wall_clock_set_forward_leaves_only_the_arrival() {
        let arrival = mark(2_000_001);
        let reading = pad_reading(wall(8_000_000), arrival, &pair(9_000_001, 1));
        assert_eq!(reading, Reading::Arrival { arrival, lag: PAD_DELIVERY });
    }

    #[test]
    fn clocks_read_too_far_apart_are_not_compared() {
        let arrival = mark(1_000_100);
        assert!(pair(8_000_100, 50).is_close());
        let reading = pad_reading(wall(8_000_000), arrival, &pair(8_000_100, 51));
        assert_eq!(reading, Reading::Arrival { arrival, lag: PAD_DELIVERY });
    }

    #[test]
    fn no_event_is_placed_after_its_arrival() {
        let arrival = mark(1_000_000);
        let reading = pad_reading(wall(8_000_000), arrival, &pair(8_000_000, 40));
        assert_eq!(reading, Reading::Kernel { at: arrival, arrival });
    }

    #[test]
    fn an_event_is_believed_up_to_a_whole_second_of_age() {
        let arrival = mark(1_500_000);
        let age_of = |event_us: u64| pad_reading(wall(event_us), arrival, &pair(8_500_000, 0));
        assert_eq!(age_of(7_500_000), Reading::Kernel { at: mark(500_000), arrival });
        assert_eq!(age_of(7_499_999), Reading::Arrival { arrival, lag: PAD_DELIVERY });
    }
}
