//! Blocks of two styles that took turns, out of all that was driven.
//!
//! Owns how runs fall into blocks and which stretch of them is a fair comparison. Refuses to judge
//! fairness: `verdict` does.

use super::runs::DayNumbers;
use super::setup::{OwnLines, OwnSetup};
use crate::stats::offset::Films;
use crate::strategy::verdict::{Block, takes_turns};
use crate::tree::Outcome;
use crate::trial::TrialRecord;

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
    let films = Films::new(lines.films);
    let days = DayNumbers::of(lines.trials);
    let mut blocks: Vec<Block> = Vec::new();
    let counts = |run: &&TrialRecord| {
        setup.holds_in_any_style(run)
            && !run.setup.scripted
            && !run.setup.blank
            && !lines.excluded.contains(&run.id)
    };
    for run in lines.trials.iter().filter(counts) {
        let (style, day) = (run.setup.style, days.of_run(run));
        let left = matches!(run.outcome, Outcome::LeftBeforeTree);
        let lapse = matches!(run.outcome, Outcome::Lapse);
        let timed = matches!(run.outcome, Outcome::Green | Outcome::Red);
        let part_s = run.parts.filter(|_| timed).map(|parts| {
            parts.driver_raw.as_secs_f64() - films.today(run).value / 1000.0
        });
        if !left && !lapse && part_s.is_none() {
            continue;
        }
        if blocks.last().is_none_or(|block| block.style != style || block.day != day) {
            let (driver_parts_s, left_before_tree, lapses) = (Vec::new(), 0, 0);
            blocks.push(Block { style, driver_parts_s, left_before_tree, lapses, day });
        }
        if let Some(block) = blocks.last_mut() {
            block.driver_parts_s.extend(part_s);
            block.left_before_tree += usize::from(left);
            block.lapses += usize::from(lapse);
        }
    }
    blocks
}
