//! My car typed in by keys alone: everything that can be told of a car, and nothing that has to be.
//!
//! Owns the form, what each field may hold and the car that comes out. Refuses what is no car, beside
//! the field that makes it none; an empty field is a "don't know".

mod fields;
mod read;

pub use fields::CarField;

use super::{
    Answers, BeamLine, CarError, CarKind, CarModel, DepthAnswer, Details, DrivenEnd, LeaveAnswer,
    Limb, Strength, StrengthAnswer, TyreAnswer,
};
use crate::form::{Field, Form, Key};
use crate::units::Measured;
use fields::fields;

/// A car as its owner describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Described {
    /// The driver's name for it.
    pub name: String,
    /// The answers to the five questions.
    pub answers: Answers,
    /// What is known beyond them.
    pub details: Details,
    /// The beams of the track in use.
    pub beams: BeamLine,
}

impl Described {
    /// The car itself.
    ///
    /// # Errors
    /// As [`CarModel::new`].
    pub fn model(&self) -> Result<CarModel, CarError> {
        CarModel::new(&self.answers, self.details.clone(), self.beams)
    }
}

/// The form of a car.
#[derive(Debug, Clone, PartialEq)]
pub struct CarForm {
    form: Form<CarField>,
    before: Described,
}

const LEAVES: [(LeaveAnswer, &str); 7] = [
    (LeaveAnswer::DontKnow, ""),
    (LeaveAnswer::OneFoot, "one-foot"),
    (LeaveAnswer::TwoFeetIdle, "two-feet-idle"),
    (LeaveAnswer::TwoFeetConverter, "converter"),
    (LeaveAnswer::Clutch, "clutch"),
    (LeaveAnswer::LaunchControl, "launch-control"),
    (LeaveAnswer::Button, "button"),
];
const LIMBS: [(Limb, &str); 5] = [
    (Limb::DontKnow, ""),
    (Limb::RightHand, "right-hand"),
    (Limb::LeftHand, "left-hand"),
    (Limb::RightFoot, "right-foot"),
    (Limb::LeftFoot, "left-foot"),
];
const KINDS: [(CarKind, &str); 5] = [
    (CarKind::OrdinaryStreet, "ordinary"),
    (CarKind::QuickStreet, "quick"),
    (CarKind::StickyTyres, "sticky"),
    (CarKind::Slicks, "slicks"),
    (CarKind::ElectricOrAllWheel, "electric"),
];
const DRIVEN: [(DrivenEnd, &str); 3] =
    [(DrivenEnd::Rear, "rear"), (DrivenEnd::Front, "front"), (DrivenEnd::All, "all")];

impl CarForm {
    /// The form of this car as far as it is known.
    pub fn new(car: &Described) -> Self {
        let mut new = Self { form: Form::new(fields()), before: car.clone() };
        for (key, text) in new.known() {
            new.form.set(key, &text, true);
        }
        new.put_away();
        new
    }

    /// The form of a car of which nothing is known.
    pub fn unknown() -> Self {
        Self::new(&Described {
            name: String::new(),
            answers: Answers::default(),
            details: Details::default(),
            beams: BeamLine::default(),
        })
    }

    /// The fields on show, top to bottom.
    pub fn fields(&self) -> impl Iterator<Item = &Field<CarField>> {
        self.form.fields()
    }

    /// The field being filled.
    pub fn active(&self) -> &Field<CarField> {
        self.form.active()
    }

    /// Goes to a field, as a click does.
    pub fn go_to(&mut self, key: CarField) {
        self.look_at_active();
        self.form.go_to(key);
    }

    /// Works a key; a field is looked at when it is left.
    pub fn take(&mut self, key: Key) {
        if matches!(key, Key::Next | Key::Previous) {
            self.look_at_active();
        }
        if self.form.take(key) {
            self.put_away();
        }
    }

    /// The car as far as it reads, for what it makes while it is typed; fields that cannot be read
    /// count as empty.
    pub fn so_far(&self) -> Option<Described> {
        let car = self.described(false).ok()?;
        car.model().ok().map(|_| car)
    }

    /// Enter, wherever it stands: the car, or none and the form stands at what is wrong.
    pub fn enter(&mut self) -> Option<Described> {
        match self.described(true) {
            Ok(car) => match car.model() {
                Ok(_) => return Some(car),
                Err(error) => {
                    let key = self.form.active().key;
                    self.form.say(key, Some(error.to_string()));
                }
            },
            Err((key, wrong)) => {
                self.form.say(key, Some(wrong));
                self.form.go_to(key);
            }
        }
        None
    }

    fn look_at_active(&mut self) {
        let key = self.form.active().key;
        let wrong = self.alone(key).err();
        self.form.say(key, wrong);
    }

