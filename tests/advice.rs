//! A small seeded version of the advice report (see `benches/advice.rs` for the full one and how to
//! run it): is the advice right as often as it says, and does the recommended aim lose little?

mod advice_support;

use advice_support::{Kind, calibration, races, truths, try_aims, try_verdicts};

const TRIALS: usize = 6;

/// 9 drivers × 3 races × 6 trials of 50 launches: 162 aims. The trials of a driver share their
/// lights over the races, so the coverage has a standard error of about .035.
#[test]
fn the_recommended_aim_loses_little_and_its_interval_holds() {
    let (mut losses, mut held, mut below) = (Vec::new(), [0; 2], [0; 2]);
    for truth in truths() {
        for (_, opponent, race) in races() {
            let tally = try_aims(&truth, &opponent, &race, 50, TRIALS, 300, 5);
            println!(
                "{}: mean loss {:.4}, 95 % {:.4}, held {:.2} and {:.2}, width {:.3}",
                truth.name,
                tally.mean_loss(),
                tally.loss_at(0.95),
                tally.coverage(0),
                tally.coverage(1),
                tally.width
            );
            losses.extend(&tally.losses);
            held = [held[0] + tally.held[0], held[1] + tally.held[1]];
            below = [below[0] + tally.below[0], below[1] + tally.below[1]];
        }
    }
    let n = losses.len() as f64;
    let mean = losses.iter().sum::<f64>() / n;
    let share = |count: usize| count as f64 / n;
    println!("mean loss {mean:.4}; held {:.3} now, {:.3} at best", share(held[0]), share(held[1]));
    println!("intervals below the truth: {:.3}, {:.3}", share(below[0]), share(below[1]));
    assert!(losses.iter().all(|loss| *loss > -1e-3), "nobody beats the best aim");
    assert!(mean <= 0.01, "mean loss {mean}");
    assert!(share(held[0]) >= 0.90 - 3.0 * 0.035 && share(held[1]) >= 0.90 - 3.0 * 0.035);
}

/// Four kinds of driver, ten of each. Of n verdicts the share that is right has a standard error
/// of √(p(1 − p)/n).
#[test]
fn a_verdict_is_right_as_often_as_it_says() {
    let all: Vec<_> =
        Kind::ALL.into_iter().flat_map(|kind| try_verdicts(kind, 1, 10, 21)).collect();
    for (from, to) in [(0.5, 0.9), (0.9, 1.01), (0.5, 1.01)] {
        let (n, stated, right) = calibration(&all, from, to);
        let se = (stated * (1.0 - stated) / n as f64).sqrt();
        println!("{from}–{to}: {n} told, stated {stated:.3}, right {right:.3} ± {se:.3}");
        assert!(right >= stated - 3.0 * se - 0.02, "{from}–{to}: {stated} {right}");
        assert!(right <= stated + 3.0 * se + 0.10, "{from}–{to}: {stated} {right}");
    }
}
