//! The Mills ratio for a hundred thousand values at a time: the one special function of every inner
//! loop of the room.
//!
//! Owns a table of Taylor coefficients, built once, that gives m(y) to about 1e-14 without a call
//! of exp. Refuses its own ends: outside the table the plain function answers.

use super::special::{FRAC_1_SQRT_2PI, mills};
use std::sync::LazyLock;

/// The table covers this range of y …
const LOW: f64 = -6.0;
const HIGH: f64 = 40.0;
/// … with this many nodes a unit …
const DENSITY: f64 = 16.0;
/// … and this many coefficients a node: at |y − node| ≤ 1/32 and y ≥ −6 the first neglected term
/// is below (6/32)^10/10! = 1.5e-14 of m.
const TERMS: usize = 10;

static TABLE: LazyLock<MillsTable> = LazyLock::new(MillsTable::new);

/// The table.
pub(super) struct MillsTable(Vec<[f64; TERMS]>);

impl MillsTable {
    /// From m′ = y·m − 1 follows m⁽ᵏ⁺¹⁾ = y·m⁽ᵏ⁾ + k·m⁽ᵏ⁻¹⁾.
    fn new() -> Self {
        let nodes = ((HIGH - LOW) * DENSITY) as usize + 1;
        Self((0..nodes).map(|i| coefficients(LOW + i as f64 / DENSITY)).collect())
    }

    /// The one table of the program.
    pub(super) fn get() -> &'static Self {
        &TABLE
    }

    /// m(y).
    #[inline]
    pub(super) fn mills(&self, y: f64) -> f64 {
        if !(LOW..HIGH).contains(&y) {
            return mills(y);
        }
        let place = (y - LOW) * DENSITY;
        let node = (place + 0.5) as usize;
        let step = (place - node as f64) / DENSITY;
        let c = &self.0[node];
        // Two interleaved halves: shorter than one chain of multiplications.
        let square = step * step;
        let even = (((c[8] * square + c[6]) * square + c[4]) * square + c[2]) * square + c[0];
        let odd = (((c[9] * square + c[7]) * square + c[5]) * square + c[3]) * square + c[1];
        even + step * odd
    }

    /// Φ(−y) and the hazard 1/m(y) = φ(y)/Φ(−y) for y below −5, where m itself outgrows the doubles.
    #[inline]
    pub(super) fn far_left(&self, y: f64) -> (f64, f64) {
        let height = FRAC_1_SQRT_2PI * (-0.5 * y * y).exp();
        let below = 1.0 - height * self.mills(-y);
        (below, height / below)
    }
}

/// m⁽ᵏ⁾(y)/k!, k from 0.
fn coefficients(y: f64) -> [f64; TERMS] {
    let mut derivatives = [0.0; TERMS];
    derivatives[0] = mills(y);
    derivatives[1] = y * derivatives[0] - 1.0;
    for k in 1..TERMS - 1 {
        derivatives[k + 1] = y * derivatives[k] + k as f64 * derivatives[k - 1];
    }
    let mut factorial = 1.0;
    for (k, derivative) in derivatives.iter_mut().enumerate() {
        factorial *= k.max(1) as f64;
        *derivative /= factorial;
    }
    derivatives
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::special::{inverse_mills, normal_sf};

    #[test]
    fn the_table_says_what_the_function_says() {
        let table = MillsTable::get();
        for i in 0..9_500 {
            let y = -7.0 + f64::from(i) * 0.005_01;
            let relative = (table.mills(y) / mills(y) - 1.0).abs();
            assert!(relative < 1e-13, "at {y}: {relative:e}");
            if y < -5.0 {
                let (below, hazard) = table.far_left(y);
                assert!((below - normal_sf(y)).abs() < 1e-15);
                assert!((hazard / inverse_mills(y) - 1.0).abs() < 1e-13, "at {y}");
            }
        }
        assert_eq!(table.far_left(-60.0), (1.0, 0.0));
    }
}
