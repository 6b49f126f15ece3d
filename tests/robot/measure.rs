//! What the robot saw against what the program said, run by run and as a whole.
//!
//! Owns the comparison, the statistics of the errors and the table. Refuses to decide what is good
//! enough: the bars stand with the tests.

use crate::player::Sighting;
use crate::trace::{Parts, Verdict};
use crate::xserver::Outcome;

/// Turns a median absolute deviation into a standard deviation for a normal distribution:
/// 1 / Φ⁻¹(3/4) = 1.4826.
const MAD_TO_SD: f64 = 1.4826;

/// How the colour of a verdict stands to the robot's own arithmetic.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colour {
    Agrees,
    /// Zero lies inside the doubt: either colour is right.
    Open,
    Contradicts,
}

/// One run, compared.
#[derive(Debug, Clone)]
pub struct Compared {
    pub aimed_ns: i64,
    pub robot_ns: (i64, i64),
    pub parts: Parts,
    pub outcome: String,
    pub colour: Colour,
    /// The driver part by stamps of the update loop alone, ns.
    pub stock_driver_ns: Option<i64>,
}

impl Compared {
    /// Compares a run in which both sides have something to say.
    pub fn new(aimed_ns: i64, sighting: &Sighting, verdict: &Verdict) -> Outcome<Self> {
        let parts = verdict.parts.ok_or_else(|| {
            format!(
                "a launch was made, yet {} is {} without a reaction time",
                verdict.id, verdict.outcome
            )
        })?;
        let sum_ns = parts.driver_ns + parts.car_ns - parts.interval_ns;
        if parts.rt_ns != sum_ns {
            return Err(format!("rt_ns is {} but the parts make {sum_ns}: {parts:?}", parts.rt_ns));
        }
        if parts.early_ns < 0 || parts.late_ns < 0 {
            return Err(format!("a doubt below zero: {parts:?}"));
        }
        let robot_ns = sighting.driver_part_ns();
        let colour = colour(robot_ns, parts, &verdict.outcome)?;
        Ok(Self {
            aimed_ns,
            robot_ns,
            parts,
            outcome: verdict.outcome.clone(),
            colour,
            stock_driver_ns: None,
        })
    }

    /// The program's best driver part minus the middle of the robot's, ms.
    pub fn error_ms(&self) -> f64 {
        let (low, high) = self.robot_ns;
        self.parts.driver_ns as f64 * 1e-6 - (low + high) as f64 * 0.5e-6
    }

    /// What stamps of the update loop alone would have given, minus the middle of the robot's, ms.
    pub fn stock_error_ms(&self) -> Option<f64> {
        let (low, high) = self.robot_ns;
        self.stock_driver_ns.map(|ns| ns as f64 * 1e-6 - (low + high) as f64 * 0.5e-6)
    }

    /// The width of the program's interval, ms.
    pub fn stated_width_ms(&self) -> f64 {
        (self.parts.early_ns + self.parts.late_ns) as f64 * 1e-6
    }

    /// The width of the robot's interval, ms.
    pub fn robot_width_ms(&self) -> f64 {
        (self.robot_ns.1 - self.robot_ns.0) as f64 * 1e-6
    }

    /// Whether the program's interval and the robot's have a moment in common.
    pub fn meets(&self) -> bool {
        let (low, high) = self.robot_ns;
        self.parts.driver_ns - self.parts.early_ns <= high
            && low <= self.parts.driver_ns + self.parts.late_ns
    }

    /// One row of the table.
    pub fn row(&self, number: usize) -> String {
        format!(
            "{number:>4} {:>8.1} {:>9.2} ±{:<6.2} {:>9.2} -{:<5.2}+{:<5.2} {:>7.2} {:>5} {:<6} {:?}",
            self.aimed_ns as f64 * 1e-6,
            (self.robot_ns.0 + self.robot_ns.1) as f64 * 0.5e-6,
            self.robot_width_ms() / 2.0,
            self.parts.driver_ns as f64 * 1e-6,
            self.parts.early_ns as f64 * 1e-6,
            self.parts.late_ns as f64 * 1e-6,
            self.error_ms(),
            if self.meets() { "meet" } else { "MISS" },
            self.outcome,
            self.colour,
        )
    }
}

