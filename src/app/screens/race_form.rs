//! The race as the driver describes it on the screen Odds.
//!
//! Owns its fields, their words and the step to an opponent and a race. Refuses judging.

use crate::app::settings::InForce;
use crate::form::{Choice, Field, Form, Key};
use crate::rules::FoulRule;
use crate::strategy::desk::{Against, Rival};
use crate::strategy::odds::{Finish, Level, Order, Race};
use crate::units::Measured;

/// A field of the race; its word is its name in the settings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asks {
    Opponent,
    Light,
    LightSpread,
    Slips,
    Race,
    Gap,
    GapSpread,
    MyEt,
    MySpread,
    MyDial,
    TheirEt,
    TheirSpread,
    TheirDial,
    Foul,
    Rounds,
}

const fn choice(value: &'static str, words: &'static str) -> Choice {
    Choice { value, words }
}

const OPPONENTS: &[Choice] = &[
    choice("weekend", "a weekend racer"),
    choice("sharp", "a sharp one"),
    choice("first-timer", "a first-timer"),
    choice("hasty", "a hasty one"),
    choice("late", "one who plays it late"),
    choice("like-me", "one like me"),
    choice(TYPED_LIGHT, "one with this light"),
    choice(TYPED_SLIPS, "one with these slips"),
];
const RACES: &[Choice] =
    &[choice(HEADS_UP, "heads-up or index"), choice(DIAL_IN, "dial-in, with breakouts")];
const FOULS: &[Choice] = &[choice("first", "the first loses"), choice(WORST, "the worst loses")];
const TYPED_LIGHT: &str = "typed";
const TYPED_SLIPS: &str = "slips";
const HEADS_UP: &str = "heads-up";
const DIAL_IN: &str = "dial-in";
const WORST: &str = "worst";

/// A light longer than this is a figure without its point, s. Chosen.
const LONGEST_LIGHT_S: f64 = 5.0;

/// Every field and what stands in it at first.
fn fields() -> Vec<(Field<Asks>, &'static str)> {
    let typed = |key, label, hint, first| (Field::typed(key, label, hint), first);
    let sd = "standard deviation, s";
    vec![
        (Field::choice(Asks::Opponent, "Opponent", "how sharp the other driver is", OPPONENTS), ""),
        typed(Asks::Light, "Their light", "mean, s", "0.060"),
        typed(Asks::LightSpread, "and its spread", sd, "0.040"),
        typed(Asks::Slips, "Their R/Ts", "with spaces between: .045 .102 -.003", ""),
        (Field::choice(Asks::Race, "Race", "how the finish is judged", RACES), ""),
        typed(Asks::Gap, "They are slower by", "s; below 0 they are quicker", "0"),
        typed(Asks::GapSpread, "and from race to race", sd, "0.10"),
        typed(Asks::MyEt, "Your time", "s", "14.00"),
        typed(Asks::MySpread, "and its spread", sd, "0.05"),
        typed(Asks::MyDial, "Your dial-in", "s, on your window", "13.97"),
        typed(Asks::TheirEt, "Their time", "s", "13.00"),
        typed(Asks::TheirSpread, "and its spread", sd, "0.05"),
        typed(Asks::TheirDial, "Their dial-in", "s", "12.97"),
        (Field::choice(Asks::Foul, "Two red lights", "the track's rule", FOULS), ""),
        typed(Asks::Rounds, "Rounds to win", "how many in a row", "4"),
    ]
}

/// Whether a field belongs to this kind of opponent and race.
fn belongs(key: Asks, opponent: &str, race: &str) -> bool {
    match key {
        Asks::Opponent | Asks::Race | Asks::Rounds => true,
        Asks::Light | Asks::LightSpread => opponent == TYPED_LIGHT,
        Asks::Slips => opponent == TYPED_SLIPS,
        Asks::Gap | Asks::GapSpread => race == HEADS_UP,
        _ => race == DIAL_IN,
    }
}

