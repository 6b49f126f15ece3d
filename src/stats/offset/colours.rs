//! Past runs read with today's delay.
//!
//! Owns RT today and the count of colours that change. Refuses to pool runs that count with those
//! that do not.

use crate::tree::Parts;
use crate::units::Span;
use std::fmt;

/// Whether a run counts in statistics.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RunClass {
    /// It does.
    Counts,
    /// Driven by a script or under a provoked fault.
    Scripted,
    /// The driver excluded it.
    Excluded,
}

/// How colours changed among some runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Reread {
    /// Runs with a time.
    pub runs: usize,
    /// Were green, are red.
    pub green_to_red: usize,
    /// Were red, are green.
    pub red_to_green: usize,
}

/// The same for each class of runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct RereadRuns {
    /// Runs that count.
    pub counts: Reread,
    /// Scripted runs.
    pub scripted: Reread,
    /// Runs the driver excluded.
    pub excluded: Reread,
}

impl fmt::Display for Reread {
    /// `3 of 120 launches change colour: 2 from green to red, 1 from red to green`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let changed = self.green_to_red + self.red_to_green;
        if changed == 0 {
            return write!(f, "none of {} launches changes colour", self.runs);
        }
        write!(
            f,
            "{changed} of {} launches change colour: {} from green to red, {} from red to green",
            self.runs, self.green_to_red, self.red_to_green
        )
    }
}

/// RT = driver part + car part − interval with the delay of `today` taken off the raw driver part
/// instead of the one in force then; exact, in nanoseconds.
pub fn rt_today(parts: &Parts, today: Span) -> Span {
    Parts { offset: today, ..*parts }.rt()
}

/// Counts the colours that change: a run's parts with the delay in force then, the delay of today,
/// and its class. Red is RT < 0.
pub fn reread(runs: impl IntoIterator<Item = (Parts, Span, RunClass)>) -> RereadRuns {
    let mut all = RereadRuns::default();
    for (parts, today, class) in runs {
        let count = match class {
            RunClass::Counts => &mut all.counts,
            RunClass::Scripted => &mut all.scripted,
            RunClass::Excluded => &mut all.excluded,
        };
        count.runs += 1;
        match (parts.rt() < Span::ZERO, rt_today(&parts, today) < Span::ZERO) {
            (false, true) => count.green_to_red += 1,
            (true, false) => count.red_to_green += 1,
            _ => {}
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A run whose RT with a delay of 35 ms is `rt_ms`.
    fn run(rt_ms: f64) -> Parts {
        Parts {
            driver_raw: Span::from_ms_f64(235.0 + rt_ms),
            offset: Span::from_ms(35),
            car: Span::from_ms(300),
            interval: Span::from_ms(500),
            early_doubt: Span::ZERO,
            late_doubt: Span::ZERO,
        }
    }

    #[test]
    fn a_longer_delay_turns_greens_red_and_a_shorter_one_reds_green() {
        let times = [-12.0, -3.0, 0.0, 4.0, 9.999_999, 10.0, 30.0];
        let with = |delay_ms| {
            let runs = times.map(|rt| (run(rt), Span::from_ms(delay_ms), RunClass::Counts));
            reread(runs).counts
        };
        // 10 ms more delay is 10 ms less RT: 0, 4 and 9.999999 fall below zero, 10 is legal.
        assert_eq!(with(45), Reread { runs: 7, green_to_red: 3, red_to_green: 0 });
        assert_eq!(with(30), Reread { runs: 7, green_to_red: 0, red_to_green: 1 });
        assert_eq!(with(35), Reread { runs: 7, green_to_red: 0, red_to_green: 0 });
        assert_eq!(rt_today(&run(12.0), Span::from_ms(45)), Span::from_ms(2));
    }

    #[test]
    fn runs_that_do_not_count_are_counted_apart() {
        let today = Span::from_ms(45);
        let runs = [
            (run(4.0), today, RunClass::Counts),
            (run(5.0), today, RunClass::Scripted),
            (run(50.0), today, RunClass::Scripted),
            (run(6.0), today, RunClass::Excluded),
        ];
        let all = reread(runs);
        assert_eq!(all.counts, Reread { runs: 1, green_to_red: 1, red_to_green: 0 });
        assert_eq!(all.scripted, Reread { runs: 2, green_to_red: 1, red_to_green: 0 });
        assert_eq!(all.excluded, Reread { runs: 1, green_to_red: 1, red_to_green: 0 });
    }

    #[test]
    fn the_count_reads_as_a_sentence() {
        let some = Reread { runs: 120, green_to_red: 2, red_to_green: 1 };
        let want = "3 of 120 launches change colour: 2 from green to red, 1 from red to green";
        assert_eq!(some.to_string(), want);
        let none = Reread { runs: 4, ..Reread::default() };
        assert_eq!(none.to_string(), "none of 4 launches changes colour");
    }
}
