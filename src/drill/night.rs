//! Track night: five launches with minutes between them, and no number before the last.
//!
//! Owns how long each pause is to be, what the driver waits for and which runs count as one of the five.
//! Refuses numbers until the night is over, and to call a launch cold whose pause was cut short.

use crate::seed::seed_of_run;
use crate::tree::Outcome;
use crate::trial::Pause;
use crate::units::{Mark, Span};

/// Launches of a night. Common practice, no single source: a test-and-tune gives four to six.
pub const LAUNCHES: usize = 5;
/// Shortest and longest pause, s. Chosen: long enough to go cold, and the drill ends within the hour;
/// queues at a track are longer.
pub const PAUSE_S: (u64, u64) = (180, 480);
/// The stream of a night's seed its pauses are drawn from.
const PAUSE_STREAM: u64 = 0x4e49_4748;

/// Where a night stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Moment {
    /// The pause before this launch, counted from 1, still runs.
    Waiting {
        /// Which launch.
        launch: usize,
        /// What is left of the pause.
        left: Span,
    },
    /// The launch may be made.
    Called {
        /// Which launch, from 1.
        launch: usize,
        /// Its pause, if it had one, was not cut short.
        cold: bool,
    },
    /// All five are made: now the slips.
    Over,
}

/// A night under way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrackNight {
    pauses: [Span; LAUNCHES],
    made: usize,
    /// Since when the driver has been waiting; `None` for a first launch nothing went before.
    since: Option<Mark>,
    cut_short: bool,
}

impl TrackNight {
    /// A night that begins now; `last_run` is the end of the run before it in this sitting, if there
    /// was one: then the first launch has its pause too.
    pub fn new(seed: u64, last_run: Option<Mark>) -> Self {
        let (least, most) = PAUSE_S;
        let pause = |i: usize| {
            let drawn = seed_of_run(seed ^ PAUSE_STREAM, i as u64) % (most - least + 1);
            Span::from_ms(1_000 * (least + drawn) as i64)
        };
        let pauses = std::array::from_fn(pause);
        Self { pauses, made: 0, since: last_run, cut_short: false }
    }

    /// Launches made so far.
    pub fn made(&self) -> usize {
        self.made
    }

    /// Where the night stands.
    pub fn moment(&self, now: Mark) -> Moment {
        if self.made >= LAUNCHES {
            return Moment::Over;
        }
        let launch = self.made + 1;
        match self.pause(now) {
            Some(pause) if !pause.was_kept() && !self.cut_short => {
                Moment::Waiting { launch, left: pause.planned - pause.waited }
            }
            pause => Moment::Called { launch, cold: pause.is_none_or(|pause| pause.was_kept()) },
        }
    }

    /// Whether figures, counts and verdicts may be shown.
    pub fn shows_numbers(&self) -> bool {
        self.made >= LAUNCHES
    }

    /// The pause of the run that begins now, for its record; `None` for a first launch nothing went
    /// before, and once the night is over.
    pub fn pause(&self, now: Mark) -> Option<Pause> {
        let planned = *self.pauses.get(self.made)?;
        self.since.map(|since| Pause { planned, waited: now - since })
    }

    /// The driver does not wait any longer; the launch is then not cold.
    pub fn cut_short(&mut self) {
        self.cut_short = true;
    }

    /// A run of the night is over. One that was no start is made again, after the same pause.
    pub fn finish_run(&mut self, outcome: Outcome, now: Mark) {
        if is_start(outcome) && self.made < LAUNCHES {
            self.made += 1;
        }
        self.since = Some(now);
        self.cut_short = false;
    }
}

/// Whether a run is one of the five: whatever a track would take for a pass.
pub fn is_start(outcome: Outcome) -> bool {
    matches!(outcome, Outcome::Green | Outcome::Red | Outcome::LeftBeforeTree | Outcome::Lapse)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tree::{AbandonReason, VoidReason};

    fn at(seconds: i64) -> Mark {
        Mark::from_ns(seconds * 1_000_000_000)
    }

    #[test]
    fn five_launches_three_to_eight_minutes_apart_and_then_the_slips() {
        let mut night = TrackNight::new(7, None);
        assert_eq!(night.moment(at(0)), Moment::Called { launch: 1, cold: true });
        assert_eq!(night.pause(at(0)), None);
        let mut now = 0;
        for launch in 1..=LAUNCHES {
            assert!(!night.shows_numbers());
            night.finish_run(Outcome::Green, at(now));
            if launch == LAUNCHES {
                break;
            }
            let Moment::Waiting { launch: next, left } = night.moment(at(now)) else { panic!() };
            assert_eq!(next, launch + 1);
            assert!((180.0..=480.0).contains(&left.as_secs_f64()), "{left:?}");
            now += left.as_secs_f64() as i64;
            assert_eq!(night.moment(at(now)), Moment::Called { launch: next, cold: true });
            assert!(night.pause(at(now)).unwrap().was_kept());
        }
        assert_eq!((night.moment(at(now)), night.shows_numbers()), (Moment::Over, true));
        assert_eq!(night.pause(at(now)), None);
    }

    #[test]
    fn a_pause_cut_short_is_told_as_not_cold_and_only_that_one() {
        let mut night = TrackNight::new(7, None);
        night.finish_run(Outcome::Red, at(0));
        night.cut_short();
        assert_eq!(night.moment(at(60)), Moment::Called { launch: 2, cold: false });
        assert!(!night.pause(at(60)).unwrap().was_kept());
        night.finish_run(Outcome::Green, at(62));
        assert!(matches!(night.moment(at(63)), Moment::Waiting { launch: 3, .. }));
        // Who cuts it short and then lets it pass all the same comes cold.
        night.cut_short();
        assert_eq!(night.moment(at(62 + 480)), Moment::Called { launch: 3, cold: true });
    }

    #[test]
    fn what_is_no_start_is_made_again_and_a_sitting_before_asks_for_a_pause() {
        let mut night = TrackNight::new(7, Some(at(-30)));
        assert!(matches!(night.moment(at(0)), Moment::Waiting { launch: 1, .. }));
        for outcome in [
            Outcome::Void(VoidReason::NoOnset),
            Outcome::Abandoned(AbandonReason::Paused),
            Outcome::TimedOut,
        ] {
            night.finish_run(outcome, at(10));
            assert_eq!(night.made(), 0);
        }
        assert!(matches!(night.moment(at(11)), Moment::Waiting { launch: 1, .. }));
        for outcome in [Outcome::Lapse, Outcome::LeftBeforeTree] {
            night.finish_run(outcome, at(10));
        }
        assert_eq!(night.made(), 2);
    }

    #[test]
    fn pauses_follow_from_the_seed_and_fill_their_range() {
        assert_eq!(TrackNight::new(3, None), TrackNight::new(3, None));
        let all = (0..200).flat_map(|seed| TrackNight::new(seed, None).pauses);
        let all: Vec<f64> = all.map(Span::as_secs_f64).collect();
        let (least, most) =
            all.iter().fold((f64::MAX, 0.0_f64), |(a, b), x| (a.min(*x), b.max(*x)));
        assert!(least >= 180.0 && most <= 480.0 && most - least > 290.0, "{least} {most}");
        // 1,000 draws about a mean of 330 with SD 300/√12: three standard errors are 8.2.
        let mean = all.iter().sum::<f64>() / all.len() as f64;
        assert!((mean - 330.0).abs() < 8.2, "{mean}");
    }
}
