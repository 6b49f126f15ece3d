//! Real slips of one set-up.
//!
//! Owns which slips fit and the pool of their lights. Refuses computed passes, and to guess: what a
//! slip does not say is taken as fitting and counted.

use super::setup::{OwnLines, OwnSetup};
use crate::slips::{Manner, Slip};
use crate::stats::risk::Pool;
use crate::stats::{Sample, StatsError};
use crate::trial::Style;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Whether a slip is of a set-up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fit {
    /// It says so.
    Said,
    /// It does not say all of it, and says nothing else.
    NotSaid,
    /// It says something else.
    Other,
}

impl Fit {
    /// Driver, car, tree, style; the launch edge is the car's own (`edge`, where the car is known).
    pub(super) fn of(slip: &Slip, setup: &OwnSetup, edge: Option<&str>) -> Self {
        let words = |told: &str, want: &str| match told {
            "" => Self::NotSaid,
            _ if told == want => Self::Said,
            _ => Self::Other,
        };
        let tree = match (slip.tree, setup.slip_tree()) {
            (None, Some(_)) => Self::NotSaid,
            (Some(told), Some(want)) if told == want => Self::Said,
            _ => Self::Other,
        };
        let manner = match (slip.manner, setup.style) {
            (None, _) => Self::NotSaid,
            (Some(Manner::Reacted), Style::React) | (Some(Manner::Timed), Style::TimeIt) => {
                Self::Said
            }
            _ => Self::Other,
        };
        let edge = match edge {
            Some(edge) if edge != setup.launch_edge => Self::Other,
            _ => Self::Said,
        };
        let all =
            [words(&slip.driver, &setup.driver), words(&slip.car, &setup.car), tree, manner, edge];
        if all.contains(&Self::Other) {
            Self::Other
        } else if all.contains(&Self::NotSaid) {
            Self::NotSaid
        } else {
            Self::Said
        }
    }
}

/// Slips of a set-up by what they count as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SlipCounts {
    /// With a light.
    pub lights: usize,
    /// Red without a number.
    pub reds_without_number: usize,
    /// Of those that count, how many do not say driver, car, tree or how it was left.
    pub not_said: usize,
    /// Real slips of another set-up.
    pub of_others: usize,
}

/// Real slips of one set-up, in the order they were entered.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OwnSlips {
    /// What counts and what does not.
    pub counts: SlipCounts,
    /// Days they are from.
    pub days: usize,
    rts_s: Vec<f64>,
    day_of_each: Vec<u32>,
}

impl OwnSlips {
    /// The slips of a set-up.
    pub fn new(lines: &OwnLines, setup: &OwnSetup) -> Self {
        Self::of(lines.real_slips(), lines, setup)
    }

    /// Those of one day.
    pub fn on(lines: &OwnLines, setup: &OwnSetup, day: Date) -> Self {
        let of_day = lines.real_slips().filter(|slip| slip.date == Some(day));
        Self::of(of_day, lines, setup)
    }

    fn of<'a>(slips: impl Iterator<Item = &'a Slip>, lines: &OwnLines, setup: &OwnSetup) -> Self {
        let edge = super::car::edge_of(lines.cars, &setup.car);
        let mut own = Self::default();
        let mut dates: Vec<Option<Date>> = Vec::new();
        for slip in slips {
            let fit = Fit::of(slip, setup, edge);
            if fit == Fit::Other {
                own.counts.of_others += 1;
                continue;
            }
            own.counts.not_said += usize::from(fit == Fit::NotSaid);
            match slip.rt() {
                Some(rt) => {
                    own.counts.lights += 1;
                    own.rts_s.push(rt.seconds());
                    dates.push(slip.date);
                }
                None => own.counts.reds_without_number += 1,
            }
        }
        let numbers: BTreeMap<Option<Date>, u32> = dates.iter().map(|date| (*date, 0)).collect();
        let numbers: BTreeMap<Option<Date>, u32> = numbers.into_keys().zip(0..).collect();
        own.day_of_each = dates.iter().map(|date| numbers[date]).collect();
        own.days = numbers.len();
        own
    }

    /// Their lights, s, in order.
    pub fn rts_s(&self) -> &[f64] {
        &self.rts_s
    }

    /// The day of each light, by any number.
    pub fn day_of_each(&self) -> &[u32] {
        &self.day_of_each
    }

    /// The lights with their days, reds without a number as red; `None` without any.
    ///
    /// # Errors
    /// [`StatsError`] for lights that are no numbers.
    pub fn pool(&self) -> Result<Option<Pool>, StatsError> {
        if self.rts_s.is_empty() {
            return Ok(None);
        }
        let pool =
            Pool::new(Sample::new(self.rts_s.clone())?).with_days(self.day_of_each.clone())?;
        Ok(Some(pool.with_unmeasured(self.counts.reds_without_number, 0)))
    }
}
