//! The race as the driver describes it on the screen Odds.
//!
//! Owns its fields, their words and the step to an opponent and a race. Refuses judging.

use crate::app::settings::InForce;
use crate::rules::FoulRule;
use crate::strategy::desk::{Against, Rival};
use crate::strategy::odds::{Finish, Level, Order, Race};
use crate::units::Measured;

/// A field: its key in the settings, its name, its choices (none: typed), what stands there at first,
/// and what belongs in it.
pub struct Field {
    pub key: &'static str,
    pub name: &'static str,
    pub choices: &'static [&'static str],
    pub first: &'static str,
    pub hint: &'static str,
    shown: fn(&RaceForm) -> bool,
}

/// What is typed or chosen, in the order of [`FIELDS`].
#[derive(Debug, Clone, PartialEq)]
pub struct RaceForm {
    texts: Vec<String>,
}

const OPPONENT: usize = 0;
const LIGHT: usize = 1;
const LIGHT_SPREAD: usize = 2;
const RACE: usize = 3;
const GAP: usize = 4;
const GAP_SPREAD: usize = 5;
const MY_ET: usize = 6;
const MY_SPREAD: usize = 7;
const MY_DIAL: usize = 8;
const THEIR_ET: usize = 9;
const THEIR_SPREAD: usize = 10;
const THEIR_DIAL: usize = 11;
const FOUL: usize = 12;
const ROUNDS: usize = 13;

const TYPED_LIGHT: &str = "typed light";
const HEADS_UP: &str = "heads-up";
const DIAL_IN: &str = "dial-in";

const fn field(
    key: &'static str,
    name: &'static str,
    choices: &'static [&'static str],
    first: &'static str,
    hint: &'static str,
    shown: fn(&RaceForm) -> bool,
) -> Field {
    Field { key, name, choices, first, hint, shown }
}

/// All fields; those of another kind of race are not shown.
pub const FIELDS: [Field; 14] = [
    field(
        "odds opponent",
        "Opponent",
        &["first-timer", "weekend", "sharp", "like me", TYPED_LIGHT],
        "weekend",
        "how sharp the other driver is",
        |_| true,
    ),
    field("odds light", "Their light", &[], "0.060", "mean, s", |f| f.is(OPPONENT, TYPED_LIGHT)),
    field("odds light spread", "and its spread", &[], "0.040", "standard deviation, s", |f| {
        f.is(OPPONENT, TYPED_LIGHT)
    }),
    field(
        "odds race",
        "Race",
        &[HEADS_UP, DIAL_IN],
        HEADS_UP,
        "heads-up (a fixed index too): first to the stripe; dial-in: a head start, and breakouts",
        |_| true,
    ),
    field("odds gap", "They are slower by", &[], "0", "s; below 0 they are quicker", |f| {
        f.is(RACE, HEADS_UP)
    }),
    field("odds gap spread", "and from race to race", &[], "0.10", "standard deviation, s", |f| {
        f.is(RACE, HEADS_UP)
    }),
    field("odds my et", "Your time", &[], "14.00", "s", RaceForm::is_dialled),
    field(
        "odds my spread",
        "and its spread",
        &[],
        "0.05",
        "standard deviation, s",
        RaceForm::is_dialled,
    ),
    field("odds my dial", "Your dial-in", &[], "13.97", "s, on your window", RaceForm::is_dialled),
    field("odds their et", "Their time", &[], "13.00", "s", RaceForm::is_dialled),
    field(
        "odds their spread",
        "and its spread",
        &[],
        "0.05",
        "standard deviation, s",
        RaceForm::is_dialled,
    ),
    field("odds their dial", "Their dial-in", &[], "12.97", "s", RaceForm::is_dialled),
    field(
        "odds foul",
        "Two red lights",
        &["first loses", "worst loses"],
        "first loses",
        "the track's rule; heads-up both come to the same",
        RaceForm::is_dialled,
    ),
    field("odds rounds", "Rounds to win", &[], "4", "how many in a row", |_| true),
];

impl RaceForm {
    /// As it was left.
    pub fn of(in_force: &InForce) -> Self {
        let text = |field: &Field| in_force.choice(field.key).unwrap_or(field.first).to_owned();
        Self { texts: FIELDS.iter().map(text).collect() }
    }

    /// Keeps it for the next time.
    pub fn keep(&self, in_force: &mut InForce) {
        for (field, text) in FIELDS.iter().zip(&self.texts) {
            if in_force.choice(field.key) != Some(text) {
                in_force.choose(field.key, text.clone());
            }
        }
    }

    /// What stands in a field.
    pub fn text(&self, field: usize) -> &str {
        &self.texts[field]
    }

    /// To be typed into.
    pub fn text_mut(&mut self, field: usize) -> &mut String {
        &mut self.texts[field]
    }

    /// Whether a field belongs to this kind of race.
    pub fn shows(&self, field: usize) -> bool {
        (FIELDS[field].shown)(self)
    }

    /// The field shown after (or before) one, round again.
    pub fn beside(&self, field: usize, forward: bool) -> usize {
        let count = FIELDS.len();
        let step = if forward { 1 } else { count - 1 };
        let places = (1..=count).map(|i| (field + i * step) % count);
        places.into_iter().find(|place| self.shows(*place)).unwrap_or(field)
    }

