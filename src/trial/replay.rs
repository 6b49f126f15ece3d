//! A run seen again: what was lit at any moment of it, and what driver and car did.
//!
//! Owns the moments of a recorded run on one time line and what they show. Refuses clocks, frames
//! and speeds, and to show anything the record does not hold.

use super::TrialRecord;
use crate::tree::{Lamp, LampSet, Outcome};
use crate::units::Span;

/// Shown before the first moment and after the last one.
const AIR: Span = Span::from_ms(600);

/// What happened at a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// A lamp lit; where it was never confirmed, its due mark stands for it.
    Lit {
        /// Which.
        lamp: Lamp,
        /// The display said so.
        confirmed: bool,
    },
    /// The launch edge, with the constant delay taken off.
    Launch,
    /// The front tyre was out of the beams.
    Clear,
}

/// Something that happened, by when.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moment {
    /// After the last amber; negative before it.
    pub at: Span,
    /// What.
    pub what: What,
}

/// A recorded run on its time line. Zero is the last amber.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Replay {
    moments: Vec<Moment>,
    all_at_once: bool,
    last_amber: u8,
    delay: Span,
    interval: Span,
    blank: bool,
}

impl Replay {
    /// The time line of a run; `None` where neither a lamp nor a launch was recorded.
    pub fn of(run: &TrialRecord) -> Option<Self> {
        let last_amber = run.setup.ambers.saturating_sub(1);
        let lamps = run.seen.lamps();
        let best = |lamp: Lamp| {
            let fact = lamps.iter().find(|fact| fact.lamp == lamp)?;
            Some((fact.shown.map_or(fact.due, |shown| shown[1]), fact.shown.is_some()))
        };
        let delay = run.parts.map_or(Span::from_ms_f64(run.offset.ms.value), |parts| parts.offset);
        let launch = run.seen.launch().map(|launch| launch.at[1] - delay);
        let at = |lamp| best(lamp).map(|(at, _)| at);
        // A last amber that was withheld has its place all the same.
        let withheld = || {
            let gap = run.setup.amber_gap.ns() * i64::from(last_amber);
            at(Lamp::Amber(0)).map(|first| first + Span::from_ns(gap))
        };
        let zero = at(Lamp::Amber(last_amber)).or_else(withheld).or(launch)?;
        let mut moments: Vec<Moment> = (0..=last_amber)
            .map(Lamp::Amber)
            .chain([Lamp::Green, Lamp::Red])
            .filter_map(|lamp| best(lamp).map(|(at, confirmed)| (lamp, at, confirmed)))
            // A green that was due but never came because the run was red.
            .filter(|(lamp, _, confirmed)| *lamp != Lamp::Green || *confirmed || !is_red(run))
            .map(|(lamp, at, confirmed)| Moment {
                at: at - zero,
                what: What::Lit { lamp, confirmed },
            })
            .collect();
        if let Some(launch) = launch {
            moments.push(Moment { at: launch - zero, what: What::Launch });
        }
        if let (Some(launch), Some(parts)) = (launch, run.parts) {
            let clear = launch - zero + parts.car;
            moments.push(Moment { at: clear, what: What::Clear });
            let told = moments.iter().any(|m| matches!(m.what, What::Lit { lamp: Lamp::Red, .. }));
            if is_red(run) && !told {
                // The foul is told once the tyre is out and the last amber was shown.
                let at = clear.max(Span::ZERO);
                moments.push(Moment { at, what: What::Lit { lamp: Lamp::Red, confirmed: false } });
            }
        }
        moments.sort_by_key(|moment| moment.at);
        Some(Self {
            moments,
            all_at_once: run.setup.amber_gap == Span::ZERO,
            last_amber,
            delay,
            interval: run.setup.interval,
            blank: run.setup.blank,
        })
    }

    /// Everything that happened, in order.
    pub fn moments(&self) -> &[Moment] {
        &self.moments
    }

    /// The constant delay taken off the launch edge.
    pub fn delay(&self) -> Span {
        self.delay
    }

    /// Last amber to green, as it was set up.
    pub fn interval(&self) -> Span {
        self.interval
    }

    /// The last amber was withheld on purpose.
    pub fn is_blank(&self) -> bool {
        self.blank
    }

    /// Number of ambers.
    pub fn ambers(&self) -> u8 {
        self.last_amber + 1
    }

    /// From where to where there is something to see, after the last amber.
    pub fn range(&self) -> (Span, Span) {
        let first = self.moments.first().map_or(Span::ZERO, |moment| moment.at);
        let last = self.moments.last().map_or(Span::ZERO, |moment| moment.at);
        (first - AIR, last + AIR)
    }

    /// When something happened, if it did.
    pub fn when(&self, wanted: impl Fn(What) -> bool) -> Option<Span> {
        self.moments.iter().find(|moment| wanted(moment.what)).map(|moment| moment.at)
    }

    /// The lamps of the countdown that were lit at a moment.
    pub fn lit(&self, at: Span) -> LampSet {
        let lit_by = |wanted: Lamp| {
            let since = self.when(|what| matches!(what, What::Lit { lamp, .. } if lamp == wanted));
            since.is_some_and(|since| since <= at)
        };
        let mut lit = LampSet { red: lit_by(Lamp::Red), ..LampSet::default() };
        lit.green = !lit.red && lit_by(Lamp::Green);
        if lit.red || lit.green {
            return lit;
        }
        for i in 0..=self.last_amber.min(4) {
            let replaced = !self.all_at_once && lit_by(Lamp::Amber(i + 1));
            lit.ambers[usize::from(i)] = lit_by(Lamp::Amber(i)) && !replaced;
        }
        lit
    }
}

fn is_red(run: &TrialRecord) -> bool {
    matches!(run.outcome, Outcome::Red | Outcome::LeftBeforeTree | Outcome::TimedOut)
}
