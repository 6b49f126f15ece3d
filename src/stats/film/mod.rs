//! The constant delay of a rig, from a film of key and lamp.
//!
//! Owns the arithmetic from frame counts to a delay with its doubt. Refuses to leave a reading out:
//! it names those that lie far off, and the driver decides.
//!
//! One shot shows finger, key and lamp; the program lights the lamp when it has seen the press, and
//! knows how long that took it. Let press i show on the film as f_i frames from the first with the
//! key down to the first with the lamp lit, F the frames a second and o_i the program's own time from
//! its stamp of the press to its stamp of the light. Then **dᵢ = fᵢ/F − oᵢ = K + D**: what control,
//! scan and bus add before the stamp of a press, and what the display adds after the stamp of a lamp.
//! That is exactly the amount by which a recorded driver part reads late.
//!
//! ```
//! use lastamber::stats::film::{Film, frame_counts};
//!
//! let frames = frame_counts("12, 13 12.5;12 13 12 12 13 12 13")?;
//! let film = Film::new(240.0, frames, vec![16.0; 10])?;
//! let found = film.offset(0.90)?;
//! assert!((found.offset_ms.value - (12.45 / 0.240 - 16.0)).abs() < 1e-9);
//! # Ok::<(), lastamber::stats::film::FilmError>(())
//! ```

mod counts;

pub use counts::{MAX_FRAMES, frame_counts};

use super::summary::{mad, mean, quantile_of_sorted, sd, sd_with_interval, student_quantile};
use super::{Caveat, Estimate, Sample, StatsError};
use crate::history::FilmLine;
use crate::trial::RigPrint;
use crate::units::Measured;
use std::collections::BTreeSet;
use thiserror::Error;

/// Presses below which there is no delay. Chosen: fewer leave half a millisecond open from frames
/// alone, and a single slip of counting bends their mean by more than a frame's tenth.
pub const LEAST_PRESSES: usize = 10;
/// Presses to film. Chosen: frames then leave about a third of a millisecond open at 240 a second,
/// less than the reading itself does, so that more presses no longer pay.
pub const PRESSES_TO_FILM: usize = 25;
/// What reading may be off the same way each time, frames, as an SD. Chosen: it cannot be seen in
/// the readings, because it is in all of them. One who takes the key as down, or the lamp as lit, half a
/// frame early each time is two of these off; a camera that reads its rows one after the other
/// and has key and lamp a quarter of the picture's height apart is one.
pub const READING_BIAS_FRAMES: f64 = 0.25;
/// A robust SD is this many MADs of normal values.
const SD_PER_MAD: f64 = 1.4826;
/// Readings this many robust SDs off the median, and this many frames at least, are asked about.
/// Chosen: an honest count is at most a frame off at its two ends together, and a keyboard that reports
/// every 8 ms puts half of that, one frame at 240 a second, to either side.
const FAR_SDS: f64 = 3.0;
const FAR_FRAMES: f64 = 2.5;
/// A delay above this is doubted, ms. Keyboard and display of whole computers together came to 100
/// at most (Neath, Earle, Hallett and Surprenant 2011, Behavior Research Methods 43); twice that.
const UNLIKELY_MS: f64 = 200.0;

