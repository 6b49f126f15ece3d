//! Frames handed over in, frames seen out, each with the best stamp that is known.
//!
//! Owns the order of trust and how long a better word is waited for. Refuses to lose a frame: one whose
//! completion never comes is told with the next lower grade.

use std::collections::VecDeque;

use crate::onset::feedback::{Completion, How, Pairing};
use crate::onset::grid::Grid;
use crate::onset::{Grade, Handed, Seen};
use crate::units::{Mark, Span, Stamp};

/// Where the light lies against the return of present on a display without a grid. Measured on a
/// software display: −0.31…+0.79 ms on a busy machine, ±0.17 on a quiet one.
const BEFORE_RETURN: Span = Span::from_us(500);
const AFTER_RETURN: Span = Span::from_us(1_000);
/// Where it lies against the server's word. Measured on a virtual display: the pixel changed 0.04 ms
/// (SD 0.004) after it, 0.16 (SD 0.23) on a saturated machine; the rest is chosen.
const BEFORE_WORD: Span = Span::from_us(200);
const AFTER_WORD: Span = Span::from_us(600);
/// Where it lies against the fitted grid. Chosen: by simulation the fit is 0.1 ms early to 0.5 late.
const AROUND_GRID: Span = Span::from_us(700);
/// A completion is waited for so many periods. Chosen.
const PATIENCE_PERIODS: i64 = 3;

/// See the head of the file. Per update: hand in frames and completions in the order they came, then
/// take what was seen.
#[derive(Debug, Clone, Default)]
pub struct Ladder {
    /// A compositor copies frames of copied windows once more, a refresh later.
    pub composited: bool,
    handed: u64,
    waiting: VecDeque<(u64, Handed)>,
    pairing: Pairing,
    grid: Grid,
}

impl Ladder {
    /// Takes a frame handed to the display.
    pub fn hand_over(&mut self, handed: Handed) {
        let index = self.handed;
        self.handed += 1;
        if handed.fresh_surface && index > 0 {
            self.pairing.surface_made(index);
        }
        if !handed.self_paced {
            self.grid.observe(handed.acquired);
        }
        self.waiting.push_back((index, handed));
    }

    /// Takes the server's word of a frame.
    pub fn complete(&mut self, completion: Completion) {
        self.pairing.take(completion);
    }

    /// Whether the display server tells of frames and can be believed.
    pub fn has_feedback(&self, now: Mark) -> bool {
        self.pairing.is_alive(now)
    }

    /// The display's period, where its grid is known.
    pub fn grid_period(&self) -> Option<Span> {
        self.grid.fit().map(|fit| fit.period())
    }

    /// Frames seen by `now`, oldest first. `period` is the running median of frame intervals, `jitter`
    /// how late this program lately got the processor.
    pub fn take_seen(&mut self, now: Mark, period: Span, jitter: Span) -> Vec<Seen> {
        let mut seen = Vec::new();
        while let Some((index, handed)) = self.waiting.front().copied() {
            let told = match self.pairing.of(index, handed.returned) {
                Some(completion) => self.by_word(completion, period),
                None => {
                    let patient = now - handed.returned <= period * PATIENCE_PERIODS;
                    if !handed.self_paced && patient && self.pairing.is_alive(now) {
                        break;
                    }
                    Some(self.without_word(&handed, period, jitter))
                }
            };
            self.waiting.pop_front();
            let frame = |(shown, grade)| Seen {
                frame: handed.frame,
                decided: handed.decided,
                shown,
                grade,
            };
            seen.extend(told.map(frame));
        }
        seen
    }

    /// The server's word; none for a frame that never reached the screen.
    fn by_word(&self, completion: Completion, period: Span) -> Option<(Stamp, Grade)> {
        let at = completion.at;
        match completion.how {
            How::Skip => None,
            // The copy is what the server dates; the compositor shows it at its next refresh or the
            // one after.
            How::Copy if self.composited => {
                let shown = Stamp::new(at - BEFORE_WORD, at + period, at + period * 2);
                Some((shown, Grade::Feedback))
            }
            How::Flip | How::Copy => {
                Some((Stamp::new(at - BEFORE_WORD, at, at + AFTER_WORD), Grade::Feedback))
            }
        }
    }

