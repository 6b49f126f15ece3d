//! Two styles, tried in turn.
//!
//! Owns the rules of a fair comparison: full tree, declared styles, alternating blocks. Refuses
//! blocks in which one style came first and the other later: what changed in between would be taken
//! for the style.

use crate::rules::TreeKind;
use crate::stats::Sample;
use crate::stats::risk::{CarPart, HomeToTrack, Pool};
use crate::strategy::StrategyError;
use crate::strategy::launches::Launches;
use crate::trial::Style;

/// Blocks of each style a comparison needs.
pub const LEAST_BLOCKS: usize = 2;
/// Blocks of one style that may follow each other (as in A B B A).
const MOST_IN_A_ROW: usize = 2;

/// How far apart the middles of both styles may lie, as a share of all blocks: R T R T is a quarter,
/// R R T T a half. Chosen.
const FARTHEST_APART: f64 = 0.34;

/// Launches in one style, one after the other; ten by custom.
#[derive(Debug, Clone, PartialEq)]
pub struct Block {
    /// Declared before the first launch.
    pub style: Style,
    /// Driver parts, s.
    pub driver_parts_s: Vec<f64>,
    /// Launches before the tree came down.
    pub left_before_tree: usize,
    /// Trees without a launch.
    pub lapses: usize,
    /// The day, by any number.
    pub day: u32,
}

impl Block {
    /// Every start of it.
    pub fn starts(&self) -> usize {
        self.driver_parts_s.len() + self.left_before_tree + self.lapses
    }
}

/// Alternating blocks, sorted into styles.
#[derive(Debug, Clone, PartialEq)]
pub struct Tested {
    react: Launches,
    time_it: Launches,
}

impl Tested {
    /// Checks blocks in the order they were driven.
    ///
    /// # Errors
    /// [`StrategyError::NoRhythm`] for a tree whose ambers all light at once,
    /// [`StrategyError::NotAlternating`] for blocks that are not two of each style and more, or more
    /// than two of a style in a row; [`StrategyError::Stats`] for times that are no numbers.
    pub fn new(
        blocks: &[Block],
        tree: &TreeKind,
        car: CarPart,
        home: HomeToTrack,
    ) -> Result<Self, StrategyError> {
        if tree.all_at_once() {
            return Err(StrategyError::NoRhythm { tree: tree.name().to_owned() });
        }
        takes_turns(blocks)?;
        let interval_s = tree.green_gap().as_secs_f64();
        let launches = |style: Style| {
            let of_style = blocks.iter().filter(|block| block.style == style);
            let (mut parts, mut days, mut left, mut lapses) = (Vec::new(), Vec::new(), 0, 0);
            for block in of_style {
                parts.extend(&block.driver_parts_s);
                days.extend(block.driver_parts_s.iter().map(|_| block.day));
                left += block.left_before_tree;
                lapses += block.lapses;
            }
            let pool = Pool::new(Sample::new(parts)?).with_days(days)?;
            Launches::practice(pool.with_unmeasured(left, lapses), car, interval_s, home)
        };
        Ok(Self { react: launches(Style::React)?, time_it: launches(Style::TimeIt)? })
    }

    /// The launches by reaction.
    pub fn react(&self) -> &Launches {
        &self.react
    }

    /// The launches by timing.
    pub fn time_it(&self) -> &Launches {
        &self.time_it
    }
}

/// Whether blocks take turns: two of each style and more, no more than two of a style in a row, and
/// the middles of both styles close together.
///
/// # Errors
/// [`StrategyError::NotAlternating`].
pub fn takes_turns(blocks: &[Block]) -> Result<(), StrategyError> {
    let count = |style: Style| blocks.iter().filter(|block| block.style == style).count();
    let (react, time_it) = (count(Style::React), count(Style::TimeIt));
    let (mut row, mut longest) = (0, 0);
    for (i, block) in blocks.iter().enumerate() {
        row = if i > 0 && blocks[i - 1].style == block.style { row + 1 } else { 1 };
        longest = longest.max(row);
    }
    // The middle of either style in the order of blocks: far apart, one style came first.
    let middle = |style: Style| {
        let places = blocks.iter().enumerate().filter(|(_, block)| block.style == style);
        let sum: usize = places.map(|(i, _)| i).sum();
        sum as f64 / count(style).max(1) as f64
    };
    let apart = (middle(Style::React) - middle(Style::TimeIt)).abs() / blocks.len().max(1) as f64;
    if react.min(time_it) < LEAST_BLOCKS || longest > MOST_IN_A_ROW || apart > FARTHEST_APART {
        return Err(StrategyError::NotAlternating { react, time_it, longest_row: longest });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tested(styles: &str, tree: &TreeKind) -> Result<Tested, StrategyError> {
        let block = |(i, letter): (usize, char)| Block {
            style: if letter == 'R' { Style::React } else { Style::TimeIt },
            driver_parts_s: (0..10).map(|k| 0.2 + 0.001 * (i * 10 + k) as f64).collect(),
            left_before_tree: usize::from(i == 1),
            lapses: 0,
            day: i as u32 / 2,
        };
        let blocks: Vec<Block> = styles.chars().enumerate().map(block).collect();
        let car = CarPart { mean_s: 0.28, doubt_sd_s: 0.0, run_sd_s: 0.0 };
        Tested::new(&blocks, tree, car, HomeToTrack::prior(0.0)?)
    }

    #[test]
    fn styles_have_to_take_turns() {
        let full = TreeKind::full();
        for fair in ["RTRT", "TRTR", "RTTR", "RTRTT"] {
            assert!(tested(fair, &full).is_ok(), "{fair}");
        }
        for unfair in ["", "RT", "RRTT", "RRRTTT", "RTTTR", "RRRR", "RTRRRT"] {
            let error = tested(unfair, &full).unwrap_err();
            assert!(matches!(error, StrategyError::NotAlternating { .. }), "{unfair}: {error}");
        }
    }

    #[test]
    fn a_tree_without_a_rhythm_is_not_asked() {
        let error = tested("RTRT", &TreeKind::pro()).unwrap_err();
        assert!(error.to_string().contains("pro"), "{error}");
    }

    #[test]
    fn each_style_keeps_its_own_launches() {
        let both = tested("RTRT", &TreeKind::full()).unwrap();
        assert_eq!(both.react().pool().starts(), 20);
        assert_eq!(both.time_it().pool().starts(), 21);
        assert!((both.time_it().pool().driver_parts().values()[0] - 0.21).abs() < 1e-12);
        assert_eq!(both.react().pool().days().unwrap()[19], 1);
        let block = |left_before_tree, lapses| Block {
            style: Style::React,
            driver_parts_s: vec![0.2; 10],
            left_before_tree,
            lapses,
            day: 1,
        };
        assert_eq!([block(0, 0), block(1, 0), block(2, 3)].map(|b| b.starts()), [10, 11, 15]);
    }
}
