//! The polling of a device, found in the times of the user's own presses.
//!
//! Owns the question whether presses fall on a grid of one of the usual polling periods. Refuses a
//! verdict where the stamps are too coarse or the presses too few, and says which.
//!
//! A USB device is asked at fixed intervals (USB 2.0 specification, 5.7.4: 1 to 255 ms at full
//! speed, 10 to 255 ms at low speed; hosts round down to a power of two), and some pad libraries
//! poll every 8 or 10 ms. A press waits for the next asking, so its time has a standard deviation of
//! period/√12 from that alone: 2.31 ms at 8 ms, and none of it can be seen in the press itself.
//!
//! # How
//!
//! For presses at t₁ … tₙ and a frequency f, Rayleigh's power is Z = |Σ exp(2πi f tⱼ)|²/n: about 1
//! for presses at any time, with P(Z > z) ≈ e⁻ᶻ (Mardia & Jupp, Directional Statistics, 6.3.1); n
//! for presses on a grid of period 1/f. The device's clock drifts against ours by an unknown rate,
//! so for every period the greatest Z over ±150 ppm is taken; with presses from T seconds that is
//! a choice among about 1 + 2·150 ppm·T/period independent values. The level z is
//! ln(3·(their number over all periods)/1 %), the 3 for the grid of frequencies being finer and for
//! a margin. Among the periods above the level with at least half the greatest power the longest is
//! the answer, since a grid of 8 ms is one of 4, 2 and 1 ms as well. A device on another whole
//! number of milliseconds shows as one of its divisors.
//!
//! # How many presses
//!
//! Simulated, presses 0.4 to 6 s apart, drift up to 100 ppm, 300 sessions a figure: how often the
//! right period was named (`LASTAMBER_SESSIONS=300 cargo test --no-default-features --test
//! press_simulated -- --nocapture`). Presses at any time were taken for a grid in 18 of 4,000
//! sessions of 30.
//!
//! | device polled every 8 ms | stamps | 20 presses | 30 | 60 |
//! |---|---|---|---|---|
//! | every press waits | ±0.05 ms | 100 % | 100 % | 100 % |
//! | every press waits | ±0.5 ms | 100 % | 100 % | 100 % |
//! | seven in ten wait | ±0.05 ms | 58 % | 91 % | 99 % |
//! | seven in ten wait | ±0.5 ms | 64 % | 93 % | 100 % |
//!
//! So thirty presses are enough for a device whose every press waits for the polling, by the kernel's
//! times and by the display server's alike; sixty where three in ten do not.

use std::f64::consts::TAU;

use thiserror::Error;

use crate::units::{Mark, Span, Stamp};

/// The periods looked for, longest first, ms.
const PERIODS_MS: [i64; 6] = [16, 10, 8, 4, 2, 1];
/// The drift between the device's clock and ours that is allowed for: chosen, quartz in consumer
/// devices is good to some 100 ppm.
const DRIFT: f64 = 150e-6;
/// Only presses this long before the latest are used: chosen, since the drift itself drifts with the
/// temperature and with the correction of our clock.
const LOOKED_BACK: Span = Span::from_ms(600_000);
/// How often presses at any time may be taken for a grid.
const FALSE_ALARM: f64 = 0.01;
/// Frequencies tried per independent one.
const FINENESS: f64 = 4.0;
/// Fewer presses are not looked at: chosen, e⁻ᶻ is good from about here on.
pub const FEWEST: usize = 20;
/// How many times more independent choices the level is set for than there are: see the head.
const CHOICES: f64 = 3.0;
/// How far beyond the level a full grid must be expected before its absence means anything: chosen.
const MARGIN: f64 = 1.5;

/// A grid that presses lie on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lattice {
    /// Its period.
    pub period: Span,
    /// The share of the presses that lies on it, 0 to 1. Doubt in the stamps makes it smaller.
    pub share: f64,
    /// The presses it was found in.
    pub n: usize,
}

impl Lattice {
    /// The standard deviation that waiting for the next polling gives a press: period/√12.
    pub fn wait_sd(&self) -> Span {
        Span::from_secs_f64(self.period.as_secs_f64() / 12.0_f64.sqrt())
    }
}

