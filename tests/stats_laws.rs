//! The four laws against high-precision tables.
//!
//! `data/dist_check_values.csv` and `data/ppf_check_values.csv` were computed with mpmath 1.4.1 at
//! 400 digits. Tails are compared through logarithms, since plain values underflow.

use lastamber::stats::family::{
    Distribution, ExGaussian, Model, Normal, ShiftedLognormal, ShiftedWald,
};

/// A law of each kind with numbers a person may have, s.
const PERSONS: [(&str, [f64; 3]); 4] = [
    ("normal", [0.21, 0.03, 0.0]),
    ("exgauss", [0.2, 0.02, 0.05]),
    ("shifted_lognormal", [0.15, -2.5, 0.4]),
    ("shifted_wald", [0.1, 0.12, 0.5]),
];

fn model(law: &str, p: &[f64]) -> Model {
    match law {
        "normal" => Model::Normal(Normal::new(p[0], p[1]).unwrap()),
        "exgauss" => Model::ExGaussian(ExGaussian::new(p[0], p[1], p[2]).unwrap()),
        "shifted_lognormal" => {
            Model::ShiftedLognormal(ShiftedLognormal::new(p[0], p[1], p[2]).unwrap())
        }
        "shifted_wald" => Model::ShiftedWald(ShiftedWald::new(p[0], p[1], p[2]).unwrap()),
        other => panic!("the table has an unknown law {other}"),
    }
}

fn rows(text: &str) -> Vec<(String, Vec<f64>)> {
    text.lines()
        .skip(1)
        .map(|line| {
            let mut cells = line.split(',');
            let law = cells.next().unwrap().to_owned();
            // An empty third parameter belongs to the normal law.
            (law, cells.map(|c| c.parse().unwrap_or(f64::NAN)).collect())
        })
        .collect()
}

/// Relative, or absolute where the logarithm is near 0.
fn assert_close(got: f64, want: f64, tolerance: f64, place: &str) {
    let error = (got - want).abs() / want.abs().max(1e-290);
    assert!(error <= tolerance, "{place}: {got:e} is not {want:e} ({error:.1e})");
}

#[test]
fn densities_and_both_tails_agree_with_400_digits() {
    let rows = rows(include_str!("data/dist_check_values.csv"));
    assert_eq!(rows.len(), 85);
    let mut worst: f64 = 0.0;
    for (law, v) in &rows {
        let (model, x) = (model(law, v), v[3]);
        let place = format!("{law} {:?} at {x}", &v[..3]);
        for (got, want, what) in [
            (model.ln_pdf(x), v[7], "ln pdf"),
            (model.ln_cdf(x), v[8], "ln cdf"),
            (model.ln_sf(x), v[9], "ln sf"),
        ] {
            // Below 1e-290 a logarithm is as good as 0 and the table's own digits run out.
            let error = (got - want).abs() / want.abs().max(1e-290);
            worst = worst.max(error);
            assert_close(got, want, 1e-10, &format!("{place}, {what}"));
        }
        for (got, want, what) in
            [(model.pdf(x), v[4], "pdf"), (model.cdf(x), v[5], "cdf"), (model.sf(x), v[6], "sf")]
        {
            if want > 1e-290 {
                assert_close(got, want, 1e-10, &format!("{place}, {what}"));
            }
        }
    }
    println!("worst relative error of a logarithm: {worst:.1e}");
}

/// The mean is the shift and ∫ sf above it; the variance is ∫ 2 (x − mean) sf from the mean on and the
/// same of the cdf below it. By the midpoint rule, whose error here is below 1e-7.
#[test]
fn means_and_spreads_are_the_integrals_of_the_tails() {
    for (law, p) in PERSONS {
        let model = model(law, &p);
        let (low, high, step) = (-0.5, 4.0, 1e-5);
        let mids = || (0..450_000).map(|i| low + (f64::from(i) + 0.5) * step);
        let mean = low + mids().map(|x| step * model.sf(x)).sum::<f64>();
        assert!((model.mean() - mean).abs() < 1e-7, "{law}: {} is not {mean}", model.mean());
        let tail = |x: f64| if x < mean { model.cdf(x) } else { model.sf(x) };
        let variance: f64 = mids().map(|x| 2.0 * step * (x - mean).abs() * tail(x)).sum();
        let sd = variance.sqrt();
        assert!((model.sd() - sd).abs() < 1e-7, "{law}: {} is not {sd}", model.sd());
        assert!(high > model.quantile(1.0 - 1e-12).unwrap(), "{law}: the tail is in it");
    }
}

#[test]
fn quantiles_agree_with_high_precision_values() {
    let rows = rows(include_str!("data/ppf_check_values.csv"));
    assert_eq!(rows.len(), 45);
    let mut worst: f64 = 0.0;
    for (law, v) in &rows {
        let got = model(law, v).quantile(v[3]).unwrap();
        // The double nearest to 0.999999 is itself 2e-17 off, which moves its quantile by 5e-12.
        let tolerance = if v[3] > 0.9999 { 1e-11 } else { 1e-13 };
        worst = worst.max((got / v[4] - 1.0).abs());
        assert_close(got, v[4], tolerance, &format!("{law} {:?} at {}", &v[..3], v[3]));
    }
    println!("worst relative error of a quantile: {worst:.1e}");
}

#[test]
fn draws_lie_below_every_quantile_as_often_as_it_says() {
    let mut random = lastamber::seed::generator(11);
    for (law, p) in PERSONS {
        let model = model(law, &p);
        let n = 20_000;
        let draws: Vec<f64> = (0..n).map(|_| model.sample(&mut random)).collect();
        for share in [0.05, 0.25, 0.5, 0.75, 0.95] {
            let line = model.quantile(share).unwrap();
            let below = draws.iter().filter(|x| **x < line).count() as f64 / f64::from(n);
            // Four standard errors.
            let most = 4.0 * (share * (1.0 - share) / f64::from(n)).sqrt();
            assert!((below - share).abs() < most, "{law}: {below} below the {share} quantile");
        }
    }
}
