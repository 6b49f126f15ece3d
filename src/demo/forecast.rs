//! What the made-up driver is told to expect before an evening or a night.
//!
//! Owns when a forecast is made and from which launches. Refuses to forecast by other means than the
//! program has: it is the ledger's own.

use super::calendar::Planned;
use super::error::DemoError;
use super::{PROGRAM, Weeks, truth, wall};
use crate::rules::TreeKind;
use crate::seed::seed_of_run;
use crate::stats::risk::{CarPart, HomeToTrack, LEAST_FOR_RISK, RedLine};
use crate::strategy::launches::{Launches, Seen, View};
use crate::strategy::ledger::{Declared, Forecast, Occasion};
use crate::strategy::own::{OwnCar, OwnLines, OwnRuns, OwnSetup, OwnSlips, way_to_the_track};
use crate::trial::Style;
use jiff::Timestamp;

/// Evenings before the first forecast.
const FIRST: usize = 4;
/// A light is good up to this, s.
const BETTER_THAN_S: f64 = 0.050;

impl Weeks {
    /// What to expect of an evening's timed launches.
    pub(super) fn forecast_evening(
        &mut self,
        evening: usize,
        runs: &[Planned],
        at: Timestamp,
    ) -> Result<(), DemoError> {
        let timed = runs.iter().any(|run| run.style == Style::TimeIt);
        if evening >= FIRST && timed {
            self.forecast(Occasion::Session, View::NextSession, at)?;
        }
        Ok(())
    }

    /// What to expect of a night at the track.
    pub(super) fn forecast_night(&mut self, at: Timestamp) -> Result<(), DemoError> {
        self.forecast(Occasion::TrackNight, View::AtTheTrack, at)
    }

    fn forecast(&mut self, occasion: Occasion, view: View, at: Timestamp) -> Result<(), DemoError> {
        let seed = seed_of_run(self.seed, 10_000 + self.lines.len() as u64);
        let Some(seen) = self.seen(view, seed)? else { return Ok(()) };
        let setup = own_setup();
        let declared = Declared {
            id: self.id(at),
            saved_at: wall(at),
            driver: setup.driver,
            occasion,
            occasion_id: wall(at).chars().take(10).collect(),
            car: setup.car,
            tree: setup.tree,
            interval: setup.interval,
            style: setup.style,
            earlier_s: 0.0,
        };
        let forecast = Forecast::new(declared, &seen, BETTER_THAN_S, seed)?;
        self.lines.push(forecast.to_line(PROGRAM).into());
        Ok(())
    }

    /// The timed launches so far as they are seen from there; none while they are too few.
    fn seen(&self, view: View, seed: u64) -> Result<Option<Seen>, DemoError> {
        let lines = OwnLines {
            trials: &self.trials,
            cars: &self.cars,
            slips: &self.slips,
            films: &self.films,
            rigs: &self.rigs,
            excluded: &[],
        };
        let setup = own_setup();
        let interval_s = setup.interval.as_secs_f64();
        let part = OwnCar::new(&lines, &setup).part;
        let runs = OwnRuns::new(&lines, &setup, RedLine::of_car(part, interval_s)?.at_s());
        let part = CarPart { doubt_sd_s: part.doubt_sd_s.hypot(runs.delay_sd_s), ..part };
        let enough = runs.pool()?.filter(|pool| pool.driver_parts().n() >= LEAST_FOR_RISK);
        let Some(pool) = enough else { return Ok(None) };
        let line = RedLine::of_car(part, interval_s)?;
        let home = match view {
            View::AtTheTrack => way_to_the_track(&pool, &line, &OwnSlips::new(&lines, &setup))?,
            _ => HomeToTrack::prior(line.doubt_sd_s())?,
        };
        let launches = Launches::practice(pool, part, interval_s, home)?;
        Ok(Some(launches.seen(view, seed, 0)?))
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