/// Why there is no delay from a film.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum FilmError {
    /// No frame rate of a film.
    #[error("{0} frames a second is no film; give the rate it was taken at, 20 to 2000")]
    Rate(f64),
    /// Something that is no number stands in the counts.
    #[error("reading {position}: `{text}` is no count of frames; write it like 9 or 9.5")]
    NotACount {
        /// Its place, from 1.
        position: usize,
        /// What stands there.
        text: String,
    },
    /// Nothing stands between two separators.
    #[error("reading {position} is missing: nothing stands between two separators")]
    Missing {
        /// Its place, from 1.
        position: usize,
    },
    /// A count that cannot be.
    #[error("reading {position}: {value} frames cannot be; count again, 0 to {MAX_FRAMES}")]
    OutOfRange {
        /// Its place, from 1.
        position: usize,
        /// What was counted.
        value: f64,
    },
    /// A launch that is no car's.
    #[error("launch {position}: {ms:.0} ms is no car part; count again, 100 to 1500 ms")]
    NoCarPart {
        /// Its place, from 1.
        position: usize,
        /// What the count comes to, ms.
        ms: f64,
    },
    /// The program's own time of a press cannot be.
    #[error("press {position}: the program's own time of {value} ms cannot be, 0 to 2000")]
    OwnTime {
        /// Its place, from 1.
        position: usize,
        /// What it is, ms.
        value: f64,
    },
    /// Counts and presses are not as many.
    #[error("{counts} counts for {presses} presses; enter one for each, in order")]
    Uneven {
        /// Counts entered.
        counts: usize,
        /// Presses the program saw.
        presses: usize,
    },
    /// A press that is not there.
    #[error("there is no press {position}; {presses} were filmed")]
    NoSuchPress {
        /// The place asked for, from 1.
        position: usize,
        /// Presses there are.
        presses: usize,
    },
    /// The statistics have no answer.
    #[error(transparent)]
    Stats(#[from] StatsError),
}

/// What was filmed.
#[derive(Debug, Clone, PartialEq)]
pub struct Film {
    fps: f64,
    frames: Vec<f64>,
    own_ms: Vec<f64>,
    left_out: BTreeSet<usize>,
}

/// A reading far from the others, to be asked about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FarReading {
    /// Its place, from 1.
    pub position: usize,
    /// Frames counted.
    pub frames: f64,
    /// How far it lies from the median of all, ms.
    pub off_ms: f64,
}

/// The delay a film gives.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmOffset {
    /// K + D, ms; the interval is Student's about the mean, on the standard error below.
    pub offset_ms: Estimate,
    /// SD from press to press, ms.
    pub spread_ms: Estimate,
    /// SD of what is not known about the delay, ms; reading included.
    pub standard_error_ms: f64,
    /// Doubts.
    pub caveats: Vec<Caveat>,
}

impl Film {
    /// A film of `fps` frames a second: for each press the frames counted and the program's own time
    /// from press to light, ms.
    ///
    /// # Errors
    /// [`FilmError`] naming the place of what cannot be.
    pub fn new(fps: f64, frames: Vec<f64>, own_ms: Vec<f64>) -> Result<Self, FilmError> {
        if !(20.0..=2000.0).contains(&fps) {
            return Err(FilmError::Rate(fps));
        }
        counts::check(&frames)?;
        if let Some(i) = own_ms.iter().position(|ms| !(0.0..=2000.0).contains(ms)) {
            return Err(FilmError::OwnTime { position: i + 1, value: own_ms[i] });
        }
        if frames.len() != own_ms.len() {
            return Err(FilmError::Uneven { counts: frames.len(), presses: own_ms.len() });
        }
        Ok(Self { fps, frames, own_ms, left_out: BTreeSet::new() })
    }

    /// Leaves a press out, or takes it in again: on the driver's word only.
    ///
    /// # Errors
    /// [`FilmError::NoSuchPress`].
    pub fn set_aside(&mut self, position: usize, out: bool) -> Result<(), FilmError> {
        if !(1..=self.frames.len()).contains(&position) {
            return Err(FilmError::NoSuchPress { position, presses: self.frames.len() });
        }
        if out {
            self.left_out.insert(position);
        } else {
            self.left_out.remove(&position);
        }
        Ok(())
    }

    /// Length of a frame, ms.
    pub fn frame_ms(&self) -> f64 {
        1000.0 / self.fps
    }

    /// K + D as each press has it, ms, with its place; those set aside are left out.
    pub fn delays_ms(&self) -> Vec<(usize, f64)> {
        let delay = |i: usize| self.frames[i] * self.frame_ms() - self.own_ms[i];
        (1..=self.frames.len())
            .filter(|position| !self.left_out.contains(position))
            .map(|position| (position, delay(position - 1)))
            .collect()
    }

