//! Drivers whose truth is known, and how good the advice to them is.
//!
//! Owns the truths, the trials and their tallies; the small test and the full report share it. One
//! truth is C. S. Peirce's own reactions, days 19–24 (US Coast Survey, report of 1873, public domain),
//! with a car that makes them lights about .05 s.

use lastamber::rules::TreeKind;
use lastamber::seed::{Generator, generator, seed_of_run};
use lastamber::stats::Sample;
use lastamber::stats::risk::{CarPart, HomeToTrack, Pool, RedLine, RiskDraws, Settings};
use lastamber::strategy::launches::View;
use lastamber::strategy::law::RtLaw;
use lastamber::strategy::lights::Lights;
use lastamber::strategy::odds::{DrawnOdds, Finish, GivenLight, Level, Opponent, Race, WinChance};
use lastamber::strategy::verdict::{Block, By, Stakes, Tested, verdict};
use lastamber::trial::Style;
use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};

/// A driver whose lights can be drawn without end and whose win chances are known.
pub enum Lawful {
    Law(RtLaw),
    Values(Vec<f64>),
}

pub struct Truth {
    pub name: &'static str,
    pub lights: Lawful,
}

impl Truth {
    fn draw(&self, rng: &mut Generator) -> f64 {
        match &self.lights {
            Lawful::Law(law) => law.sample(rng),
            Lawful::Values(x) => {
                x[rng.random_range(0..x.len())] + 0.001 * (rng.random::<f64>() - 0.5)
            }
        }
    }

    /// The true win chance at an aim.
    pub fn win(&self, known: &Option<WinChance>, given: &GivenLight, earlier: f64) -> f64 {
        match (&self.lights, known) {
            (_, Some(known)) => known.win(earlier),
            (Lawful::Values(x), _) => {
                let jitter = |x: &f64| {
                    let at = |t: f64| given.win(x - earlier + 0.001 * t);
                    (at(-0.375) + at(-0.125) + at(0.125) + at(0.375)) / 4.0
                };
                x.iter().map(jitter).sum::<f64>() / x.len() as f64
            }
            _ => unreachable!("a law has known odds"),
        }
    }
}

pub fn normal(mean: f64, sd: f64) -> RtLaw {
    RtLaw::normal(mean, sd).unwrap()
}

pub fn tailed(mu: f64, sigma: f64, tau: f64) -> RtLaw {
    RtLaw::ex_gaussian(mu, sigma, tau).unwrap()
}

fn mixed(parts: Vec<(f64, RtLaw)>) -> RtLaw {
    RtLaw::mixture(parts).unwrap()
}

fn peirce() -> Vec<f64> {
    let text = include_str!("../data/peirce1872.csv");
    let mut out = Vec::new();
    for row in text.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        if (19..=24).contains(&cells[0].parse::<u32>().unwrap()) {
            let count: usize = cells[3].trim().parse().unwrap();
            let light = cells[2].parse::<f64>().unwrap() / 1000.0 - 0.2;
            out.extend(std::iter::repeat_n(light, count));
        }
    }
    assert_eq!(out.len(), 2990);
    out
}

/// Nine drivers: those who react, those who time, those who do both, fat and early tails.
pub fn truths() -> Vec<Truth> {
    let law = |name, law| Truth { name, lights: Lawful::Law(law) };
    vec![
        law("times it, even", normal(0.045, 0.025)),
        law("times it, uneven", normal(0.03, 0.04)),
        law("reacts", tailed(0.030, 0.018, 0.015)),
        law("reacts, long tail", tailed(0.02, 0.012, 0.045)),
        law("both", mixed(vec![(0.7, normal(0.035, 0.022)), (0.3, tailed(0.14, 0.018, 0.028))])),
        law(
            "fat tails",
            mixed(vec![
                (0.75, normal(0.04, 0.016)),
                (0.2, normal(0.04, 0.035)),
                (0.05, normal(0.04, 0.09)),
            ]),
        ),
        law("early tail", tailed(0.07, 0.015, -0.03)),
        law(
            "early releases",
            mixed(vec![(0.97, normal(0.04, 0.022)), (0.03, normal(-0.15, 0.08))]),
        ),
        Truth { name: "Peirce 19–24", lights: Lawful::Values(peirce()) },
    ]
}

