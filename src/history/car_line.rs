//! The answers about a car as they stand on disk.
//!
//! Owns the shape of the `car` line, version 1. Refuses what the answers mean: a missing answer
//! stays missing here. The newest line of a name is the one in force.

use serde::{Deserialize, Serialize};

use super::words::maybe_number;

/// What the driver answered about a car, and when.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct CarLine {
    /// Unique for all machines and times, ordered by time, like the id of a run.
    pub id: String,
    /// Wall time of saving, ISO 8601 with zone.
    pub saved_at: String,
    /// The driver's name for the car.
    pub name: String,
    /// Diameter of the front tyre, inches.
    #[serde(default, with = "maybe_number")]
    pub tyre_diameter_in: Option<f64>,
    /// The front tyre as printed on its side.
    #[serde(default)]
    pub tyre_size: Option<String>,
    /// How the car leaves: the word chosen.
    #[serde(default)]
    pub leave: Option<String>,
    /// Sixty-foot time, seconds.
    #[serde(default, with = "maybe_number")]
    pub sixty_foot_s: Option<f64>,
    /// The kind of car: the word chosen. `car_kind` on disk, where `kind` is the kind of line.
    #[serde(default, rename = "car_kind")]
    pub kind: Option<String>,
    /// The habitual depth: the word chosen.
    #[serde(default)]
    pub depth: Option<String>,
    /// Name of the bound launch control.
    #[serde(default)]
    pub control: String,
    /// Hand or foot: the word chosen.
    #[serde(default)]
    pub limb: Option<String>,
    /// `press` or `release`.
    #[serde(default)]
    pub launch_edge: Option<String>,
}
