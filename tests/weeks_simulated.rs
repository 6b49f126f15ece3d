//! What the trends of sessions claim of drivers whose truth is known, and handbook charts through the
//! same code.
//!
//! `LASTAMBER_LONG=1 cargo test --release --no-default-features --test weeks_simulated -- --nocapture`
//! makes a thousand histories of each kind; otherwise there are fewer.

use lastamber::seed::{self, Generator};
use lastamber::stats::over_time::days::{DayToDay, days};
use lastamber::stats::over_time::in_control::Direction;
use lastamber::stats::over_time::learning::{Learning, learning_curve};
use lastamber::stats::over_time::sessions::{LEARNING_FALSE_ALARM, SessionTrend};
use lastamber::stats::{Estimate, Sample};
use rand_distr::{Distribution, Exp1, StandardNormal};

/// Six weeks of three evenings.
const SESSIONS: usize = 18;
const LAUNCHES: usize = 40;
const LEVEL: f64 = 0.9;

/// A driver: mean 200 ms, days that differ, a bell or a long tail.
struct Driver {
    day_sd_s: f64,
    /// Share of the variance that is the tail's.
    tail: f64,
}

impl Driver {
    fn session(&self, sd_s: f64, random: &mut Generator) -> Sample {
        let day: f64 = StandardNormal.sample(random);
        let launch = |random: &mut Generator| {
            let z: f64 = StandardNormal.sample(random);
            let late: f64 = Exp1.sample(random);
            let tail = self.tail.sqrt() * (late - 1.0);
            0.2 + self.day_sd_s * day + sd_s * ((1.0 - self.tail).sqrt() * z + tail)
        };
        Sample::new((0..LAUNCHES).map(|_| launch(random)).collect()).unwrap()
    }
}

const DRIVERS: [(&str, Driver); 3] = [
    ("bell, days alike", Driver { day_sd_s: 0.0, tail: 0.0 }),
    ("bell, days differ by 10 ms", Driver { day_sd_s: 0.010, tail: 0.0 }),
    ("long tail, days differ by 10 ms", Driver { day_sd_s: 0.010, tail: 0.5 }),
];

fn histories() -> usize {
    if std::env::var_os("LASTAMBER_LONG").is_some() { 1000 } else { 60 }
}

/// Whether anything on the page says "you changed": the level, the spread, a learning curve.
fn claims(sessions: &[Sample], random: &mut Generator) -> [bool; 3] {
    let level = SessionTrend::of_level(sessions, LEVEL, random).unwrap();
    let spread = SessionTrend::of_spread(sessions, LEVEL, random).unwrap();
    let medians = Sample::new(level.points.iter().map(|p| p.value).collect()).unwrap();
    let learning = learning_curve(&medians, LEVEL, LEARNING_FALSE_ALARM, random).unwrap();
    [level.changed.is_some(), spread.changed.is_some(), learning.outcome != Learning::NoneToSee]
}

#[test]
fn a_driver_who_does_not_change_is_hardly_ever_told_so() {
    for (name, driver) in DRIVERS {
        let random = &mut seed::generator(41);
        let n = histories();
        let (mut each, mut any) = ([0; 3], 0);
        for _ in 0..n {
            let sessions: Vec<Sample> =
                (0..SESSIONS).map(|_| driver.session(0.03, random)).collect();
            let found = claims(&sessions, random);
            each.iter_mut().zip(found).for_each(|(sum, one)| *sum += usize::from(one));
            any += usize::from(found.contains(&true));
        }
        println!("{name}: told of {any} in {n} (level, spread, learning: {each:?})");
        // One in twenty; of 60 histories a steady 4 % gives more than 7 once in 600.
        let most = if n == 1000 { 50 } else { 7 };
        assert!(any <= most, "{name}: {any} of {n}");
    }
}

#[test]
fn a_spread_of_30_after_40_ms_is_told_within_four_sessions() {
    for (name, driver) in DRIVERS {
        let random = &mut seed::generator(42);
        let n = histories();
        let (mut told, mut held) = (0, 0);
        for _ in 0..n {
            let mut sessions: Vec<Sample> =
                (0..SESSIONS - 4).map(|_| driver.session(0.04, random)).collect();
            for _ in 0..4 {
                sessions.push(driver.session(0.03, random));
                let trend = SessionTrend::of_spread(&sessions, LEVEL, random).unwrap();
                let seen = trend.changed.filter(|c| c.direction == Direction::Down);
                if let Some(changed) = seen {
                    told += 1;
                    held += usize::from((changed.by.low..=changed.by.high).contains(&-0.010));
                    break;
                }
            }
        }
        println!("{name}: told of {told} in {n}, {held} of their intervals hold 10 ms");
        assert!(told as f64 >= 0.8 * n as f64, "{name}: {told} of {n}");
    }
}

