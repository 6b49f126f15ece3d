//! The start procedure: how long both cars must stand before the ambers, and how long one waits.
//!
//! Owns the presets, their sources and the random extra wait. Refuses the procedure itself (who is
//! staged, who is sent back): that is the tree's machine.

use std::borrow::Cow;

use rand::RngExt;
use rand_distr::{Distribution, Exp};

use super::error::{RulesError, printed_s};
use crate::seed::Generator;
use crate::units::Span;

/// The random wait added before the ambers so that nobody can count them in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extra {
    /// Every wait from `from` to `to` is as likely as any other.
    Uniform {
        /// The shortest wait.
        from: Span,
        /// The longest wait.
        to: Span,
    },
    /// `from`, then an exponential wait, the whole never longer than `cap`: having waited tells
    /// nothing about how long is left, except close to `cap`.
    Memoryless {
        /// The shortest wait.
        from: Span,
        /// Mean of the exponential part before it is cut at `cap`.
        mean: Span,
        /// The longest wait.
        cap: Span,
    },
}

impl Extra {
    /// The shortest wait it can draw.
    pub const fn shortest(&self) -> Span {
        match *self {
            Extra::Uniform { from, .. } | Extra::Memoryless { from, .. } => from,
        }
    }

    /// The longest wait it can draw.
    pub fn longest(&self) -> Span {
        match *self {
            Extra::Uniform { from, to } => to.max(from),
            Extra::Memoryless { from, cap, .. } => cap.max(from),
        }
    }

    /// Draws one wait, from `shortest()` to `longest()`.
    ///
    /// Uniform waits are drawn in whole nanoseconds. Memoryless waits are cut by taking the
    /// exponential wait modulo the room `cap − from`: since P(X mod L ≤ t) summed over all turns is
    /// (1 − e^(−t/m)) / (1 − e^(−L/m)), that *is* the exponential truncated at L, without redraws.
    /// A wait without room (or without a mean) is `from`.
    pub fn draw(&self, generator: &mut Generator) -> Span {
        let from = self.shortest();
        let room = self.longest() - from;
        if room == Span::ZERO {
            return from;
        }
        match *self {
            Extra::Uniform { .. } => from + Span::from_ns(generator.random_range(0..=room.ns())),
            Extra::Memoryless { mean, .. } if mean > Span::ZERO => {
                let exponential =
                    Exp::new(1.0 / mean.as_secs_f64()).expect("a rate above zero is accepted");
                let wait_s: f64 = exponential.sample(generator);
                from + Span::from_secs_f64(wait_s % room.as_secs_f64()).min(room)
            }
            Extra::Memoryless { .. } => from,
        }
    }

    fn check(&self) -> Result<(), RulesError> {
        let (from, to) = match *self {
            Extra::Uniform { from, to } => (from, to),
            Extra::Memoryless { from, mean, cap } => {
                within("the mean of the random wait", mean, 100, 30_000)?;
                (from, cap)
            }
        };
        within("the shortest random wait", from, 0, 30_000)?;
        within("the longest random wait", to, 0, 60_000)?;
        if to < from {
            return Err(RulesError::WaitBackwards { from_s: printed_s(from), to_s: printed_s(to) });
        }
        Ok(())
    }
}

/// The times of an automatic start.
///
/// The order they serve: both pre-stage lamps on → the first stage lamp on → time-out for the
/// other lane → both staged and steady → `earliest` → `extra` → ambers. Published: IHRA rulebook
/// p. 55 (nothing is timed until both are pre-staged and one is staged).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Procedure {
    name: Cow<'static, str>,
    steady: Span,
    earliest: Span,
    extra: Extra,
    time_out: Option<Span>,
}

impl Procedure {
    /// The usual start of bracket racing.
    ///
    /// Published: a stage lamp must be steady for 0.6 s (IHRA rulebook p. 55); ambers at the
    /// earliest 0.9 s after both are staged *and steady*, up to 0.2 s more at random, 10 s for the
    /// second car (a track's start-procedure page). The ambers so fall 1.5–1.7 s after the second
    /// stage lamp.
    pub const fn bracket() -> Self {
        Self::preset("bracket", [600, 900, 200, 10_000])
    }

    /// The slower start of the junior classes.
    ///
    /// Published: steady for 1.0 s (IHRA rulebook p. 55); 0.8 s, up to 0.2 s more, 15 s for the
    /// second car (a track's start-procedure page).
    pub const fn junior() -> Self {
        Self::preset("junior", [1000, 800, 200, 15_000])
    }

    /// The quick start of the professional classes.
    ///
    /// Published: steady for 0.5 s (IHRA rulebook p. 55); 0.7 s, up to 0.2 s more (a track's
    /// start-procedure page). The 7 s for the second car are from memory; ANDRA's rulebook p. 17
    /// prints 7 or 20 s by group.
    pub const fn pro() -> Self {
        Self::preset("pro", [500, 700, 200, 7000])
    }

    /// No staging at all: the ambers come 1 to 4 s after the driver is ready, every wait alike.
    ///
    /// Chosen: with only .2 s of random extra the first amber itself is nearly predictable.
    pub const fn tree_only() -> Self {
        Self {
            name: Cow::Borrowed("tree only"),
            steady: Span::ZERO,
            earliest: Span::ZERO,
            extra: Extra::Uniform { from: Span::from_ms(1000), to: Span::from_ms(4000) },
            time_out: None,
        }
    }