/// Why no grid is named.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum NotSeen {
    /// Too few presses.
    #[error("not seen: {have} presses, at least {need} are needed")]
    TooFew {
        /// Presses of the last ten minutes with stamps fine enough.
        have: usize,
        /// How many it takes.
        need: usize,
    },
    /// The stamps are too coarse for every period.
    #[error("not seen: the presses are known to {:.1} ms only", width.as_ms_f64())]
    TooCoarse {
        /// The median width of the stamps.
        width: Span,
    },
    /// Enough presses, fine enough, on no grid.
    #[error("none of {} ms or longer in {n} presses", finest.as_ms_f64())]
    None {
        /// The presses looked at.
        n: usize,
        /// The shortest period that would have been seen.
        finest: Span,
    },
}

/// Presses usable for one period, and what to expect of them.
struct Trial {
    period_s: f64,
    times_s: Vec<f64>,
    span_s: f64,
    /// The mean resultant length of presses on the grid whose stamps err evenly over their widths.
    sharpness: f64,
}

impl Trial {
    /// A stamp wider than half the period says too little.
    fn new(period_ms: i64, stamps: &[Stamp]) -> Self {
        let period = Span::from_ms(period_ms);
        let usable = || stamps.iter().filter(|stamp| stamp.width() <= period.half());
        let first = usable().map(|stamp| stamp.best()).min().unwrap_or_default();
        let times_s: Vec<f64> =
            usable().map(|stamp| (stamp.best() - first).as_secs_f64()).collect();
        let sharp = usable().map(|s| sinc(s.width().as_secs_f64() / period.as_secs_f64()));
        Self {
            period_s: period.as_secs_f64(),
            span_s: times_s.iter().copied().fold(0.0, f64::max),
            sharpness: sharp.sum::<f64>() / times_s.len().max(1) as f64,
            times_s,
        }
    }

    fn n(&self) -> usize {
        self.times_s.len()
    }

    /// Independent frequencies in the band.
    fn choices(&self) -> f64 {
        1.0 + 2.0 * DRIFT * self.span_s / self.period_s
    }

    /// The greatest power in the band.
    fn power(&self) -> f64 {
        let steps = (FINENESS * self.choices() / 2.0).ceil();
        let power = |step: i64| {
            let cycles = (1.0 + DRIFT * step as f64 / steps) / self.period_s;
            let (sin, cos) = self
                .times_s
                .iter()
                .map(|t| (TAU * (t * cycles).fract()).sin_cos())
                .fold((0.0, 0.0), |sum, (sin, cos)| (sum.0 + sin, sum.1 + cos));
            (sin * sin + cos * cos) / self.n() as f64
        };
        (-steps as i64..=steps as i64).map(power).fold(0.0, f64::max)
    }
}

/// The grid that presses with these stamps lie on, in any order; only those of the ten minutes before
/// the latest count. Presses at any time are taken for a grid in at most 1 in 100 cases.
///
/// # Errors
///
/// [`NotSeen`], with the reason.
pub fn poll_lattice(stamps: &[Stamp]) -> Result<Lattice, NotSeen> {
    let latest = stamps.iter().map(|stamp| stamp.best()).max().unwrap_or_default();
    let recent = |at: Mark| latest - at <= LOOKED_BACK;
    let stamps: Vec<Stamp> = stamps.iter().copied().filter(|s| recent(s.best())).collect();
    if stamps.len() < FEWEST {
        return Err(NotSeen::TooFew { have: stamps.len(), need: FEWEST });
    }
    let trials: Vec<Trial> = PERIODS_MS
        .iter()
        .map(|period| Trial::new(*period, &stamps))
        .filter(|trial| trial.n() >= FEWEST)
        .collect();
    let Some(coarsest) = trials.first() else {
        return Err(NotSeen::TooCoarse { width: median_width(&stamps) });
    };
    let choices: f64 = trials.iter().map(Trial::choices).sum();
    let level = (CHOICES * choices / FALSE_ALARM).ln();
    let powers: Vec<f64> = trials.iter().map(Trial::power).collect();
    let strong = powers.iter().copied().fold(0.0, f64::max) / 2.0;
    if let Some(found) = powers.iter().position(|power| *power >= level.max(strong)) {
        let (trial, n) = (&trials[found], trials[found].n());
        // The power of a grid with share s is 1 + (n − 1)s².
        let share = ((powers[found] - 1.0) / (n as f64 - 1.0)).sqrt().min(1.0);
        return Ok(Lattice { period: Span::from_secs_f64(trial.period_s), share, n });
    }
    let need = |trial: &Trial| MARGIN * level / trial.sharpness.powi(2);
    match trials.iter().rfind(|trial| trial.n() as f64 >= need(trial)) {
        Some(finest) => {
            Err(NotSeen::None { n: finest.n(), finest: Span::from_secs_f64(finest.period_s) })
        }
        None => Err(NotSeen::TooFew { have: coarsest.n(), need: need(coarsest).ceil() as usize }),
    }
}