    /// Takes the next choice of a field (or the one before).
    pub fn cycle(&mut self, field: usize, forward: bool) {
        let choices = FIELDS[field].choices;
        if choices.is_empty() {
            return;
        }
        let at = choices.iter().position(|choice| *choice == self.texts[field]).unwrap_or(0);
        let step = if forward { 1 } else { choices.len() - 1 };
        choices[(at + step) % choices.len()].clone_into(&mut self.texts[field]);
    }

    fn is(&self, field: usize, choice: &str) -> bool {
        self.texts[field] == choice
    }

    fn is_dialled(&self) -> bool {
        self.is(RACE, DIAL_IN)
    }

    /// The opponent and the race.
    ///
    /// # Errors
    /// The field that is wrong and a sentence for the driver.
    pub fn against(&self) -> Result<Against, (usize, String)> {
        let finish_and_order = if self.is_dialled() {
            let times = [(MY_ET, MY_SPREAD), (THEIR_ET, THEIR_SPREAD)];
            let [mine, theirs] = times.map(|(et, sd)| {
                Ok::<_, (usize, String)>(Measured::new(self.number(et)?, self.number(sd)?))
            });
            let dials = [self.number(MY_DIAL)?, self.number(THEIR_DIAL)?];
            let finish = Finish::dialled(mine?, theirs?, dials);
            let order = Order::of_dials(dials).map_err(|error| (MY_DIAL, error.to_string()))?;
            (finish.map_err(|error| (MY_ET, error.to_string()))?, Some(order))
        } else {
            let finish = Finish::gap(self.number(GAP)?, self.number(GAP_SPREAD)?);
            (finish.map_err(|error| (GAP, error.to_string()))?, None)
        };
        let foul = if self.is(FOUL, "worst loses") { FoulRule::Worst } else { FoulRule::First };
        let race = match finish_and_order {
            (finish, Some(order)) => Race::handicap(finish, order, foul),
            (finish, None) => Race::heads_up(finish),
        };
        Ok(Against { rival: self.rival()?, race, rounds: self.rounds()? })
    }

    fn rival(&self) -> Result<Rival, (usize, String)> {
        if self.is(OPPONENT, "like me") {
            return Ok(Rival::LikeMe);
        }
        if self.is(OPPONENT, TYPED_LIGHT) {
            let (mean_s, sd_s) = (self.number(LIGHT)?, self.number(LIGHT_SPREAD)?);
            return Ok(Rival::Light { mean_s, sd_s });
        }
        let place = FIELDS[OPPONENT].choices.iter().position(|word| *word == self.texts[OPPONENT]);
        let level = place.and_then(|place| Level::ALL.get(place)).copied();
        Ok(Rival::Level(level.unwrap_or(Level::Weekend)))
    }

    fn number(&self, field: usize) -> Result<f64, (usize, String)> {
        let text = self.texts[field].trim().trim_end_matches('s').trim().replace(',', ".");
        match text.parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(number),
            _ => Err((
                field,
                format!(
                    "`{}` is no time; write seconds like {}",
                    self.texts[field], FIELDS[field].first
                ),
            )),
        }
    }

    fn rounds(&self) -> Result<u32, (usize, String)> {
        match self.texts[ROUNDS].trim().parse::<u32>() {
            Ok(rounds) if (1..=20).contains(&rounds) => Ok(rounds),
            _ => Err((ROUNDS, "1 to 20 rounds".to_owned())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn form() -> RaceForm {
        RaceForm::of(&InForce::default())
    }

    #[test]
    fn a_fresh_form_is_a_race_against_a_weekend_driver() {
        let against = form().against().unwrap();
        assert_eq!(against.rival, Rival::Level(Level::Weekend));
        assert_eq!((against.race.order, against.rounds), (Order::Together, 4));
    }

    #[test]
    fn dial_ins_bring_their_fields_a_head_start_and_the_foul_rule() {
        let mut form = form();
        assert!(!form.shows(MY_DIAL) && form.shows(GAP));
        form.cycle(RACE, true);
        assert!(form.shows(MY_DIAL) && !form.shows(GAP));
        let Order::HeadStart(seconds) = form.against().unwrap().race.order else {
            panic!("a head start")
        };
        assert!((seconds - 1.0).abs() < 1e-9);
    }

    #[test]
    fn every_shown_field_is_reached_by_going_down_and_wrong_ones_are_named() {
        let mut form = form();
        let mut at = 0;
        let shown = (0..FIELDS.len()).filter(|field| form.shows(*field)).count();
        for _ in 0..shown {
            at = form.beside(at, true);
            assert!(form.shows(at));
        }
        assert_eq!(at, 0);
        assert_eq!(form.beside(form.beside(3, true), false), 3);
        *form.text_mut(GAP_SPREAD) = "wide".to_owned();
        let (field, why) = form.against().unwrap_err();
        assert!(field == GAP_SPREAD && why.contains("0.10"), "{why}");
    }

    #[test]
    fn a_form_survives_the_way_to_the_settings_and_back() {
        let mut in_force = InForce::default();
        let mut changed = form();
        changed.cycle(OPPONENT, false);
        changed.keep(&mut in_force);
        assert_eq!(RaceForm::of(&in_force), changed);
    }
}
