//! Doubts about an answer, each with what to do about it.
//!
//! Owns their words. Refuses errors: a caveat comes with an answer.

use super::family::Family;
use std::fmt;

/// A doubt about an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Caveat {
    /// Below 40 values shapes are guesses.
    Rough {
        /// Values there are.
        n: usize,
    },
    /// Below 10 values only counts are given.
    CountsOnly {
        /// Values there are.
        n: usize,
    },
    /// Chart limits rest on so few values that false alarms are commoner than promised.
    ShortBaseline {
        /// Values the limits rest on.
        n: usize,
    },
    /// Values were averaged in blocks before the search.
    Blocks {
        /// Values in a block.
        size: usize,
    },
    /// The curve has not levelled off, so the level it heads for is unknown.
    PlateauNotReached,
    /// Few days: the spread between days is hardly known.
    FewDays {
        /// Days there are.
        days: usize,
    },
    /// The bootstrap looked at a part of the values.
    BootstrapSubsample {
        /// Values drawn.
        used: usize,
        /// Values there are.
        of: usize,
    },
    /// The goodness-of-fit distances looked at a part of the values.
    DistanceSubsample {
        /// Values drawn.
        used: usize,
        /// Values there are.
        of: usize,
    },
    /// The fold scores looked at a part of the values.
    FoldSubsample {
        /// Values drawn.
        used: usize,
        /// Values there are.
        of: usize,
    },
    /// A law's best parameters lie at the edge of its domain.
    AtBoundary {
        /// Which law.
        family: Family,
    },
    /// A law has no best parameters for these values.
    NoOptimum {
        /// Which law.
        family: Family,
    },
    /// The later of two parts has no long tail: the best fit lies at that edge.
    NoTail,
    /// Two parts fit best, but no better than chance makes one part look like two.
    OnePartWillDo,
    /// A law called values impossible that it had not been fitted to.
    CalledImpossible {
        /// Which law.
        family: Family,
        /// How many values.
        values: usize,
    },
    /// The preferred law is a poor description all the same.
    PoorFit {
        /// Which law.
        family: Family,
    },
    /// Neighbouring values are alike, so they are worth fewer independent ones, and a wave can pass
    /// for a change.
    Dependent {
        /// Values there are.
        n: usize,
        /// Independent values they are worth.
        worth: usize,
    },
    /// Too few days to tell the spread between them.
    DaySpreadAssumed {
        /// Days there are.
        days: usize,
    },
    /// One of two parts has so few launches that it may be chance.
    SmallPart {
        /// Launches in it, about.
        launches: usize,
    },
    /// The decision between one part and two looked at some of the values.
    DecisionSubsample {
        /// Values used.
        used: usize,
        /// Values there are.
        n: usize,
    },
    /// No slip yet tells how the track differs from home.
    TrackUnknown,
    /// The shape of the distribution comes from some of the values, the counts from all.
    PosteriorSubsample {
        /// Values used.
        used: usize,
        /// Values there are.
        n: usize,
    },
    /// Fewer presses were filmed than it takes for the frames to matter little.
    FewPresses {
        /// Presses that count.
        n: usize,
    },
    /// Few launches were filmed at the start line.
    FewFilmedLaunches {
        /// Launches counted.
        n: usize,
    },
    /// The driver set filmed presses aside.
    SetAside {
        /// Presses set aside.
        left_out: usize,
        /// Presses there are.
        of: usize,
    },
    /// Readings of the film lie far from the rest and count all the same.
    FarReadings {
        /// How many.
        count: usize,
    },
    /// No rig has such a delay.
    DelayUnlikely,
    /// Much of the spread that was seen is the instrument's, not the driver's.
    InstrumentShare {
        /// Its share of the variance, percent.
        percent: u8,
    },
}

