//! The display server's millisecond counter and our own arrival time, combined.
//!
//! Owns the question whether the counter runs on our clock at all, and the interval both together
//! allow. Refuses to trust the counter where it contradicts the arrival: then the arrival alone
//! counts, with a wide interval.
//!
//! The protocol does not promise what the counter counts from. The X.Org server (`os/utils.c`,
//! `GetTimeInMillis`) takes the monotonic clock in whole milliseconds; where the kernel's coarse
//! monotonic clock ticks every millisecond or faster it takes that one, which lags by up to one
//! tick more. An event is stamped when the server handles it: a server that waits for a processor
//! stamps late, and neither the counter nor the arrival can tell.

use std::collections::VecDeque;

use crate::units::{Mark, Span, Stamp};

/// What an arrival usually lags behind the press: 0.17 ms (SD 0.03) measured with 1,000 simulated
/// presses on an idle machine, 0.13 ms when the listener need not be woken from deep sleep.
pub const TYPICAL_DELIVERY: Span = Span::from_us(150);

/// The longest an arrival is taken to lag where nothing else is known.
///
/// Chosen, because the worst lateness measured with both cores of a machine saturated is 11 ms.
pub const WORST_DELIVERY: Span = Span::from_ms(20);

/// Slack above one tick within which the arrival is believed rather than the middle of the tick:
/// chosen, the usual delivery plus a little.
const PROMPT_SLACK: Span = Span::from_us(200);

/// A counter this far ahead of the arrival still counts as agreeing: chosen, for rounding.
const EARLIEST_AGREEING: Span = Span::from_us(-500);
/// A difference up to this says that both run on one clock: chosen, since a random counter would
/// hit the range once in 780,000 readings.
const CLOSE: Span = Span::from_ms(5);
/// Once the base is known to hold, a listener may be this late: chosen.
const LATEST_AGREEING: Span = Span::from_ms(2000);

/// Readings the base check looks at, and how many of them must be close.
const CHECKED: usize = 8;
const CLOSE_NEEDED: usize = 5;

/// Whether the server's counter runs on our clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClockBase {
    /// Too few readings to say; a reading that agrees by itself is used.
    Unknown,
    /// It does.
    Holds,
    /// It does not: only arrivals are used.
    Fails,
}

/// Turns a server's counter and an arrival into a stamp, and learns whether that may be done.
#[derive(Debug, Clone)]
pub struct ServerClock {
    tick: Span,
    recent: VecDeque<bool>,
    base: ClockBase,
}

impl Default for ServerClock {
    fn default() -> Self {
        Self::new(Span::ZERO)
    }
}

impl ServerClock {
    /// A clock about which nothing is known yet. `coarse` is how far the server's own clock may lag
    /// besides being cut to milliseconds, ≥ 0: the coarse monotonic clock's resolution where the
    /// server uses it (resolution ≤ 1 ms), else zero.
    pub fn new(coarse: Span) -> Self {
        Self {
            tick: Span::from_ms(1) + coarse.abs(),
            recent: VecDeque::with_capacity(CHECKED),
            base: ClockBase::Unknown,
        }
    }

    /// What the check of the base says so far.
    pub fn base(&self) -> ClockBase {
        self.base
    }

    /// Takes a reading into the check of the base. Once the base holds it stays so: a machine under
    /// load makes arrivals late, but cannot change what the server counts from.
    pub fn observe(&mut self, arrival: Mark, server_ms: u32) {
        if self.base == ClockBase::Holds {
            return;
        }
        if self.recent.len() == CHECKED {
            self.recent.pop_front();
        }
        let lateness = arrival - nearest_mark(arrival, server_ms);
        self.recent.push_back((EARLIEST_AGREEING..=CLOSE).contains(&lateness));
        let close = self.recent.iter().filter(|close| **close).count();
        if close >= CLOSE_NEEDED {
            self.base = ClockBase::Holds;
        } else if self.recent.len() == CHECKED {
            self.base = ClockBase::Fails;
        }
    }

    /// The stamp of an event with counter `server_ms` (wrapping after 49.7 days) received at
    /// `arrival`.
    ///
    /// Counter s and tick g give [s, s + g]; the arrival a gives ≤ a. Best is a − 0.15 ms while
    /// a − s < g + 0.2 ms, else the middle of the tick, so that a late listener cannot smear a
    /// press the server stamped on time. Where the counter is not believed: [a − 20 ms, a].
    pub fn stamp(&self, arrival: Mark, server_ms: u32) -> Stamp {
        let server = nearest_mark(arrival, server_ms);
        let lateness = arrival - server;
        let believed = match self.base {
            ClockBase::Unknown => (EARLIEST_AGREEING..=CLOSE).contains(&lateness),
            ClockBase::Holds => (EARLIEST_AGREEING..=LATEST_AGREEING).contains(&lateness),
            ClockBase::Fails => false,
        };
        if !believed {
            return Stamp::new(arrival - WORST_DELIVERY, arrival - TYPICAL_DELIVERY, arrival);
        }
        let best = if lateness < self.tick + PROMPT_SLACK {
            arrival - TYPICAL_DELIVERY
        } else {
            server + self.tick.half()
        };
        Stamp::new(server, best, arrival.min(server + self.tick))
    }
}

