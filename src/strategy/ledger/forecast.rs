//! A forecast: what was declared and what was expected, before the first launch.
//!
//! Owns rates that hold for any number of launches, each with the beta law that stands for what is
//! known of it, and the way to a line of the history and back. Refuses what came.

use crate::history::{ForecastLine, RateLine};
use crate::stats::Estimate;
use crate::strategy::StrategyError;
use crate::strategy::error::{AIM, LIGHT, within};
use crate::strategy::launches::{Seen, Source};
use crate::strategy::odds::DrawnOdds;
use crate::trial::{Style, TrialRecord};
use crate::units::Span;

/// Level of every interval in a forecast.
const LEVEL: f64 = 0.90;

/// What is forecast.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Occasion {
    /// A session at home.
    Session,
    /// A night at the track, scored when its slips arrive.
    TrackNight,
}

impl Occasion {
    fn word(self) -> &'static str {
        match self {
            Self::Session => "session",
            Self::TrackNight => "track-night",
        }
    }
}

/// What the driver declares before the first launch.
#[derive(Debug, Clone, PartialEq)]
pub struct Declared {
    /// Unique, ordered by time like the ids of runs: made before the first run of the occasion.
    pub id: String,
    /// Wall time, ISO 8601 with zone.
    pub saved_at: String,
    /// Who drives.
    pub driver: String,
    /// Home or track.
    pub occasion: Occasion,
    /// Which session or night.
    pub occasion_id: String,
    /// The driver's name for the car.
    pub car: String,
    /// Name of the tree kind.
    pub tree: String,
    /// Last amber to green.
    pub interval: Span,
    /// Style.
    pub style: Style,
    /// The aim: s earlier than in the launches the forecast rests on.
    pub earlier_s: f64,
}

impl Declared {
    /// Whether a run is of the set-up that was declared.
    pub fn is_of(&self, run: &TrialRecord) -> bool {
        self.driver == run.driver
            && self.car == run.car.name
            && self.tree == run.setup.tree
            && self.interval == run.setup.interval
            && self.style == run.setup.style
    }
}

/// A rate with its interval and a beta law with the same mean and spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rate {
    /// Value and interval.
    pub estimate: Estimate,
    /// Parameters of the beta law.
    pub beta: (f64, f64),
}

impl Rate {
    /// The beta law with the mean of the estimate and the draws' variance.
    fn new(estimate: Estimate, draws: &[f64]) -> Self {
        let n = draws.len() as f64;
        let middle = draws.iter().sum::<f64>() / n;
        let spread = draws.iter().map(|p| (p - middle).powi(2)).sum::<f64>() / n;
        let mean = estimate.value.clamp(1e-6, 1.0 - 1e-6);
        let most = mean * (1.0 - mean);
        let worth = most / spread.clamp(1e-9 * most, 0.98 * most) - 1.0;
        Self { estimate, beta: (mean * worth, (1.0 - mean) * worth) }
    }
}

/// A forecast.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// What was declared.
    pub declared: Declared,
    /// What it rests on.
    pub source: Source,
    /// P(red).
    pub red: Rate,
    /// A light is good from 0 up to this, s.
    pub better_than_s: f64,
    /// P(a good light).
    pub better: Rate,
    /// Nine in ten lights fall between these, s.
    pub lights_s: (f64, f64),
    /// Launches it rests on.
    pub n: usize,
    /// Seed of its draws.
    pub seed: u64,
}

impl Forecast {
    /// What the launches seen so far lead one to expect at the declared aim.
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] for an aim outside ±10 s or a light outside ±100 s.
    pub fn new(
        declared: Declared,
        seen: &Seen,
        better_than_s: f64,
        seed: u64,
    ) -> Result<Self, StrategyError> {
        let aim = within("aim", declared.earlier_s, AIM)?;
        within("light to be better than", better_than_s, LIGHT)?;
        let lights = seen.lights();
        let red = seen.red(&[aim], LEVEL)?[0];
        let reds = DrawnOdds::of_red(lights, &[aim]).chances(aim)?;
        let good = DrawnOdds::of_good_light(lights, better_than_s, &[aim]);
        let better = Rate::new(good.win(&[aim], LEVEL)?[0], &good.chances(aim)?);
        let tail = 0.5 * (1.0 - LEVEL);
        let lights_s = (lights.quantile(tail) - aim, lights.quantile(1.0 - tail) - aim);
        let (source, n) = (seen.source(), lights.n());
        let red = Rate::new(red, &reds);
        Ok(Self { declared, source, red, better_than_s, better, lights_s, n, seed })
    }

    /// The line that goes into the history before the first launch.
    pub fn to_line(&self, program: &str) -> ForecastLine {
        let rate = |rate: &Rate| RateLine {
            value: rate.estimate.value,
            low: rate.estimate.low,
            high: rate.estimate.high,
            level: rate.estimate.level,
            a: rate.beta.0,
            b: rate.beta.1,
        };
        let d = &self.declared;
        ForecastLine {
            id: d.id.clone(),
            saved_at: d.saved_at.clone(),
            program: program.to_owned(),
            driver: d.driver.clone(),
            occasion: d.occasion.word().to_owned(),
            occasion_id: d.occasion_id.clone(),
            source: self.source.name().to_owned(),
            car: d.car.clone(),
            tree: d.tree.clone(),
            interval_ns: d.interval.ns(),
            style: d.style,
            declared_earlier_ms: 1000.0 * d.earlier_s,
            seed: self.seed,
            red: rate(&self.red),
            better_than_s: self.better_than_s,
            better: rate(&self.better),
            light_low_s: self.lights_s.0,
            light_high_s: self.lights_s.1,
            light_level: LEVEL,
            n: self.n as u64,
        }
    }

    /// A forecast from its line; `None` for words or numbers this program does not know.
    pub fn of_line(line: &ForecastLine) -> Option<Self> {
        let occasions = [Occasion::Session, Occasion::TrackNight];
        let occasion = occasions.into_iter().find(|o| o.word() == line.occasion)?;
        let source =
            [Source::Practice, Source::Slips].into_iter().find(|s| s.name() == line.source)?;
        let n = usize::try_from(line.n).ok()?;
        let rate = |r: &RateLine| {
            let positive = |x: f64| x > 0.0 && x.is_finite();
            let fine = (0.0..=1.0).contains(&r.value) && positive(r.a) && positive(r.b);
            let RateLine { value, low, high, level, a, b } = *r;
            fine.then_some(Rate { estimate: Estimate { value, low, high, level, n }, beta: (a, b) })
        };
        let declared = Declared {
            id: line.id.clone(),
            saved_at: line.saved_at.clone(),
            driver: line.driver.clone(),
            occasion,
            occasion_id: line.occasion_id.clone(),
            car: line.car.clone(),
            tree: line.tree.clone(),
            interval: Span::from_ns(line.interval_ns),
            style: line.style,
            earlier_s: line.declared_earlier_ms / 1000.0,
        };
        Some(Self {
            declared,
            source,
            red: rate(&line.red)?,
            better_than_s: line.better_than_s,
            better: rate(&line.better)?,
            lights_s: (line.light_low_s, line.light_high_s),
            n,
            seed: line.seed,
        })
    }
}
