//! Options of the window.
//!
//! Owns their spelling and their limits. Refuses their meaning.

use clap::{Args, ValueEnum};
use std::path::{Path, PathBuf};
use std::str::FromStr;

/// Options of the window.
#[derive(Debug, Clone, Args)]
pub struct WindowArgs {
    /// Folder of your runs; made on first use.
    #[arg(long, value_name = "DIR")]
    pub data: Option<PathBuf>,

    /// Name the runs are kept under.
    #[arg(long, value_name = "NAME", default_value = "me")]
    pub driver: String,

    /// Fixes everything random. Such runs are marked as scripted and left out of statistics.
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
    pub seed: Option<u64>,

    /// Size of the window, for example 1280x720.
    #[arg(long, value_name = "WxH", default_value = "1280x720")]
    pub size: Size,

    /// At most this many frames a second.
    #[arg(long, value_name = "HZ", value_parser = frame_cap, allow_negative_numbers = true)]
    pub frame_cap: Option<f64>,

    /// Where the time of a press comes from: the best that runs, the kernel, or the window alone.
    #[arg(long, value_name = "WHICH", default_value = "auto")]
    pub sources: Sources,

    /// Constant delay of your controls and screen with its doubt, in milliseconds.
    #[arg(long, value_name = "MEAN,SD", allow_hyphen_values = true)]
    pub offset_ms: Option<OffsetMs>,

    /// Provokes a stall of so many ms every so many seconds. Marks the runs as scripted.
    #[arg(long, value_name = "MS:EVERY_S")]
    pub stall: Option<Stall>,

    /// Writes a line for every event of the run. Marks the runs as scripted.
    #[arg(long, value_name = "FILE")]
    pub trace: Option<PathBuf>,
}

impl WindowArgs {
    /// The window on a folder, for a driver, everything else as it is without options.
    pub fn on(folder: &Path, driver: &str) -> Self {
        Self {
            data: Some(folder.to_owned()),
            driver: driver.to_owned(),
            seed: None,
            size: Size { width: 1280, height: 720 },
            frame_cap: None,
            sources: Sources::Auto,
            offset_ms: None,
            stall: None,
            trace: None,
        }
    }

    /// Whether a script or a provoked fault has a hand in the runs.
    pub fn is_scripted(&self) -> bool {
        self.seed.is_some() || self.stall.is_some() || self.trace.is_some()
    }
}

/// Which press sources may run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Sources {
    /// The best that runs here without leave to read devices.
    Auto,
    /// Also the kernel's own events (Linux): needs leave to read the keyboards in /dev/input.
    Kernel,
    /// None: only the window's own events.
    None,
}

/// Size of the window in logical pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// Width, 320–7680.
    pub width: u32,
    /// Height, 240–4320.
    pub height: u32,
}

impl FromStr for Size {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("`{text}` is not a size; write it like 1280x720");
        let (width, height) = text.split_once('x').ok_or_else(wrong)?;
        let width = width.parse().map_err(|_| wrong())?;
        let height = height.parse().map_err(|_| wrong())?;
        if (320..=7680).contains(&width) && (240..=4320).contains(&height) {
            Ok(Self { width, height })
        } else {
            Err(format!("`{text}` is out of range; from 320x240 to 7680x4320"))
        }
    }
}

/// A constant delay and its doubt, milliseconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OffsetMs {
    /// The delay, −500…500.
    pub mean: f64,
    /// Its standard deviation, 0…500.
    pub sd: f64,
}

impl FromStr for OffsetMs {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("`{text}` is not a delay; write mean and spread like 35,15");
        let (mean, sd) = text.split_once(',').ok_or_else(wrong)?;
        let mean: f64 = mean.trim().parse().map_err(|_| wrong())?;
        let sd: f64 = sd.trim().parse().map_err(|_| wrong())?;
        if (-500.0..=500.0).contains(&mean) && (0.0..=500.0).contains(&sd) {
            Ok(Self { mean, sd })
        } else {
            Err(format!("`{text}` is out of range; mean -500 to 500, spread 0 to 500"))
        }
    }
}

/// A provoked stall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stall {
    /// How long, 1–10000 ms.
    pub ms: u32,
    /// How often, every 1–3600 s.
    pub every_s: u32,
}

impl FromStr for Stall {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("`{text}` is not a stall; write it like 300:5");
        let (ms, every_s) = text.split_once(':').ok_or_else(wrong)?;
        let ms = ms.parse().map_err(|_| wrong())?;
        let every_s = every_s.parse().map_err(|_| wrong())?;
        if (1..=10_000).contains(&ms) && (1..=3600).contains(&every_s) {
            Ok(Self { ms, every_s })
        } else {
            Err(format!("`{text}` is out of range; 1 to 10000 ms, every 1 to 3600 s"))
        }
    }
}

fn frame_cap(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(hz) if (5.0..=1000.0).contains(&hz) => Ok(hz),
        _ => Err(format!("`{text}` is not a frame rate from 5 to 1000")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_two_numbers_in_range() {
        assert_eq!("640x360".parse(), Ok(Size { width: 640, height: 360 }));
        assert!("640".parse::<Size>().is_err());
        assert!("10x10".parse::<Size>().unwrap_err().contains("out of range"));
        assert!("-640x360".parse::<Size>().is_err());
    }

    #[test]
    fn a_delay_needs_a_mean_and_a_spread_that_can_be() {
        assert_eq!("35,15".parse(), Ok(OffsetMs { mean: 35.0, sd: 15.0 }));
        for wrong in ["35", "35,-1", "nan,1", "900,1", "a,b"] {
            assert!(wrong.parse::<OffsetMs>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn stalls_and_caps_have_limits() {
        assert_eq!("300:5".parse(), Ok(Stall { ms: 300, every_s: 5 }));
        assert!("0:5".parse::<Stall>().is_err());
        assert!(frame_cap("20").is_ok() && frame_cap("-20").is_err() && frame_cap("NaN").is_err());
    }
}