impl fmt::Display for Caveat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Caveat::Rough { n } => {
                write!(f, "rough: {n} values; 40 and more make the shape worth reading")
            }
            Caveat::CountsOnly { n } => {
                write!(f, "only counts: {n} values; from 10 on there is an estimate")
            }
            Caveat::ShortBaseline { n } => {
                write!(f, "limits rest on {n} values: expect more false alarms; 100 calm them")
            }
            Caveat::Blocks { size } => {
                write!(f, "looked at in blocks of {size}: places are good to one block")
            }
            Caveat::PlateauNotReached => {
                write!(f, "no plateau to see yet: go on, and look again after more launches")
            }
            Caveat::FewDays { days } => {
                write!(f, "{days} days: more days, not more launches a day, narrow this")
            }
            Caveat::BootstrapSubsample { used, of } => {
                write!(f, "p values: bootstrapped on {used} of the {of} values, drawn by the seed")
            }
            Caveat::DistanceSubsample { used, of } => {
                write!(f, "ks, ad, cvm: from {used} of the {of} values, drawn by the seed")
            }
            Caveat::FoldSubsample { used, of } => write!(
                f,
                "fold scores: from {used} of the {of} values, drawn by the seed, scaled to all"
            ),
            Caveat::AtBoundary { family } => write!(
                f,
                "{family}: the best fit is at the edge of the family; a simpler law would do"
            ),
            Caveat::NoOptimum { family } => {
                let what = if family.has_threshold() { "such a threshold" } else { "two parts" };
                write!(f, "{family}: no best fit; these values do not show {what}")
            }
            Caveat::NoTail => write!(
                f,
                "anticipate-react: the reactions show no long tail, so both parts are normal"
            ),
            Caveat::OnePartWillDo => write!(
                f,
                "anticipate-react: fits best, but one part gains as much by chance; more launches tell"
            ),
            Caveat::CalledImpossible { family, values } => write!(
                f,
                "{family}: called {values} held-out values impossible; do not read risks from it"
            ),
            Caveat::PoorFit { family } => write!(
                f,
                "{family}: the best of these and still a poor description; look at the plots"
            ),
            Caveat::Dependent { n, worth } => write!(
                f,
                "values that follow each other are alike: {n} tell as much as {worth}; breaks between \
                 them tell more"
            ),
            Caveat::DaySpreadAssumed { days } => write!(
                f,
                "the spread between days is assumed to be 10 ms ({days} here); three days and more \
                 measure it"
            ),
            Caveat::SmallPart { launches } => write!(
                f,
                "about {launches} launches in the smaller part; fifteen and more make it worth reading"
            ),
            Caveat::DecisionSubsample { used, n } => {
                write!(
                    f,
                    "one part or two was decided on {used} of {n} values, drawn with the seed"
                )
            }
            Caveat::TrackUnknown => {
                write!(
                    f,
                    "home to track is assumed to be 0 ± 40 ms; slips from the track measure it"
                )
            }
            Caveat::PosteriorSubsample { used, n } => write!(
                f,
                "the shape comes from {used} of {n} values, recent ones more likely, drawn with the \
                 seed; the counts come from all"
            ),
            Caveat::FewPresses { n } => {
                write!(f, "{n} presses filmed; 25 make the delay as well known as reading allows")
            }
            Caveat::FewFilmedLaunches { n } => {
                write!(f, "{n} launches filmed; three show whether they are alike")
            }
            Caveat::SetAside { left_out, of } => {
                write!(f, "{left_out} of {of} filmed presses are set aside, as you said")
            }
            Caveat::FarReadings { count } => write!(
                f,
                "{count} readings lie far from the rest and count all the same: look at their \
                 frames again, or set them aside"
            ),
            Caveat::DelayUnlikely => {
                write!(f, "no rig has such a delay: check the film's frame rate, then the counts")
            }
            Caveat::InstrumentShare { percent } => write!(
                f,
                "{percent} % of the variance is the instrument's: a sharper source of presses shows \
                 more of the driver"
            ),
        }
    }
}
