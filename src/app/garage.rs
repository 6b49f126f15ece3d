//! The driver's cars as the program believes them, and which one is in use.
//!
//! Owns the answers in force and their way to and from the history's car lines. Refuses geometry
//! and probabilities: those are the car room's.

use super::clock;
use crate::beams::{BeamZones, LaunchLaw};
use crate::car::{
    Answers, BeamLine, CarKind, CarModel, Described, EdgeAnswer, Limb, Reanswered, StrengthAnswer,
    reanswer, time_to_roll,
};
use crate::history::{self, CarLine, cars_in_force};
use crate::trial::CarFacts;
use crate::units::{Inches, Span};
use bevy::prelude::*;

/// The name of a car nobody has named.
pub const UNNAMED: &str = "my car";

/// The car in use.
#[derive(Resource, Debug, Clone)]
pub struct Garage {
    answers: Answers,
    model: CarModel,
    asked: bool,
    name: String,
    /// The newest line of every car, in the order they first came up.
    cars: Vec<CarLine>,
    news: Vec<String>,
}

impl Default for Garage {
    fn default() -> Self {
        let answers = Answers::default();
        let model = CarModel::from_answers(&answers, BeamLine::default())
            .expect("a car of which nothing is known is made of defaults that fit");
        let name = UNNAMED.to_owned();
        Self { answers, model, asked: false, name, cars: Vec::new(), news: Vec::new() }
    }
}

impl Garage {
    /// The car of the newest line, if its answers still make a car; otherwise an unknown one.
    pub fn from_lines(lines: &[CarLine]) -> Self {
        let cars = cars_in_force(lines).into_iter().cloned().collect();
        let mut garage = Self { cars, ..Self::default() };
        if let Some(line) = lines.last() {
            garage.asked = true;
            garage.name.clone_from(&line.name);
            match line.model() {
                Ok(model) => (garage.answers, garage.model) = (line.answers(), model),
                Err(error) => warn!("the car on disk is set aside: {error}"),
            }
        }
        garage
    }

    /// What became of details when the questions were last answered again.
    pub fn news(&self) -> &[String] {
        &self.news
    }

    /// The car in use as it is described.
    pub fn described(&self) -> Described {
        Described {
            name: self.name.clone(),
            answers: self.answers,
            details: self.model.details().clone(),
            beams: self.model.beams(),
        }
    }

    /// The line of a car as it is described, to be [`put`](Self::put).
    pub fn line_of(&self, car: &Described) -> CarLine {
        let control = self.line_in_use().map_or("Space", |line| &line.control).to_owned();
        CarLine {
            name: car.name.clone(),
            control,
            ..CarLine::describing(&car.answers, &car.details, car.beams)
        }
    }

    /// The kind of car, where the driver named one.
    pub fn kind(&self) -> Option<CarKind> {
        match self.answers.strength {
            StrengthAnswer::Kind(kind) => Some(kind),
            _ => None,
        }
    }

    /// The driver's name for the car in use.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The newest line of every car, in the order they first came up.
    pub fn cars(&self) -> &[CarLine] {
        &self.cars
    }

    /// The line of the car in use, once something was told of it.
    pub fn line_in_use(&self) -> Option<&CarLine> {
        self.cars.iter().find(|line| line.name == self.name)
    }

    /// Puts the next car in use and gives the line to be saved; none where there is no other.
    ///
    /// # Errors
    /// A sentence for the driver when its answers make no car any more.
    pub fn next_car(&mut self) -> Result<Option<CarLine>, String> {
        let at = self.cars.iter().position(|line| line.name == self.name);
        let next = at.map_or(0, |at| at + 1).checked_rem(self.cars.len());
        match next.map(|next| self.cars[next].clone()) {
            Some(line) if line.name != self.name => self.put(line).map(Some),
            _ => Ok(None),
        }
    }

    /// Puts a car in use as a line describes it; gives the line to be saved, with an id and a time of
    /// its own.
    ///
    /// # Errors
    /// A sentence for the driver when it makes no car.
    pub fn put(&mut self, line: CarLine) -> Result<CarLine, String> {
        let model = line.model().map_err(|error| error.to_string())?;
        (self.answers, self.model, self.asked) = (line.answers(), model, true);
        self.name.clone_from(&line.name);
        let line = CarLine {
            id: crate::history::new_id(),
            saved_at: clock::wall_time(),
            launch_edge: Some(self.edge_word().to_owned()),
            ..line
        };
        match self.cars.iter_mut().find(|car| car.name == line.name) {
            Some(car) => *car = line.clone(),
            None => self.cars.push(line.clone()),
        }
        Ok(line)
    }

    /// Whether the five questions were put already.
    pub fn asked(&self) -> bool {
        self.asked
    }