/// The head of the table of rows, all times in ms.
pub const HEAD: &str =
    " run    aimed     robot ±half      program  -early+late    error  both colour (ms)";

/// The colour the robot's own driver part asks for, widened by the doubt the program states.
fn colour((low, high): (i64, i64), parts: Parts, outcome: &str) -> Outcome<Colour> {
    let rest_ns = parts.car_ns - parts.interval_ns;
    let earliest_rt_ns = low - parts.early_ns + rest_ns;
    let latest_rt_ns = high + parts.late_ns + rest_ns;
    let is_red = match outcome {
        "red" => true,
        "green" => false,
        other => return Err(format!("outcome {other} after a launch that should be red or green")),
    };
    Ok(match (earliest_rt_ns >= 0, latest_rt_ns < 0) {
        (true, _) => {
            if is_red {
                Colour::Contradicts
            } else {
                Colour::Agrees
            }
        }
        (_, true) => {
            if is_red {
                Colour::Agrees
            } else {
                Colour::Contradicts
            }
        }
        _ => Colour::Open,
    })
}

/// The middle value; the mean of the two middle ones for an even count. NaN when empty.
pub fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    match n {
        0 => f64::NAN,
        _ if n % 2 == 1 => sorted[n / 2],
        _ => f64::midpoint(sorted[n / 2 - 1], sorted[n / 2]),
    }
}

/// 1.4826 × the median distance from the median.
pub fn robust_sd(values: &[f64]) -> f64 {
    let middle = median(values);
    let distances: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    MAD_TO_SD * median(&distances)
}

/// The largest size.
pub fn worst(values: &[f64]) -> f64 {
    values.iter().map(|v| v.abs()).fold(0.0, f64::max)
}

/// The share of values whose size is at most `limit`.
pub fn share_within(values: &[f64], limit: f64) -> f64 {
    values.iter().filter(|v| v.abs() <= limit).count() as f64 / values.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keys::Sent;

    const MS: i64 = 1_000_000;

    fn compared(driver_ms: i64, early_ms: i64, late_ms: i64, outcome: &str) -> Outcome<Compared> {
        let press = Sent { before_ns: 1_100 * MS, after_ns: 1_101 * MS };
        let sighting = Sighting { last_dark_ns: 999 * MS, first_lit_ns: 1_000 * MS, press };
        let parts = Parts {
            rt_ns: (driver_ms - 100) * MS,
            driver_ns: driver_ms * MS,
            car_ns: 400 * MS,
            interval_ns: 500 * MS,
            early_ns: early_ms * MS,
            late_ns: late_ms * MS,
        };
        let verdict = Verdict { id: "A".into(), outcome: outcome.into(), parts: Some(parts) };
        Compared::new(100 * MS, &sighting, &verdict)
    }

    #[test]
    fn the_middle_and_the_scatter_are_those_of_a_worked_example() {
        let values = [1.0, 2.0, 4.0, 8.0, 100.0];
        assert_eq!(median(&values), 4.0);
        // Distances 3, 2, 0, 4, 96: their median is 3.
        assert!((robust_sd(&values) - 4.4478).abs() < 1e-12);
        assert_eq!(share_within(&values, 4.0), 0.6);
        assert_eq!(median(&[1.0, 2.0]), 1.5);
    }

    #[test]
    fn intervals_meet_only_when_they_have_a_moment_in_common() {
        assert!(compared(101, 0, 0, "green").unwrap().meets());
        assert!(compared(106, 4, 0, "green").unwrap().meets());
        assert!(!compared(106, 3, 9, "green").unwrap().meets());
        assert!(!compared(96, 9, 3, "red").unwrap().meets());
    }

    #[test]
    fn a_colour_is_open_only_while_zero_lies_in_the_doubt() {
        assert_eq!(compared(101, 0, 0, "green").unwrap().colour, Colour::Agrees);
        assert_eq!(compared(101, 0, 0, "red").unwrap().colour, Colour::Contradicts);
        assert_eq!(compared(101, 1, 0, "red").unwrap().colour, Colour::Open);
        assert!(compared(101, 1, 0, "lapse").is_err());
    }
}
