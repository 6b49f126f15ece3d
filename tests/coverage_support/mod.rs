//! Drivers whose risk is known, and how often the program's intervals hold it.
//!
//! Owns the truths, the trials and their tally; the small test and the full report share it. The
//! truths of the statistics literature's kind are synthetic; one is C. S. Peirce's own reactions,
//! days 19–24 (US Coast Survey, report of 1873, public domain), resampled with ± 0.5 ms of jitter.

use lastamber::seed::{Generator, generator, seed_of_run};
use lastamber::stats::Sample;
use lastamber::stats::risk::{Pool, RedLine, RiskDraws, Settings};
use rand::RngExt;
use rand_distr::{Distribution, Exp1, InverseGaussian, StandardNormal, StudentT};

pub const RISKS: [f64; 3] = [0.01, 0.05, 0.20];
pub const LEVELS: [f64; 3] = [0.80, 0.90, 0.95];

/// A driver whose reaction times, in ms, can be drawn without end.
pub struct Truth {
    pub name: &'static str,
    pub draw: Box<dyn Fn(&mut Generator) -> f64 + Send + Sync>,
}

fn normal(rng: &mut Generator) -> f64 {
    StandardNormal.sample(rng)
}

fn exponential(rng: &mut Generator) -> f64 {
    Exp1.sample(rng)
}

fn peirce() -> Vec<f64> {
    let text = include_str!("../data/peirce1872.csv");
    let mut out = Vec::new();
    for row in text.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let day: u32 = cells[0].parse().unwrap();
        if (19..=24).contains(&day) {
            let count: usize = cells[3].trim().parse().unwrap();
            out.extend(std::iter::repeat_n(cells[2].parse::<f64>().unwrap(), count));
        }
    }
    assert_eq!(out.len(), 2990);
    out
}

/// Ten drivers. The method's weights were chosen on all of them, so none is new to it.
pub fn truths() -> Vec<Truth> {
    let truth = |name, draw| Truth { name, draw };
    let reactions = peirce();
    let wald = InverseGaussian::new(120.0, 900.0).unwrap();
    let t = StudentT::new(4.0).unwrap();
    vec![
        truth("normal", Box::new(|r| 40.0 + 25.0 * normal(r))),
        truth("ex-Gaussian", Box::new(|r| 170.0 + 20.0 * normal(r) + 30.0 * exponential(r))),
        truth("ex-Gaussian, long", Box::new(|r| 170.0 + 12.0 * normal(r) + 45.0 * exponential(r))),
        truth("lognormal", Box::new(|r| 100.0 + (100f64.ln() + 0.3 * normal(r)).exp())),
        truth(
            "two parts",
            Box::new(|r| {
                if r.random::<f64>() < 0.7 {
                    35.0 + 22.0 * normal(r)
                } else {
                    140.0 + 18.0 * normal(r) + 28.0 * exponential(r)
                }
            }),
        ),
        truth(
            "Peirce 19–24",
            Box::new(move |r| {
                reactions[r.random_range(0..reactions.len())] + r.random::<f64>() - 0.5
            }),
        ),
        truth("Wald", Box::new(move |r| 80.0 + wald.sample(r))),
        truth(
            "early releases",
            Box::new(|r| {
                if r.random::<f64>() < 0.03 {
                    -260.0 + 300.0 * r.random::<f64>()
                } else {
                    40.0 + 25.0 * normal(r)
                }
            }),
        ),
        truth("Student t, 4", Box::new(move |r| 60.0 + 20.0 * t.sample(r))),
        truth("skewed early", Box::new(|r| 140.0 - (70f64.ln() + 0.35 * normal(r)).exp())),
    ]
}

/// Lines with the given risks: quantiles of `size` draws (relative error about
/// 1/√(size · risk)).
pub fn lines_ms(truth: &Truth, size: usize) -> Vec<f64> {
    let mut rng = generator(99);
    let mut x: Vec<f64> = (0..size).map(|_| (truth.draw)(&mut rng)).collect();
    x.sort_by(f64::total_cmp);
    RISKS.iter().map(|p| x[(p * size as f64) as usize]).collect()
}

/// What happened in one cell.
#[derive(Debug, Clone, Copy, Default)]
pub struct Tally {
    pub trials: usize,
    pub held: usize,
    pub below: usize,
    pub width: f64,
}

impl Tally {
    pub fn add(&mut self, low: f64, high: f64, truth: f64) {
        self.trials += 1;
        self.held += usize::from(low <= truth && truth <= high);
        self.below += usize::from(high < truth);
        self.width += high - low;
    }

    pub fn coverage(&self) -> f64 {
        self.held as f64 / self.trials as f64
    }

    pub fn below_share(&self) -> f64 {
        self.below as f64 / self.trials as f64
    }

    pub fn mean_width(&self) -> f64 {
        self.width / self.trials as f64
    }
}

/// Cells of one truth and one n: risks × levels.
pub type Cells = [[Tally; 3]; 3];

/// `trials` samples of `n`, each asked for every risk at every level.
pub fn cover(
    truth: &Truth,
    lines: &[f64],
    n: usize,
    trials: usize,
    settings: impl Fn(u64) -> Settings,
) -> Cells {
    let mut cells = Cells::default();
    for trial in 0..trials {
        let seed = seed_of_run(n as u64, trial as u64);
        let mut rng = generator(seed);
        let x: Vec<f64> = (0..n).map(|_| (truth.draw)(&mut rng) / 1000.0).collect();
        let pool = Pool::new(Sample::new(x).unwrap());
        let draws = RiskDraws::this_form(&pool, &settings(seed)).unwrap();
        for ((line, truth), row) in lines.iter().zip(RISKS).zip(&mut cells) {
            let line = RedLine::at(line / 1000.0).unwrap();
            for (level, cell) in LEVELS.iter().zip(row) {
                let e = draws.curve(&line, &[0.0], *level).unwrap()[0];
                cell.add(e.low, e.high, truth);
            }
        }
    }
    cells
}

/// The next day's true risk against the next-session interval at 90 %: days of 20 launches,
/// N(40 + day, 25²), line at 0 − so the risk of a day is Φ((−40 − b)/25).
pub fn cover_next_day(days: usize, day_sd: f64, trials: usize) -> Tally {
    let mut tally = Tally::default();
    for trial in 0..trials {
        let seed = seed_of_run(1000 * days as u64 + day_sd as u64, trial as u64);
        let mut rng = generator(seed);
        let (mut x, mut ids) = (Vec::new(), Vec::new());
        for day in 0..days {
            let shift = 40.0 + day_sd * normal(&mut rng);
            x.extend((0..20).map(|_| (shift + 25.0 * normal(&mut rng)) / 1000.0));
            ids.extend([day as u32; 20]);
        }
        let next = (-40.0 - day_sd * normal(&mut rng)) / 25.0;
        let truth = 0.5 * statrs::function::erf::erfc(-next / std::f64::consts::SQRT_2);
        let pool = Pool::new(Sample::new(x).unwrap()).with_days(ids).unwrap();
        let draws = RiskDraws::next_session(&pool, &Settings::new(seed)).unwrap();
        let e = draws.curve(&RedLine::at(0.0).unwrap(), &[0.0], 0.90).unwrap()[0];
        tally.add(e.low, e.high, truth);
    }
    tally
}
