//! Nights at the track against what was forecast of them.
//!
//! Owns which slips answer a forecast: those of its day, driver, car, tree and style. Refuses forecasts
//! that were made after the first slip of the night was entered (the ledger does).

use crate::history::slips_in_force;
use crate::strategy::ledger::{Came, Forecast, Occasion, Score, score};
use crate::strategy::own::{OwnLines, OwnSetup, fits};

/// The scores of nights in a set-up, in the order of their forecasts; nights without slips have none yet.
pub(super) fn night_scores(
    lines: &OwnLines,
    setup: &OwnSetup,
    forecasts: &[Forecast],
) -> Vec<Score> {
    let of_setup = |forecast: &&Forecast| {
        let told = &forecast.declared;
        told.occasion == Occasion::TrackNight
            && told.driver == setup.driver
            && told.car == setup.car
            && told.tree == setup.tree
            && told.interval == setup.interval
            && told.style == setup.style
    };
    let scored = |forecast: &Forecast| {
        let night = slips_in_force(lines.slips).into_iter().filter(|line| {
            let date = line.slip.date.map(|date| date.to_string());
            let of_it = date.as_deref() == Some(forecast.declared.occasion_id.as_str());
            of_it && !line.slip.is_simulated() && fits(&line.slip, setup, lines.cars)
        });
        let (mut first_id, mut lights_s, mut reds) = (None, Vec::new(), 0);
        for line in night {
            let slip = &line.slip;
            if slip.rt().is_none() && !slip.is_red() {
                continue;
            }
            first_id = first_id.into_iter().chain([line.id.as_str()]).min();
            match slip.rt() {
                Some(rt) => lights_s.push(rt.seconds()),
                None => reds += 1,
            }
        }
        let came =
            Came { first_id: first_id?, lights_s: &lights_s, left_before_tree: reds, lapses: 0 };
        // One made too late is not scored; the others are.
        score(forecast, &came).ok().flatten()
    };
    forecasts.iter().filter(of_setup).filter_map(scored).collect()
}