/// The mark the counter means: of all that share its 32 bits the one nearest to the arrival.
fn nearest_mark(arrival: Mark, server_ms: u32) -> Mark {
    let arrival_ms = arrival.ns().div_euclid(1_000_000);
    // Only the low 32 bits of both can be compared; the difference read as signed is the nearest.
    let behind_ms = (arrival_ms as u32).wrapping_sub(server_ms) as i32;
    Mark::from_ns((arrival_ms - i64::from(behind_ms)) * 1_000_000)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ms(ms: f64) -> Mark {
        Mark::from_ns((ms * 1e6).round() as i64)
    }

    fn settled(coarse: Span) -> ServerClock {
        let mut clock = ServerClock::new(coarse);
        (0..8).for_each(|i| clock.observe(ms(f64::from(i) * 100.0 + 0.3), i * 100));
        assert_eq!(clock.base(), ClockBase::Holds);
        clock
    }

    #[test]
    fn a_prompt_arrival_is_believed_inside_the_servers_millisecond() {
        let s = settled(Span::ZERO).stamp(ms(1000.7), 1000);
        assert_eq!((s.earliest(), s.best(), s.latest()), (ms(1000.0), ms(1000.55), ms(1000.7)));
    }

    #[test]
    fn an_arrival_sooner_than_usual_cannot_push_the_press_before_its_millisecond() {
        let s = settled(Span::ZERO).stamp(ms(1000.1), 1000);
        assert_eq!((s.earliest(), s.best(), s.latest()), (ms(1000.0), ms(1000.0), ms(1000.1)));
    }

    #[test]
    fn a_late_listener_cannot_smear_a_press_the_server_stamped_on_time() {
        let s = settled(Span::ZERO).stamp(ms(1011.0), 1000);
        assert_eq!((s.earliest(), s.best(), s.latest()), (ms(1000.0), ms(1000.5), ms(1001.0)));
    }

    #[test]
    fn a_server_on_the_coarse_clock_gets_the_longer_tick() {
        let s = settled(Span::from_ms(1)).stamp(ms(1001.9), 1000);
        assert_eq!((s.earliest(), s.best(), s.latest()), (ms(1000.0), ms(1001.75), ms(1001.9)));
    }

    #[test]
    fn the_counter_may_wrap_between_two_presses() {
        let wrap = 4_294_967_296.0;
        let clock = settled(Span::ZERO);
        let before = clock.stamp(ms(wrap - 0.4), u32::MAX);
        let after = clock.stamp(ms(wrap + 0.5), 0);
        let across = clock.stamp(ms(wrap + 3.5), u32::MAX);
        assert_eq!(before.earliest(), ms(wrap - 1.0));
        assert_eq!(after.earliest(), ms(wrap));
        assert_eq!((across.earliest(), across.latest()), (ms(wrap - 1.0), ms(wrap)));
    }

    #[test]
    fn a_counter_from_another_clock_leaves_only_the_arrival() {
        let mut clock = ServerClock::default();
        let (arrival, foreign) = (ms(5_000.25), 3_000_000_000);
        let first = clock.stamp(arrival, foreign);
        assert_eq!(first.width(), WORST_DELIVERY, "not even the first reading uses it");
        (0..8).for_each(|_| clock.observe(arrival, foreign));
        assert_eq!(clock.base(), ClockBase::Fails);
        let s = clock.stamp(arrival, 5_000);
        assert_eq!((s.latest(), s.best()), (arrival, arrival - TYPICAL_DELIVERY));
        assert_eq!(s.width(), WORST_DELIVERY, "a chance hit is not believed either");
    }

    #[test]
    fn a_base_found_late_is_found_and_then_kept() {
        let mut clock = ServerClock::default();
        (0..8).for_each(|i| clock.observe(ms(f64::from(i) * 100.0 + 60.0), i * 100));
        assert_eq!(clock.base(), ClockBase::Fails, "every arrival was 60 ms late");
        (0..5).for_each(|i| clock.observe(ms(f64::from(i) * 100.0 + 0.2), i * 100));
        assert_eq!(clock.base(), ClockBase::Holds);
        (0..20).for_each(|i| clock.observe(ms(f64::from(i) * 100.0 + 60.0), i * 100));
        assert_eq!(clock.base(), ClockBase::Holds);
    }

    #[test]
    fn a_counter_ahead_of_the_arrival_is_not_believed() {
        let s = settled(Span::ZERO).stamp(ms(1000.0), 1010);
        assert_eq!((s.latest(), s.width()), (ms(1000.0), WORST_DELIVERY));
    }
}
