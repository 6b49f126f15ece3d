//! Ten seconds of looking at the rig itself.
//!
//! Owns gathering what frames, presses and a sleeping thread do meanwhile, and their figures. Refuses to judge
//! them, and to run while anything is being timed.

use crate::app::clock;
use crate::app::onset::Frames;
use crate::history::{ClockBase, LoopLine, PollLine, WakeUpLine};
use crate::press::lattice::poll_lattice;
use crate::press::{EdgeKind, StampedEdge};
use crate::units::{Mark, Span, Stamp};
use std::sync::Mutex;
use std::sync::mpsc::{Receiver, channel};
use std::thread;

/// How long it runs.
pub const LENGTH: Span = Span::from_ms(10_000);
/// The first frames after the change of screens are not looked at.
const SETTLING: Span = Span::from_ms(500);
/// How long the sleeping thread means to sleep: odd, so that it beats with no usual tick.
const NAP: Span = Span::from_us(4_700);

/// What has been seen so far.
pub struct SelfTest {
    started: Mark,
    frames: Vec<Stamp>,
    lamp_widths: Vec<Span>,
    presses: Vec<StampedEdge>,
    naps: Mutex<Receiver<Span>>,
    late: Vec<Span>,
}

impl SelfTest {
    /// Begins at `now`; a thread of its own sleeps and wakes until the end.
    pub fn start(now: Mark) -> Self {
        let (to, naps) = channel();
        let end = now + LENGTH;
        let sleeper = thread::Builder::new().name("self-test".to_owned()).spawn(move || {
            while clock::now() < end {
                let due = clock::now() + NAP;
                clock::sleep_until(due);
                if to.send(clock::now() - due).is_err() {
                    return;
                }
            }
        });
        if let Err(error) = sleeper {
            bevy::log::warn!("no thread to measure wake-ups on: {error}");
        }
        Self {
            started: now,
            frames: Vec::new(),
            lamp_widths: Vec::new(),
            presses: Vec::new(),
            naps: Mutex::new(naps),
            late: Vec::new(),
        }
    }

    /// Takes the frames seen since the last update.
    pub fn take_frames(&mut self, frames: &Frames) {
        for seen in &frames.news {
            if seen.shown.best() - self.started >= SETTLING {
                self.frames.push(seen.shown);
                self.lamp_widths.push(seen.shown.width());
            }
        }
        if let Ok(naps) = self.naps.get_mut() {
            self.late.extend(naps.try_iter());
        }
    }

    /// Takes an edge of the launch control.
    pub fn take_edge(&mut self, edge: StampedEdge) {
        self.presses.push(edge);
    }

    /// How much of it is left.
    pub fn left(&self, now: Mark) -> Span {
        (self.started + LENGTH - now).max(Span::ZERO)
    }

    /// Presses so far, releases left out: they have a polling of their own.
    pub fn down(&self) -> impl Iterator<Item = &StampedEdge> {
        self.presses.iter().filter(|edge| edge.edge == EdgeKind::Down)
    }

    /// How evenly frames were seen; none where too few were.
    pub fn loop_line(&self) -> Option<LoopLine> {
        let gaps: Vec<Span> =
            self.frames.windows(2).map(|pair| pair[1].best() - pair[0].best()).collect();
        let period = quantile(&gaps, 0.5)?;
        let off: Vec<Span> = gaps.iter().map(|gap| (*gap - period).abs()).collect();
        Some(LoopLine {
            period_ms: period.as_ms_f64(),
            jitter_median_ms: quantile(&off, 0.5)?.as_ms_f64(),
            jitter_worst_ms: quantile(&off, 1.0)?.as_ms_f64(),
        })
    }

    /// How late a sleeping thread woke; none where it could not run.
    pub fn wake_up(&self) -> Option<WakeUpLine> {
        let at = |share| quantile(&self.late, share).map(Span::as_ms_f64);
        Some(WakeUpLine { median_ms: at(0.5)?, p95_ms: at(0.95)?, worst_ms: at(1.0)? })
    }

    /// The device's own rhythm, from the presses.
    pub fn poll_line(&self) -> PollLine {
        let down: Vec<Stamp> = self.down().map(|edge| edge.stamp).collect();
        let presses = u32::try_from(down.len()).unwrap_or(u32::MAX);
        match poll_lattice(&down) {
            Ok(lattice) => PollLine::Found { period_ms: lattice.period.as_ms_f64(), presses },
            Err(why) => PollLine::NotFound { why: why.to_string(), presses },
        }
    }

    /// Half the median width of a lamp's stamp, ms.
    pub fn lamp_half_width_ms(&self) -> Option<f64> {
        quantile(&self.lamp_widths, 0.5).map(|width| width.half().as_ms_f64())
    }

    /// Half the median width of a press's stamp, ms; none without presses.
    pub fn press_half_width_ms(&self) -> Option<f64> {
        let widths: Vec<Span> = self.presses.iter().map(|edge| edge.stamp.width()).collect();
        quantile(&widths, 0.5).map(|width| width.half().as_ms_f64())
    }
}

/// The word on disk for what is known of the server's clock.
pub fn clock_base_line(base: crate::press::ClockBase) -> ClockBase {
    match base {
        crate::press::ClockBase::Holds => ClockBase::Holds,
        crate::press::ClockBase::Fails => ClockBase::Fails,
        crate::press::ClockBase::Unknown => ClockBase::Unknown,
    }
}

/// The system's load over the last minute, where it tells.
pub fn load_average() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/loadavg").ok()?;
    text.split(' ').next()?.parse().ok()
}

/// The value below which `share` of `spans` lie.
fn quantile(spans: &[Span], share: f64) -> Option<Span> {
    let mut sorted = spans.to_vec();
    sorted.sort_unstable();
    let last = sorted.len().checked_sub(1)?;
    sorted.get((last as f64 * share).round() as usize).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::onset::{Grade, Seen};

    #[test]
    fn evenness_is_the_distance_from_the_median_frame() {
        let start = Mark::from_ns(0);
        let mut test = SelfTest::start(start);
        let mut frames = Frames::default();
        for (number, ms) in [600, 610, 620, 633, 643, 653].into_iter().enumerate() {
            let at = start + Span::from_ms(ms);
            let shown = Stamp::around(at, Span::from_us(200));
            let seen = Seen { frame: number as u64, decided: at, shown, grade: Grade::Present };
            frames.news = vec![seen];
            test.take_frames(&frames);
        }
        let line = test.loop_line().unwrap();
        assert_eq!((line.period_ms, line.jitter_median_ms, line.jitter_worst_ms), (10.0, 0.0, 3.0));
        assert_eq!(test.lamp_half_width_ms(), Some(0.2));
        assert_eq!(test.press_half_width_ms(), None, "nothing was pressed");
    }

    #[test]
    fn frames_of_the_change_of_screens_are_not_looked_at() {
        let mut test = SelfTest::start(Mark::from_ns(0));
        let mut frames = Frames::default();
        let shown = Stamp::exact(Mark::from_ns(499_999_999));
        frames.news = vec![Seen { frame: 1, decided: shown.best(), shown, grade: Grade::Frame }];
        test.take_frames(&frames);
        assert_eq!(test.loop_line(), None);
    }
}
