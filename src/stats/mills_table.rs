//! The Mills ratio for a hundred thousand values at a time: the one special function of every inner
//! loop of the room.
//!
//! Owns a table of Taylor coefficients, built once, that gives m(y) without a call of exp: to about
//! 1e-14 for fits, to 1e-8 at half the cost for draws. Refuses its own ends: outside the table the
//! plain function answers.

use super::special::{FRAC_1_SQRT_2PI, mills};
use std::sync::LazyLock;

/// The table covers this range of y …
const LOW: f64 = -5.0;
const HIGH: f64 = 58.0;
/// … with this many nodes a unit …
const DENSITY: f64 = 32.0;
/// … and this many coefficients a node, one line of a processor's cache: at |y − node| ≤ 1/64 and
/// y ≥ −5 the first neglected term is below (5/64)^8/8! = 3.4e-14 of m.
const TERMS: usize = 8;
/// A whole number of bits, so that no index has to be checked.
const ROOM: usize = 2048;

static TABLE: LazyLock<MillsTable> = LazyLock::new(MillsTable::new);

/// The table.
pub(super) struct MillsTable(Box<[Line; ROOM]>);

/// m⁽ᵏ⁾(y)/k! at a node, k from 0.
#[derive(Clone, Copy)]
#[repr(align(64))]
struct Line([f64; TERMS]);

impl MillsTable {
    fn new() -> Self {
        let mut lines = Box::new([Line([0.0; TERMS]); ROOM]);
        for (i, line) in lines.iter_mut().enumerate() {
            *line = Line::at(LOW + i as f64 / DENSITY);
        }
        Self(lines)
    }

    /// The one table of the program.
    pub(super) fn get() -> &'static Self {
        &TABLE
    }

    /// m(y).
    #[inline(always)]
    pub(super) fn mills(&self, y: f64) -> f64 {
        if !(LOW..HIGH).contains(&y) {
            return mills(y);
        }
        let (number, step) = Self::place(y);
        let c = self.line(number);
        // Two interleaved halves: shorter than one chain of multiplications.
        let square = step * step;
        let even = ((c[6] * square + c[4]) * square + c[2]) * square + c[0];
        let odd = ((c[7] * square + c[5]) * square + c[3]) * square + c[1];
        even + step * odd
    }

    /// m at several y at once: to 4e-8 at y = −5, to 1e-10 from 0 on; nonsense where
    /// [`MillsTable::covers`] does not hold.
    #[inline(always)]
    pub(super) fn quick<const N: usize>(&self, y: &[f64; N]) -> [f64; N] {
        // Two loops, because the first has no look-up and does several values in one instruction.
        let (mut numbers, mut steps) = ([0; N], [0.0; N]);
        for j in 0..N {
            (numbers[j], steps[j]) = Self::place(y[j]);
        }
        std::array::from_fn(|j| {
            let (c, t) = (self.line(numbers[j]), steps[j]);
            c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * c[4])))
        })
    }

    /// Whether the table holds y.
    #[inline(always)]
    pub(super) fn covers(y: f64) -> bool {
        (LOW..HIGH).contains(&y)
    }

    /// The number of the node nearest to `y`, in the lowest bits, and how far `y` lies from it.
    #[inline(always)]
    fn place(y: f64) -> (u64, f64) {
        // Adding 1.5 · 2⁵² leaves the nearest whole number in the lowest bits.
        const ROUND: f64 = 6_755_399_441_055_744.0;
        let place = (y - LOW) * DENSITY;
        let shifted = place + ROUND;
        (shifted.to_bits(), (place - (shifted - ROUND)) * (1.0 / DENSITY))
    }

    #[inline(always)]
    fn line(&self, number: u64) -> &[f64; TERMS] {
        &self.0[number as usize & (ROOM - 1)].0
    }

    /// Φ(−y) and the hazard 1/m(y) = φ(y)/Φ(−y) for y below −5, where m itself outgrows the doubles.
    #[inline]
    pub(super) fn far_left(&self, y: f64) -> (f64, f64) {
        let height = FRAC_1_SQRT_2PI * (-0.5 * y * y).exp();
        let below = 1.0 - height * self.mills(-y);
        (below, height / below)
    }
}

impl Line {
    /// From m′ = y·m − 1 follows m⁽ᵏ⁺¹⁾ = y·m⁽ᵏ⁾ + k·m⁽ᵏ⁻¹⁾.
    fn at(y: f64) -> Self {
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
        Self(derivatives)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::special::{inverse_mills, normal_sf};

    #[test]
    fn the_table_says_what_the_function_says() {
        let table = MillsTable::get();
        for i in 0..13_500 {
            let y = -7.0 + f64::from(i) * 0.005_01;
            let relative = (table.mills(y) / mills(y) - 1.0).abs();
            assert!(relative < 1e-13, "at {y}: {relative:e}");
            if y < -5.0 {
                let (below, hazard) = table.far_left(y);
                assert!((below - normal_sf(y)).abs() < 1e-15);
                assert!((hazard / inverse_mills(y) - 1.0).abs() < 1e-13, "at {y}");
            } else if MillsTable::covers(y) {
                let relative = (table.quick(&[y])[0] / mills(y) - 1.0).abs();
                assert!(relative < if y < 0.0 { 4e-8 } else { 1e-10 }, "at {y}: {relative:e}");
            }
        }
        assert_eq!(table.far_left(-60.0), (1.0, 0.0));
    }
}