    /// Fields that another choice makes idle are put away.
    fn put_away(&mut self) {
        use CarField as F;
        let strength = self.form.text(F::StrengthBy).to_owned();
        let measured = self.form.text(F::DepthBy) == "measured";
        for (key, by) in [
            (F::SixtyFoot, "sixty-foot"),
            (F::Slips, "slips"),
            (F::LaunchG, "g"),
            (F::Grip, "traction"),
            (F::Driven, "traction"),
            (F::WeightShare, "traction"),
            (F::Height, "traction"),
        ] {
            self.form.show(key, strength == by);
        }
        self.form.show(F::Depth, measured);
        self.form.show(F::DepthSpread, measured);
        self.form.show(F::Film, self.before.details.filmed.is_some());
    }

    /// What the fields say of the car as it was.
    fn known(&self) -> Vec<(CarField, String)> {
        use CarField as F;
        let Described { name, answers, details, beams } = &self.before;
        let number = |value: Option<f64>| value.map_or_else(String::new, |v| v.to_string());
        let doubted = |value: Option<Measured>| value.map_or_else(String::new, with_doubt);
        let mut known = vec![
            (F::Name, name.clone()),
            (
                F::Tyre,
                match answers.tyre {
                    TyreAnswer::Diameter(inches) => inches.0.to_string(),
                    TyreAnswer::Size(size) => size.to_string(),
                    TyreAnswer::DontKnow => String::new(),
                },
            ),
            (F::Deflection, doubted(details.deflection_in)),
            (F::FrontPressure, number(details.front_pressure_psi)),
            (F::Leave, word_of(&LEAVES, answers.leave)),
            (F::Limb, word_of(&LIMBS, answers.press.limb)),
            (F::Lag, doubted(details.lag_s)),
            (F::Weight, number(details.weight_lb)),
            (F::Power, number(details.power_hp)),
            (F::Dial, number(details.dial_s)),
            (F::Prestage, beams.prestage_to_stage().0.to_string()),
            (F::Guard, beams.stage_to_guard().0.to_string()),
            (F::BeamHeight, beams.beam_height().0.to_string()),
            (F::SixtyFootHeight, beams.sixty_foot_beam_height().0.to_string()),
        ];
        known.extend(strength_texts(answers.strength, details.strength.as_ref()));
        match (details.depth, answers.depth) {
            (Some(habit), _) => known.extend([
                (F::DepthBy, "measured".to_owned()),
                (F::Depth, with_doubt(habit.mean_in)),
                (F::DepthSpread, habit.spread_in.to_string()),
            ]),
            (None, DepthAnswer::JustLit) => known.push((F::DepthBy, "just-lit".to_owned())),
            (None, DepthAnswer::Deeper) => known.push((F::DepthBy, "deeper".to_owned())),
            (None, DepthAnswer::DontKnow) => {}
        }
        known
    }
}

fn strength_texts(answer: StrengthAnswer, detail: Option<&Strength>) -> Vec<(CarField, String)> {
    use CarField as F;
    let by = |word: &str| (F::StrengthBy, word.to_owned());
    match (detail, answer) {
        (Some(Strength::SixtyFoot(seconds)), _) => {
            vec![by("sixty-foot"), (F::SixtyFoot, with_doubt(*seconds))]
        }
        (Some(Strength::Launch(g)), _) => vec![by("g"), (F::LaunchG, with_doubt(*g))],
        (Some(Strength::Slips(times_s)), _) => {
            let times: Vec<String> = times_s.iter().map(f64::to_string).collect();
            vec![by("slips"), (F::Slips, times.join(" "))]
        }
        (Some(Strength::Traction(traction)), _) => vec![
            by("traction"),
            (F::Grip, traction.grip().to_string()),
            (F::Driven, word_of(&DRIVEN, traction.driven())),
            (F::WeightShare, traction.weight_share().to_string()),
            (F::Height, traction.height_over_wheelbase().to_string()),
        ],
        (None, StrengthAnswer::SixtyFoot { seconds }) => {
            vec![by("sixty-foot"), (F::SixtyFoot, seconds.to_string())]
        }
        (None, StrengthAnswer::Kind(kind)) => vec![(F::StrengthBy, word_of(&KINDS, kind))],
        (None, StrengthAnswer::DontKnow) => Vec::new(),
    }
}

fn with_doubt(value: Measured) -> String {
    format!("{} ± {}", value.value, value.sd)
}

fn word_of<T: PartialEq>(words: &[(T, &str)], value: T) -> String {
    words.iter().find(|(v, _)| *v == value).map_or_else(String::new, |(_, word)| (*word).to_owned())
}

fn of_word<T: Copy>(words: &[(T, &str)], word: &str) -> Option<T> {
    words.iter().find(|(_, w)| *w == word).map(|(v, _)| *v)
}

#[cfg(test)]
mod tests;
