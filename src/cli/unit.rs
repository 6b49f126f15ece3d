//! The unit of a column of times.
//!
//! Owns what it is called and what it is worth in seconds. Refuses to guess from the times
//! themselves: a column's name may say it, its numbers may not.

use clap::ValueEnum;

/// Unit of a column of times.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Unit {
    /// Seconds.
    S,
    /// Milliseconds.
    Ms,
}

impl Unit {
    /// The unit asked for, or the one the column's name says.
    pub fn of_column(asked: Option<Self>, column: &str) -> Self {
        asked.unwrap_or(if column.ends_with("_ms") { Self::Ms } else { Self::S })
    }

    /// How many of it make a second.
    pub fn per_second(self) -> f64 {
        match self {
            Self::S => 1.0,
            Self::Ms => 1000.0,
        }
    }

    /// Its sign.
    pub fn sign(self) -> &'static str {
        match self {
            Self::S => "s",
            Self::Ms => "ms",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_columns_name_may_say_its_unit() {
        assert_eq!(Unit::of_column(None, "rt_ms"), Unit::Ms);
        assert_eq!(Unit::of_column(None, "rt"), Unit::S);
        assert_eq!(Unit::of_column(Some(Unit::S), "rt_ms"), Unit::S);
    }
}