/// The name of a field in the settings.
fn setting(key: Asks) -> String {
    format!("odds {key:?}")
}

/// The form.
#[derive(Debug, Clone, PartialEq)]
pub struct RaceForm {
    form: Form<Asks>,
}

impl RaceForm {
    /// As it was left.
    pub fn of(in_force: &InForce) -> Self {
        let (fields, firsts): (Vec<_>, Vec<_>) = fields().into_iter().unzip();
        let keys: Vec<Asks> = fields.iter().map(|field| field.key).collect();
        let mut new = Self { form: Form::new(fields) };
        for (key, first) in keys.into_iter().zip(firsts) {
            let kept = in_force.choice(&setting(key)).unwrap_or(first);
            new.form.set(key, kept, true);
        }
        new.put_away();
        new
    }

    /// Keeps it for the next time.
    pub fn keep(&self, in_force: &mut InForce) {
        for key in fields().into_iter().map(|(field, _)| field.key) {
            let text = self.form.field(key).map_or("", Field::text);
            if in_force.choice(&setting(key)) != Some(text) {
                in_force.choose(&setting(key), text);
            }
        }
    }

    /// The fields on show.
    pub fn fields(&self) -> impl Iterator<Item = &Field<Asks>> {
        self.form.fields()
    }

    /// The field being filled.
    pub fn active(&self) -> Asks {
        self.form.active().key
    }

    /// Goes to a field, as a click does.
    pub fn go_to(&mut self, key: Asks) {
        self.form.go_to(key);
    }

    /// Works a key.
    pub fn take(&mut self, key: Key) {
        if self.form.take(key) {
            self.put_away();
        }
    }

    /// The opponent and the race; otherwise the form stands at the field that is wrong.
    pub fn enter(&mut self) -> Option<Against> {
        match self.against() {
            Ok(against) => Some(against),
            Err((key, wrong)) => {
                self.form.say(key, Some(wrong));
                self.form.go_to(key);
                None
            }
        }
    }

    fn put_away(&mut self) {
        let [opponent, race] =
            [Asks::Opponent, Asks::Race].map(|key| self.form.text(key).to_owned());
        for key in fields().into_iter().map(|(field, _)| field.key) {
            self.form.show(key, belongs(key, &opponent, &race));
        }
    }

    /// The opponent and the race.
    ///
    /// # Errors
    /// The field that is wrong and a sentence for the driver.
    pub fn against(&self) -> Result<Against, (Asks, String)> {
        let race = if self.form.text(Asks::Race) == DIAL_IN {
            let et = |time, spread| Ok(Measured::new(self.number(time)?, self.number(spread)?));
            let mine = et(Asks::MyEt, Asks::MySpread)?;
            let theirs = et(Asks::TheirEt, Asks::TheirSpread)?;
            let dials = [self.number(Asks::MyDial)?, self.number(Asks::TheirDial)?];
            let order =
                Order::of_dials(dials).map_err(|error| (Asks::MyDial, error.to_string()))?;
            let finish = Finish::dialled(mine, theirs, dials);
            let finish = finish.map_err(|error| (Asks::MyEt, error.to_string()))?;
            let worst = self.form.text(Asks::Foul) == WORST;
            Race::handicap(finish, order, if worst { FoulRule::Worst } else { FoulRule::First })
        } else {
            let finish = Finish::gap(self.number(Asks::Gap)?, self.number(Asks::GapSpread)?);
            Race::heads_up(finish.map_err(|error| (Asks::Gap, error.to_string()))?)
        };
        Ok(Against { rival: self.rival()?, race, rounds: self.rounds()? })
    }

