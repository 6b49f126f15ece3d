//! Which starts are cold.
//!
//! Owns the one definition everybody asks: pools, sessions and track nights. Refuses to ask the clock:
//! the pause before a start stands in its record.

use crate::trial::SetupFacts;

/// Launches of a day that are cold.
pub const COLD_OF_A_DAY: usize = 3;
/// Cold launches from which they stand for launches at the track. Chosen.
pub const LEAST_COLD: usize = 15;

/// Whether a start is cold; `place` counts the starts of its day from 0.
///
/// The first three of a day are, as at a track. Where a pause was asked for, the pause decides: who
/// kept it comes to the tree as cold as between two passes, whatever came before; who cut it short
/// does not. Chosen: at a track there are minutes between two launches, and three of them in most nights.
pub fn is_cold(setup: &SetupFacts, place: usize) -> bool {
    match setup.pause {
        Some(pause) => pause.was_kept(),
        None => place < COLD_OF_A_DAY,
    }
}
