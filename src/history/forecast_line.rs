//! A forecast as it stands on disk.
//!
//! Owns the shape of the `forecast` line, version 1: what was declared and expected before the first
//! launch, as rates that hold for any number of launches. Refuses scores: they are counted anew from
//! what came, and no line is ever edited.
//!
//! ```text
//! {"kind":"forecast","v":1,"id":"…","saved_at":"…","program":"0.1.0","driver":"…",
//!  "occasion":"session","occasion_id":"…","source":"practice","car":"…","tree":"full",
//!  "interval_ns":500000000,"style":"time-it","declared_earlier_ms":5.0,"seed":1,
//!  "red":{"value":0.06,"low":0.02,"high":0.13,"level":0.9,"a":2.9,"b":45.1},
//!  "better_than_s":0.05,"better":{…},"light_low_s":-0.004,"light_high_s":0.087,"light_level":0.9,
//!  "n":60}
//! ```

use serde::{Deserialize, Serialize};

use super::words::{StyleWord, number};
use crate::trial::Style;

/// What was expected of the next launches, and of which.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ForecastLine {
    /// Unique for all machines and times, ordered by time, like the id of a run.
    pub id: String,
    /// Wall time of saving, ISO 8601 with zone.
    pub saved_at: String,
    /// Program version that made it.
    pub program: String,
    /// Who drives.
    pub driver: String,
    /// `session` or `track-night`.
    pub occasion: String,
    /// Which session or night: the forecast stays hidden until it is over.
    pub occasion_id: String,
    /// What it rests on: `practice` or `slips`.
    pub source: String,
    /// The driver's name for the car.
    pub car: String,
    /// Name of the tree kind.
    pub tree: String,
    /// Last amber to green.
    pub interval_ns: i64,
    /// Declared style.
    #[serde(with = "StyleWord")]
    pub style: Style,
    /// Declared aim: how much earlier than in the launches it rests on, milliseconds.
    #[serde(with = "number")]
    pub declared_earlier_ms: f64,
    /// Seed of its draws.
    pub seed: u64,
    /// P(red).
    pub red: RateLine,
    /// A light is good from 0 up to this, seconds.
    #[serde(with = "number")]
    pub better_than_s: f64,
    /// P(a good light).
    pub better: RateLine,
    /// A light falls between this, seconds,
    #[serde(with = "number")]
    pub light_low_s: f64,
    /// and this, seconds,
    #[serde(with = "number")]
    pub light_high_s: f64,
    /// with this probability.
    #[serde(with = "number")]
    pub light_level: f64,
    /// Launches it rests on.
    pub n: u64,
}

/// A rate with its interval, and the beta law that stands for what is known of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RateLine {
    /// The rate, 0–1.
    #[serde(with = "number")]
    pub value: f64,
    /// Lower limit.
    #[serde(with = "number")]
    pub low: f64,
    /// Upper limit.
    #[serde(with = "number")]
    pub high: f64,
    /// Level of the interval.
    #[serde(with = "number")]
    pub level: f64,
    /// First parameter of the beta law.
    #[serde(with = "number")]
    pub a: f64,
    /// Second parameter.
    #[serde(with = "number")]
    pub b: f64,
}