fn median_width(stamps: &[Stamp]) -> Span {
    let mut widths: Vec<Span> = stamps.iter().map(|stamp| stamp.width()).collect();
    widths.sort_unstable();
    widths.get(widths.len() / 2).copied().unwrap_or_default()
}

/// sin(πx)/(πx).
fn sinc(x: f64) -> f64 {
    let angle = std::f64::consts::PI * x;
    if angle == 0.0 { 1.0 } else { angle.sin() / angle }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `n` presses on the grid of `period_us`, from its 0th, 250th, … line, off it every `skip`-th.
    fn presses(n: i64, period_us: i64, width_us: i64, skip: i64) -> Vec<Stamp> {
        (0..n)
            .map(|i| {
                let off = if i % skip == skip - 1 { period_us * (i % 7) / 7 } else { 0 };
                let at = Mark::from_ns(1_000 * ((i * 250 + i * i % 19) * period_us + off));
                Stamp::around(at, Span::from_us(width_us / 2))
            })
            .collect()
    }

    #[test]
    fn a_grid_is_named_by_its_longest_period_with_all_its_presses() {
        for period_ms in PERIODS_MS {
            let found = poll_lattice(&presses(30, period_ms * 1_000, 100, 99)).unwrap();
            assert_eq!((found.period, found.n), (Span::from_ms(period_ms), 30));
            assert!(found.share > 0.99);
        }
    }

    #[test]
    fn the_waiting_for_a_polling_of_8_ms_has_an_sd_of_2_31_ms() {
        let lattice = Lattice { period: Span::from_ms(8), share: 1.0, n: 30 };
        assert_eq!(lattice.wait_sd(), Span::from_ns(2_309_401));
    }

    #[test]
    fn a_part_of_the_presses_on_the_grid_gives_its_share() {
        let found = poll_lattice(&presses(70, 8_000, 100, 4)).unwrap();
        assert_eq!(found.period, Span::from_ms(8));
        assert!((0.6..0.9).contains(&found.share), "{found:?}");
    }

    #[test]
    fn too_few_and_too_coarse_say_so() {
        let few = poll_lattice(&presses(19, 8_000, 100, 99));
        assert_eq!(few, Err(NotSeen::TooFew { have: 19, need: 20 }));
        let coarse = poll_lattice(&presses(40, 8_000, 16_667, 99));
        let width = Span::from_ns(16_666_000);
        assert_eq!(coarse, Err(NotSeen::TooCoarse { width }));
        assert_eq!(
            coarse.unwrap_err().to_string(),
            "not seen: the presses are known to 16.7 ms only"
        );
        assert_eq!(poll_lattice(&[]), Err(NotSeen::TooFew { have: 0, need: 20 }));
    }

    #[test]
    fn a_grid_finer_than_the_stamps_is_not_denied() {
        let seen = poll_lattice(&presses(60, 1_000, 1_000, 99));
        assert_eq!(seen, Err(NotSeen::None { n: 60, finest: Span::from_ms(2) }));
        assert_eq!(seen.unwrap_err().to_string(), "none of 2 ms or longer in 60 presses");
    }

    #[test]
    fn presses_of_another_hour_are_left_out() {
        let mut stamps = presses(30, 8_000, 100, 99);
        let old = presses(30, 8_000, 100, 99);
        stamps.extend(old.iter().map(|stamp| *stamp + Span::from_ms(-3_600_003)));
        assert_eq!(poll_lattice(&stamps).unwrap().n, 30);
    }

    #[test]
    fn marks_at_the_ends_of_the_clock_do_no_harm() {
        let ends = [i64::MIN, i64::MAX, 0].map(|ns| Stamp::exact(Mark::from_ns(ns)));
        let stamps: Vec<Stamp> = ends.into_iter().cycle().take(60).collect();
        assert_eq!(poll_lattice(&stamps).map(|lattice| lattice.n), Ok(20));
    }

    /// `n` presses spread over the period as evenly as can be: by the golden section.
    fn spread(n: i64, period_us: i64, width_us: i64) -> Vec<Stamp> {
        let golden = 0.618_033_988_749_895;
        (0..n)
            .map(|i| {
                let part = (i as f64 * golden).fract() * period_us as f64;
                let at = Mark::from_ns(1_000 * (i * 197 * period_us + part as i64));
                Stamp::around(at, Span::from_us(width_us / 2))
            })
            .collect()
    }

    #[test]
    fn how_many_presses_it_takes_follows_from_their_doubt_and_their_time() {
        // Stamps of 8 ms leave only the period of 16 ms, and of its sharpness sin(π/2)/(π/2).
        let stamps = spread(20, 16_000, 8_000);
        let time_s = (stamps[19].best() - stamps[0].best()).as_secs_f64();
        let choices = 1.0 + 2.0 * 150e-6 * time_s / 0.016;
        let level = (3.0 * choices / 0.01).ln();
        let sharpness = std::f64::consts::FRAC_2_PI;
        let need = (1.5 * level / (sharpness * sharpness)).ceil() as usize;
        assert_eq!(need, 24, "for a minute of presses");
        assert_eq!(poll_lattice(&stamps), Err(NotSeen::TooFew { have: 20, need }));
        let finest = Span::from_ms(16);
        let seen = poll_lattice(&spread(30, 16_000, 8_000));
        assert_eq!(seen, Err(NotSeen::None { n: 30, finest }));
    }

    #[test]
    fn the_share_is_that_of_the_resultant_of_all_presses() {
        // Of 70 presses every fourth is off, by 3, 0, 4, 1, 5, 2, 6, 3, … sevenths of the period.
        let off = (0..70).filter(|i| i % 4 == 3).map(|i| f64::from(i % 7) / 7.0);
        let (sin, cos) = off.fold((0.0, 53.0), |(sin, cos), part: f64| {
            (sin + (TAU * part).sin(), cos + (TAU * part).cos())
        });
        let power = (sin * sin + cos * cos) / 70.0;
        let share = ((power - 1.0) / 69.0).sqrt();
        let found = poll_lattice(&presses(70, 8_000, 100, 4)).unwrap();
        assert!((found.share - share).abs() < 1e-3, "{} for {share}", found.share);
    }

    #[test]
    fn a_grid_that_drifts_is_found_with_all_its_presses() {
        for ppm in [-148, -97, -41, -13, 5, 22, 60, 83, 131] {
            let drifted = |stamp: Stamp| stamp + Span::from_ns(stamp.best().ns() * ppm / 1_000_000);
            let stamps: Vec<_> = presses(60, 8_000, 100, 99).into_iter().map(drifted).collect();
            let found = poll_lattice(&stamps).unwrap();
            assert_eq!(found.period, Span::from_ms(8), "{ppm} ppm");
            assert!(found.share > 0.975, "{ppm} ppm: {}", found.share);
        }
    }

    #[test]
    fn a_first_press_beside_the_grid_does_not_hide_it() {
        for quarters in 1..4 {
            let mut stamps = presses(40, 8_000, 100, 99);
            stamps[0] = stamps[0] + Span::from_us(-2_000 * quarters);
            let found = poll_lattice(&stamps).unwrap();
            assert_eq!(found.period, Span::from_ms(8));
            assert!(found.share > 0.93, "{quarters}: {}", found.share);
        }
    }

    #[test]
    fn a_grid_used_unevenly_is_not_one_of_twice_its_period() {
        // Three in four presses on every second line: a power of n/4 for 16 ms, n for 8 ms.
        let stamps: Vec<_> = (0..80)
            .map(|i| Mark::from_ns(8_000_000 * (i * 62 + i64::from(i % 4 == 0))))
            .map(|at| Stamp::around(at, Span::from_us(50)))
            .collect();
        assert_eq!(poll_lattice(&stamps).unwrap().period, Span::from_ms(8));
    }

    #[test]
    fn what_is_too_coarse_is_told_by_its_middle_width() {
        let mut stamps = presses(41, 8_000, 16_000, 99);
        for (i, stamp) in stamps.iter_mut().enumerate() {
            *stamp = Stamp::around(stamp.best(), Span::from_us(6_000 + 100 * (i as i64 * 7 % 41)));
        }
        let width = Span::from_us(2 * (6_000 + 100 * 20));
        assert_eq!(poll_lattice(&stamps), Err(NotSeen::TooCoarse { width }));
    }
}
