//! A run as it stands on disk: plain strings and numbers, the unit last in each name.
//!
//! Owns the shape of the `trial` line, version 1. All times are whole nanoseconds after the start
//! of the run. Refuses opinions about a run: what was recorded is written and comes back exactly.
//! A field may be added later with `#[serde(default)]`; anything else needs a new version.

#![allow(missing_docs, reason = "field for field what the types of the room `trial` document")]

use serde::{Deserialize, Serialize};

use super::words::{
    AimFromWord, AimOfWord, DrillWord, LampWord, LaneWord, OriginWord, OutcomeWord, StyleWord,
    maybe_number, number,
};
use crate::press::Origin;
use crate::tree::{Lamp, Lane, Outcome};
use crate::trial::{AimFrom, AimOf, Drill, Style};

/// One finished run. See [`crate::trial::TrialRecord`] for what each fact means.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrialLine {
    pub id: String,
    pub began: String,
    pub program: String,
    pub driver: String,
    pub setup: SetupLine,
    pub car: CarFactsLine,
    pub rig: RigPrintLine,
    pub offset: OffsetLine,
    pub staging: StagingLine,
    pub lamps: Vec<LampLine>,
    /// `unknown` in lines from before it was recorded.
    #[serde(default = "unknown")]
    pub onset_grade: String,
    #[serde(default)]
    pub amber_gaps_shown_ns: Vec<i64>,
    #[serde(default)]
    pub amber_spacing_off: bool,
    pub hold_ns: Option<i64>,
    pub frame_period_ns: i64,
    pub launch: Option<LaunchLine>,
    #[serde(with = "OutcomeWord")]
    pub outcome: Outcome,
    pub parts: Option<PartsLine>,
    pub colour_in_doubt: bool,
    pub hitch: bool,
    pub lamp_corrected: bool,
}

/// What was decided before the run.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SetupLine {
    pub tree: String,
    pub ambers: u8,
    pub amber_gap_ns: i64,
    pub interval_ns: i64,
    pub procedure: String,
    #[serde(with = "DrillWord")]
    pub drill: Drill,
    #[serde(with = "StyleWord")]
    pub style: Style,
    pub blank: bool,
    #[serde(with = "LaneWord")]
    pub lane: Lane,
    pub other_lane: Option<String>,
    pub seed: u64,
    pub scripted: bool,
    #[serde(default)]
    pub aim: Option<AimLine>,
    #[serde(default)]
    pub pause: Option<PauseLine>,
}

/// What the driver meant to hit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct AimLine {
    #[serde(with = "AimOfWord")]
    pub of: AimOf,
    pub at_ns: i64,
    #[serde(with = "AimFromWord")]
    pub from: AimFrom,
}

/// The pause that was asked for before the run, and the one that was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct PauseLine {
    pub planned_ns: i64,
    pub waited_ns: i64,
}

/// A value with one standard deviation of doubt, in the unit its holder's name ends in.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct MeasuredLine {
    #[serde(with = "number")]
    pub value: f64,
    #[serde(with = "number")]
    pub sd: f64,
}

/// The car as it was believed to be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CarFactsLine {
    pub name: String,
    pub assumed: bool,
    pub car_part_s: MeasuredLine,
    #[serde(with = "number")]
    pub tyre_diameter_in: f64,
    pub lag_s: MeasuredLine,
    pub launch_g: MeasuredLine,
}

/// What ties a constant delay to its causes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RigPrintLine {
    pub device: String,
    pub control: String,
    pub launch_edge: String,
    #[serde(default, with = "maybe_number")]
    pub threshold: Option<f64>,
    pub limb: String,
    pub source: String,
    pub display: String,
    pub refresh_hz: u32,
    pub present_mode: String,
}

/// The constant delay in force.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OffsetLine {
    pub from: String,
    pub delay_ms: MeasuredLine,
}

/// How the driver rolled in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct StagingLine {
    pub courtesy_broken: bool,
    pub deep: bool,
    pub sent_back: u8,
    pub rolled_through: u8,
    pub took_ns: Option<i64>,
}

/// One lamp: due, and shown as earliest, best, latest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct LampLine {
    #[serde(with = "LampWord")]
    pub lamp: Lamp,
    pub due_ns: i64,
    pub shown_ns: Option<[i64; 3]>,
}

/// The launch edge: earliest, best, latest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LaunchLine {
    #[serde(with = "OriginWord")]
    pub origin: Origin,
    pub sources_disagree: bool,
    pub at_ns: [i64; 3],
    #[serde(with = "number")]
    pub depth_in: f64,
}

/// The time in its parts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct PartsLine {
    pub driver_raw_ns: i64,
    pub offset_ns: i64,
    pub car_ns: i64,
    pub interval_ns: i64,
    pub early_doubt_ns: i64,
    pub late_doubt_ns: i64,
}

fn unknown() -> String {
    "unknown".to_owned()
}
