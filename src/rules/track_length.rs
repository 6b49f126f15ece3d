//! The two lengths a track is raced over, and where its clocks stand.
//!
//! Owns these distances. Refuses cars.

use std::fmt;

/// How long the race is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum TrackLength {
    /// 660 ft.
    Eighth,
    /// 1320 ft.
    #[default]
    Quarter,
}

/// The speed trap: a slip's speed is the average over the last 66 ft (published: slips and tracks'
/// own explanations agree), ft.
pub const TRAP_FT: f64 = 66.0;

impl TrackLength {
    /// From the start line to the finish, ft.
    pub const fn feet(self) -> f64 {
        match self {
            TrackLength::Eighth => 660.0,
            TrackLength::Quarter => 1320.0,
        }
    }

    /// The word for it.
    pub const fn name(self) -> &'static str {
        match self {
            TrackLength::Eighth => "eighth",
            TrackLength::Quarter => "quarter",
        }
    }
}

impl fmt::Display for TrackLength {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// The speed that 66 ft in `seconds` stand for, mph; 66 ft in .458 s are 98.25 mph (published: a
/// track's explanation of its slip).
pub fn trap_mph(seconds: f64) -> f64 {
    TRAP_FT / seconds * FEET_A_SECOND_TO_MPH
}

/// One foot a second in miles an hour, exactly: 3600/5280.
pub const FEET_A_SECOND_TO_MPH: f64 = 15.0 / 22.0;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sixty_six_feet_in_458_thousandths_are_98_mph() {
        assert!((trap_mph(0.458) - 98.25).abs() < 0.005);
    }
}
