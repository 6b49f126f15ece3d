//! What the made-up driver is told to expect before an evening or a night.
//!
//! Owns when a forecast is made and from which launches. Refuses to forecast by other means than the
//! program has: it is the ledger's own.

use super::calendar::Evening;
use super::error::DemoError;
use super::{PROGRAM, Weeks, truth, wall};
use crate::rules::TreeKind;
use crate::seed::seed_of_run;
use crate::strategy::ledger::{Ahead, Occasion, forecast_ahead};
use crate::strategy::own::{OwnLines, OwnSetup};
use crate::trial::Style;
use jiff::Timestamp;

/// Evenings before the first forecast.
const FIRST: usize = 4;

impl Weeks {
    /// What to expect of an evening's timed launches.
    pub(super) fn forecast_evening(
        &mut self,
        place: usize,
        evening: &Evening,
        at: Timestamp,
    ) -> Result<(), DemoError> {
        let timed = evening.rounds.iter().flatten().any(|run| run.style == Style::TimeIt);
        if place >= FIRST && place.is_multiple_of(self.plan.forecast_every) && timed {
            self.forecast(Occasion::Session, at)?;
        }
        Ok(())
    }

    /// What to expect of a night at the track.
    pub(super) fn forecast_night(&mut self, at: Timestamp) -> Result<(), DemoError> {
        self.forecast(Occasion::TrackNight, at)
    }

    fn forecast(&mut self, occasion: Occasion, at: Timestamp) -> Result<(), DemoError> {
        let ahead = Ahead {
            occasion,
            occasion_id: wall(at).chars().take(10).collect(),
            id: self.id(at),
            saved_at: wall(at),
            earlier_s: 0.0,
            seed: seed_of_run(self.seed, 10_000 + self.lines.len() as u64),
        };
        let lines = OwnLines {
            trials: &self.trials,
            cars: &self.cars,
            slips: &self.slips,
            films: &self.films,
            rigs: &self.rigs,
            excluded: &[],
        };
        if let Some(forecast) = forecast_ahead(&lines, &own_setup(), ahead)? {
            self.lines.push(forecast.to_line(PROGRAM).into());
        }
        Ok(())
    }
}

fn own_setup() -> OwnSetup {
    let kind = TreeKind::full();
    OwnSetup {
        driver: truth::DRIVER.to_owned(),
        car: truth::CAR.to_owned(),
        tree: kind.name().to_owned(),
        ambers: kind.ambers(),
        amber_gap: kind.amber_gap(),
        interval: kind.green_gap(),
        launch_edge: "press".to_owned(),
        style: Style::TimeIt,
    }
}
