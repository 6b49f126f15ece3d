//! Does the display make the program wait for its refreshes?
//!
//! Owns the decision, taken once from the first frames. Refuses to wait itself.
//!
//! First-in-first-out presentation is meant to wait for the display. Behind a virtual display or a
//! software renderer it does not, and frames come as fast as they are drawn.

use crate::units::Span;

/// Frames not looked at: the first ones compile and load.
const SETTLING: usize = 10;
/// Frames looked at. Chosen: half a second at 60 Hz.
const LOOKED_AT: usize = 31;
/// Not waiting means frames shorter than this share of the refresh. Chosen.
const SHORT_SHARE: f64 = 0.7;
/// The shortest refresh period believed where the display names none: 400 Hz.
const SHORTEST: Span = Span::from_us(2_500);

/// Longer intervals tell nothing: where nothing moves, frames are drawn now and then only.
const LONGEST: Span = Span::from_ms(42);

/// Watches the first frames; see the head of the file.
#[derive(Debug, Clone, Default)]
pub struct PacingWatch {
    seen: usize,
    intervals: Vec<Span>,
    decided: Option<bool>,
}

impl PacingWatch {
    /// A watch that has nothing to find out: the renderer is known not to wait, or to.
    pub fn known(self_paced: bool) -> Self {
        Self { decided: Some(self_paced), ..Self::default() }
    }

    /// Takes the interval between two frames handed over without waiting by ourselves, and the period
    /// the display names. Whether the program has to pace itself, once that is clear.
    pub fn observe(&mut self, interval: Span, named_period: Option<Span>) -> Option<bool> {
        if self.decided.is_some() {
            return self.decided;
        }
        if interval > LONGEST {
            return None;
        }
        self.seen += 1;
        if self.seen <= SETTLING {
            return None;
        }
        self.intervals.push(interval);
        if self.intervals.len() == LOOKED_AT {
            self.intervals.sort_unstable();
            let middle = self.intervals[LOOKED_AT / 2];
            let refresh = named_period.filter(|p| *p > Span::ZERO).unwrap_or(SHORTEST);
            self.decided = Some((middle.ns() as f64) < SHORT_SHARE * refresh.ns() as f64);
        }
        self.decided
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decide(interval_us: i64, named_us: Option<i64>) -> Option<bool> {
        let mut watch = PacingWatch::default();
        let mut last = None;
        for _ in 0..SETTLING + LOOKED_AT {
            last = watch.observe(Span::from_us(interval_us), named_us.map(Span::from_us));
        }
        last
    }

    #[test]
    fn frames_much_faster_than_the_display_mean_that_it_does_not_wait() {
        assert_eq!(decide(1_900, Some(16_667)), Some(true));
        assert_eq!(decide(16_600, Some(16_667)), Some(false));
        assert_eq!(decide(33_000, Some(16_667)), Some(false), "slow is not unpaced");
        assert_eq!(decide(1_500, None), Some(true));
        assert_eq!(decide(4_200, None), Some(false), "it may be a display of 240 Hz");
    }

    #[test]
    fn a_window_at_rest_decides_nothing() {
        let (mut watch, named) = (PacingWatch::default(), Some(Span::from_us(16_667)));
        for _ in 0..200 {
            assert_eq!(watch.observe(Span::from_ms(50), named), None);
        }
        for _ in 0..SETTLING + LOOKED_AT - 1 {
            assert_eq!(watch.observe(Span::from_us(1_900), named), None);
        }
        assert_eq!(watch.observe(Span::from_us(1_900), named), Some(true));
    }

    #[test]
    fn nothing_is_decided_from_the_first_frames() {
        let mut watch = PacingWatch::default();
        for _ in 0..SETTLING + LOOKED_AT - 1 {
            assert_eq!(watch.observe(Span::from_us(100), None), None);
        }
        assert_eq!(PacingWatch::known(true).observe(Span::from_ms(16), None), Some(true));
    }
}