    fn rival(&self) -> Result<Rival, (Asks, String)> {
        Ok(match self.form.text(Asks::Opponent) {
            "first-timer" => Rival::Level(Level::FirstTimer),
            "sharp" => Rival::Level(Level::Sharp),
            "hasty" => Rival::Level(Level::Hasty),
            "late" => Rival::Level(Level::Late),
            "like-me" => Rival::LikeMe,
            TYPED_LIGHT => Rival::Light {
                mean_s: self.number(Asks::Light)?,
                sd_s: self.number(Asks::LightSpread)?,
            },
            TYPED_SLIPS => Rival::Slips(self.slips()?),
            _ => Rival::Level(Level::Weekend),
        })
    }

    /// The lights on the opponent's slips, s.
    fn slips(&self) -> Result<Vec<f64>, (Asks, String)> {
        let read = |word: &str| match word.replace(',', ".").parse::<f64>() {
            Ok(light) if light.is_finite() && light.abs() < LONGEST_LIGHT_S => Ok(light),
            _ => Err((Asks::Slips, format!("`{word}` is no R/T; write seconds like .045"))),
        };
        let lights: Vec<f64> =
            self.form.text(Asks::Slips).split_whitespace().map(read).collect::<Result<_, _>>()?;
        match lights.is_empty() {
            true => Err((Asks::Slips, "at least one R/T".to_owned())),
            false => Ok(lights),
        }
    }

    fn number(&self, key: Asks) -> Result<f64, (Asks, String)> {
        let text = self.form.text(key).trim();
        match text.trim_end_matches('s').trim().replace(',', ".").parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(number),
            _ => Err((key, format!("`{text}` is no number of seconds"))),
        }
    }

    fn rounds(&self) -> Result<u32, (Asks, String)> {
        match self.form.text(Asks::Rounds).trim().parse::<u32>() {
            Ok(rounds) if (1..=20).contains(&rounds) => Ok(rounds),
            _ => Err((Asks::Rounds, "1 to 20 rounds".to_owned())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn form() -> RaceForm {
        RaceForm::of(&InForce::default())
    }

    fn shows(form: &RaceForm, key: Asks) -> bool {
        form.fields().any(|field| field.key == key)
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
        assert!(!shows(&form, Asks::MyDial) && shows(&form, Asks::Gap));
        form.go_to(Asks::Race);
        form.take(Key::Right);
        assert!(shows(&form, Asks::MyDial) && !shows(&form, Asks::Gap));
        let order = form.against().unwrap().race.order;
        assert!((order.head_start_s() - 1.0).abs() < 1e-9, "{order:?}");
    }

    #[test]
    fn the_form_stands_at_the_field_that_is_wrong() {
        let mut form = form();
        form.go_to(Asks::GapSpread);
        form.take(Key::Letter('w'));
        form.go_to(Asks::Opponent);
        assert!(form.enter().is_none());
        assert_eq!(form.active(), Asks::GapSpread);
        form.take(Key::Letter('0'));
        form.take(Key::Clear);
        form.take(Key::Letter('1'));
        assert!(form.enter().is_some());
    }

    #[test]
    fn an_opponents_slips_are_typed_in_a_row() {
        let mut form = form();
        form.form.set(Asks::Opponent, TYPED_SLIPS, false);
        form.put_away();
        assert!(form.against().is_err());
        form.form.set(Asks::Slips, ".045 ,102 -.003", false);
        assert_eq!(form.against().unwrap().rival, Rival::Slips(vec![0.045, 0.102, -0.003]));
        form.form.set(Asks::Slips, ".045 45", false);
        assert!(form.against().unwrap_err().1.contains("`45`"));
    }

    #[test]
    fn a_form_survives_the_way_to_the_settings_and_back() {
        let mut in_force = InForce::default();
        let mut changed = form();
        changed.form.set(Asks::Opponent, TYPED_LIGHT, false);
        changed.put_away();
        changed.keep(&mut in_force);
        let back = RaceForm::of(&in_force);
        assert!(shows(&back, Asks::Light));
        assert_eq!(back.against(), changed.against());
    }
}
