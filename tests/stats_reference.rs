//! Fits against published and independently computed values.
//!
//! Unless said otherwise the wanted numbers were found by two programs, Python (stable likelihood,
//! Nelder–Mead restarts; mpmath for the 20 values) and R 4.2.2 `optim` with guards, agreeing to six
//! digits of the likelihood and about five of the parameters: the optimum is flat. Times in ms.

use lastamber::stats::Sample;
use lastamber::stats::family::Family;
use lastamber::stats::fit::{Fit, Status, fit};

/// C. S. Peirce's simple reactions of 1872 (Report of the U.S. Coast Survey for 1870).
fn peirce(first: u32, last: u32) -> Sample {
    let mut values = Vec::new();
    for line in include_str!("data/peirce1872.csv").lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        if (first..=last).contains(&cells[0].parse().unwrap()) {
            let value: f64 = cells[2].parse().unwrap();
            values.extend(std::iter::repeat_n(value, cells[3].parse().unwrap()));
        }
    }
    Sample::new(values).unwrap()
}

fn mixture() -> Sample {
    let text = include_str!("data/synthetic_mixture_240.csv");
    let values = text.lines().skip(1).map(|line| line.split(',').nth(1).unwrap().parse().unwrap());
    Sample::new(values.collect()).unwrap()
}

fn twenty() -> Sample {
    let text = include_str!("data/rt20_example.csv");
    Sample::new(text.lines().map(|line| line.parse().unwrap()).collect()).unwrap()
}

/// The fit is interior, its likelihood is `nll` to `exact`, its parameters are to `relative`.
fn assert_fit(fit: &Fit, wanted: &[f64], nll: f64, exact: f64, relative: f64) {
    let place = format!("{} of {}", fit.family, fit.n);
    assert_eq!(fit.status, Status::Interior, "{place}");
    let got = -fit.log_likelihood.unwrap();
    assert!((got - nll).abs() < exact, "{place}: {got} is not {nll}");
    for (got, want) in fit.parameters.iter().zip(wanted) {
        let got = got.unwrap();
        assert!((got - want).abs() <= relative * want.abs(), "{place}: {got} is not {want}");
    }
}

#[test]
fn peirce_and_the_mixture_give_the_reference_fits_of_all_laws() {
    use Family::{ExGaussian, Normal, ShiftedLognormal, ShiftedWald};
    let table: [(Sample, usize, [(Family, &[f64], f64); 4]); 5] = [
        (
            peirce(1, 1),
            495,
            [
                (Normal, &[475.64242, 92.059793], 2940.981527),
                (ExGaussian, &[413.14573, 65.83635, 62.49669], 2919.652612),
                (ShiftedLognormal, &[-155.60779, 6.4374304, 0.1428511], 2925.656148),
                (ShiftedWald, &[-186.8189, 662.4613, 35394.2], 2926.314448),
            ],
        ),
        (
            peirce(2, 2),
            490,
            [
                (Normal, &[241.53265, 46.882397], 2580.624595),
                (ExGaussian, &[210.56002, 35.35831, 30.97264], 2571.212290),
                (ShiftedLognormal, &[-235.1206, 6.162003, 0.0977545], 2575.266555),
                (ShiftedWald, &[-252.42, 493.95, 55263.0], 2575.431793),
            ],
        ),
        (
            peirce(10, 10),
            498,
            [
                (Normal, &[215.45382, 28.175990], 2369.189550),
                (ExGaussian, &[201.86399, 23.98436, 13.58983], 2357.385690),
                (ShiftedLognormal, &[-407.78, 6.43391, 0.0450021], 2366.397649),
                (ShiftedWald, &[-447.6, 663.05, 370065.0], 2366.569219),
            ],
        ),
        (
            peirce(19, 24),
            2990,
            [
                (Normal, &[251.57391, 35.287606], 14897.586251),
                (ExGaussian, &[233.59538, 21.00388, 17.97853], 14129.290670),
                (ShiftedLognormal, &[5.5966, 5.497313, 0.1220046], 14389.539412),
                (ShiftedWald, &[-11.12, 262.69, 19508.0], 14428.647632),
            ],
        ),
        (
            mixture(),
            240,
            [
                (Normal, &[79.175, 69.207045], 1357.449888),
                (ExGaussian, &[1.929625, 14.318404, 77.245377], 1322.082441),
                (ShiftedLognormal, &[-41.889, 4.624233, 0.600838], 1328.098237),
                (ShiftedWald, &[-47.797, 126.972, 349.92], 1326.216717),
            ],
        ),
    ];
    for (sample, n, laws) in table {
        assert_eq!(sample.n(), n);
        for (family, parameters, nll) in laws {
            assert_fit(&fit(family, &sample).unwrap(), parameters, nll, 2e-6, 1e-3);
        }
    }
}

