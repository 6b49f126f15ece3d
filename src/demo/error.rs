//! Why the made-up weeks could not be made.

use crate::car::CarError;
use crate::progress::Cancelled;
use crate::rules::RulesError;
use crate::stats::StatsError;
use crate::stats::film::FilmError;
use crate::strategy::StrategyError;
use thiserror::Error;

/// A number of the made-up driver fits no room's limits: a fault of the program, not of the user.
#[derive(Debug, Error)]
pub enum DemoError {
    /// The car.
    #[error("the demo's car cannot be: {0}")]
    Car(#[from] CarError),
    /// The film.
    #[error("the demo's film cannot be: {0}")]
    Film(#[from] FilmError),
    /// A time.
    #[error("the demo's slips cannot be: {0}")]
    Rules(#[from] RulesError),
    /// A forecast.
    #[error("the demo's forecast cannot be: {0}")]
    Strategy(#[from] StrategyError),
    /// A number.
    #[error("the demo's numbers cannot be: {0}")]
    Stats(#[from] StatsError),
    /// Somebody wished for the end.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
    /// The car has neither weight nor power.
    #[error("the demo's car has no pass: weight or power is missing")]
    NoPass,
}
