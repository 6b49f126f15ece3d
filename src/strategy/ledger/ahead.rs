//! A forecast from a driver's own lines, before the first launch of an occasion.
//!
//! Owns which launches it rests on and from how far they are seen. Refuses to forecast from too few, and
//! to know what time it is.

use super::{Declared, Forecast, Occasion};
use crate::strategy::StrategyError;
use crate::strategy::launches::View;
use crate::strategy::own::{OwnLaunches, OwnLines, OwnSetup};

/// A light is good up to this, s. Chosen.
const BETTER_THAN_S: f64 = 0.050;

/// What is about to begin.
#[derive(Debug, Clone, PartialEq)]
pub struct Ahead {
    /// Home or track.
    pub occasion: Occasion,
    /// Which: the day on the driver's own calendar, `2026-05-01`.
    pub occasion_id: String,
    /// Id of the forecast, ordered by time.
    pub id: String,
    /// Wall time, ISO 8601 with zone.
    pub saved_at: String,
    /// The declared aim, s earlier than so far.
    pub earlier_s: f64,
    /// Seed of its draws.
    pub seed: u64,
}

/// What a set-up's practice leads one to expect of what is about to begin; `None` below ten launches.
///
/// # Errors
/// [`StrategyError`] for an aim out of its domain or times that are no numbers.
pub fn forecast_ahead(
    lines: &OwnLines,
    setup: &OwnSetup,
    ahead: Ahead,
) -> Result<Option<Forecast>, StrategyError> {
    let Some(launches) = OwnLaunches::new(lines, setup)?.practice else { return Ok(None) };
    let view = match ahead.occasion {
        Occasion::Session => View::NextSession,
        Occasion::TrackNight => View::AtTheTrack,
    };
    let seen = launches.seen(view, ahead.seed, 0)?;
    let declared = Declared {
        id: ahead.id,
        saved_at: ahead.saved_at,
        driver: setup.driver.clone(),
        occasion: ahead.occasion,
        occasion_id: ahead.occasion_id,
        car: setup.car.clone(),
        tree: setup.tree.clone(),
        interval: setup.interval,
        style: setup.style,
        earlier_s: ahead.earlier_s,
    };
    Forecast::new(declared, &seen, BETTER_THAN_S, ahead.seed).map(Some)
}
