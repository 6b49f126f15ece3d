//! Slips whose launch waited for green though nobody marked them so.
//!
//! Owns the share of such slips, the lights they have, and which of some slips they are. Refuses to make a
//! way to the track of them, however many there are: who leaves on green leaves by another lamp.

use super::StatsError;
use super::risk::check_sd;

/// Lights of launches that waited for green, s: a reaction and what the car takes, counted from green.
/// Chosen: the shortest reactions with the quickest cars, and slow ones with slow cars.
pub const GREEN_LIGHT_S: (f64, f64) = (0.35, 0.80);
/// One in so many slips is such a one and not marked. Chosen: rare, for a driver who marks his slips.
const SHARE: f64 = 0.02;

/// What slips of a driver are expected to be, s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// The mean light at home.
    pub home_s: f64,
    /// Spread of one launch about it, SD.
    pub spread_sd_s: f64,
    /// What is not known about the mean at the track before any slip, SD: offset, car, days together.
    pub offset_sd_s: f64,
}

impl Expected {
    /// Which of these lights waited for green.
    ///
    /// A two-part likelihood (Box & Tiao 1968, Biometrika 55, 119): with chance 1 − ε a light is
    /// N(home + δ, s²), δ ~ N(0, v) the way to the track that all slips share; with chance ε = .02 it lies
    /// anywhere in [`GREEN_LIGHT_S`], evenly. A light outside is ordinary. Those inside are taken in one
    /// by one, the likeliest first, as long as it is likelier ordinary than not, given δ as the ordinary
    /// ones leave it:
    /// (1 − ε) N(x; home + δ̂, s² + v̂) > ε / .45.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for a spread that is not above 0 or a doubt below 0.
    pub fn left_on_green(&self, lights_s: &[f64]) -> Result<Vec<bool>, StatsError> {
        let variance = check_sd("home spread", self.spread_sd_s)?.powi(2);
        let prior = check_sd("offset's doubt", self.offset_sd_s)?.powi(2);
        let (first, last) = GREEN_LIGHT_S;
        let mut set_aside: Vec<bool> =
            lights_s.iter().map(|x| (first..=last).contains(x)).collect();
        if variance == 0.0 {
            let domain = "above 0 s";
            return Err(StatsError::OutOfDomain { name: "home spread", value: 0.0, domain });
        }
        let on_green = (SHARE / (last - first)).ln();
        loop {
            let ordinary = lights_s.iter().zip(&set_aside).filter(|(_, aside)| !**aside);
            let (n, sum) =
                ordinary.fold((0.0, 0.0), |(n, sum), (x, _)| (n + 1.0, sum + x - self.home_s));
            let shrunk = prior / (prior * n + variance);
            let (offset, known) = (shrunk * sum, shrunk * variance);
            let spread = variance + known;
            let odds = |x: f64| {
                let z = (x - self.home_s - offset).powi(2) / spread;
                (1.0 - SHARE).ln() - 0.5 * (z + (std::f64::consts::TAU * spread).ln()) - on_green
            };
            let inside = (0..lights_s.len()).filter(|i| set_aside[*i]);
            let likeliest = inside.max_by(|a, b| odds(lights_s[*a]).total_cmp(&odds(lights_s[*b])));
            match likeliest.filter(|i| odds(lights_s[*i]) > 0.0) {
                Some(i) => set_aside[i] = false,
                None => return Ok(set_aside),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;
    use rand::RngExt;
    use rand_distr::{Distribution, StandardNormal};

    const TYPICAL: Expected = Expected { home_s: 0.022, spread_sd_s: 0.025, offset_sd_s: 0.047 };

    /// ln of what the model gives these lights with these set aside, by n single predictions.
    fn ln_weight(expected: &Expected, lights_s: &[f64], aside: &[bool]) -> f64 {
        let (first, last) = GREEN_LIGHT_S;
        let (mut mean, mut variance) = (expected.home_s, expected.offset_sd_s.powi(2));
        let mut sum = 0.0;
        for (x, aside) in lights_s.iter().zip(aside) {
            if *aside {
                let inside = (first..=last).contains(x);
                sum += if inside { (SHARE / (last - first)).ln() } else { f64::NEG_INFINITY };
                continue;
            }
            let spread = variance + expected.spread_sd_s.powi(2);
            sum += (1.0 - SHARE).ln()
                - 0.5 * ((x - mean).powi(2) / spread + (std::f64::consts::TAU * spread).ln());
            let gain = variance / spread;
            (mean, variance) = (mean + gain * (x - mean), variance * (1.0 - gain));
        }
        sum
    }

    /// The likeliest of all ways to set some aside, each tried.
    fn by_trying_all(expected: &Expected, lights_s: &[f64]) -> Vec<bool> {
        let n = lights_s.len();
        let ways =
            (0..1_u32 << n).map(|way| (0..n).map(|i| way >> i & 1 == 1).collect::<Vec<bool>>());
        let weight = |way: &Vec<bool>| ln_weight(expected, lights_s, way);
        ways.max_by(|a, b| weight(a).total_cmp(&weight(b))).unwrap()
    }

    #[test]
    fn the_likeliest_of_all_ways_is_found() {
        let random = &mut generator(5);
        let (mut found, mut together) = ([0; 2], 0);
        for _ in 0..2_000 {
            let expected = Expected {
                home_s: random.random_range(0.0..0.15),
                spread_sd_s: random.random_range(0.01..0.06),
                offset_sd_s: random.random_range(0.04..0.08),
            };
            let z = |random: &mut _| -> f64 { StandardNormal.sample(random) };
            let offset_s = expected.offset_sd_s * z(random);
            let n = random.random_range(1..6);
            let lights: Vec<f64> = (0..n)
                .map(|_| match random.random_bool(0.2) {
                    true => random.random_range(0.35..0.80),
                    false => expected.home_s + offset_s + expected.spread_sd_s * z(random),
                })
                .collect();
            let got = expected.left_on_green(&lights).unwrap();
            let all = by_trying_all(&expected, &lights);
            let besides = |here: bool| {
                got.iter().zip(&all).filter(|(one, other)| one != other && **one == here).count()
            };
            // Several that only together are likelier ordinary stay set aside: by their number alone
            // they are no way to the track.
            assert!(besides(false) == 0 && besides(true) != 1, "{expected:?} {lights:?} {all:?}");
            together += usize::from(got != all);
            got.iter().for_each(|aside| found[usize::from(*aside)] += 1);
        }
        assert!(found.iter().all(|count| *count > 500) && together < 40, "{found:?} {together}");
    }

    #[test]
    fn a_slow_driver_is_not_taken_for_one_who_waits() {
        let slow = Expected { home_s: 0.38, spread_sd_s: 0.04, ..TYPICAL };
        assert_eq!(slow.left_on_green(&[0.40, 0.36, 0.44]), Ok(vec![false; 3]));
        assert_eq!(TYPICAL.left_on_green(&[0.30, 0.90, -0.2]), Ok(vec![false; 3]));
    }

    #[test]
    fn many_that_waited_are_no_way_to_the_track() {
        let lights = [0.45; 30];
        assert_eq!(TYPICAL.left_on_green(&lights), Ok(vec![true; 30]));
    }

    #[test]
    fn a_spread_of_nothing_is_out_of_the_domain() {
        assert!(Expected { spread_sd_s: 0.0, ..TYPICAL }.left_on_green(&[0.4]).is_err());
    }

    #[test]
    fn one_light_is_set_aside_from_the_place_on_where_the_bell_falls_below_the_share() {
        // (1 − ε) N(x; home, s² + v) = ε / .45, solved for x: ε = .02, s² + v = .05².
        let expected = Expected { home_s: 0.25, spread_sd_s: 0.03, offset_sd_s: 0.04 };
        let height = 0.98 / (0.05 * std::f64::consts::TAU.sqrt());
        let place = 0.25 + 0.05 * (2.0 * (height / (0.02 / 0.45)).ln()).sqrt();
        assert!((0.35..0.80).contains(&place));
        assert_eq!(expected.left_on_green(&[place - 1e-6]), Ok(vec![false]));
        assert_eq!(expected.left_on_green(&[place + 1e-6]), Ok(vec![true]));
    }
}
