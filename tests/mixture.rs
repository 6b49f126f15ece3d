//! Anticipating and reacting in one column, against values computed independently.

use lastamber::stats::mixture::{decide, fit, guess_share};
use lastamber::stats::{Sample, StatsError};

/// 151 anticipations and 89 reactions; ms and which of the two each is.
fn synthetic() -> (Vec<f64>, Vec<bool>) {
    let rows = include_str!("data/synthetic_mixture_240.csv").lines().skip(1).map(|row| {
        let cells: Vec<&str> = row.trim().split(',').collect();
        (cells[1].parse::<f64>().unwrap(), cells[2] == "anticipate")
    });
    rows.unzip()
}

fn seconds(ms: &[f64]) -> Sample {
    Sample::new(ms.iter().map(|x| x / 1000.0).collect()).unwrap()
}

/// Five starts of scipy 1.17.1 agree on: w .62931811, normal 29.409850, 20.544759, ex-Gaussian
/// 139.018552, 15.121573, 24.644284, minus log-likelihood 1246.277650, sum of guesses 151.03635.
#[test]
fn the_synthetic_mixture_has_the_known_optimum() {
    let (ms, guessed) = synthetic();
    let fit = fit(&seconds(&ms), 1).unwrap();
    let p = fit.parts;
    let got = [
        p.anticipate_share,
        1000.0 * p.anticipate_mean_s,
        1000.0 * p.anticipate_sd_s,
        1000.0 * p.mu_s,
        1000.0 * p.sigma_s,
        1000.0 * p.tau_s,
    ];
    let want = [0.629_318_11, 29.409_850, 20.544_759, 139.018_552, 15.121_573, 24.644_284];
    for (got, want) in got.iter().zip(want) {
        assert!((got / want - 1.0).abs() < 1e-3, "{got} for {want}: {fit:?}");
    }
    let nll_per_ms = -fit.log_likelihood + 240.0 * 1000f64.ln();
    assert!((nll_per_ms - 1_246.277_65).abs() < 1e-3, "{nll_per_ms}");
    assert!(fit.interior && fit.agreeing_starts >= 2 && fit.caveats.is_empty(), "{fit:?}");
    let chances: Vec<f64> = ms.iter().map(|x| p.guess_probability(x / 1000.0)).collect();
    assert!((chances.iter().sum::<f64>() - 151.036_35).abs() < 0.02);
    for (chance, guessed) in chances.iter().zip(guessed) {
        assert_eq!(*chance > 0.5, guessed);
    }
    let sum: f64 = ms.iter().map(|x| p.ln_pdf(x / 1000.0)).sum();
    assert!((sum - fit.log_likelihood).abs() < 1e-6);
}

#[test]
fn two_parts_are_told_from_one() {
    let (ms, guessed) = synthetic();
    let both = decide(&seconds(&ms), 39, 1).unwrap();
    // One ex-Gaussian reaches 1322.082441, two parts 1246.277650.
    assert!((both.ratio - 2.0 * (1_322.082_441 - 1_246.277_65)).abs() < 2e-3, "{}", both.ratio);
    assert!(both.two_parts && both.p_value == 1.0 / 40.0);
    let anticipated: Vec<f64> =
        ms.iter().zip(&guessed).filter(|(_, g)| **g).map(|(x, _)| *x).collect();
    let one = decide(&seconds(&anticipated), 39, 1).unwrap();
    assert!(!one.two_parts && one.p_value > 0.1, "{one:?}");
    assert_eq!(one, decide(&seconds(&anticipated), 39, 1).unwrap());
}

#[test]
fn the_fit_moves_and_stretches_with_the_launches() {
    let (ms, _) = synthetic();
    let plain = fit(&seconds(&ms), 1).unwrap();
    let moved: Vec<f64> = ms.iter().map(|x| 2.0 * x + 300.0).collect();
    let moved = fit(&seconds(&moved), 1).unwrap();
    let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-6, "{a} {b}");
    close(moved.parts.anticipate_share, plain.parts.anticipate_share);
    close(moved.parts.anticipate_mean_s, 2.0 * plain.parts.anticipate_mean_s + 0.3);
    close(moved.parts.tau_s, 2.0 * plain.parts.tau_s);
    close(moved.log_likelihood, plain.log_likelihood - 240.0 * 2f64.ln());
    let turned: Vec<f64> = ms.iter().rev().copied().collect();
    assert_eq!(fit(&seconds(&turned), 1).unwrap(), plain);
}

#[test]
fn questions_without_an_answer_are_refused() {
    assert_eq!(fit(&seconds(&[1.0; 29]), 1), Err(StatsError::TooFew { have: 29, need: 30 }));
    assert_eq!(fit(&seconds(&[1.0; 40]), 1), Err(StatsError::NoSpread));
    let mut wild: Vec<f64> = (0..40).map(f64::from).collect();
    wild[7] = 1e308;
    assert!(matches!(fit(&Sample::new(wild).unwrap(), 1), Err(StatsError::NoFit(_))));
    let (ms, _) = synthetic();
    assert!(decide(&seconds(&ms), 10, 1).is_err());
}

#[test]
fn an_outlier_leaves_the_fit_finite() {
    let (mut ms, _) = synthetic();
    ms[5] = 1e6;
    let fit = fit(&seconds(&ms), 1).unwrap();
    assert!(fit.log_likelihood.is_finite(), "{fit:?}");
    assert!(fit.parts.guess_probability(-5.0).is_finite());
}

#[test]
fn blank_runs_bound_the_guess_share_from_below() {
    let share = guess_share(3, 50, 0.90).unwrap();
    assert!((share.low - 0.016_551_859_2).abs() < 1e-9 && share.value == 0.06);
    assert!(guess_share(0, 0, 0.90).is_err());
}
