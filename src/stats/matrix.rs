//! Small symmetric matrices of any one size.
//!
//! Owns Cholesky's factor and the inverse that follows from it. Refuses matrices that are not
//! positive definite.

/// A square matrix by rows.
pub(super) type Matrix<const D: usize> = [[f64; D]; D];

/// Lower triangle L with L Lᵀ = `m`, if `m` is positive definite.
pub(super) fn cholesky<const D: usize>(m: &Matrix<D>) -> Option<Matrix<D>> {
    let mut l = [[0.0; D]; D];
    for i in 0..D {
        for j in 0..=i {
            let rest = m[i][j] - (0..j).map(|k| l[i][k] * l[j][k]).sum::<f64>();
            if i == j {
                if !(rest > 1e-12 * m[i][i].abs() && rest.is_finite()) {
                    return None;
                }
                l[i][i] = rest.sqrt();
            } else {
                l[i][j] = rest / l[j][j];
            }
        }
    }
    Some(l)
}

/// The inverse of `m`, if it is positive definite.
pub(super) fn inverse<const D: usize>(m: &Matrix<D>) -> Option<Matrix<D>> {
    let l = cholesky(m)?;
    // Rows of the inverse triangle, one column at a time by forward substitution.
    let mut back = [[0.0; D]; D];
    for (i, row) in l.iter().enumerate() {
        back[i] = std::array::from_fn(|j| {
            let unit = if i == j { 1.0 } else { 0.0 };
            let rest: f64 = (0..i).map(|k| row[k] * back[k][j]).sum();
            (unit - rest) / row[i]
        });
    }
    let product = |i: usize, j: usize| (0..D).map(|k| back[k][i] * back[k][j]).sum();
    Some(std::array::from_fn(|i| std::array::from_fn(|j| product(i, j))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_matrix_times_its_inverse_is_one() {
        let m = [
            [2.0, 0.0, 0.0, 0.0],
            [0.0, 6.0, -2.0, 0.0],
            [0.0, -2.0, 2.0, 0.0],
            [0.0, 0.0, 0.0, 1.0],
        ];
        let back = inverse(&m).unwrap();
        for (i, row) in m.iter().enumerate() {
            for j in 0..4 {
                let unit: f64 = row.iter().zip(&back).map(|(m, back)| m * back[j]).sum();
                assert!((unit - f64::from(u8::from(i == j))).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn an_indefinite_matrix_is_refused() {
        assert!(cholesky(&[[-1.0]]).is_none());
        assert!(inverse(&[[1.0, 2.0], [2.0, 1.0]]).is_none());
    }
}