    /// The answers in force.
    pub fn answers(&self) -> &Answers {
        &self.answers
    }

    /// What they make of the car.
    pub fn model(&self) -> &CarModel {
        &self.model
    }

    /// Whether launching means pressing the control or letting it go.
    pub fn edge(&self) -> EdgeAnswer {
        self.model.edge()
    }

    /// The beams as this car's tyre meets them.
    pub fn zones(&self) -> BeamZones {
        let (tyre, beams) = (self.model.tyre(), self.model.beams());
        let chord = tyre.chord(beams.beam_height());
        let chord = chord.expect("tyre and beam line are made to fit each other");
        BeamZones::new(chord, beams.prestage_to_stage(), beams.stage_to_guard())
    }

    /// How this car leaves.
    pub fn launch(&self) -> LaunchLaw {
        let lag = Span::from_secs_f64(self.model.lag_s().value);
        LaunchLaw { g: self.model.launch_g().value, lag }
    }

    /// The car part from a depth, standing still: lag and roll.
    pub fn car_part_at(&self, depth: Inches) -> Span {
        let law = self.launch();
        law.lag + time_to_roll(self.zones().remaining(depth), law.g, 0.0)
    }

    /// Facts of the car for a run's record.
    pub fn facts(&self) -> CarFacts {
        let model = &self.model;
        CarFacts {
            name: self.name.clone(),
            car_part_s: model.car_part().seconds,
            assumed: model.assumed(),
            tyre_diameter: Inches(model.tyre_diameter_in().value),
            lag_s: model.lag_s(),
            launch_g: model.launch_g(),
        }
    }

    /// Puts new answers in force and gives the line to be saved. What the questions do not ask stays;
    /// [`Garage::news`] says which of both is in force where they do.
    ///
    /// # Errors
    /// A sentence for the driver when an answer can't be.
    pub fn answer(&mut self, answers: Answers, control: &str) -> Result<CarLine, String> {
        let Reanswered { details, standings } =
            reanswer(&self.answers, self.model.details(), &answers);
        self.news = standings.iter().map(ToString::to_string).collect();
        self.put(CarLine {
            name: self.name.clone(),
            control: control.to_owned(),
            ..CarLine::describing(&answers, &details, self.model.beams())
        })
    }

    fn edge_word(&self) -> &'static str {
        match self.model.edge() {
            EdgeAnswer::Press => "press",
            EdgeAnswer::Release => "release",
        }
    }
}

/// The limb's word for a rig's fingerprint.
pub fn limb_word(limb: Limb) -> String {
    history::limb_word(limb).unwrap_or_else(|| "not said".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::car::{CarKind, DepthAnswer, LeaveAnswer, PressAnswer, StrengthAnswer, TyreAnswer};

    #[test]
    fn answers_survive_the_way_to_disk_and_back() {
        let answers = Answers {
            tyre: TyreAnswer::Size("225/45R17".parse().unwrap()),
            leave: LeaveAnswer::Clutch,
            strength: StrengthAnswer::Kind(CarKind::QuickStreet),
            depth: DepthAnswer::Deeper,
            press: PressAnswer { limb: Limb::LeftFoot },
        };
        let line = Garage::default().answer(answers, "Space").unwrap();
        let back = Garage::from_lines(&[line]);
        assert!(back.asked());
        assert_eq!(back.answers(), &answers);
        assert_eq!(back.edge(), EdgeAnswer::Release);
    }

    #[test]
    fn cars_take_turns_by_name_and_the_last_saved_is_in_use() {
        let named = |name: &str, inches: f64| CarLine {
            name: name.to_owned(),
            tyre_diameter_in: Some(inches),
            ..CarLine::default()
        };
        let lines = [named("one", 25.0), named("two", 27.0), named("one", 26.0)];
        let mut garage = Garage::from_lines(&lines);
        assert_eq!((garage.name(), garage.cars().len()), ("one", 2));
        assert_eq!(garage.line_in_use().unwrap().tyre_diameter_in, Some(26.0));
        let line = garage.next_car().unwrap().unwrap();
        assert_eq!((garage.name(), line.name.as_str()), ("two", "two"));
        assert_eq!(garage.facts().name, "two");
        assert!(garage.put(named("three", 900.0)).is_err());
        assert_eq!(garage.name(), "two");
        garage.put(named("three", 24.0)).unwrap();
        assert_eq!(garage.cars().len(), 3);
        assert_eq!(Garage::default().next_car(), Ok(None));
    }

    #[test]
    fn a_car_that_cannot_be_falls_back_to_an_unknown_one() {
        let line = CarLine { tyre_diameter_in: Some(900.0), ..CarLine::default() };
        assert_eq!(Garage::from_lines(&[line]).answers(), &Answers::default());
    }
}