/// Three races, from an even one to one that has to be won at the tree.
pub fn races() -> Vec<(&'static str, Opponent, Race)> {
    let race = |gap: f64, sd: f64| Race::heads_up(Finish::gap(gap, sd).unwrap());
    vec![
        ("even, foul-prone", Opponent::normal(0.06, 0.03).unwrap(), race(0.0, 0.03)),
        ("weekend racer", Opponent::level(Level::Weekend), race(-0.05, 0.06)),
        ("sharp racer", Opponent::level(Level::Sharp), race(0.0, 0.02)),
    ]
}

#[derive(Debug, Clone, Default)]
pub struct AimTally {
    pub losses: Vec<f64>,
    /// Held at the aim as it is, and at the recommended one.
    pub held: [usize; 2],
    pub below: [usize; 2],
    pub width: f64,
}

impl AimTally {
    pub fn mean_loss(&self) -> f64 {
        self.losses.iter().sum::<f64>() / self.losses.len() as f64
    }

    pub fn loss_at(&self, q: f64) -> f64 {
        let mut sorted = self.losses.clone();
        sorted.sort_by(f64::total_cmp);
        sorted[((sorted.len() - 1) as f64 * q) as usize]
    }

    pub fn coverage(&self, i: usize) -> f64 {
        self.held[i] as f64 / self.losses.len() as f64
    }
}

/// `trials` samples of `n` lights of a driver, each asked for the best aim and its win chance.
pub fn try_aims(
    truth: &Truth,
    opponent: &Opponent,
    race: &Race,
    n: usize,
    trials: usize,
    draws: usize,
    seed: u64,
) -> AimTally {
    let given = GivenLight::new(opponent, race);
    let known = match &truth.lights {
        Lawful::Law(law) => Some(WinChance::new(law.clone(), opponent, race)),
        Lawful::Values(_) => None,
    };
    let win = |aim: f64| truth.win(&known, &given, aim);
    let oracle = (-120..=160).map(|i| win(f64::from(i) * 0.0005)).fold(0.0, f64::max);
    let mut tally = AimTally::default();
    for trial in 0..trials {
        let seed = seed_of_run(seed + n as u64, trial as u64);
        let rng = &mut generator(seed);
        let x: Vec<f64> = (0..n).map(|_| truth.draw(rng)).collect();
        let pool = Pool::new(Sample::new(x).unwrap());
        let settings = Settings { draws, serial_correction: false, ..Settings::new(seed) };
        let drawn = RiskDraws::this_form(&pool, &settings).unwrap();
        let lights = Lights::new(&drawn, &pool, &RedLine::at(0.0).unwrap(), seed);
        let odds = DrawnOdds::new(&lights, opponent, race, &[0.0]);
        let best = odds.best().unwrap();
        tally.losses.push(oracle - win(best.earlier_s));
        for (i, aim) in [0.0, best.earlier_s].into_iter().enumerate() {
            let (e, truth) = (odds.win(&[aim], 0.90).unwrap()[0], win(aim));
            tally.held[i] += usize::from(e.low <= truth && truth <= e.high);
            tally.below[i] += usize::from(e.high < truth);
            tally.width += 0.5 * (e.high - e.low) / trials as f64;
        }
    }
    tally
}

/// A driver who can do both.
pub struct TwoStyles {
    react: RtLaw,
    time_it: RtLaw,
    /// SD of the day's shift, both styles alike, s.
    day_sd: f64,
    /// Shift from block to block of a day, s: warming up.
    drift: f64,
}

/// Who is asked: how they time, and whether their days differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    Even,
    Mixer,
    FatTails,
    DriftingDays,
}

impl Kind {
    pub const ALL: [Self; 4] = [Self::Even, Self::Mixer, Self::FatTails, Self::DriftingDays];
}

/// A driver drawn from many: nobody knows beforehand which style is better.
pub fn some_driver(kind: Kind, rng: &mut Generator) -> TwoStyles {
    let mut between = |low: f64, high: f64| low + (high - low) * rng.random::<f64>();
    let react = tailed(between(0.0, 0.09), between(0.010, 0.022), between(0.008, 0.035));
    let sd = between(0.015, 0.05);
    let aim = between(0.01, 0.07);
    let plain = normal(aim, sd);
    let (time_it, react) = match kind {
        Kind::Even => (plain, react),
        // Times seven launches in ten, reacts to the rest; and jumps a few of the others.
        Kind::Mixer => {
            let late = between(0.10, 0.14);
            let slips = mixed(vec![(0.7, plain), (0.3, tailed(late, 0.018, 0.028))]);
            (slips, mixed(vec![(0.9, react), (0.1, normal(0.0, 0.03))]))
        }
        Kind::FatTails => {
            let fat = |law: RtLaw| {
                let wide = law.spread_by(3.0).unwrap();
                mixed(vec![(0.9, law), (0.1, wide)])
            };
            (fat(plain), fat(react))
        }
        Kind::DriftingDays => (plain, react),
    };
    let drifting = kind == Kind::DriftingDays;
    let day_sd = if drifting { between(0.003, 0.012) } else { 0.0 };
    let drift = if drifting { between(-0.002, 0.002) } else { 0.0 };
    TwoStyles { react, time_it, day_sd, drift }
}

