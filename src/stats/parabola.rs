//! A parabola through scattered points that one bad point does not bend, and where it is lowest.
//!
//! Owns the robust fit and the interval of its lowest place. Refuses places far outside the points,
//! and to call a line a parabola: a curve whose bend may as well be none has no lowest place.

use super::matrix::{Matrix, inverse};
use super::numeric::{checked_level, estimate, has_spread, mean, median, sd, t_factor};
use super::{Estimate, StatsError};

/// Where a residual begins to count less, in standard deviations: Huber's 1.345 keeps 95 % of the
/// efficiency at the normal law (Huber, Robust Statistics, 1981).
pub const HUBER_TUNING: f64 = 1.345;
/// Median absolute deviation of a standard normal law.
const MAD_OF_NORMAL: f64 = 0.674_489_750_196_081_7;
/// Values a parabola with two degrees of freedom left takes.
const NEED: usize = 5;
/// Rounds of reweighting; they settle in ten or so.
const MAX_ROUNDS: usize = 100;

/// y = a + b·x + c·x².
#[derive(Debug, Clone, PartialEq)]
pub struct Parabola {
    /// a, b, c in units of u = (x − centre)/scale.
    coefficients: [f64; 3],
    covariance: Matrix<3>,
    centre: f64,
    scale: f64,
    residual_sd: f64,
    n: usize,
}

impl Parabola {
    /// Fits by iteratively reweighted least squares with Huber's weights min(1, k·s/|r|), s the
    /// median absolute residual over .6745 in each round and k the `tuning` ([`HUBER_TUNING`]; an
    /// infinite one is plain least squares).
    ///
    /// Covariance: κ²·(Σψ²/(n − 3))/m²·(XᵀX)⁻¹ with ψ the residuals cut at ±k·s, m the share that is
    /// not cut and κ = 1 + (3/n)·(1 − m)/m (Huber 1981, section 7.6); with nothing cut it is that of
    /// least squares.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] for fewer than 5 points or lists of different length,
    /// [`StatsError::NotFinite`], [`StatsError::NoSpread`] for one x, [`StatsError::NoFit`] for fewer
    /// than three different x.
    pub fn fit(x: &[f64], y: &[f64], tuning: f64) -> Result<Self, StatsError> {
        let n = x.len().min(y.len());
        if n < NEED || x.len() != y.len() {
            return Err(StatsError::TooFew { have: n, need: NEED });
        }
        let odd = |(a, b): (&f64, &f64)| !a.is_finite() || !b.is_finite();
        if let Some(place) = x.iter().zip(y).position(odd) {
            return Err(StatsError::NotFinite { position: place + 1 });
        }
        if !has_spread(x) {
            return Err(StatsError::NoSpread);
        }
        let (centre, scale) = (mean(x), sd(x));
        let rows: Vec<[f64; 3]> =
            x.iter().map(|x| (x - centre) / scale).map(|u| [1.0, u, u * u]).collect();
        let mut weights = vec![1.0; n];
        let mut coefficients = solve(&rows, y, &weights)?;
        let mut cut = f64::INFINITY;
        for _ in 0..MAX_ROUNDS {
            let residuals = residuals(&rows, y, &coefficients);
            let sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
            cut = tuning * median(&sizes) / MAD_OF_NORMAL;
            if cut <= 0.0 || !cut.is_finite() {
                // More than half the points lie on the curve, or nothing is to be cut.
                break;
            }
            weights =
                sizes.iter().map(|size| if *size <= cut { 1.0 } else { cut / size }).collect();
            let before = coefficients;
            coefficients = solve(&rows, y, &weights)?;
            let moved = (0..3).map(|i| (coefficients[i] - before[i]).abs()).fold(0.0, f64::max);
            if moved <= 1e-12 * coefficients[0].abs().max(1e-12) {
                break;
            }
        }
        let (covariance, residual_sd) = covariance(&rows, y, &coefficients, cut)?;
        Ok(Self { coefficients, covariance, centre, scale, residual_sd, n })
    }

    /// a, b and c in the units of x.
    pub fn coefficients(&self) -> [f64; 3] {
        let [a, b, c] = self.coefficients;
        let (m, s) = (self.centre, self.scale);
        [a - b * m / s + c * m * m / (s * s), b / s - 2.0 * c * m / (s * s), c / (s * s)]
    }

