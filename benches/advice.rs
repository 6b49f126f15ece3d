//! How good the advice is, against drivers whose truth is known: the full report.
//!
//! `cargo bench --no-default-features --bench advice -- --full` prints what the recommended aim loses
//! against the best one, how often the interval on the win chance holds it, and the calibration of
//! "react or time it"; without `--full` a short run. `--aims` or
//! `--verdicts` prints that part alone.

#[path = "../tests/advice_support/mod.rs"]
mod advice_support;

use advice_support::{Kind, calibration, races, truths, try_aims, try_verdicts};

const BANDS: [(f64, f64); 6] =
    [(0.5, 0.6), (0.6, 0.7), (0.7, 0.8), (0.8, 0.9), (0.9, 0.97), (0.97, 1.01)];

fn print_aims(trials: usize) {
    println!("| driver | race | n | mean loss | 95 % loss | held now | held at best | width |");
    println!("|---|---|---|---|---|---|---|---|");
    let (mut all, mut held, mut cells) = (Vec::new(), [0.0; 2], 0.0);
    for n in [20, 50, 200] {
        for truth in truths() {
            for (name, opponent, race) in races() {
                let t = try_aims(&truth, &opponent, &race, n, trials, 800, 1);
                println!(
                    "| {} | {name} | {n} | {:.4} | {:.4} | {:.3} | {:.3} | {:.3} |",
                    truth.name,
                    t.mean_loss(),
                    t.loss_at(0.95),
                    t.coverage(0),
                    t.coverage(1),
                    t.width
                );
                if n == 50 {
                    all.extend(t.losses.clone());
                    held = [held[0] + t.coverage(0), held[1] + t.coverage(1)];
                    cells += 1.0;
                }
            }
        }
    }
    all.sort_by(f64::total_cmp);
    let mean = all.iter().sum::<f64>() / all.len() as f64;
    println!(
        "n = 50: mean loss {mean:.4}, median {:.4}, 95 % {:.4}; held {:.3} now, {:.3} at best",
        all[all.len() / 2],
        all[all.len() * 95 / 100],
        held[0] / cells,
        held[1] / cells
    );
}

fn print_verdicts(trials: usize) {
    println!("\n| drivers | days | stated | told | right |");
    println!("|---|---|---|---|---|");
    for days in [1, 3] {
        let mut every = Vec::new();
        for kind in Kind::ALL {
            let all = try_verdicts(kind, days, trials, 77 + u64::from(days));
            for (from, to) in BANDS {
                let (n, stated, right) = calibration(&all, from, to);
                if n > 0 {
                    println!("| {kind:?} | {days} | {stated:.3} | {n} | {right:.3} |");
                }
            }
            every.extend(all);
        }
        for (from, to) in BANDS {
            let (n, stated, right) = calibration(&every, from, to);
            println!("| all | {days} | {stated:.3} | {n} | {right:.3} |");
        }
    }
}

fn main() {
    let full = std::env::args().any(|a| a == "--full");
    let only = |what: &str| std::env::args().any(|a| a == what);
    if !only("--verdicts") {
        print_aims(if full { 400 } else { 20 });
    }
    if !only("--aims") {
        print_verdicts(if full { 1000 } else { 40 });
    }
}
