//! The display server's word that a frame was put on the screen, and which frame it means.
//!
//! Owns the pairing of completions with frames by the server's running number. Refuses to guess: a
//! pairing that contradicts the order of things is given up and said so.
//!
//! The server numbers what it is handed, one up each time, and tells of each once: shown, copied or skipped.
//! The first number heard belongs to the first frame handed over, which holds only if the listening
//! began before that frame. A newly made surface counts anew.

use std::collections::VecDeque;

use crate::units::{Mark, Span};

/// The server may date a completion this much before our hand-over returned: rounding to whole
/// microseconds and two readings of one clock. Chosen.
const BEFORE: Span = Span::from_ms(1);
/// No completion is later than this after the hand-over. Chosen: six refreshes at 60 Hz.
const LATEST: Span = Span::from_ms(100);
/// Completions kept for frames not asked for yet.
const KEPT: usize = 64;
/// Without a completion for so long the server is taken to tell none any more. Chosen.
const SILENT: Span = Span::from_ms(500);

/// How the frame came to the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// The display was switched to it.
    Flip,
    /// It was copied; behind a compositor it is seen a refresh later.
    Copy,
    /// It never was: a newer one replaced it.
    Skip,
}

/// What the server said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Completion {
    /// The server's running number of what it was handed.
    pub serial: u32,
    /// The server's time of the refresh, on our clock.
    pub at: Mark,
    /// How it came to the screen.
    pub how: How,
}

/// Frames by running index ↔ completions by the server's number.
#[derive(Debug, Clone, Default)]
pub struct Pairing {
    /// Serial and index of one frame both sides agree on.
    anchor: Option<(u32, u64)>,
    /// The first frame of a newly made surface that no completion was paired with yet.
    fresh: Option<u64>,
    told: VecDeque<(u64, Completion)>,
    last_at: Option<Mark>,
    lost: bool,
}

impl Pairing {
    /// A frame, the `index`th handed over, is the first on a newly made surface.
    pub fn surface_made(&mut self, index: u64) {
        self.fresh = Some(index);
    }

    /// Takes what the server said.
    pub fn take(&mut self, completion: Completion) {
        let Completion { serial, at, .. } = completion;
        self.last_at = Some(at);
        let index = match (self.anchor, self.fresh) {
            (None, _) => 0,
            (Some((old, index)), None) => index_after(old, index, serial),
            // A number lower than the last: counted anew from one with the new surface.
            (Some((old, _)), Some(fresh)) if serial.wrapping_sub(old) > u32::MAX / 2 => {
                fresh + u64::from(serial.saturating_sub(1))
            }
            (Some((old, index)), Some(_)) => index_after(old, index, serial),
        };
        if self.fresh.is_some_and(|fresh| index >= fresh) {
            self.fresh = None;
        }
        self.anchor = Some((serial, index));
        if self.told.len() == KEPT {
            self.told.pop_front();
        }
        self.told.push_back((index, completion));
    }

    /// What the server said of the `index`th frame, handed over at `returned`.
    pub fn of(&mut self, index: u64, returned: Mark) -> Option<Completion> {
        let place = self.told.iter().position(|(told, _)| *told == index)?;
        let completion = self.told[place].1;
        self.told.drain(..=place);
        let after = completion.at - returned;
        if (-BEFORE.ns()..=LATEST.ns()).contains(&after.ns()) {
            Some(completion)
        } else {
            self.lost = true;
            None
        }
    }

    /// Whether completions come and can be believed.
    pub fn is_alive(&self, now: Mark) -> bool {
        !self.lost && self.last_at.is_some_and(|at| now - at <= SILENT)
    }

    /// Completions came but contradicted the order of things.
    pub fn is_lost(&self) -> bool {
        self.lost
    }
}

fn index_after(old: u32, index: u64, serial: u32) -> u64 {
    index + u64::from(serial.wrapping_sub(old))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ms(ms: i64) -> Mark {
        Mark::from_ns(ms * 1_000_000)
    }

    fn told(serial: u32, at_ms: i64) -> Completion {
        Completion { serial, at: ms(at_ms), how: How::Flip }
    }

    #[test]
    fn numbers_are_counted_on_from_the_first_heard_gaps_and_wrap_included() {
        let mut pairing = Pairing::default();
        pairing.take(told(u32::MAX, 16));
        pairing.take(told(0, 33));
        pairing.take(told(3, 83));
        assert_eq!(pairing.of(0, ms(10)).unwrap().at, ms(16));
        assert_eq!(pairing.of(1, ms(20)).unwrap().at, ms(33));
        assert_eq!(pairing.of(2, ms(40)), None, "the server never spoke of it");
        assert_eq!(pairing.of(4, ms(70)).unwrap().at, ms(83));
        assert!(!pairing.is_lost());
    }

    #[test]
    fn a_new_surface_counts_anew() {
        let mut pairing = Pairing::default();
        pairing.take(told(1, 16));
        pairing.take(told(2, 33));
        pairing.surface_made(3);
        pairing.take(told(3, 50));
        pairing.take(told(2, 83));
        assert_eq!(pairing.of(2, ms(40)).unwrap().at, ms(50), "still of the old surface");
        assert_eq!(pairing.of(4, ms(70)).unwrap().at, ms(83), "second of the new one");
    }

    #[test]
    fn a_pairing_against_the_order_of_things_is_given_up() {
        let mut pairing = Pairing::default();
        pairing.take(told(1, 16));
        assert!(pairing.is_alive(ms(20)));
        assert_eq!(pairing.of(0, ms(30)), None, "seen before it was handed over");
        assert!(pairing.is_lost() && !pairing.is_alive(ms(31)));
    }

    #[test]
    fn a_server_that_falls_silent_is_not_waited_for() {
        let mut pairing = Pairing::default();
        assert!(!pairing.is_alive(ms(0)));
        pairing.take(told(1, 16));
        assert!(pairing.is_alive(ms(516)) && !pairing.is_alive(ms(517)));
    }
}