    /// Standard errors of a, b and c in the units of x.
    pub fn standard_errors(&self) -> [f64; 3] {
        let (m, s) = (self.centre, self.scale);
        // Rows of the change from u to x.
        let change = [
            [1.0, -m / s, m * m / (s * s)],
            [0.0, 1.0 / s, -2.0 * m / (s * s)],
            [0.0, 0.0, 1.0 / (s * s)],
        ];
        change.map(|row| {
            let variance: f64 = (0..3)
                .flat_map(|i| (0..3).map(move |j| (i, j)))
                .map(|(i, j)| row[i] * self.covariance[i][j] * row[j])
                .sum();
            variance.max(0.0).sqrt()
        })
    }

    /// Spread of the points about the curve.
    pub const fn residual_sd(&self) -> f64 {
        self.residual_sd
    }

    /// The curve at `x`.
    pub fn at(&self, x: f64) -> f64 {
        let [a, b, c] = self.coefficients;
        let u = (x - self.centre) / self.scale;
        a + u * (b + c * u)
    }

    /// Where the curve is lowest, x = −b/2c, with the interval of Fieller's theorem ("Some problems in
    /// interval estimation", J. R. Statist. Soc. B 16, 1954, 175–185): all x for which
    /// (b + 2c·x)² ≤ t²·Var(b + 2c·x).
    ///
    /// # Errors
    /// [`StatsError::NoFit`] when the bend is not surely upwards at this level: then every x may be
    /// lowest, or none. [`StatsError::OutOfDomain`] for a level outside .5–.999.
    pub fn lowest(&self, level: f64) -> Result<Estimate, StatsError> {
        let level = checked_level(level)?;
        let t2 = t_factor(level, (self.n - 3) as f64).powi(2);
        let [_, b, c] = self.coefficients;
        let v = &self.covariance;
        let square = 4.0 * (c * c - t2 * v[2][2]);
        let linear = 4.0 * (b * c - t2 * v[1][2]);
        let constant = b * b - t2 * v[1][1];
        if c <= 0.0 || square <= 0.0 {
            return Err(StatsError::NoFit("the curve has no lowest place that is sure of itself"));
        }
        // Fieller's two ends are always real where the square's factor is above 0.
        let root = (linear * linear - 4.0 * square * constant).max(0.0).sqrt();
        let x = |u: f64| self.centre + self.scale * u;
        let ends = (x((-linear - root) / (2.0 * square)), x((-linear + root) / (2.0 * square)));
        estimate(x(-b / (2.0 * c)), ends, level, self.n)
    }
}

/// Weighted least squares.
fn solve(rows: &[[f64; 3]], y: &[f64], weights: &[f64]) -> Result<[f64; 3], StatsError> {
    let mut squares: Matrix<3> = [[0.0; 3]; 3];
    let mut right = [0.0; 3];
    for ((row, y), w) in rows.iter().zip(y).zip(weights) {
        for i in 0..3 {
            right[i] += w * row[i] * y;
            for j in 0..3 {
                squares[i][j] += w * row[i] * row[j];
            }
        }
    }
    let inverse = inverse(&squares).ok_or(StatsError::NoFit("a parabola takes three places"))?;
    Ok(std::array::from_fn(|i| (0..3).map(|j| inverse[i][j] * right[j]).sum()))
}

fn residuals(rows: &[[f64; 3]], y: &[f64], coefficients: &[f64; 3]) -> Vec<f64> {
    let on_curve =
        |row: &[f64; 3]| -> f64 { row.iter().zip(coefficients).map(|(x, b)| x * b).sum() };
    rows.iter().zip(y).map(|(row, y)| y - on_curve(row)).collect()
}

