//! What is known about a car as it stands on disk.
//!
//! Owns the shape of the `car` line, version 1. Refuses what the answers mean: a missing answer
//! stays missing here. The newest line of a name is the one in force.

use serde::{Deserialize, Serialize};

use super::trial_line::MeasuredLine;
use super::words::{maybe_number, number, numbers};

/// What the driver told of a car, and when.
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
    /// What is known beyond the five questions.
    #[serde(default, skip_serializing_if = "DetailsLine::is_empty")]
    pub details: DetailsLine,
}

/// What is known of a car beyond the five questions; every field may be missing.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct DetailsLine {
    /// How far the load lowers the front axle.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub deflection_in: Option<MeasuredLine>,
    /// Front tyre pressure.
    #[serde(default, with = "maybe_number", skip_serializing_if = "Option::is_none")]
    pub front_pressure_psi: Option<f64>,
    /// The launch by a 60-foot time.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub launch_sixty_foot_s: Option<MeasuredLine>,
    /// The launch by its acceleration, in units of standard gravity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub launch_g: Option<MeasuredLine>,
    /// The launch by grip and weight.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub traction: Option<TractionLine>,
    /// The launch by the 60-foot times of slips.
    #[serde(default, with = "numbers", skip_serializing_if = "Vec::is_empty")]
    pub slip_sixty_feet_s: Vec<f64>,
    /// From the launch edge to the first movement.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lag_s: Option<MeasuredLine>,
    /// Where the driver stops.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth_in: Option<MeasuredLine>,
    /// How much that differs from start to start.
    #[serde(default, with = "maybe_number", skip_serializing_if = "Option::is_none")]
    pub depth_spread_in: Option<f64>,
    /// With driver and fuel.
    #[serde(default, with = "maybe_number", skip_serializing_if = "Option::is_none")]
    pub weight_lb: Option<f64>,
    /// At the crank.
    #[serde(default, with = "maybe_number", skip_serializing_if = "Option::is_none")]
    pub power_hp: Option<f64>,
    /// The time on the window.
    #[serde(default, with = "maybe_number", skip_serializing_if = "Option::is_none")]
    pub dial_s: Option<f64>,
    /// The car part filmed at a start line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub filmed: Option<FilmedPartLine>,
    /// The beams of the track in use, where they are not the usual ones.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beams: Option<BeamsLine>,
}

/// Grip and weight of a car at rest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TractionLine {
    /// Friction coefficient of the tyres.
    #[serde(with = "number")]
    pub grip: f64,
    /// The driven end: `front`, `rear`, `all`.
    pub driven: String,
    /// The weight's share on it.
    #[serde(with = "number")]
    pub weight_share: f64,
    /// Height of the centre of gravity over the wheelbase.
    #[serde(with = "number")]
    pub height_over_wheelbase: f64,
}

/// The car part as a film of launches shows it, with what was counted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FilmedPartLine {
    /// The car part.
    pub car_part_s: MeasuredLine,
    /// Frames per second of the film.
    #[serde(with = "number")]
    pub fps: f64,
    /// Frames from launch to the stage lamp going out, a number for each launch.
    #[serde(with = "numbers")]
    pub frames: Vec<f64>,
}

/// Heights and spacings of the beams.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BeamsLine {
    /// From pre-stage beam to stage beam.
    #[serde(with = "number")]
    pub prestage_in: f64,
    /// From stage beam to guard beam.
    #[serde(with = "number")]
    pub guard_in: f64,
    /// Height of these three.
    #[serde(with = "number")]
    pub height_in: f64,
    /// Height of the 60-foot beam.
    #[serde(with = "number")]
    pub sixty_foot_height_in: f64,
}

impl DetailsLine {
    fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// The newest line of every name, in the order the names first came up; the last saved car is the
/// current one.
pub fn cars_in_force(lines: &[CarLine]) -> Vec<&CarLine> {
    let mut in_force: Vec<&CarLine> = Vec::new();
    for line in lines {
        match in_force.iter_mut().find(|car| car.name == line.name) {
            Some(before) => *before = line,
            None => in_force.push(line),
        }
    }
    in_force
}
