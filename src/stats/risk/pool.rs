//! What a risk is asked of: a driver's launches, and the line below which one is red.
//!
//! Owns the joining of RT = driver part + car part − interval into one line, and what counts beside
//! the measured launches. Refuses to compute a risk.

use super::counts::count_interval;
use crate::stats::{Estimate, Sample, StatsError};
use crate::units::Measured;

/// Times are kept on a grid of nanoseconds, the clock's own, and within 10⁶ s: so the same times in
/// seconds and in milliseconds are the same numbers, bit for bit.
pub(super) fn grid_ms(seconds: f64) -> f64 {
    (seconds.clamp(-1e6, 1e6) * 1e9).round() / 1e6
}

/// One driver's launches on one tree in one style, in the order they were made.
#[derive(Debug, Clone, PartialEq)]
pub struct Pool {
    driver_parts: Sample,
    days: Option<Vec<u32>>,
    left_before_tree: usize,
    lapses: usize,
    clock_sd_s: f64,
}

impl Pool {
    /// Launches with a driver part, in seconds (any origin, as long as the line has the same).
    pub fn new(driver_parts: Sample) -> Self {
        Self { driver_parts, days: None, left_before_tree: 0, lapses: 0, clock_sd_s: 0.0 }
    }

    /// The same with the day of each launch.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] unless there is exactly one day per launch.
    pub fn with_days(mut self, days: Vec<u32>) -> Result<Self, StatsError> {
        if days.len() != self.driver_parts.n() {
            return Err(StatsError::OutOfDomain {
                name: "number of days given",
                value: days.len() as f64,
                domain: "one per launch",
            });
        }
        self.days = Some(days);
        Ok(self)
    }

    /// The same with launches that have no driver part: left before the tree came down (red in
    /// every risk) and never launched (late in every risk).
    pub fn with_unmeasured(mut self, left_before_tree: usize, lapses: usize) -> Self {
        self.left_before_tree = left_before_tree;
        self.lapses = lapses;
        self
    }

    /// The same with the SD the clock adds to each launch on its own; its share is taken out of
    /// the driver's spread.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] unless it is 0 or more and finite.
    pub fn with_clock_sd(mut self, sd_s: f64) -> Result<Self, StatsError> {
        self.clock_sd_s = check_sd("clock's SD", sd_s)?;
        Ok(self)
    }

    /// The measured driver parts.
    pub fn driver_parts(&self) -> &Sample {
        &self.driver_parts
    }

    /// The day of each, if known.
    pub fn days(&self) -> Option<&[u32]> {
        self.days.as_deref()
    }

    /// Launches made before the tree came down.
    pub fn left_before_tree(&self) -> usize {
        self.left_before_tree
    }

    /// Trees without a launch.
    pub fn lapses(&self) -> usize {
        self.lapses
    }

    /// The clock's SD, s.
    pub fn clock_sd_s(&self) -> f64 {
        self.clock_sd_s
    }

    /// Starts that were red below `line` with everything moved earlier by `earlier_s`, those that
    /// left before the tree included, and their share with its exact interval. For any number of
    /// launches.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for a level outside 0–1.
    pub fn counts(
        &self,
        line: &RedLine,
        earlier_s: f64,
        level: f64,
    ) -> Result<(usize, Estimate), StatsError> {
        let at = grid_ms(line.at_s() + earlier_s);
        let below = self.driver_parts.values().iter().filter(|x| grid_ms(**x) < at).count();
        let reds = below + self.left_before_tree;
        Ok((reds, count_interval(reds, self.starts(), level)?))
    }

    /// Every start that counts, measured or not.
    pub fn starts(&self) -> usize {
        self.driver_parts.n() + self.left_before_tree + self.lapses
    }
}

/// From the launch edge to the beam's answer, as far as it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CarPart {
    /// Best value, s.
    pub mean_s: f64,
    /// SD of what is not known about the car, s: the same error on every launch.
    pub doubt_sd_s: f64,
    /// SD from run to run, s: a new one on every launch.
    pub run_sd_s: f64,
}