    /// Readings that lie far from the median: 3 robust SDs and 2.5 frames or more. Ask about them; as
    /// long as they are not set aside they count.
    pub fn far_readings(&self) -> Vec<FarReading> {
        let delays = self.delays_ms();
        let Ok(sample) = sample_of(&delays) else { return Vec::new() };
        let middle = quantile_of_sorted(&sample.sorted(), 0.5);
        let far = (FAR_SDS * SD_PER_MAD * mad(&sample)).max(FAR_FRAMES * self.frame_ms());
        let delays = delays.into_iter().map(|(position, delay)| (position, delay - middle));
        delays
            .filter(|(_, off_ms)| off_ms.abs() >= far)
            .map(|(position, off_ms)| FarReading {
                position,
                frames: self.frames[position - 1],
                off_ms,
            })
            .collect()
    }

    /// The delay, with an interval that holds it with chance `level`.
    ///
    /// With T the length of a frame, s the SD of the n delays: SE² = max(s², T²/6)/n + (T/4)². A count
    /// is cut to whole frames at both ends, each end uniform over a frame: variance 2·T²/12 (the
    /// rectangular distribution of JCGM 100:2008, 4.3.7). It is part of s already, so it only
    /// counts where s is less, as when every press reads the same. The last term is
    /// [`READING_BIAS_FRAMES`].
    ///
    /// # Errors
    /// [`StatsError::TooFew`] below [`LEAST_PRESSES`], [`StatsError::OutOfDomain`] for the level.
    pub fn offset(&self, level: f64) -> Result<FilmOffset, FilmError> {
        let delays = self.delays_ms();
        if delays.len() < LEAST_PRESSES {
            let (have, need) = (delays.len(), LEAST_PRESSES);
            return Err(StatsError::TooFew { have, need }.into());
        }
        let sample = sample_of(&delays)?;
        let (value, n) = (mean(&sample), sample.n());
        let frame = self.frame_ms();
        let one_press = sd(&sample)?.powi(2).max(frame * frame / 6.0);
        let standard_error_ms = (one_press / n as f64).sqrt().hypot(READING_BIAS_FRAMES * frame);
        let half = student_quantile(level, (n - 1) as f64)? * standard_error_ms;
        let mut found = FilmOffset {
            offset_ms: Estimate { value, low: value - half, high: value + half, level, n },
            spread_ms: sd_with_interval(&sample, level)?,
            standard_error_ms,
            caveats: Vec::new(),
        };
        found.caveats = self.caveats(&found);
        Ok(found)
    }

    fn caveats(&self, found: &FilmOffset) -> Vec<Caveat> {
        let (n, of) = (found.offset_ms.n, self.frames.len());
        let (value, far) = (found.offset_ms.value, self.far_readings().len());
        let unlikely = value < -2.0 * found.standard_error_ms || value > UNLIKELY_MS;
        let possible = [
            (n < PRESSES_TO_FILM, Caveat::FewPresses { n }),
            (n < of, Caveat::SetAside { left_out: of - n, of }),
            (far > 0, Caveat::FarReadings { count: far }),
            (unlikely, Caveat::DelayUnlikely),
        ];
        possible.into_iter().filter(|(holds, _)| *holds).map(|(_, caveat)| caveat).collect()
    }

    /// The line for the history; `id` and `saved_at` as in any new line.
    pub fn line(
        &self,
        found: &FilmOffset,
        rig: RigPrint,
        id: String,
        saved_at: String,
    ) -> FilmLine {
        FilmLine {
            id,
            saved_at,
            program: env!("CARGO_PKG_VERSION").to_owned(),
            rig: rig.into(),
            fps: self.fps,
            frames: self.frames.clone(),
            own_ms: self.own_ms.clone(),
            left_out: self.left_out.iter().map(|position| *position as u32).collect(),
            offset_ms: found.offset_ms.value,
            spread_ms: found.spread_ms.value,
            standard_error_ms: found.standard_error_ms,
            n: found.offset_ms.n as u32,
        }
    }
}

impl FilmOffset {
    /// The delay with its doubt, ms, as it is put in force.
    pub fn measured_ms(&self) -> Measured {
        Measured::new(self.offset_ms.value, self.standard_error_ms)
    }
}

fn sample_of(delays: &[(usize, f64)]) -> Result<Sample, StatsError> {
    Sample::new(delays.iter().map(|(_, delay)| *delay).collect())
}
