//! Blocks of two styles that took turns, out of the drill that asks for them.
//!
//! Owns how runs fall into blocks and which stretch of them is a fair comparison. Refuses to judge
//! fairness: `verdict` does; launches of other drills; and to lose a red, as everywhere.

use super::runs::{OwnRuns, Readings, line_of};
use super::setup::{OwnLines, OwnSetup};
use crate::strategy::verdict::{Block, takes_turns};
use crate::trial::{Drill, TrialRecord};

/// Blocks looked at, the newest. Chosen: nobody drives more in the months a comparison holds.
const MOST_BLOCKS: usize = 60;

/// The longest stretch of blocks that took turns, the newest of the longest; empty if there is none.
/// Runs on one day in one style, one after the other, are a block.
pub fn fair_blocks(lines: &OwnLines, setup: &OwnSetup) -> Vec<Block> {
    let mut blocks = all_blocks(lines, setup);
    blocks.drain(..blocks.len().saturating_sub(MOST_BLOCKS));
    let n = blocks.len();
    for length in (1..=n).rev() {
        for first in (0..=n - length).rev() {
            if takes_turns(&blocks[first..first + length]).is_ok() {
                blocks.truncate(first + length);
                return blocks.split_off(first);
            }
        }
    }
    Vec::new()
}

fn all_blocks(lines: &OwnLines, setup: &OwnSetup) -> Vec<Block> {
    let readings = Readings::of(lines);
    let runs = lines.trials.iter().filter(|run| {
        setup.holds_in_any_style(run)
            && run.setup.drill == Drill::ReactOrTime
            && !run.setup.scripted
    });
    let runs: Vec<&TrialRecord> = runs.collect();
    let together = |a: &&TrialRecord, b: &&TrialRecord| {
        a.setup.style == b.setup.style && a.began.date() == b.began.date()
    };
    let block = |runs: &[&TrialRecord]| {
        let own = OwnRuns::of(&readings, runs.iter().copied(), line_of);
        Block {
            style: runs[0].setup.style,
            driver_parts_s: own.driver_parts_s(),
            left_before_tree: own.counts.left_before_tree,
            lapses: own.counts.lapses,
            day: readings.day_of(runs[0]),
        }
    };
    let blocks = runs.chunk_by(together).map(block);
    blocks.filter(|block| block.starts() > 0).collect()
}
