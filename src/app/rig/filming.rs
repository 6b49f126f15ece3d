//! The film: presses stamped, the patch lit, and the program's own time between the two.
//!
//! Owns the shooting: which presses have both stamps. Refuses the arithmetic of frame counts.

use crate::units::{Mark, Span};

/// How many presses are filmed.
pub const PRESSES: usize = 25;
/// How long the patch stays lit.
pub const LIT: Span = Span::from_ms(350);
/// The patch stays dark at least so long before it may light again.
const DARK: Span = Span::from_ms(400);

/// A shooting under way.
#[derive(Debug, Clone, Default)]
pub struct Shooting {
    /// Own time from press to light, of the presses that have both.
    own: Vec<Span>,
    lit: Option<Lit>,
    dark_since: Option<Mark>,
}

#[derive(Debug, Clone, Copy)]
struct Lit {
    pressed: Mark,
    since: Mark,
    /// The update that first drew it.
    frame: u64,
    confirmed: bool,
}

impl Shooting {
    /// A press was stamped at `pressed` and is drawn by the update `frame` at `now`. False when it comes too
    /// soon after the last one to be told apart on a film.
    pub fn press(&mut self, pressed: Mark, frame: u64, now: Mark) -> bool {
        let rested = self.dark_since.is_none_or(|since| now - since >= DARK);
        if self.lit.is_some() || !rested || self.is_done() {
            return false;
        }
        self.lit = Some(Lit { pressed, since: now, frame, confirmed: false });
        true
    }

    /// Frames up to number `frame` were seen, this one at `shown`.
    pub fn seen(&mut self, frame: u64, shown: Mark) {
        if let Some(lit) = self.lit.as_mut().filter(|lit| !lit.confirmed && frame >= lit.frame) {
            lit.confirmed = true;
            self.own.push(shown - lit.pressed);
        }
    }

    /// Ends a light that has lasted long enough. One whose frame was never confirmed leaves no press.
    pub fn tick(&mut self, now: Mark) {
        if self.lit.is_some_and(|lit| now - lit.since >= LIT) {
            self.lit = None;
            self.dark_since = Some(now);
        }
    }

    /// Whether the patch is lit.
    pub fn is_lit(&self) -> bool {
        self.lit.is_some()
    }

    /// The program's own time from press to light, press by press.
    pub fn own(&self) -> &[Span] {
        &self.own
    }

    /// Every press is filmed.
    pub fn is_done(&self) -> bool {
        self.own.len() >= PRESSES
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ms(ms: i64) -> Mark {
        Mark::from_ns(ms * 1_000_000)
    }

    #[test]
    fn a_press_counts_once_its_light_was_seen() {
        let mut shooting = Shooting::default();
        assert!(shooting.press(ms(1_000), 60, ms(1_004)));
        shooting.seen(59, ms(1_010));
        assert!(shooting.own().is_empty() && shooting.is_lit());
        shooting.seen(61, ms(1_030));
        shooting.seen(62, ms(1_047));
        assert_eq!(shooting.own(), [Span::from_ms(30)]);
    }

    #[test]
    fn presses_that_a_film_could_not_tell_apart_are_not_taken() {
        let mut shooting = Shooting::default();
        assert!(shooting.press(ms(1_000), 60, ms(1_000)));
        shooting.seen(60, ms(1_010));
        assert!(!shooting.press(ms(1_100), 66, ms(1_100)), "it is still lit");
        shooting.tick(ms(1_350));
        assert!(!shooting.press(ms(1_700), 90, ms(1_700)), "it went out only just now");
        assert!(shooting.press(ms(1_800), 99, ms(1_800)));
    }

    #[test]
    fn a_light_that_was_never_confirmed_leaves_no_press() {
        let mut shooting = Shooting::default();
        assert!(shooting.press(ms(0), 1, ms(0)));
        shooting.tick(ms(350));
        shooting.seen(40, ms(600));
        assert!(shooting.own().is_empty());
    }

    #[test]
    fn after_the_last_press_no_more_are_taken() {
        let mut shooting = Shooting::default();
        for i in 0..PRESSES as i64 {
            assert!(shooting.press(ms(i * 1_000), i as u64, ms(i * 1_000)));
            shooting.seen(i as u64, ms(i * 1_000 + 20));
            shooting.tick(ms(i * 1_000 + 400));
        }
        assert!(shooting.is_done());
        assert!(!shooting.press(ms(90_000), 99, ms(90_000)));
    }
}