    /// The return of present where there is no grid; the next refresh of the grid; else anywhere in
    /// the frame that follows.
    fn without_word(&self, handed: &Handed, period: Span, jitter: Span) -> (Stamp, Grade) {
        let returned = handed.returned;
        if handed.self_paced {
            let (earliest, latest) =
                (returned - BEFORE_RETURN - jitter, returned + AFTER_RETURN + jitter);
            return (Stamp::new(earliest, returned, latest), Grade::Present);
        }
        if let Some(fit) = self.grid.fit() {
            let refresh = fit.next_after(returned);
            let behind = if self.composited { fit.period() } else { Span::ZERO };
            let (earliest, latest) = (refresh - AROUND_GRID, refresh + behind + AROUND_GRID);
            return (Stamp::new(earliest, refresh, latest), Grade::Grid);
        }
        let earliest = returned - BEFORE_RETURN - jitter;
        (Stamp::new(earliest, returned + period.half(), returned + period), Grade::Frame)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha12Rng;

    const PERIOD: Span = Span::from_us(16_667);

    fn us(us: i64) -> Mark {
        Mark::from_ns(us * 1_000)
    }

    fn handed(frame: u64, acquired_us: i64, returned_us: i64) -> Handed {
        Handed {
            frame,
            decided: us(acquired_us),
            acquired: us(acquired_us),
            returned: us(returned_us),
            fresh_surface: frame == 0,
            self_paced: false,
            own_pace: None,
            woke_late: Span::ZERO,
        }
    }

    /// A display with a queue of one: an image comes free at each refresh, the program wakes a little
    /// late, draws, and the frame is seen at the refresh that follows its hand-over.
    fn play(frames: u64, words: bool, seed: u64) -> Vec<(Seen, Mark)> {
        let mut rng = ChaCha12Rng::seed_from_u64(seed);
        let (mut ladder, mut seen, mut truth) = (Ladder::default(), Vec::new(), Vec::new());
        let mut refresh_us = 1_000_000;
        for frame in 0..frames {
            let woken_us = refresh_us + rng.random_range(50..350);
            // One frame in thirty takes longer than a refresh.
            let slow_us = if rng.random_range(0..30) == 0 { 17_000 } else { 0 };
            let returned_us = woken_us + rng.random_range(2_000..9_000) + slow_us;
            ladder.hand_over(handed(frame, woken_us, returned_us));
            while refresh_us < returned_us {
                refresh_us += PERIOD.ns() / 1_000;
            }
            truth.push(us(refresh_us));
            if words {
                let (serial, at) = (frame as u32 + 1, us(refresh_us));
                ladder.complete(Completion { serial, at, how: How::Flip });
            }
            seen.extend(ladder.take_seen(us(refresh_us + 200), PERIOD, Span::ZERO));
        }
        assert_eq!(seen.len(), truth.len(), "every frame is told once");
        assert!(seen.iter().enumerate().all(|(i, seen)| seen.frame == i as u64), "and in order");
        seen.into_iter().zip(truth).collect()
    }

    #[test]
    fn with_the_servers_word_every_frame_is_true_to_a_microsecond() {
        for (seen, truth) in play(300, true, 1) {
            assert_eq!((seen.grade, seen.shown.best()), (Grade::Feedback, truth));
        }
    }

    #[test]
    fn without_it_the_grid_is_found_and_the_stated_doubt_holds() {
        for seed in 0..20 {
            let played = play(400, false, seed);
            let (first, later) = played.split_at(60);
            assert!(first[..59].iter().all(|(seen, _)| seen.grade == Grade::Frame));
            for (seen, truth) in first.iter().chain(later) {
                let stated = seen.shown.earliest()..=seen.shown.latest();
                assert!(stated.contains(truth), "seed {seed}: {seen:?} against {truth:?}");
            }
            for (seen, truth) in later {
                assert_eq!(seen.grade, Grade::Grid);
                let error = (seen.shown.best() - *truth).abs();
                assert!(error <= AROUND_GRID, "seed {seed}: {} ms", error.as_ms_f64());
            }
        }
    }

    #[test]
    fn a_frame_that_never_reached_the_screen_is_not_told() {
        let mut ladder = Ladder::default();
        for (frame, how) in [(0, How::Flip), (1, How::Skip), (2, How::Flip)] {
            let start = 16_667 * frame as i64;
            ladder.hand_over(handed(frame, start, start + 3_000));
            let at = us(start + 16_667);
            ladder.complete(Completion { serial: frame as u32 + 9, at, how });
        }
        let seen = ladder.take_seen(us(60_000), PERIOD, Span::ZERO);
        assert_eq!(seen.iter().map(|seen| seen.frame).collect::<Vec<_>>(), [0, 2]);
    }

    #[test]
    fn a_word_that_never_comes_is_waited_for_three_periods() {
        let mut ladder = Ladder::default();
        ladder.hand_over(handed(0, 0, 3_000));
        ladder.complete(Completion { serial: 1, at: us(16_667), how: How::Flip });
        ladder.hand_over(handed(1, 17_000, 20_000));
        assert_eq!(ladder.take_seen(us(40_000), PERIOD, Span::ZERO).len(), 1);
        assert!(ladder.take_seen(us(70_001), PERIOD, Span::ZERO).is_empty());
        let late = ladder.take_seen(us(70_002), PERIOD, Span::ZERO);
        assert_eq!((late[0].frame, late[0].grade), (1, Grade::Frame));
    }

    #[test]
    fn behind_a_compositor_a_copied_frame_is_seen_a_refresh_later() {
        let mut ladder = Ladder { composited: true, ..Ladder::default() };
        ladder.hand_over(handed(0, 0, 3_000));
        ladder.complete(Completion { serial: 1, at: us(10_000), how: How::Copy });
        let seen = ladder.take_seen(us(20_000), PERIOD, Span::ZERO);
        assert_eq!(seen[0].shown.best(), us(10_000) + PERIOD);
        assert!(seen[0].shown.width() >= PERIOD * 2);
    }

    #[test]
    fn a_display_without_a_grid_is_dated_by_the_return_and_widened_by_the_jitter() {
        let mut ladder = Ladder::default();
        let frame = Handed { self_paced: true, ..handed(0, 0, 3_000) };
        ladder.hand_over(frame);
        let seen = ladder.take_seen(us(3_100), PERIOD, Span::from_us(400));
        assert_eq!((seen[0].grade, seen[0].shown.best()), (Grade::Present, us(3_000)));
        assert_eq!(seen[0].shown.earliest(), us(2_100));
        assert_eq!(seen[0].shown.latest(), us(4_400));
    }
}