    /// No staging, and a wait that cannot be counted: 1 s, then memoryless with mean 1.5 s, 8 s at
    /// most.
    ///
    /// Chosen: a uniform wait gets more certain the longer it lasts; this one does not until the
    /// cap, which one wait in a hundred would pass (e^(−7/1.5) = .009).
    pub const fn tree_only_memoryless() -> Self {
        Self {
            name: Cow::Borrowed("tree only, no counting"),
            steady: Span::ZERO,
            earliest: Span::ZERO,
            extra: Extra::Memoryless {
                from: Span::from_ms(1000),
                mean: Span::from_ms(1500),
                cap: Span::from_ms(8000),
            },
            time_out: None,
        }
    }

    const fn preset(name: &'static str, ms: [i64; 4]) -> Self {
        let [steady, earliest, extra, time_out] = ms;
        Self {
            name: Cow::Borrowed(name),
            steady: Span::from_ms(steady),
            earliest: Span::from_ms(earliest),
            extra: Extra::Uniform { from: Span::ZERO, to: Span::from_ms(extra) },
            time_out: Some(Span::from_ms(time_out)),
        }
    }

    /// A procedure set by hand.
    ///
    /// Limits, chosen to leave room around every published value: steady 0–5 s, earliest 0–10 s,
    /// the random wait 0–60 s (mean of a memoryless one 0.1–30 s), time-out 1–120 s or none.
    ///
    /// # Errors
    /// [`RulesError::Time`] outside these limits, [`RulesError::WaitBackwards`] for a random wait
    /// that ends before it begins.
    pub fn free(
        steady: Span,
        earliest: Span,
        extra: Extra,
        time_out: Option<Span>,
    ) -> Result<Self, RulesError> {
        within("the time a stage lamp must be steady", steady, 0, 5000)?;
        within("the time from both steady to the earliest ambers", earliest, 0, 10_000)?;
        extra.check()?;
        if let Some(time_out) = time_out {
            within("the time-out for the second car", time_out, 1000, 120_000)?;
        }
        Ok(Self { name: Cow::Borrowed("free"), steady, earliest, extra, time_out })
    }

    /// What the procedure is called on the screen.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// How long a stage lamp must have been on to count as staged.
    pub const fn steady(&self) -> Span {
        self.steady
    }

    /// From both lanes staged and steady to the earliest ambers.
    pub const fn earliest(&self) -> Span {
        self.earliest
    }

    /// The random wait after that.
    pub const fn extra(&self) -> Extra {
        self.extra
    }

    /// How long the second car has to stage once the first is; `None` when nobody counts.
    pub const fn time_out(&self) -> Option<Span> {
        self.time_out
    }

    /// The shortest and the longest time from the second stage lamp to the first amber.
    pub fn ambers_after_second_stage_lamp(&self) -> (Span, Span) {
        let base = self.steady + self.earliest;
        (base + self.extra.shortest(), base + self.extra.longest())
    }
}

fn within(what: &'static str, got: Span, low_ms: i64, high_ms: i64) -> Result<(), RulesError> {
    let (low, high) = (Span::from_ms(low_ms), Span::from_ms(high_ms));
    if (low..=high).contains(&got) {
        return Ok(());
    }
    Err(RulesError::Time {
        what,
        got_s: printed_s(got),
        low_s: printed_s(low),
        high_s: printed_s(high),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_procedure_outside_its_limits_is_refused_with_the_limits() {
        let s = Span::from_ms;
        let wait = Extra::Uniform { from: s(0), to: s(200) };
        let refuse = |steady, earliest, extra, time_out| {
            Procedure::free(steady, earliest, extra, time_out).unwrap_err().to_string()
        };
        assert!(refuse(s(-1), s(0), wait, None).contains("steady is -0.001 s; give 0 to 5 s"));
        assert!(refuse(s(0), s(10_001), wait, None).contains("give 0 to 10 s"));
        assert!(refuse(s(0), s(0), wait, Some(s(0))).contains("give 1 to 120 s"));
        let backwards = Extra::Uniform { from: s(300), to: s(200) };
        assert!(refuse(s(0), s(0), backwards, None).contains("from 0.3 s to 0.2 s"));
        let no_mean = Extra::Memoryless { from: s(0), mean: s(0), cap: s(200) };
        assert!(refuse(s(0), s(0), no_mean, None).contains("mean"));
        assert!(Procedure::free(s(600), s(900), wait, Some(s(10_000))).is_ok());
    }

    #[test]
    fn a_wait_without_room_is_its_shortest() {
        let s = Span::from_ms;
        let mut generator = crate::seed::generator(1);
        for extra in [
            Extra::Uniform { from: s(300), to: s(200) },
            Extra::Memoryless { from: s(300), mean: s(0), cap: s(900) },
            Extra::Memoryless { from: s(300), mean: s(100), cap: s(300) },
        ] {
            assert_eq!(extra.draw(&mut generator), s(300), "{extra:?}");
        }
    }
}