/// Huber's covariance and the spread it rests on.
fn covariance(
    rows: &[[f64; 3]],
    y: &[f64],
    coefficients: &[f64; 3],
    cut: f64,
) -> Result<(Matrix<3>, f64), StatsError> {
    let residuals = residuals(rows, y, coefficients);
    let n = residuals.len() as f64;
    let cut = if cut > 0.0 { cut } else { f64::INFINITY };
    let kept = residuals.iter().filter(|r| r.abs() <= cut).count() as f64 / n;
    let psi_squares: f64 = residuals.iter().map(|r| r.clamp(-cut, cut).powi(2)).sum();
    let kappa = 1.0 + 3.0 / n * (1.0 - kept) / kept.max(1.0 / n);
    let variance = kappa * kappa * psi_squares / (n - 3.0) / kept.max(1.0 / n).powi(2);
    let mut squares: Matrix<3> = [[0.0; 3]; 3];
    for row in rows {
        for i in 0..3 {
            for j in 0..3 {
                squares[i][j] += row[i] * row[j];
            }
        }
    }
    let inverse = inverse(&squares).ok_or(StatsError::NoFit("a parabola takes three places"))?;
    Ok((inverse.map(|row| row.map(|value| value * variance)), variance.sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;
    use rand_distr::{Distribution, Normal};

    #[test]
    fn plain_least_squares_gives_the_certified_values_of_pontius() {
        // NIST Statistical Reference Datasets, Pontius: a load cell, y = B0 + B1·x + B2·x².
        let table = include_str!("../../tests/data/nist_strd_pontius.csv");
        let rows = table.lines().skip(1).map(|line| line.split_once(',').unwrap());
        let (x, y): (Vec<f64>, Vec<f64>) =
            rows.map(|(x, y)| (x.parse::<f64>().unwrap(), y.parse::<f64>().unwrap())).unzip();
        let fit = Parabola::fit(&x, &y, f64::INFINITY).unwrap();
        let close = |got: f64, want: f64| assert!((got / want - 1.0).abs() < 1e-7, "{got} {want}");
        let certified = [0.673565789473684e-3, 0.732059160401003e-6, -0.316081871345029e-14];
        fit.coefficients().into_iter().zip(certified).for_each(|(got, want)| close(got, want));
        let errors = [0.107938612033077e-3, 0.157817399981659e-9, 0.486652849992036e-16];
        fit.standard_errors().into_iter().zip(errors).for_each(|(got, want)| close(got, want));
        close(fit.residual_sd(), 0.205177424076185e-3);
        // It bends downwards: no lowest place.
        assert!(matches!(fit.lowest(0.9), Err(StatsError::NoFit(_))));
    }

    #[test]
    fn points_on_a_parabola_are_found_exactly_and_one_bad_point_hardly_moves_it() {
        let x: Vec<f64> = (0..12).map(|i| 2400.0 + 100.0 * f64::from(i)).collect();
        let wiggle = |i: usize| 0.004 * (((i * 7) % 5) as f64 - 2.0);
        let curve = |x: f64| 2.0 + 0.15 * ((x - 3000.0) / 1000.0).powi(2);
        let mut y: Vec<f64> = x.iter().enumerate().map(|(i, x)| curve(*x) + wiggle(i)).collect();
        let exact: Vec<f64> = x.iter().map(|x| curve(*x)).collect();
        let fit = Parabola::fit(&x, &exact, HUBER_TUNING).unwrap();
        assert!((fit.lowest(0.9).unwrap().value - 3000.0).abs() < 1e-6);
        assert!((fit.at(3300.0) - curve(3300.0)).abs() < 1e-9);
        let before = Parabola::fit(&x, &y, HUBER_TUNING).unwrap().at(2400.0);
        y[0] += 0.5;
        let robust = Parabola::fit(&x, &y, HUBER_TUNING).unwrap().at(2400.0);
        let plain = Parabola::fit(&x, &y, f64::INFINITY).unwrap().at(2400.0);
        assert!(
            (robust - before).abs() < 0.1 * (plain - before).abs(),
            "{before} {robust} {plain}"
        );
    }

    #[test]
    fn nine_intervals_of_ten_hold_the_lowest_place() {
        let mut random = generator(8);
        let noise = Normal::new(0.0, 0.012).unwrap();
        let (mut held, mut found) = (0, 0);
        for _ in 0..2000 {
            let x: Vec<f64> = (0..15).map(|i| 2400.0 + 300.0 * f64::from(i % 5)).collect();
            let y: Vec<f64> = x
                .iter()
                .map(|x| 2.0 + 0.12 * ((x - 2900.0) / 500.0).powi(2) + noise.sample(&mut random))
                .collect();
            if let Ok(lowest) = Parabola::fit(&x, &y, HUBER_TUNING).unwrap().lowest(0.9) {
                found += 1;
                held += usize::from((lowest.low..=lowest.high).contains(&2900.0));
            }
        }
        let share = held as f64 / f64::from(found);
        assert!(found > 1900 && (0.87..=0.93).contains(&share), "{held} of {found}");
    }

    #[test]
    fn a_bend_that_may_be_none_has_no_lowest_place() {
        let x: Vec<f64> = (0..12).map(|i| f64::from(i % 4)).collect();
        let y: Vec<f64> = x.iter().enumerate().map(|(i, x)| x + ((i * 5) % 7) as f64).collect();
        assert!(matches!(
            Parabola::fit(&x, &y, HUBER_TUNING).unwrap().lowest(0.9),
            Err(StatsError::NoFit(_))
        ));
    }

    #[test]
    fn what_is_no_set_of_points_is_refused() {
        let five = [1.0, 2.0, 3.0, 4.0, 5.0];
        let fit = |x: &[f64], y: &[f64]| Parabola::fit(x, y, HUBER_TUNING).unwrap_err();
        assert_eq!(fit(&five[..4], &five[..4]), StatsError::TooFew { have: 4, need: 5 });
        assert_eq!(fit(&[2.0; 5], &five), StatsError::NoSpread);
        assert_eq!(
            fit(&five, &[1.0, f64::NAN, 1.0, 1.0, 1.0]),
            StatsError::NotFinite { position: 2 }
        );
        assert!(matches!(fit(&[1.0, 1.0, 1.0, 2.0, 2.0], &five), StatsError::NoFit(_)));
    }

    /// Twelve points about a parabola, the first far off.
    fn with_one_bad_point() -> (Vec<f64>, Vec<f64>) {
        let x: Vec<f64> = (0..12).map(f64::from).collect();
        let bend = |x: f64| 1.0 + 0.2 * (x - 6.0).powi(2);
        let mut y: Vec<f64> = x
            .iter()
            .enumerate()
            .map(|(i, x)| bend(*x) + 0.3 * ((i * 7 % 5) as f64 - 2.0))
            .collect();
        y[0] += 9.0;
        (x, y)
    }

    #[test]
    fn both_ends_of_the_lowest_place_are_as_many_errors_off_as_students_table_says() {
        // At either end (b + 2c·x)² = t²·Var(b + 2c·x); t for 9 degrees of freedom, 90 %: 1.833113.
        let (x, y) = with_one_bad_point();
        let fit = Parabola::fit(&x, &y, HUBER_TUNING).unwrap();
        let lowest = fit.lowest(0.9).unwrap();
        let [_, b, c] = fit.coefficients;
        for end in [lowest.low, lowest.high] {
            let u = (end - fit.centre) / fit.scale;
            let v = &fit.covariance;
            let variance = v[1][1] + 4.0 * u * v[1][2] + 4.0 * u * u * v[2][2];
            let errors = (b + 2.0 * c * u).abs() / variance.sqrt();
            assert!((errors - 1.833_113).abs() < 1e-6, "{errors}");
        }
        assert!(lowest.low < lowest.value && lowest.value < lowest.high);
    }

    #[test]
    fn a_point_that_is_cut_widens_the_spread_by_hubers_factor() {
        // One of twelve cut: m = 11/12, κ = 1 + (3/12)·(1/12)/(11/12) = 1 + 3/132.
        let (x, y) = with_one_bad_point();
        let fit = Parabola::fit(&x, &y, HUBER_TUNING).unwrap();
        let off: Vec<f64> = x.iter().zip(&y).map(|(x, y)| (y - fit.at(*x)).abs()).collect();
        let cut = 1.345 * median(&off) / 0.674_489_75;
        assert_eq!(off.iter().filter(|off| **off > cut).count(), 1, "{off:?}");
        let squares: f64 = off.iter().map(|off| off.min(cut).powi(2)).sum();
        let spread = (135.0 / 132.0) * (squares / 9.0).sqrt() * 12.0 / 11.0;
        assert!((fit.residual_sd() / spread - 1.0).abs() < 1e-6, "{} {spread}", fit.residual_sd());
    }
}
