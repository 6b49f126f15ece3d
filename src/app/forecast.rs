//! The program's own account: what it expects of today's launches, stored before the first of them.
//!
//! Owns when a forecast is made: once a day and set-up, while nothing runs, beside the frames. It is not
//! shown: Weeks holds it against what came. Refuses scripted sittings, which are outside statistics, and
//! a set-up that was launched today already.

use super::background::Work;
use super::book::Book;
use super::clock;
use super::garage::Garage;
use super::history_store::Store;
use super::lane::{Phase, Session};
use super::setup::setup_now;
use super::{AppSystems, Screen};
use crate::history::{ForecastLine, Loaded};
use crate::strategy::ledger::{Ahead, Occasion, forecast_ahead};
use crate::strategy::own::{OwnLines, OwnSetup};
use bevy::prelude::*;

/// What was forecast in this sitting.
#[derive(Resource, Debug, Default)]
struct Told {
    done: Vec<(String, OwnSetup)>,
    work: Work<Option<ForecastLine>>,
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Told>()
        .add_systems(Update, tell_ahead.in_set(AppSystems::Analyse).run_if(in_state(Screen::Lane)));
}

/// Makes the day's forecast while the lane waits for its first run.
fn tell_ahead(
    phase: Res<Phase>,
    session: Option<Res<Session>>,
    garage: Res<Garage>,
    book: Res<Book>,
    store: Res<Store>,
    mut told: ResMut<Told>,
) {
    if let Some(Some(line)) = told.work.answer()
        && let Err(error) = store.submit(line)
    {
        warn!("the forecast is not saved: {error}");
    }
    let Some(session) = session.filter(|session| !session.scripted) else { return };
    if !matches!(*phase, Phase::Ready) || book.edition() == 0 || told.work.is_under_way() {
        return;
    }
    let (saved_at, setup) = (clock::wall_time(), setup_now(&session, &garage));
    let Some(day) = saved_at.get(..10).map(str::to_owned) else { return };
    if told.done.iter().any(|(on, of)| *on == day && *of == setup) {
        return;
    }
    told.done.push((day.clone(), setup.clone()));
    if is_late(book.lines(), &setup, &day) {
        return;
    }
    let occasion = (Occasion::Session, day);
    let lines = book.lines().clone();
    told.work.start("forecast", move || forecast_line(&lines, &setup, occasion, saved_at));
}

/// The line of a forecast made now; none below ten launches.
pub fn forecast_line(
    lines: &Loaded,
    setup: &OwnSetup,
    (occasion, occasion_id): (Occasion, String),
    saved_at: String,
) -> Option<ForecastLine> {
    let ahead = Ahead {
        occasion,
        occasion_id,
        id: crate::history::new_id(),
        saved_at,
        earlier_s: 0.0,
        seed: clock::now().ns().unsigned_abs(),
    };
    let excluded = lines.excluded();
    let own = OwnLines { excluded: &excluded, ..OwnLines::from(lines) };
    match forecast_ahead(&own, setup, ahead) {
        Ok(forecast) => forecast.map(|made| made.to_line(env!("CARGO_PKG_VERSION"))),
        Err(error) => {
            warn!("no forecast: {error}");
            None
        }
    }
}

/// Whether the set-up was forecast or launched on that day already.
fn is_late(lines: &Loaded, setup: &OwnSetup, day: &str) -> bool {
    let forecast = lines.forecasts.iter().any(|told| {
        told.occasion_id == day
            && told.driver == setup.driver
            && told.car == setup.car
            && told.tree == setup.tree
            && told.style == setup.style
    });
    forecast || lines.trials.iter().any(|run| setup.holds(run) && run.began.starts_with(day))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::demo_lines;
    use crate::history::{Line, load};

    fn demo() -> Loaded {
        let mut bytes = Vec::new();
        for line in demo_lines(1).unwrap() {
            bytes.extend_from_slice(Line::seal(&line).unwrap().bytes());
        }
        load(&*bytes).unwrap()
    }

    #[test]
    fn a_day_that_was_launched_on_is_too_late_for_a_forecast() {
        let lines = demo();
        let last = lines.trials.last().unwrap();
        let setup = OwnSetup::of(last);
        let day = last.began.date().unwrap().to_string();
        assert!(is_late(&lines, &setup, &day));
        assert!(!is_late(&lines, &setup, "2030-01-01"));
        let elsewhere = OwnSetup { car: "another".to_owned(), ..setup };
        assert!(!is_late(&lines, &elsewhere, &day));
    }
}