/// The means of days 1 to 24 and their launches, C. S. Peirce 1872.
fn peirce() -> Vec<Sample> {
    let text = include_str!("data/peirce1872.csv");
    let mut days: Vec<Vec<f64>> = Vec::new();
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells[i].parse::<usize>().unwrap();
        let (day, ms, count) = (number(0), number(2) as f64, number(3));
        days.resize(days.len().max(day), Vec::new());
        days[day - 1].extend(vec![ms; count]);
    }
    days.into_iter().map(|day| Sample::new(day).unwrap()).collect()
}

fn points(values: &[f64]) -> Vec<Estimate> {
    let point =
        |value: &f64| Estimate { value: *value, low: *value, high: *value, level: 0.9, n: 1 };
    values.iter().map(point).collect()
}

fn trend(values: &[f64]) -> SessionTrend {
    let none = |_, _| Ok(points(&[0.0])[0]);
    SessionTrend::of_points(points(values), values, (LEVEL, 0.01), &mut seed::generator(1), none)
        .unwrap()
}

fn mean(sample: &Sample) -> f64 {
    sample.values().iter().sum::<f64>() / sample.n() as f64
}

#[test]
fn peirces_days_change_after_the_tenth_of_them_and_the_charts_are_those_published() {
    // Change point: R package strucchange 1.5-3, `breakpoints(m ~ 1, h = 4)`, days 2–24: one, after
    // the tenth, means 198.317249 and 247.230548.
    let days: Vec<f64> = peirce().iter().map(mean).collect();
    let found = trend(&days[1..]);
    let changed = found.changed.unwrap();
    assert_eq!((changed.since, changed.sessions, changed.before), (10, 13, 10));
    assert_eq!(changed.direction, Direction::Up);
    let mean_of = |places: &std::ops::Range<usize>| {
        days[1..][places.clone()].iter().sum::<f64>() / places.len() as f64
    };
    let [before, after] = [0, 1].map(|i| mean_of(&found.stretches[i]));
    assert!((before - 198.317_249).abs() < 1e-5 && (after - 247.230_548).abs() < 1e-5);
    // Individuals chart, days 2–24 (by the formula of NIST 6.3.2.2 with the exact d₂ for 1.128): days
    // 5, 6, 7 and 17 outside; none on days 13–24.
    assert_eq!(found.odd.iter().map(|place| place + 2).collect::<Vec<_>>(), [5, 6, 7, 17]);
    let late = trend(&days[12..]);
    assert!(late.odd.is_empty());
    let limits = late.limits.unwrap();
    assert!((limits.centre.value - 248.197_571).abs() < 1e-5);
    assert!((limits.range_mean - 8.949_179).abs() < 1e-5);
    assert!((limits.high - 271.998_579).abs() < 0.01 && (limits.low - 224.396_564).abs() < 0.01);
}

#[test]
fn peirces_late_days_differ_by_ten_milliseconds() {
    // R package lme4 1.1-31, `lmer(rt ~ 1 + (1 | day))`, days 13–24.
    let found = days(&peirce()[12..], LEVEL).unwrap();
    assert_eq!(found.outcome, DayToDay::Seen);
    assert!((found.mean.value - 248.198_135).abs() < 1e-3);
    assert!((found.between.value - 9.894_949).abs() < 1e-3);
    assert!((found.within.value - 34.573_126).abs() < 1e-3);
}

#[test]
fn the_handbooks_flow_rates_have_the_handbooks_limits() {
    // NIST/SEMATECH e-Handbook 6.3.2.2 with the exact d₂ (tables round it to 1.128: 55.8041, 45.8159).
    let flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    let found = trend(&flow);
    let limits = found.limits.as_ref().unwrap();
    assert!((limits.high - 55.802_412).abs() < 1e-6 && (limits.low - 45.817_588).abs() < 1e-6);
    assert!(found.odd.is_empty());
}
