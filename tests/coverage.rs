//! A small seeded version of the coverage report (see `benches/coverage.rs` for the full one and how
//! to run it): do stated intervals hold the truth as often as they say?

mod coverage_support;

use coverage_support::{LEVELS, RISKS, Tally, cover, cover_next_day, lines_ms, truths};
use lastamber::stats::risk::Settings;

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

#[test]
fn the_next_sessions_interval_holds_the_next_days_risk() {
    for (days, day_sd, most) in [(5, 10.0, 0.97), (10, 5.0, 0.97), (10, 0.0, 1.0)] {
        let tally = cover_next_day(days, day_sd, 80);
        println!("{days} days of SD {day_sd}: held {:.3}", tally.coverage());
        assert!(tally.coverage() >= 0.87 - 3.0 * 0.038, "{days} × {day_sd}: {tally:?}");
        assert!(tally.coverage() <= most, "{days} × {day_sd}: {tally:?}");
    }
}