#[test]
fn a_day_near_the_normal_limit_keeps_its_likelihood() {
    // Day 24: thresholds near −4230 and −4535 ms, where only the likelihood is well defined.
    let day = peirce(24, 24);
    let fitted = fit(Family::ExGaussian, &day).unwrap();
    assert_fit(&fitted, &[231.9192, 20.2300, 11.4410], 2268.770864, 2e-6, 1e-3);
    let fitted = fit(Family::ShiftedLognormal, &day).unwrap();
    assert_fit(&fitted, &[-4230.0], 2276.232684, 2e-6, 2e-2);
    let fitted = fit(Family::ShiftedWald, &day).unwrap();
    assert_fit(&fitted, &[-4535.0], 2276.235345, 2e-6, 2e-2);
}

#[test]
fn twenty_values_agree_with_mpmath() {
    // mpmath, 40 digits: ln sigma 2.70518554447, ln tau 2.49737943437.
    let wanted = [32.03938927, 2.70518554447f64.exp(), 2.49737943437f64.exp()];
    assert_fit(&fit(Family::ExGaussian, &twenty()).unwrap(), &wanted, 87.1253884, 5e-8, 1e-8);
    assert_fit(&fit(Family::Normal, &twenty()).unwrap(), &[44.19], 87.1841536, 5e-8, 1e-12);
}

#[test]
fn standard_errors_agree_with_the_curvature_of_the_likelihood() {
    use lastamber::stats::family::{Distribution, ExGaussian, ShiftedLognormal, ShiftedWald};
    let sample = peirce(1, 1);
    for family in [Family::ExGaussian, Family::ShiftedLognormal, Family::ShiftedWald] {
        let fitted = fit(family, &sample).unwrap();
        let p: Vec<f64> = fitted.parameters.iter().map(|p| p.unwrap()).collect();
        let errors = fitted.standard_errors.unwrap();
        let height = |p: &[f64]| -> f64 {
            let law: Box<dyn Distribution> = match family {
                Family::ExGaussian => Box::new(ExGaussian::new(p[0], p[1], p[2]).unwrap()),
                Family::ShiftedWald => Box::new(ShiftedWald::new(p[0], p[1], p[2]).unwrap()),
                _ => Box::new(ShiftedLognormal::new(p[0], p[1], p[2]).unwrap()),
            };
            sample.values().iter().map(|x| law.ln_pdf(*x)).sum()
        };
        let mut information = [[0.0; 3]; 3];
        for i in 0..3 {
            for j in 0..3 {
                let step = |a: f64, b: f64| {
                    let mut q = p.clone();
                    q[i] += a * 0.002 * errors[i];
                    q[j] += b * 0.002 * errors[j];
                    height(&q)
                };
                let mixed = step(1.0, 1.0) - step(1.0, -1.0) - step(-1.0, 1.0) + step(-1.0, -1.0);
                // In units of the standard errors, so that the inverse's diagonal must be 1.
                information[i][j] = -mixed / (4.0 * 0.002 * 0.002);
            }
        }
        let m = information;
        let minor = |a: usize, b: usize| m[a][a] * m[b][b] - m[a][b] * m[b][a];
        let determinant = m[0][0] * minor(1, 2) - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
            + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0]);
        for (a, b) in [(1, 2), (0, 2), (0, 1)] {
            let variance = minor(a, b) / determinant;
            assert!((variance - 1.0).abs() < 0.02, "{family}: {variance}");
        }
    }
}

#[test]
fn a_sample_without_skew_is_normal() {
    let values: Vec<f64> = (-20..=20).map(f64::from).collect();
    let sample = Sample::new(values).unwrap();
    let normal = fit(Family::Normal, &sample).unwrap();
    for family in [Family::ExGaussian, Family::ShiftedLognormal, Family::ShiftedWald] {
        let fitted = fit(family, &sample).unwrap();
        assert_eq!(fitted.status, Status::Boundary, "{family}");
        assert_eq!(fitted.model, normal.model, "{family}");
        assert_eq!(fitted.log_likelihood, normal.log_likelihood, "{family}");
    }
}

#[test]
fn a_fit_in_seconds_told_in_milliseconds_is_the_fit_of_milliseconds() {
    let here = peirce(1, 1);
    let ms = Sample::new(here.values().iter().map(|x| 1000.0 * x).collect()).unwrap();
    let close = |a: f64, b: f64| (a - b).abs() <= 1e-5 * b.abs().max(1e-3);
    for family in Family::ALL {
        let (told, direct) =
            (fit(family, &here).unwrap().scaled(1000.0).unwrap(), fit(family, &ms).unwrap());
        assert_eq!((told.status, told.n), (direct.status, direct.n), "{family}");
        for (a, b) in told.parameters.iter().zip(&direct.parameters) {
            let same = a.zip(*b).map_or(a == b, |(a, b)| close(a, b));
            assert!(same, "{family}: {:?} {:?}", told.parameters, direct.parameters);
        }
        let errors = told.standard_errors.iter().flatten();
        for (a, b) in errors.zip(direct.standard_errors.iter().flatten()) {
            assert!(close(*a, *b), "{family}: a standard error of {a} is not {b}");
        }
        assert!(close(told.log_likelihood.unwrap(), direct.log_likelihood.unwrap()), "{family}");
    }
}
