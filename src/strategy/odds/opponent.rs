//! The driver in the other lane.
//!
//! Owns the law of the opponent's lights: a level, another law, or the lights one could be. Refuses
//! the opponent's car: that is the race's finish.

use crate::strategy::StrategyError;
use crate::strategy::law::RtLaw;
use crate::strategy::lights::Lights;
use crate::strategy::pieces::{Exactness, Pieces};
use crate::tree::Temper;

/// How good a driver is at the tree. The numbers are those of the drivers one meets in the other
/// lane (`tree::Temper::habits`), with their standing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Level {
    /// First-timers: new to it.
    FirstTimer,
    /// Between the other two: the prompt one's lights.
    Weekend,
    /// Competent foot-brake racers.
    Sharp,
    /// Good lights and reds.
    Hasty,
    /// Plays it late and is never red.
    Late,
}

impl Level {
    /// All, the slowest first; then those who play the tree one way.
    pub const ALL: [Self; 5] =
        [Self::FirstTimer, Self::Weekend, Self::Sharp, Self::Hasty, Self::Late];

    /// The temper with these lights.
    pub fn temper(self) -> Temper {
        match self {
            Self::FirstTimer => Temper::NewToIt,
            Self::Weekend => Temper::Prompt,
            Self::Sharp => Temper::Sharp,
            Self::Hasty => Temper::Hasty,
            Self::Late => Temper::PlaysLate,
        }
    }

    /// The band nine in ten of the lights fall into, s.
    pub fn band_s(self) -> (f64, f64) {
        self.temper().habits().light_s
    }

    /// The name on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::FirstTimer => "first-timer",
            Self::Weekend => "weekend",
            Self::Sharp => "sharp",
            Self::Hasty => "hasty",
            Self::Late => "late",
        }
    }
}

/// An opponent.
#[derive(Debug, Clone)]
pub struct Opponent {
    lights: Source,
}

#[derive(Debug, Clone)]
enum Source {
    Law(RtLaw),
    /// Density and distribution of what drawn launches allow, all draws together.
    Table {
        pdf: Box<Pieces>,
        below: Box<Pieces>,
    },
}

impl Opponent {
    /// One whose lights follow a law.
    pub fn of(law: RtLaw) -> Self {
        Self { lights: Source::Law(law) }
    }

    /// One of whom some launches or slips are known, or one "like me": every law they allow, each
    /// with its weight.
    pub fn drawn(lights: &Lights) -> Self {
        let (low, high) = lights.range();
        let middle = lights.mean();
        let knots = [middle - 3.0 * lights.sd(), middle, middle + 3.0 * lights.sd()];
        let pdf = Box::new(Pieces::of(|x| lights.pdf(x), low, high, &knots, TABLE));
        let below = Box::new(Pieces::of(|x| lights.below(x), low, high, &knots, TABLE));
        Self { lights: Source::Table { pdf, below } }
    }

    /// One of a level: normal lights with nine in ten inside its band.
    pub fn level(level: Level) -> Self {
        let habits = level.temper().habits();
        let law = RtLaw::normal(habits.mean_light_s(), habits.sd_light_s());
        Self::of(law.expect("the bands lie within 100 s"))
    }

    /// One of whom only a mean light and its spread are known, s. A spread of 0 is always the same
    /// light.
    ///
    /// # Errors
    /// As [`RtLaw::normal`].
    pub fn normal(mean_s: f64, sd_s: f64) -> Result<Self, StrategyError> {
        Ok(Self::of(RtLaw::normal(mean_s, sd_s)?))
    }

    /// The chance of a red light.
    pub fn red(&self) -> f64 {
        self.below(0.0)
    }

    /// P(O < x).
    pub fn below(&self, x: f64) -> f64 {
        match &self.lights {
            Source::Law(law) => law.below(x),
            Source::Table { below, .. } => below.at(x).clamp(0.0, 1.0),
        }
    }

    /// Density at `x`, per second; a light that is always the same has none.
    pub(super) fn pdf(&self, x: f64) -> f64 {
        match &self.lights {
            Source::Law(law) => law.pdf(x),
            Source::Table { pdf, .. } => pdf.at(x).max(0.0),
        }
    }

    /// Lights that are always the same, with their weights.
    pub(super) fn fixed(&self) -> Vec<(f64, f64)> {
        match &self.lights {
            Source::Law(law) => law.fixed().collect(),
            Source::Table { .. } => Vec::new(),
        }
    }

    /// Where a quadrature has to look.
    pub(super) fn knots(&self) -> Vec<f64> {
        match &self.lights {
            Source::Law(law) => law.knots(),
            Source::Table { pdf, .. } => pdf.edges().to_vec(),
        }
    }

    /// From where to where there are lights to speak of.
    pub(super) fn range(&self) -> (f64, f64) {
        match &self.lights {
            Source::Law(law) => law.range(),
            Source::Table { pdf, .. } => pdf.ends(),
        }
    }
}

/// A table of drawn lights, by density: a thousandth of a light in the thousand.
const TABLE: Exactness = Exactness { integral: 1e-8, pieces: 1e-4 };

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nine_in_ten_lights_of_a_level_fall_into_its_band() {
        for level in Level::ALL {
            let (low, high) = level.band_s();
            let law = Opponent::level(level);
            assert!((law.below(high) - law.below(low) - 0.9).abs() < 1e-12, "{level:?}");
        }
        // Φ(−.040/.01216): a sharp foot-brake racer is hardly ever red.
        assert!((Opponent::level(Level::Sharp).red() - 5.0e-4).abs() < 1e-4);
        // Φ(−.050/.04864) = .152: a hasty one is red once in seven starts; who plays it late never.
        assert!((Opponent::level(Level::Hasty).red() - 0.152).abs() < 1e-3);
        assert!(Opponent::level(Level::Late).red() < 1e-7);
    }
}
