//! Mean, standard deviation and lag-1 autocorrelation against the certified values of the NIST
//! Statistical Reference Datasets (univariate summary statistics).

use lastamber::stats::Sample;
use lastamber::stats::summary::{Summary, lag_1, mean, sd};

fn sample(text: &str) -> Sample {
    Sample::new(text.lines().map(|line| line.trim().parse().unwrap()).collect()).unwrap()
}

fn assert_digits(got: f64, want: f64, digits: i32, what: &str) {
    let error = ((got - want) / want).abs();
    assert!(error < 10f64.powi(-digits), "{what}: {got:e} is not {want:e} ({error:.1e})");
}

#[test]
fn the_certified_values_are_reproduced() {
    let table = [
        (
            "Lew",
            include_str!("data/nist_strd_lew.csv"),
            [-177.435, 277.332_168_044_316, -0.307_304_800_605_679],
        ),
        (
            "Lottery",
            include_str!("data/nist_strd_lottery.csv"),
            [518.958_715_596_330, 291.699_727_470_969, -0.120_948_622_967_393],
        ),
        (
            "Mavro",
            include_str!("data/nist_strd_mavro.csv"),
            [2.001_856, 0.000_429_123_454_003_053, 0.937_989_183_438_248],
        ),
        (
            "Michelso",
            include_str!("data/nist_strd_michelso.csv"),
            [299.8524, 0.079_010_547_819_051_8, 0.535_199_668_621_283],
        ),
    ];
    for (name, text, [m, s, r]) in table {
        let sample = sample(text);
        assert_digits(mean(&sample), m, 14, name);
        // The data are given to 5 digits: their doubles limit the differences to 12 and more.
        assert_digits(sd(&sample).unwrap(), s, 12, name);
        assert_digits(lag_1(&sample).unwrap(), r, 11, name);
    }
}

/// 1 001 values: `start`, then `low` and `high` in turn.
fn alternating(base: f64) -> Sample {
    let mut values = vec![base + 0.2];
    for _ in 0..500 {
        values.extend([base + 0.1, base + 0.3]);
    }
    Sample::new(values).unwrap()
}

#[test]
fn the_numerically_hard_sets_keep_their_digits() {
    let first = Sample::new(vec![10_000_001.0, 10_000_003.0, 10_000_002.0]).unwrap();
    assert_eq!(
        (mean(&first), sd(&first).unwrap(), lag_1(&first).unwrap()),
        (10_000_002.0, 1.0, -0.5)
    );
    // NumAcc2, 3 and 4: sd 0.1 and autocorrelation −0.999 exactly.
    for (base, digits) in [(1.0, 13), (1e6, 9), (1e7, 8)] {
        let sample = alternating(base);
        assert_digits(mean(&sample), base + 0.2, 14, "mean");
        assert_digits(sd(&sample).unwrap(), 0.1, digits, "sd");
        assert_digits(lag_1(&sample).unwrap(), -0.999, digits, "lag 1");
    }
}

#[test]
fn a_summary_holds_together() {
    let sample = sample(include_str!("data/rt20_example.csv"));
    let summary = Summary::new(&sample, 0.95).unwrap();
    // Mean and sd by mpmath; 2.093024054408263 is Student's 97.5 % point for 19 degrees of freedom.
    assert_digits(summary.mean.value, 44.19, 14, "mean");
    assert_digits(summary.sd.value, 19.412_472_930_133_29, 14, "sd");
    let half = 2.093_024_054_408_263 * 19.412_472_930_133_29 / 20f64.sqrt();
    assert_digits(summary.mean.low, 44.19 - half, 9, "low");
    // scipy 1.17.1: s·√(19/chi2.ppf(.975 and .025, 19)).
    assert_digits(summary.sd.low, 14.762_999_193_6, 9, "sd low");
    assert_digits(summary.sd.high, 28.353_307_348_7, 9, "sd high");
    assert_digits(summary.median.value, 42.65, 14, "median");
    assert!(summary.median.low < summary.median.value);
    assert!(summary.median.value < summary.median.high);
    assert!(summary.sd.low < summary.sd.value && summary.sd.value < summary.sd.high);
}
