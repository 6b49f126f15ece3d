//! A small seeded version of the coverage report (see `benches/coverage.rs` for the full one and how
//! to run it): do stated intervals hold the truth as often as they say?

mod coverage_support;

use coverage_support::{LEVELS, RISKS, Tally, cover, cover_next_day, lines_ms, truths};
use lastamber::seed::generator;
use lastamber::stats::normal_tail;
use lastamber::stats::risk::{Settings, count_interval};
use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};

const TRIALS: usize = 60;

fn settings(seed: u64) -> Settings {
    Settings { draws: 300, serial_correction: false, ..Settings::new(seed) }
}

/// 10 truths × n 10, 20, 50 × 3 risks × 60 trials. A cell of 60 has a standard error of .039 at .9,
/// all 5,400 intervals together one of about .006 (the risks of one sample go together).
#[test]
fn intervals_hold_the_truth_as_often_as_they_say() {
    let mut all = [Tally::default(); 3];
    let mut worst = (1.0, String::new());
    for truth in truths() {
        let lines = lines_ms(&truth, 300_000);
        for n in [10, 20, 50] {
            let cells = cover(&truth, &lines, n, TRIALS, settings);
            for (row, risk) in cells.iter().zip(RISKS) {
                for (cell, sum) in row.iter().zip(&mut all) {
                    sum.trials += cell.trials;
                    sum.held += cell.held;
                    sum.below += cell.below;
                    sum.width += cell.width;
                }
                if row[1].coverage() < worst.0 {
                    worst = (row[1].coverage(), format!("{}, n {n}, risk {risk}", truth.name));
                }
            }
        }
    }
    println!("least of 90 %: {:.3} ({})", worst.0, worst.1);
    for (tally, level) in all.iter().zip(LEVELS) {
        let (held, below, width) = (tally.coverage(), tally.below_share(), tally.mean_width());
        println!("{level}: held {held:.3}, below {below:.3}, mean width {width:.3}");
        assert!(held > level - 0.02, "{level}: held {held}");
        assert!(held < level + 0.06, "{level}: held {held}, so wider than it says");
    }
    assert!(all[1].below_share() < 0.08);
    assert!(all[1].mean_width() < 0.20, "an honest interval also has to be of use");
    // .85 less three standard errors of 60 trials.
    assert!(worst.0 > 0.85 - 3.0 * 0.046, "{worst:?}");
}

/// The yardstick itself: where the exact interval of a normal tail meets normal values it holds the
/// truth exactly as often as it says.
#[test]
fn the_exact_interval_of_a_normal_driver_is_exact() {
    let trials = 600;
    let mut rng = generator(41);
    for n in [5, 20] {
        let mut tallies = [Tally::default(); 3];
        for _ in 0..trials {
            let x: Vec<f64> = (0..n).map(|_| StandardNormal.sample(&mut rng)).collect();
            let mean = x.iter().sum::<f64>() / n as f64;
            let squares: f64 = x.iter().map(|x| (x - mean).powi(2)).sum();
            let sd = (squares / (n as f64 - 1.0)).sqrt();
            for (tally, level) in tallies.iter_mut().zip(LEVELS) {
                let e = normal_tail(n, mean, sd, -1.5, level).unwrap().estimate;
                // Φ(−1.5).
                tally.add(e.low, e.high, 0.066_807_201_268_858);
            }
        }
        for (tally, level) in tallies.iter().zip(LEVELS) {
            println!("n {n}, {level}: held {:.3}", tally.coverage());
            let error = (level * (1.0 - level) / f64::from(trials)).sqrt();
            assert!((tally.coverage() - level).abs() < 3.0 * error, "n {n}, {level}: {tally:?}");
        }
    }
}

/// The interval of the counts holds at least as often as it says, whatever the chance.
#[test]
fn the_interval_of_the_counts_never_holds_too_seldom() {
    let trials = 2_000;
    let mut rng = generator(42);
    for (n, chance) in [(10, 0.05), (20, 0.2), (50, 0.01), (200, 0.05)] {
        let mut tallies = [Tally::default(); 3];
        for _ in 0..trials {
            let reds = (0..n).filter(|_| rng.random::<f64>() < chance).count();
            for (tally, level) in tallies.iter_mut().zip(LEVELS) {
                let e = count_interval(reds, n, level).unwrap();
                tally.add(e.low, e.high, chance);
            }
        }
        for (tally, level) in tallies.iter().zip(LEVELS) {
            let error = (level * (1.0 - level) / f64::from(trials)).sqrt();
            assert!(tally.coverage() > level - 3.0 * error, "{n} {chance} {level}: {tally:?}");
        }
    }
}

#[test]
fn the_next_sessions_interval_holds_the_next_days_risk() {
    for (days, day_sd, most) in [(5, 10.0, 0.97), (10, 5.0, 0.97), (10, 0.0, 1.0)] {
        let tally = cover_next_day(days, day_sd, 80);
        println!("{days} days of SD {day_sd}: held {:.3}", tally.coverage());
        assert!(tally.coverage() >= 0.87 - 3.0 * 0.038, "{days} × {day_sd}: {tally:?}");
        assert!(tally.coverage() <= most, "{days} × {day_sd}: {tally:?}");
    }
}
