//! Symmetric 3 × 3 matrices: the linear algebra of a three-parameter fit.
//!
//! Owns Cholesky solving and inverting. Refuses matrices that are not positive definite.

/// A symmetric matrix as (00, 01, 02, 11, 12, 22).
pub(super) type Symmetric = [f64; 6];

/// Lower Cholesky factor, if the matrix is positive definite.
fn cholesky(a: &Symmetric) -> Option<[f64; 6]> {
    let root = |x: f64| (x > 0.0 && x.is_finite()).then(|| x.sqrt());
    let l00 = root(a[0])?;
    let (l10, l20) = (a[1] / l00, a[2] / l00);
    let l11 = root(a[3] - l10 * l10)?;
    let l21 = (a[4] - l20 * l10) / l11;
    let l22 = root(a[5] - l20 * l20 - l21 * l21)?;
    Some([l00, l10, l20, l11, l21, l22])
}

/// The solution of a·x = b, if the matrix is positive definite.
pub(super) fn solve(a: &Symmetric, b: [f64; 3]) -> Option<[f64; 3]> {
    let [l00, l10, l20, l11, l21, l22] = cholesky(a)?;
    let y0 = b[0] / l00;
    let y1 = (b[1] - l10 * y0) / l11;
    let y2 = (b[2] - l20 * y0 - l21 * y1) / l22;
    let x2 = y2 / l22;
    let x1 = (y1 - l21 * x2) / l11;
    let x0 = (y0 - l10 * x1 - l20 * x2) / l00;
    Some([x0, x1, x2])
}

/// Square roots of the diagonal of the inverse: standard errors, if `a` is an information matrix.
pub(super) fn standard_errors(a: &Symmetric) -> Option<Vec<f64>> {
    // Scaled to a unit diagonal first, so that a near-singular corner is judged by its correlation.
    let d = [a[0].sqrt(), a[3].sqrt(), a[5].sqrt()];
    let scaled = [1.0, a[1] / (d[0] * d[1]), a[2] / (d[0] * d[2]), 1.0, a[4] / (d[1] * d[2]), 1.0];
    let mut errors = Vec::with_capacity(3);
    for i in 0..3 {
        let mut unit = [0.0; 3];
        unit[i] = 1.0;
        let variance = solve(&scaled, unit)?[i];
        if !(variance.is_finite() && variance > 0.0) {
            return None;
        }
        errors.push(variance.sqrt() / d[i]);
    }
    Some(errors)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_positive_definite_system_is_solved() {
        let a = [4.0, 1.0, 0.5, 3.0, -0.5, 2.0];
        let x = solve(&a, [4.0 + 2.0 + 1.5, 1.0 + 6.0 - 1.5, 0.5 - 1.0 + 6.0]).unwrap();
        for (got, want) in x.iter().zip([1.0, 2.0, 3.0]) {
            assert!((got - want).abs() < 1e-14);
        }
    }

    #[test]
    fn an_indefinite_matrix_is_refused() {
        assert!(solve(&[1.0, 2.0, 0.0, 1.0, 0.0, 1.0], [1.0; 3]).is_none());
        assert!(standard_errors(&[1.0, 1.0, 0.0, 1.0, 0.0, 1.0]).is_none());
    }

    #[test]
    fn standard_errors_are_roots_of_the_inverse_diagonal() {
        let errors = standard_errors(&[4.0, 0.0, 0.0, 25.0, 0.0, 0.01]).unwrap();
        for (got, want) in errors.iter().zip([0.5, 0.2, 10.0]) {
            assert!((got - want).abs() < 1e-14);
        }
    }
}
