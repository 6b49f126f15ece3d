//! The launches themselves on a grid, smeared a little.
//!
//! Owns the kernel, and that many launches cost no more than some. Refuses laws: what a driver might do as
//! well is the draws' part.

use super::grid::{REACH_S, Row};
use crate::stats::special::normal_cdf;
use crate::strategy::lights::Lights;

/// A launch is smeared by this share of Silverman's bandwidth. Chosen.
const SMEAR: f64 = 0.6;
/// How far a kernel reaches, in its widths.
const KERNEL_REACH: f64 = 5.0;
/// More launches than this are counted in bins before they are smeared. Chosen: below, each by itself is
/// as quick.
const EACH_BY_ITSELF: usize = 4_000;
/// Bins to a kernel's width. Chosen: shared between the two bins beside it a launch moves a smeared share
/// by at most max |φ′| / (8 · 64²) = 7·10⁻⁶, to either side, so that what is left of it over many
/// launches is below the grid's own 10⁻⁵.
const BINS_PER_WIDTH: f64 = 64.0;

/// The launches, each smeared by a normal kernel and drawn together so that the spread stays as it
/// is (Silverman & Young 1987), then scattered as the car scatters.
pub(super) fn launched(lights: &Lights, step: f64) -> Row {
    let middle = lights.middle();
    let near = |x: &f64| x.clamp(middle - REACH_S, middle + REACH_S);
    let x: Vec<f64> = lights.launched.iter().map(near).collect();
    let n = x.len() as f64;
    let mean = x.iter().sum::<f64>() / n;
    let sd = (x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt();
    let quartiles = (x[x.len() * 3 / 4] - x[x.len() / 4]) / 1.34;
    let narrow = if quartiles > 0.0 { sd.min(quartiles) } else { sd };
    let kernel = (SMEAR * 0.9 * narrow * n.powf(-0.2)).min(0.5 * sd);
    let shrink = if sd > 0.0 { (1.0 - (kernel / sd).powi(2)).sqrt() } else { 1.0 };
    let width = kernel.hypot(lights.run_sd).max(0.25 * step);
    let places: Vec<f64> = x.into_iter().map(|v| mean + shrink * (v - mean)).collect();
    if places.len() > EACH_BY_ITSELF {
        smeared_in_bins(&places, width, step)
    } else {
        smeared(&places, width, step)
    }
}

/// Sorted places smeared one by one.
fn smeared(places: &[f64], width: f64, step: f64) -> Row {
    let (first, mut cells) = empty(places, width, step);
    let n = places.len() as f32;
    for place in places {
        let row = kernel(*place, width, step);
        let from = (row.first - first) as usize;
        for (sum, share) in cells[from..].iter_mut().zip(&row.cells) {
            *sum += share / n;
        }
    }
    Row { first, cells }
}

/// The same, each place shared between the two bins beside it by how near they are; what a bin is smeared
/// to is one of a few kernels (Silverman 1982, Applied Statistics 31, 93; linear binning: Jones & Lotwick 1984,
/// Applied Statistics 33, 120).
fn smeared_in_bins(places: &[f64], width: f64, step: f64) -> Row {
    let per_cell = (BINS_PER_WIDTH * step / width).ceil().max(1.0);
    let bin = step / per_cell;
    let first_bin = (places[0] / bin).floor() as i64;
    let last_bin = (places[places.len() - 1] / bin).floor() as i64 + 1;
    let mut counts = vec![0.0_f64; (last_bin - first_bin + 1) as usize];
    for place in places {
        let at = place / bin;
        let (low, above) = (at.floor(), at - at.floor());
        let i = (low as i64 - first_bin) as usize;
        counts[i] += 1.0 - above;
        counts[i + 1] += above;
    }
    let per_cell = per_cell as i64;
    let kernels: Vec<Row> =
        (0..per_cell).map(|phase| kernel(phase as f64 * bin, width, step)).collect();
    let first = kernels[0].first + first_bin.div_euclid(per_cell);
    let last = last_bin.div_euclid(per_cell) + 1;
    let longest = kernels.iter().map(|row| row.first + row.cells.len() as i64).max().unwrap_or(0);
    let mut cells = vec![0.0_f64; (last + longest - first) as usize];
    let n = places.len() as f64;
    for (i, count) in counts.iter().enumerate().filter(|(_, count)| **count > 0.0) {
        let at = first_bin + i as i64;
        let row = &kernels[at.rem_euclid(per_cell) as usize];
        let from = (row.first + at.div_euclid(per_cell) - first) as usize;
        for (sum, share) in cells[from..].iter_mut().zip(&row.cells) {
            *sum += count / n * f64::from(*share);
        }
    }
    Row { first, cells: cells.into_iter().map(|share| share as f32).collect() }
}

/// One launch smeared.
fn kernel(place: f64, width: f64, step: f64) -> Row {
    let reach = KERNEL_REACH * width;
    Row::of(step, (place - reach, place + reach), |edge| normal_cdf((edge - place) / width))
}

/// Cells as far as any of the places is smeared.
fn empty(places: &[f64], width: f64, step: f64) -> (i64, Vec<f32>) {
    let reach = KERNEL_REACH * width;
    let first = ((places[0] - reach) / step).floor() as i64;
    let last = ((places[places.len() - 1] + reach) / step).ceil() as i64;
    (first, vec![0.0; (last - first) as usize])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed::generator;
    use rand_distr::{Distribution, Exp1, StandardNormal};

    /// Share below the end of each cell.
    fn below(row: &Row, cell: i64) -> f64 {
        let until = (cell - row.first).clamp(0, row.cells.len() as i64) as usize;
        row.cells[..until].iter().map(|share| f64::from(*share)).sum()
    }

    #[test]
    fn in_bins_launches_are_smeared_as_one_by_one() {
        let random = &mut generator(11);
        for (n, middle) in [(5_000, 0.03), (20_000, -0.2)] {
            let mut places: Vec<f64> = (0..n)
                .map(|_| {
                    let (z, e): (f64, f64) = (StandardNormal.sample(random), Exp1.sample(random));
                    middle + 0.02 * z + 0.03 * e
                })
                .collect();
            places.sort_by(f64::total_cmp);
            for (step, width) in
                [(0.002, 0.0005), (0.002, 0.003), (0.00025, 0.004), (0.005, 0.0125)]
            {
                let (each, bins) =
                    (smeared(&places, width, step), smeared_in_bins(&places, width, step));
                let ends = |row: &Row| (row.first, row.first + row.cells.len() as i64);
                let (first, last) =
                    (ends(&each).0.min(ends(&bins).0), ends(&each).1.max(ends(&bins).1));
                for cell in first..=last {
                    let (each, bins) = (below(&each, cell), below(&bins, cell));
                    assert!((each - bins).abs() < 1e-5, "{n} {step} {width} {cell}: {each} {bins}");
                }
            }
        }
    }

    #[test]
    fn launches_at_one_place_are_one_kernel_in_bins_as_well() {
        let (each, bins) =
            (smeared(&[0.0421; 3], 0.003, 0.002), smeared_in_bins(&[0.0421; 3], 0.003, 0.002));
        for cell in 0..50 {
            let (each, bins) = (below(&each, cell), below(&bins, cell));
            // One place is where binning is farthest off: the bound at the constant.
            assert!((each - bins).abs() < 1e-5, "{cell}: {each} {bins}");
        }
    }

    /// Mean and variance of what is smeared.
    fn moments(row: &Row, step: f64) -> (f64, f64) {
        let places = (row.first..).zip(&row.cells);
        let places = places.map(|(cell, share)| ((cell as f64 + 0.5) * step, f64::from(*share)));
        let mean = places.clone().map(|(x, share)| x * share).sum::<f64>();
        (mean, places.map(|(x, share)| (x - mean).powi(2) * share).sum())
    }

    /// Silverman & Young 1987, Biometrika 74, 469: drawn together, smeared launches keep their variance.
    #[test]
    fn smeared_launches_keep_their_mean_and_their_spread() {
        let lights = crate::strategy::lights::tests::lights_of(60, 0.0);
        let n = lights.launched.len() as f64;
        let mean = lights.launched.iter().sum::<f64>() / n;
        let variance = lights.launched.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n;
        let smeared = moments(&launched(&lights, 0.000_5), 0.000_5);
        assert!((smeared.0 - mean).abs() < 1e-4, "{smeared:?} {mean}");
        assert!((smeared.1 / variance - 1.0).abs() < 0.01, "{smeared:?} {variance}");
    }

    /// Silverman's bandwidth is .9 min(SD, quartiles/1.34) n^−⅕: a few strays do not smear the many.
    #[test]
    fn strays_do_not_smear_the_many() {
        let mut lights = crate::strategy::lights::tests::lights_of(60, 0.0);
        for (i, x) in lights.launched.iter_mut().enumerate() {
            *x = match i {
                0..5 => -0.1,
                55.. => 0.2,
                _ => 0.05 + 0.000_1 * (i as f64 - 29.5),
            };
        }
        let row = launched(&lights, 0.000_5);
        let near = below(&row, 108) - below(&row, 92);
        // Fifty of sixty lie within 2.5 ms of .05, and hardly any of them leaves 4 ms.
        assert!((near - 50.0 / 60.0).abs() < 0.01, "{near}");
    }
}
