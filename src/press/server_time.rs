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

/// Readings of a kind the base check looks at, and how many of them must say the same: chosen.
const CHECKED: usize = 8;
const AGREEING_NEEDED: usize = 5;

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
    base: ClockBase,
    /// Whether questions decided the base; arrivals have no say then.
    asked: bool,
    arrivals: Window,
    questions: Window,
}

/// Which of the last eight readings agreed.
#[derive(Debug, Clone, Default)]
struct Window(VecDeque<bool>);

impl Window {
    /// Takes one more in; how many agree and how many do not.
    fn push(&mut self, agrees: bool) -> (usize, usize) {
        if self.0.len() == CHECKED {
            self.0.pop_front();
        }
        self.0.push_back(agrees);
        let agreeing = self.0.iter().filter(|agrees| **agrees).count();
        (agreeing, self.0.len() - agreeing)
    }
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
            base: ClockBase::Unknown,
            asked: false,
            arrivals: Window::default(),
            questions: Window::default(),
        }
    }

    /// What the check of the base says so far.
    pub fn base(&self) -> ClockBase {
        self.base
    }

    /// Takes a reading into the check of the base. Once the base holds it stays so: a machine under
    /// load makes arrivals late, but cannot change what the server counts from. Where questions
    /// decided, arrivals are not looked at.
    pub fn observe(&mut self, arrival: Mark, server_ms: u32) {
        if self.asked || self.base == ClockBase::Holds {
            return;
        }
        let lateness = arrival - nearest_mark(arrival, server_ms);
        let (close, far) = self.arrivals.push((EARLIEST_AGREEING..=CLOSE).contains(&lateness));
        if close >= AGREEING_NEEDED {
            self.base = ClockBase::Holds;
        } else if close + far == CHECKED {
            self.base = ClockBase::Fails;
        }
    }

    /// Takes a question for the server's time into the check of the base: sent at `sent`, answered
    /// with `server_ms`, the answer received at `received`. Asked a few times at the start, so that
    /// the first press of a session is already sharp; five answers of one kind decide.
    ///
    /// A counter on our clock was read between the two marks, so it lies in
    /// [sent − c cut to milliseconds, received], with c how far the server's clock may lag. One that
    /// does not is on another clock, however late the answer: where arrivals agree by chance, as
    /// with a base a few milliseconds behind, a question still tells. An answer after more than
    /// 5 ms that does lie there says too little to count.
    pub fn observe_round_trip(&mut self, sent: Mark, server_ms: u32, received: Mark) {
        let lag = self.tick - Span::from_ms(1);
        let earliest_ms = (sent - lag).ns().div_euclid(1_000_000);
        let server = nearest_mark(received, server_ms);
        let agrees = server.ns().div_euclid(1_000_000) >= earliest_ms && server <= received;
        if agrees && received - sent > CLOSE {
            return;
        }
        let (agreeing, contradicting) = self.questions.push(agrees);
        if agreeing >= AGREEING_NEEDED {
            (self.base, self.asked) = (ClockBase::Holds, true);
        } else if contradicting >= AGREEING_NEEDED {
            (self.base, self.asked) = (ClockBase::Fails, true);
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

    /// Asks `count` times, 10 ms apart from `from_ms` on, a server that is `ahead_ms` ahead of us;
    /// answers take `trip_ms`, of which the server reads its clock half way.
    fn ask(clock: &mut ServerClock, count: i64, from_ms: f64, ahead_ms: i64, trip_ms: f64) {
        for i in 0..count {
            let sent_ms = from_ms + i as f64 * 10.0;
            let server_ms = (sent_ms + trip_ms / 2.0).floor() as i64 + ahead_ms;
            clock.observe_round_trip(ms(sent_ms), server_ms as u32, ms(sent_ms + trip_ms));
        }
    }

    #[test]
    fn five_questions_make_the_first_press_sharp_even_if_its_listener_was_late() {
        let mut clock = ServerClock::default();
        assert_eq!(
            clock.stamp(ms(1009.0), 1000).width(),
            WORST_DELIVERY,
            "8 ms late: not believed"
        );
        ask(&mut clock, 4, 500.95, 0, 0.2);
        assert_eq!(clock.base(), ClockBase::Unknown);
        ask(&mut clock, 1, 600.95, 0, 0.2);
        assert_eq!(clock.base(), ClockBase::Holds);
        assert_eq!(clock.stamp(ms(1009.0), 1000).width(), Span::from_ms(1));
    }

    #[test]
    fn late_answers_prove_nothing_but_cannot_hide_another_clock() {
        let mut clock = ServerClock::default();
        ask(&mut clock, 20, 500.0, 0, 8.0);
        assert_eq!(clock.base(), ClockBase::Unknown);
        ask(&mut clock, 8, 1_000.0, 40, 8.0);
        assert_eq!(clock.base(), ClockBase::Fails);
    }

    #[test]
    fn a_base_off_by_a_few_milliseconds_is_found_by_questions_where_arrivals_would_agree() {
        let mut by_arrival = ServerClock::default();
        (0..8).for_each(|i| by_arrival.observe(ms(f64::from(i) * 100.0 + 3.2), i * 100));
        assert_eq!(by_arrival.base(), ClockBase::Holds, "3 ms behind looks like lateness");
        for ahead_ms in [-3, 3, 2_000_000_000] {
            let mut asked = ServerClock::default();
            ask(&mut asked, 8, 500.4, ahead_ms, 0.2);
            assert_eq!(asked.base(), ClockBase::Fails, "{ahead_ms}");
            (0..8).for_each(|i| asked.observe(ms(f64::from(i) * 100.0 + 3.2), i * 100));
            assert_eq!(asked.base(), ClockBase::Fails, "arrivals have no say any more");
        }
        ask(&mut by_arrival, 5, 500.4, -3, 0.2);
        assert_eq!(
            by_arrival.base(),
            ClockBase::Fails,
            "asking corrects what arrivals made believe"
        );
    }

    #[test]
    fn questions_across_the_wrap_of_the_counter_agree() {
        let mut clock = ServerClock::default();
        ask(&mut clock, 5, 4_294_967_296.0 - 25.1, 0, 0.4);
        assert_eq!(clock.base(), ClockBase::Holds);
    }

    #[test]
    fn a_server_on_the_coarse_clock_may_answer_with_the_tick_before() {
        let ask = |clock: &mut ServerClock| {
            for i in 0..5 {
                let sent_ms = 500.0 + f64::from(i) * 10.0;
                clock.observe_round_trip(ms(sent_ms), sent_ms as u32 - 1, ms(sent_ms + 0.1));
            }
            clock.base()
        };
        assert_eq!(ask(&mut ServerClock::new(Span::from_ms(1))), ClockBase::Holds);
        assert_eq!(ask(&mut ServerClock::default()), ClockBase::Fails);
    }

    #[test]
    fn an_arrival_just_as_late_as_a_tick_and_the_slack_leaves_the_middle_of_the_tick() {
        let clock = settled(Span::ZERO);
        assert_eq!(clock.stamp(ms(1001.2), 1000).best(), ms(1000.5));
        assert_eq!(clock.stamp(ms(1001.199), 1000).best(), ms(1001.0), "cut at the tick's end");
    }

    #[test]
    fn an_answer_after_five_milliseconds_still_counts() {
        for (trip_ms, base) in [(5.0, ClockBase::Holds), (5.001, ClockBase::Unknown)] {
            let mut clock = ServerClock::default();
            ask(&mut clock, 5, 500.0, 0, trip_ms);
            assert_eq!(clock.base(), base, "{trip_ms}");
        }
    }
}
