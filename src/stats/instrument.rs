//! How much of a spread is the instrument's.
//!
//! Owns the variance a single run's stamps bring, and its share of what was seen. Refuses the constant
//! delay: that is common to all runs, moves their mean and hides in no spread (`offset` has it).

use super::risk::check_sd;
use super::summary::sd_with_interval;
use super::{Caveat, Estimate, Sample, StatsError};
use crate::tree::Lamp;
use crate::trial::TrialRecord;
use crate::units::Span;

/// A larger share of the variance than this is said. Chosen: the driver's SD is then read 15 %
/// too large, more than a hundred launches leave open.
pub const SAID_FROM_SHARE: f64 = 0.25;

/// How far one mark may be from the truth, on its own in every run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Doubt {
    /// Anywhere within an interval of this width, s, each place as likely as the other.
    Within(f64),
    /// Normal, with this SD, s.
    Normal(f64),
}

impl Doubt {
    /// The variance, s²: w²/12 for an interval of width w (the rectangular distribution of JCGM
    /// 100:2008, 4.3.7), σ² for a normal law.
    pub fn variance_s2(self) -> f64 {
        match self {
            Self::Within(width_s) => width_s * width_s / 12.0,
            Self::Normal(sd_s) => sd_s * sd_s,
        }
    }
}

/// What is not known about one run's driver part, the constant delay apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunDoubt {
    /// The stamp of the press.
    pub press: Doubt,
    /// The period in which the device looks at its controls, s, where known: a press waits for the
    /// next look, anywhere within it.
    pub poll_period_s: Option<f64>,
    /// The stamp of the last amber.
    pub onset: Doubt,
}

impl RunDoubt {
    /// From the intervals a run has kept; none for a run without a launch or without a last amber.
    pub fn of(run: &TrialRecord, poll_period_s: Option<f64>) -> Option<Self> {
        let last = Lamp::Amber(run.setup.ambers.checked_sub(1)?);
        let shown = run.seen.lamps().into_iter().find(|fact| fact.lamp == last)?.shown?;
        let within = |[earliest, _, latest]: [Span; 3]| {
            Doubt::Within((latest - earliest).abs().as_secs_f64())
        };
        Some(Self { press: within(run.seen.launch()?.at), poll_period_s, onset: within(shown) })
    }

    /// The variance of the driver part from all of these, independent of each other, s².
    pub fn variance_s2(&self) -> f64 {
        let poll = self.poll_period_s.map_or(0.0, |period| Doubt::Within(period).variance_s2());
        self.press.variance_s2() + poll + self.onset.variance_s2()
    }

    /// The same as an SD, s.
    pub fn sd_s(&self) -> f64 {
        self.variance_s2().sqrt()
    }
}

/// What the instrument adds to a spread.
#[derive(Debug, Clone, PartialEq)]
pub struct InstrumentShare {
    /// Its share of the variance that was seen, 0–1.
    pub share: Estimate,
    /// The driver's own SD, s: what is left.
    pub driver_sd_s: Estimate,
    /// SD of the instrument in a run, s (root of the mean variance).
    pub run_sd_s: f64,
    /// Doubts.
    pub caveats: Vec<Caveat>,
}

/// The instrument's share of the spread of some driver parts.
///
/// With V the variance seen and v̄ the mean of the runs' own: the driver's is max(V − v̄, 0), the
/// share min(v̄/V, 1). The limits are those of V for normal values. Doubts of different sizes may
/// stand together: their mean is what they add to V.
///
/// # Errors
/// [`StatsError::TooFew`] below 3 values, [`StatsError::NoSpread`] if all are the same,
/// [`StatsError::OutOfDomain`] unless there is one doubt per value, each 0 or more.
pub fn instrument_share(
    driver_parts: &Sample,
    doubts: &[RunDoubt],
    level: f64,
) -> Result<InstrumentShare, StatsError> {
    driver_parts.at_least(3)?;
    let n = driver_parts.n();
    if doubts.len() != n {
        let (name, domain) = ("number of doubts", "one per value");
        return Err(StatsError::OutOfDomain { name, value: doubts.len() as f64, domain });
    }
    let seen = sd_with_interval(driver_parts, level)?;
    if seen.value == 0.0 {
        return Err(StatsError::NoSpread);
    }
    let mut sum = 0.0;
    for doubt in doubts {
        sum += check_sd("a run's doubt", doubt.sd_s())?.powi(2);
    }
    let own = sum / n as f64;
    let share = |sd: f64| (own / (sd * sd)).min(1.0);
    let driver = |sd: f64| (sd * sd - own).max(0.0).sqrt();
    let estimate = |value, low, high| Estimate { value, low, high, level, n };
    let share = estimate(share(seen.value), share(seen.high), share(seen.low));
    let percent = (100.0 * share.value).round() as u8;
    Ok(InstrumentShare {
        share,
        driver_sd_s: estimate(driver(seen.value), driver(seen.low), driver(seen.high)),
        run_sd_s: own.sqrt(),
        caveats: (share.value > SAID_FROM_SHARE)
            .then_some(Caveat::InstrumentShare { percent })
            .into_iter()
            .collect(),
    })
}