impl TwoStyles {
    /// Blocks of ten in turn, four a day, for `days` days.
    fn blocks(&self, days: u32, rng: &mut Generator) -> Vec<Block> {
        let mut blocks = Vec::new();
        for day in 0..days {
            let z: f64 = StandardNormal.sample(rng);
            for i in 0..4 {
                // R T T R, then T R R T.
                let react = (i == 0 || i == 3) == (day % 2 == 0);
                let (style, law) = if react {
                    (Style::React, &self.react)
                } else {
                    (Style::TimeIt, &self.time_it)
                };
                let later = self.day_sd * z + self.drift * (f64::from(i) - 1.5);
                let parts = (0..10).map(|_| law.sample(rng) + later + CAR_LINE_S).collect();
                let block =
                    Block { style, driver_parts_s: parts, left_before_tree: 0, lapses: 0, day };
                blocks.push(block);
            }
        }
        blocks
    }

    /// What either style is worth over many days: the reaction as it is, timing at its best aim.
    fn worth(&self, opponent: &Opponent, race: &Race) -> [f64; 2] {
        let over_days = |law: &RtLaw| law.with_scatter(self.day_sd).unwrap();
        let react = WinChance::new(over_days(&self.react), opponent, race).win(0.0);
        let timed = WinChance::new(over_days(&self.time_it), opponent, race);
        let best = (-80..=120).map(|i| timed.win(f64::from(i) * 0.001)).fold(0.0, f64::max);
        [react, best]
    }
}

/// Interval less car part: a driver part of this is a light of 0.
const CAR_LINE_S: f64 = 0.22;

/// Stated probability and whether it was right.
#[derive(Debug, Clone, Copy)]
pub struct Told {
    pub time_it: f64,
    pub timing_is_better: bool,
}

/// Verdicts for `trials` drivers of a kind, by what is at stake.
pub fn try_verdicts(kind: Kind, days: u32, trials: usize, seed: u64) -> Vec<Told> {
    let (_, opponent, race) = races().swap_remove(1);
    let stakes = Stakes::round(&opponent, &race);
    let view = if kind == Kind::DriftingDays { View::NextSession } else { View::ThisForm };
    let car = CarPart { mean_s: 0.5 - CAR_LINE_S, doubt_sd_s: 0.0, run_sd_s: 0.0 };
    (0..trials)
        .map(|trial| {
            let seed = seed_of_run(seed, trial as u64);
            let rng = &mut generator(seed);
            let driver = some_driver(kind, rng);
            let [react, timed] = driver.worth(&opponent, &race);
            let blocks = driver.blocks(days, rng);
            let home = HomeToTrack::prior(0.0).unwrap();
            let tested = Tested::new(&blocks, &TreeKind::full(), car, home).unwrap();
            let told = verdict(&tested, &stakes, view, car.mean_s, seed).unwrap();
            let by_stakes = told.judgements[0];
            assert!(by_stakes.by == By::Stakes && by_stakes.view == view);
            Told { time_it: by_stakes.time_it_right, timing_is_better: timed > react }
        })
        .collect()
}

/// Of those told with a probability in a band: how many, what was stated, what was right.
pub fn calibration(all: &[Told], from: f64, to: f64) -> (usize, f64, f64) {
    let right = |t: &Told| {
        let (p, correct) = if t.time_it >= 0.5 {
            (t.time_it, t.timing_is_better)
        } else {
            (1.0 - t.time_it, !t.timing_is_better)
        };
        (p, correct)
    };
    let band: Vec<(f64, bool)> =
        all.iter().map(right).filter(|(p, _)| *p >= from && *p < to).collect();
    let n = band.len().max(1) as f64;
    let stated = band.iter().map(|(p, _)| p).sum::<f64>() / n;
    (band.len(), stated, band.iter().filter(|(_, correct)| *correct).count() as f64 / n)
}
