//! The made-up driver: how long a launch takes, launch by launch.
//!
//! Owns the draws from `truth` and what the driver has learnt so far. Refuses the machine.

use super::truth;
use crate::seed::Generator;
use crate::trial::Style;
use rand::RngExt;
use rand_distr::{Distribution, Exp1, StandardNormal};

/// The driver with what was learnt, and the day.
#[derive(Debug, Clone, Default)]
pub(super) struct Person {
    learnt: [usize; 2],
    day_ms: f64,
    of_day: usize,
}

impl Person {
    /// A new day begins.
    pub fn begin_day(&mut self, random: &mut Generator) {
        self.day_ms = truth::DAY_SD_MS * normal(random);
        self.of_day = 0;
    }

    /// After a rest nobody is tired, and warm still.
    pub fn rest(&mut self) {
        self.of_day = self.of_day.min(truth::COLD_LAUNCHES);
    }

    /// The driver part of the next launch, ms, and one launch learnt.
    pub fn launch_ms(&mut self, declared: Style, random: &mut Generator) -> f64 {
        let learnt = &mut self.learnt[place(declared)];
        let launches = *learnt;
        *learnt += 1;
        let day_ms = self.day_ms + self.of_the_day_ms();
        self.of_day += 1;
        let surprise: f64 = random.random();
        let style = match declared {
            Style::React if surprise < truth::GUESS_SHARE => return guess_ms(random),
            Style::TimeIt if surprise < truth::FELL_BACK_SHARE => Style::React,
            style => style,
        };
        let scatter_ms = match style {
            Style::React => {
                let tail: f64 = Exp1.sample(random);
                truth::REACT_SD_MS * normal(random) + truth::REACT_TAIL_MS * (tail - 1.0)
            }
            Style::TimeIt => truth::TIME_IT_SD_MS * normal(random),
        };
        let level_ms = truth::level_ms(style, launches) + day_ms;
        level_ms + truth::spread_factor(launches) * scatter_ms
    }

    /// Whether the driver leaves on a blank run, and how long after the due mark, ms.
    pub fn guess_ms(&mut self, random: &mut Generator) -> Option<f64> {
        self.of_day += 1;
        let guesses = random.random::<f64>() < truth::GUESS_SHARE;
        guesses.then(|| guess_ms(random))
    }

    /// Cold at first, tired at last, ms.
    fn of_the_day_ms(&self) -> f64 {
        let cold = if self.of_day < truth::COLD_LAUNCHES { truth::COLD_MS } else { 0.0 };
        let tired = self.of_day.saturating_sub(truth::TIRED_FROM) as f64 / 10.0;
        cold + truth::TIRED_MS * tired
    }
}

fn place(style: Style) -> usize {
    match style {
        Style::React => 0,
        Style::TimeIt => 1,
    }
}

fn guess_ms(random: &mut Generator) -> f64 {
    truth::GUESS_MS + truth::GUESS_SD_MS * normal(random)
}

/// A standard normal draw.
pub(super) fn normal(random: &mut Generator) -> f64 {
    StandardNormal.sample(random)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;

    #[test]
    fn launches_have_the_level_and_the_spread_of_the_truth() {
        let mut random = generator(3);
        let mut person = Person { learnt: [100_000; 2], ..Person::default() };
        let parts: Vec<f64> = (0..20_000)
            .map(|_| {
                person.of_day = 10;
                person.launch_ms(Style::TimeIt, &mut random)
            })
            .collect();
        let n = parts.len() as f64;
        let mean = parts.iter().sum::<f64>() / n;
        let fell_back =
            truth::FELL_BACK_SHARE * (truth::REACT_PLATEAU_MS - truth::TIME_IT_PLATEAU_MS);
        // Four standard errors of 20,000 launches.
        assert!((mean - truth::TIME_IT_PLATEAU_MS - fell_back).abs() < 0.7, "{mean}");
    }

    #[test]
    fn the_first_launches_of_a_day_are_cold_and_the_last_tired() {
        let of_the_day = |of_day| Person { of_day, ..Person::default() }.of_the_day_ms();
        assert_eq!([of_the_day(0), of_the_day(2), of_the_day(3)], [12.0, 12.0, 0.0]);
        assert_eq!([of_the_day(25), of_the_day(35)], [0.0, 3.0]);
    }
}