/// A driver part below this line is a red light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RedLine {
    at_s: f64,
    doubt_sd_s: f64,
    run_sd_s: f64,
}

impl RedLine {
    /// A line known exactly; 0 for reaction times proper.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] unless it lies within ± 10⁵ s.
    pub fn at(threshold_s: f64) -> Result<Self, StatsError> {
        Ok(Self { at_s: check_line(threshold_s)?, doubt_sd_s: 0.0, run_sd_s: 0.0 })
    }

    /// Where driver part + car part − interval = 0.
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for spreads below 0 and anything that is not finite.
    pub fn of_car(car: CarPart, interval_s: f64) -> Result<Self, StatsError> {
        Ok(Self {
            at_s: check_line(interval_s - car.mean_s)?,
            doubt_sd_s: check_sd("car part's doubt", car.doubt_sd_s)?,
            run_sd_s: check_sd("car part's run-to-run SD", car.run_sd_s)?,
        })
    }

    /// The line for driver parts that all read late by `offset_s`, known with its SD.
    ///
    /// # Errors
    /// As [`RedLine::of_car`].
    pub fn read_late_by(self, offset_s: Measured) -> Result<Self, StatsError> {
        let doubt = check_sd("offset's SD", offset_s.sd)?;
        Ok(Self {
            at_s: check_line(self.at_s + offset_s.value)?,
            doubt_sd_s: self.doubt_sd_s.hypot(doubt),
            ..self
        })
    }

    /// The line, s.
    pub fn at_s(&self) -> f64 {
        self.at_s
    }

    /// SD of what is not known about it, s.
    pub fn doubt_sd_s(&self) -> f64 {
        self.doubt_sd_s
    }

    /// SD from run to run, s.
    pub fn run_sd_s(&self) -> f64 {
        self.run_sd_s
    }
}

pub(in crate::stats) fn check_sd(name: &'static str, value: f64) -> Result<f64, StatsError> {
    if (0.0..=1e5).contains(&value) {
        Ok(value)
    } else {
        Err(StatsError::OutOfDomain { name, value, domain: "0 to 100,000 s" })
    }
}

fn check_line(value: f64) -> Result<f64, StatsError> {
    if value.abs() <= 1e5 {
        Ok(value)
    } else {
        Err(StatsError::OutOfDomain { name: "red line", value, domain: "±100,000 s" })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_is_where_driver_car_and_interval_meet() {
        let car = CarPart { mean_s: 0.22, doubt_sd_s: 0.03, run_sd_s: 0.01 };
        let line = RedLine::of_car(car, 0.5).unwrap();
        assert!((line.at_s() - 0.28).abs() < 1e-15);
        // A driver part that reads 35 ms late is red below a line 35 ms higher.
        let late = line.read_late_by(Measured::new(0.035, 0.04)).unwrap();
        assert!((late.at_s() - 0.315).abs() < 1e-15);
        assert!((late.doubt_sd_s() - 0.05).abs() < 1e-15);
        assert_eq!(late.run_sd_s(), 0.01);
    }

    #[test]
    fn lines_and_spreads_without_sense_are_refused() {
        assert!(RedLine::at(f64::NAN).is_err());
        let car = CarPart { mean_s: 0.22, doubt_sd_s: -0.03, run_sd_s: 0.01 };
        assert!(RedLine::of_car(car, 0.5).is_err());
        let pool = Pool::new(Sample::new(vec![0.2, 0.3]).unwrap());
        assert!(pool.clone().with_days(vec![1]).is_err());
        assert!(pool.with_clock_sd(f64::INFINITY).is_err());
    }

    #[test]
    fn seconds_and_milliseconds_land_on_the_same_grid() {
        for ms in [123.4, -0.3, 0.1, 257.9, 40.000_001] {
            assert_eq!(grid_ms(ms / 1000.0), (ms * 1e6).round() / 1e6);
        }
        assert!(grid_ms(1e308).is_finite());
    }
}
