//! The risk along a row of lines, from draws there are.
//!
//! Owns the pull of every draw's chance towards the counts and the quantiles of the outcome, a hundred
//! lines in about a millisecond. Refuses to draw.

use super::counts::Counts;
use super::draws::RiskDraws;
use super::model::{Driver, WIDE_SD_MS};
use super::quick::{BLOCK, Block, ExGauss, ExGausses, in_block, normal_cdfs};
use crate::stats::Estimate;
use crate::stats::mills_table::MillsTable;

/// The least risk ever shown. Chosen: no practice history can tell a smaller one from it.
const LEAST_SHOWN: f64 = 1e-6;

/// Everything about a curve that does not change along it.
pub(super) struct Curve<'a> {
    draws: &'a RiskDraws,
    narrow: ExGausses,
    wide_sd: f64,
    counts: Counts<'a>,
    weights: Vec<Weights>,
    /// One gamma a draw for the launch either limit has to spare.
    spares: Vec<f32>,
    /// What a draw's line is moved by, ms; none if all stay where they are.
    moves: Option<Vec<Block>>,
    level: f64,
}

/// α times the shares of a block of draws' starts.
struct Weights {
    left: Block,
    narrow: Block,
    wide: Block,
}

/// Room for one line's numbers, reused along a curve.
struct Buffers {
    red: Vec<f32>,
    green: Vec<f32>,
    low: Vec<u32>,
    high: Vec<u32>,
}

impl<'a> Curve<'a> {
    /// A curve over `lines_ms` with the lines of the draws moved by `moves_ms` and scatter `run_sd_ms`
    /// about them.
    pub fn new(
        draws: &'a RiskDraws,
        run_sd_ms: f64,
        moves_ms: &[f64],
        lines_ms: &[f64],
        level: f64,
    ) -> Self {
        let law = |d: &Driver| ExGauss::new(d.mu, d.sigma.hypot(run_sd_ms), d.tau);
        let laws: Vec<ExGauss> = draws.drivers.iter().map(law).collect();
        let ((c0, c1), (m0, m1)) = (range(lines_ms), range(moves_ms));
        let moved = m0 != 0.0 || m1 != 0.0;
        let asked = lines_ms.len() * if moved { moves_ms.len() } else { 1 };
        let blocks = |numbers: &[f64]| {
            numbers.chunks(BLOCK).map(|b| in_block(b.iter().copied())).collect::<Vec<Block>>()
        };
        Self {
            draws,
            narrow: ExGausses::new(&laws),
            wide_sd: WIDE_SD_MS.hypot(run_sd_ms),
            counts: Counts::new(&draws.counted_ms, run_sd_ms, (c0 + m0, c1 + m1), asked),
            weights: weights(draws),
            spares: draws.chances.spares(draws.spare_launch() as f32),
            moves: moved.then(|| blocks(moves_ms)),
            level,
        }
    }

    /// The risk at every line.
    pub fn estimates(&self, lines_ms: &[f64]) -> Vec<Estimate> {
        let n = self.draws.drivers.len();
        let room = n.next_multiple_of(BLOCK);
        let mut buffers = Buffers {
            red: vec![0.0; room],
            green: vec![0.0; room],
            low: vec![0; n],
            high: vec![0; n],
        };
        lines_ms.iter().map(|line| self.at(*line, &mut buffers)).collect()
    }

    /// P(X < c) of the wide part and the effective number of reds, at every c.
    #[inline(always)]
    fn wide_and_reds<const N: usize>(&self, c: &[f64; N]) -> ([f64; N], [f64; N]) {
        let d = self.draws;
        let wide = normal_cdfs(MillsTable::get(), &c.map(|c| (c - d.centre_ms) / self.wide_sd));
        (wide, c.map(|c| d.effective_share * (self.counts.below(c) + d.left as f64)))
    }

    fn at(&self, line_ms: f64, buffers: &mut Buffers) -> Estimate {
        let (d, n) = (self.draws, self.draws.drivers.len());
        let table = MillsTable::get();
        let all = d.concentration + d.effective_share * d.starts as f64;
        let still = self.wide_and_reds(&[line_ms]);
        let still = ([still.0[0]; BLOCK], [still.1[0]; BLOCK]);
        let mut sums = [0.0; BLOCK];
        let rooms = buffers.red.chunks_exact_mut(BLOCK).zip(buffers.green.chunks_exact_mut(BLOCK));
        for (i, (w, (red, green))) in self.weights.iter().zip(rooms).enumerate() {
            let (c, (wide, reds)) = match &self.moves {
                None => ([line_ms; BLOCK], still),
                Some(moves) => {
                    let c = moves[i].map(|moved| line_ms + moved);
                    (c, self.wide_and_reds(&c))
                }
            };
            let narrow = self.narrow.cdfs(table, i, &c);
            for j in 0..BLOCK {
                let a = w.left[j] + w.narrow[j] * narrow[j] + w.wide[j] * wide[j] + reds[j];
                // What fills up the last block does not count.
                sums[j] += if i * BLOCK + j < n { a } else { 0.0 };
                red[j] = a as f32;
                green[j] = (all - a) as f32;
            }
        }
        let Buffers { red, green, low, high } = buffers;
        d.chances.odds_against(&self.spares, &red[..n], &green[..n], low, high);
        let value = sums.iter().sum::<f64>() / (n as f64 * all);
        let tail = (1.0 - self.level) / 2.0;
        // The highest odds against are the lowest chance.
        let low = chance_at(low, 1.0 - tail).min(value);
        let value = value.max(LEAST_SHOWN);
        let high = chance_at(high, tail).max(value);
        Estimate { value, low, high, level: self.level, n: d.n() }
    }
}

fn weights(draws: &RiskDraws) -> Vec<Weights> {
    let each = draws.drivers.iter().zip(&draws.shares).map(|(d, (left, measured))| {
        let parts = [*left, measured * (1.0 - d.wide), measured * d.wide];
        parts.map(|share| draws.concentration * share)
    });
    let each: Vec<[f64; 3]> = each.collect();
    let block = |part: &[[f64; 3]]| {
        let [left, narrow, wide] = [0, 1, 2].map(|k| in_block(part.iter().map(|parts| parts[k])));
        Weights { left, narrow, wide }
    };
    each.chunks(BLOCK).map(block).collect()
}

/// The smallest and the largest.
fn range(values: &[f64]) -> (f64, f64) {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    (low, values.iter().copied().fold(f64::NEG_INFINITY, f64::max))
}

/// The chance at quantile `q` of the bits of odds against it.
fn chance_at(odds: &mut [u32], q: f64) -> f64 {
    let place = ((odds.len() - 1) as f64 * q).round() as usize;
    let (_, odds, _) = odds.select_nth_unstable(place);
    1.0 / (1.0 + f64::from(f32::from_bits(*odds)))
}
