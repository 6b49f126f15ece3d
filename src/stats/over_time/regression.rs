//! Least squares within sessions, with errors that allow for unequal spread.
//!
//! Owns the fit that the questions about sessions and holds share. Refuses meaning: callers name
//! the columns.

use crate::stats::StatsError;
use crate::stats::numeric::{mean, solve};
use std::array;

/// One session: its values, and a row of regressors for each.
pub(super) struct Group<const K: usize> {
    pub(super) y: Vec<f64>,
    pub(super) x: Vec<[f64; K]>,
}

/// Coefficients of the regressors, the sessions' own levels taken out.
pub(super) struct Fit<const K: usize> {
    pub(super) coefficients: [f64; K],
    /// Their standard errors: the HC3 estimate, (XᵀX)⁻¹ Xᵀ diag(e²/(1 − h)²) X (XᵀX)⁻¹.
    pub(super) errors: [f64; K],
    /// Residuals e/√(1 − h), whose spread is that of the errors; by session, in order.
    pub(super) residuals: Vec<Vec<f64>>,
    /// Values less sessions less regressors.
    pub(super) freedom: f64,
}

/// y = level of the session + Σ bₖ xₖ + error, by ordinary least squares.
pub(super) fn fit<const K: usize>(groups: &[Group<K>]) -> Result<Fit<K>, StatsError> {
    let n: usize = groups.iter().map(|g| g.y.len()).sum();
    let need = groups.len() + K + 5;
    if n < need {
        return Err(StatsError::TooFew { have: n, need });
    }
    let centred: Vec<Group<K>> = groups.iter().map(without_level).collect();
    let rows = || centred.iter().flat_map(|g| g.x.iter().zip(&g.y));
    let mut squares = [[0.0; K]; K];
    let mut right = [0.0; K];
    for (x, y) in rows() {
        for i in 0..K {
            right[i] += x[i] * y;
            for j in 0..K {
                squares[i][j] += x[i] * x[j];
            }
        }
    }
    let inverse = inverse(&squares)?;
    let dot = |a: &[f64; K], b: &[f64; K]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
    let times = |v: &[f64; K]| -> [f64; K] { inverse.map(|row| dot(&row, v)) };
    let coefficients = times(&right);
    let mut variances = [0.0; K];
    let mut residuals = Vec::with_capacity(centred.len());
    for group in &centred {
        let own = 1.0 / group.y.len() as f64;
        let residual = |(x, y): (&[f64; K], &f64)| {
            let pull = times(x);
            // A value that decides its own prediction says nothing of the error.
            let free = (1.0 - own - dot(x, &pull)).max(1e-6);
            let error = y - dot(x, &coefficients);
            for (variance, p) in variances.iter_mut().zip(&pull) {
                *variance += (p * error / free).powi(2);
            }
            error / free.sqrt()
        };
        residuals.push(group.x.iter().zip(&group.y).map(residual).collect());
    }
    let errors = variances.map(f64::sqrt);
    let freedom = (n - groups.len() - K) as f64;
    Ok(Fit { coefficients, errors, residuals, freedom })
}

/// The session with its own means taken off values and regressors.
fn without_level<const K: usize>(group: &Group<K>) -> Group<K> {
    let level = mean(&group.y);
    let mean_of = |k: usize| mean(&group.x.iter().map(|row| row[k]).collect::<Vec<f64>>());
    let means: [f64; K] = array::from_fn(mean_of);
    let centred = |row: &[f64; K]| array::from_fn(|k| row[k] - means[k]);
    Group {
        y: group.y.iter().map(|y| y - level).collect(),
        x: group.x.iter().map(centred).collect(),
    }
}

/// Inverse of a matrix of squares, if no column is (all but) a sum of others.
fn inverse<const K: usize>(squares: &[[f64; K]; K]) -> Result<[[f64; K]; K], StatsError> {
    let mut inverse = [[0.0; K]; K];
    for (k, column) in inverse.iter_mut().enumerate() {
        let mut unit = vec![0.0; K];
        unit[k] = 1.0;
        let found = solve(squares.iter().map(|row| row.to_vec()).collect(), unit);
        // Squares times inverse is the share of a column the others cannot explain, inverted.
        let found = found.filter(|found| found[k] > 0.0 && squares[k][k] * found[k] < 1e10);
        let none = StatsError::NoFit("too little variation to tell the effects apart");
        column.copy_from_slice(&found.ok_or(none)?);
    }
    Ok(inverse)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_without_errors_is_found_whatever_the_sessions_levels() {
        let group = |level: f64, xs: &[f64]| Group {
            y: xs.iter().map(|x| level + 3.0 * x).collect(),
            x: xs.iter().map(|x| [*x]).collect(),
        };
        let found = fit(&[group(5.0, &[1.0, 2.0, 4.0, 7.0]), group(-9.0, &[0.0, 1.0, 3.0, 9.0])]);
        let found = found.unwrap();
        assert!((found.coefficients[0] - 3.0).abs() < 1e-12 && found.errors[0] < 1e-12);
        assert!((found.freedom - 5.0).abs() < 1e-12);
    }

    #[test]
    fn hc3_errors_are_those_worked_by_hand() {
        // x = −1, 0, 1 thrice, y chosen: b = Σxy/Σx² = .5; h = 1/9 + x²/6.
        let x = [-1.0, 0.0, 1.0, -1.0, 0.0, 1.0, -1.0, 0.0, 1.0];
        let y = [0.0, 0.0, 0.0, -1.0, 1.0, 1.0, 0.0, -1.0, 1.0];
        let group = Group { y: y.to_vec(), x: x.iter().map(|x| [*x]).collect() };
        let found = fit(&[group]).unwrap();
        let level = 1.0 / 9.0;
        let by_hand: f64 = x
            .iter()
            .zip(&y)
            .map(|(x, y)| {
                let e = y - level - 0.5 * x;
                (x / 6.0 * e / (1.0 - 1.0 / 9.0 - x * x / 6.0)).powi(2)
            })
            .sum();
        assert!((found.coefficients[0] - 0.5).abs() < 1e-12);
        assert!((found.errors[0] - by_hand.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_constant_column_is_refused() {
        let group = Group { y: vec![1.0, 2.0, 4.0, 3.0, 5.0, 7.0, 1.0], x: vec![[2.0]; 7] };
        assert!(matches!(fit(&[group]), Err(StatsError::NoFit(_))));
    }
}
