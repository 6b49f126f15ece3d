//! The program's account of itself: what it expected, and what came.
//!
//! Owns forecasts per setup and declared aim, hidden until their session is over, and their scores:
//! hit or miss, Brier score, calibration by risk band, coverage of the interval of lights. Refuses to
//! change a forecast, and to score one that was made after its first launch.

mod ahead;
mod forecast;
mod held;
mod score;

pub use ahead::{Ahead, forecast_ahead};
pub use forecast::{Declared, Forecast, Occasion, Rate};
pub(super) use held::of_night;
pub use held::{Held, Standing};
pub use score::{Band, Board, Came, Score, board, score};

/// All forecasts, in the order they were saved.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Ledger {
    forecasts: Vec<Forecast>,
}

impl Ledger {
    /// From the history's lines; lines with words this program does not know are left out.
    pub fn new<'a>(lines: impl IntoIterator<Item = &'a crate::history::ForecastLine>) -> Self {
        Self { forecasts: lines.into_iter().filter_map(Forecast::of_line).collect() }
    }

    /// What may be seen while `running` is going on: everything but its own forecasts.
    pub fn shown(&self, running: Option<&str>) -> impl Iterator<Item = &Forecast> {
        self.forecasts.iter().filter(move |f| running != Some(f.declared.occasion_id.as_str()))
    }

    /// The forecasts of an occasion that is over.
    pub fn of_occasion(&self, occasion_id: &str) -> impl Iterator<Item = &Forecast> {
        self.forecasts.iter().filter(move |f| f.declared.occasion_id == occasion_id)
    }
}
