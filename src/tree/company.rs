//! Whom one wishes to meet in the other lane.
//!
//! Owns the setting and its words, and the step from it to the driver of one start. Refuses keeping
//! the setting.

use super::other_driver::OtherDriver;
use super::temper::Temper;
use crate::seed::{generator, seed_of_run};
use rand::RngExt;

/// Keeps the choice of a stranger apart from the stranger's luck.
const CHOICE_STREAM: u64 = 0;
const LUCK_STREAM: u64 = 1;

/// Who stands in the other lane.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Company {
    /// Strangers: one temper or another, as often as the table says.
    #[default]
    Anyone,
    /// Always this temper.
    Only(Temper),
    /// One who leaves as the driver does.
    LikeMe,
}

impl Company {
    /// All.
    pub fn all() -> impl Iterator<Item = Self> {
        let tempers = Temper::ALL.into_iter().map(Self::Only);
        [Self::Anyone].into_iter().chain(tempers).chain([Self::LikeMe])
    }

    /// What it is kept under, and how it reads.
    pub fn name(self) -> &'static str {
        match self {
            Self::Anyone => "anyone",
            Self::Only(temper) => temper.name(),
            Self::LikeMe => "like me",
        }
    }

    /// The setting of a name.
    pub fn named(name: &str) -> Option<Self> {
        Self::all().find(|company| company.name() == name)
    }

    /// The driver of the start of this seed. `lights_s` are the driver's own lights (RT, s); with too
    /// few of them nobody is like the driver yet, and a stranger comes: the driver's name says which.
    pub fn driver(self, lights_s: &[f64], seed: u64) -> OtherDriver {
        let luck = seed_of_run(seed, LUCK_STREAM);
        let like = (self == Self::LikeMe).then(|| OtherDriver::like(lights_s, luck)).flatten();
        like.unwrap_or_else(|| {
            let temper = if let Self::Only(temper) = self { temper } else { stranger(seed) };
            OtherDriver::new(temper, luck)
        })
    }
}

/// One temper or another, as often as the table says.
fn stranger(seed: u64) -> Temper {
    let mut left = generator(seed_of_run(seed, CHOICE_STREAM)).random_range(0.0..1.0);
    let met = |temper: &Temper| {
        left -= temper.habits().met;
        left < 0.0
    };
    Temper::ALL.into_iter().find(met).unwrap_or(Temper::Prompt)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_company_can_be_told_by_name() {
        assert_eq!(Company::all().count(), Temper::ALL.len() + 2, "anyone, each temper, like me");
        for company in Company::all() {
            assert_eq!(Company::named(company.name()), Some(company));
        }
        assert_eq!(Company::named(""), None);
    }

    #[test]
    fn strangers_are_met_as_often_as_the_table_says() {
        const N: usize = 20_000;
        for temper in Temper::ALL {
            let name = temper.name();
            let is = |seed: &u64| Company::Anyone.driver(&[], *seed).name() == name;
            let met = (0..N as u64).filter(is).count() as f64;
            let due = N as f64 * temper.habits().met;
            let error = (due * (1.0 - temper.habits().met)).sqrt();
            assert!((met - due).abs() < 4.0 * error, "{name}: {met}, due {due}");
        }
    }

    #[test]
    fn nobody_is_like_a_driver_of_too_few_lights() {
        let lights = [0.1; 10];
        assert_eq!(Company::LikeMe.driver(&lights, 3).name(), "like you");
        assert_ne!(Company::LikeMe.driver(&lights[1..], 3).name(), "like you");
        assert_eq!(Company::Only(Temper::Sharp).driver(&lights, 3).name(), "sharp");
    }
}
