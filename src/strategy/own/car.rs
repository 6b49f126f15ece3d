//! The car of a set-up.
//!
//! Owns the choice of the car part: the answers in force under its name, else what the runs believed.
//! Refuses geometry.

use super::setup::{OwnLines, OwnSetup};
use crate::car::{Answers, BeamLine, CarModel, EdgeAnswer};
use crate::history::{CarLine, cars_in_force};
use crate::stats::risk::CarPart;

/// The car of a set-up as far as it is known.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnCar {
    /// The car part: best value, what is not known of it, run-to-run.
    pub part: CarPart,
    /// The model behind it, where the driver has described the car.
    pub model: Option<CarModel>,
    /// At least one answer behind it was never given.
    pub assumed: bool,
}

impl OwnCar {
    /// The car of a set-up: the newest answers under its name, else what its last run believed, else
    /// a car of which nothing is known.
    pub fn new(lines: &OwnLines, setup: &OwnSetup) -> Self {
        if let Some(model) = model_of(lines.cars, &setup.car) {
            let part = part_of(&model);
            return Self { part, assumed: model.assumed(), model: Some(model) };
        }
        let unknown = CarModel::from_answers(&Answers::default(), BeamLine::default())
            .expect("a car of which nothing is known is made of defaults that fit");
        let mut part = part_of(&unknown);
        let believed = lines.trials.iter().rev().find(|run| setup.holds_in_any_style(run));
        let believed = believed.map(|run| run.car.car_part_s);
        // Facts of a damaged or foreign line may be no numbers.
        if let Some(told) = believed.filter(|told| {
            (0.0..=5.0).contains(&told.value) && (0.0..=5.0).contains(&told.sd)
        }) {
            part = CarPart { mean_s: told.value, doubt_sd_s: told.sd, ..part };
        }
        Self { part, model: None, assumed: true }
    }
}

fn part_of(model: &CarModel) -> CarPart {
    let part = model.car_part();
    CarPart {
        mean_s: part.seconds.value,
        doubt_sd_s: part.seconds.sd,
        run_sd_s: part.run_sd_s,
    }
}

fn model_of(cars: &[CarLine], name: &str) -> Option<CarModel> {
    cars_in_force(cars).into_iter().find(|car| car.name == name)?.model().ok()
}

/// The launch edge a known car has.
pub(super) fn edge_of(cars: &[CarLine], name: &str) -> Option<&'static str> {
    Some(match model_of(cars, name)?.edge() {
        EdgeAnswer::Press => "press",
        EdgeAnswer::Release => "release",
    })
}
