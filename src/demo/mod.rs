//! Weeks of a made-up driver: a history to look at every screen with, whose truth is known; six of
//! them, or years, to see what a long history does.
//!
//! Owns the driver (`truth` has the numbers, `person` the luck), the evenings and nights, and the
//! lines they leave. Every run goes through the machine of the start line and every line through the
//! form of the history; nothing is written by hand. Refuses real names, and to be taken for real:
//! names say demo, and the folder it is kept in is marked (`history::is_demo`).

mod calendar;
mod error;
mod forecast;
mod night;
mod person;
mod rig;
mod start;
pub mod truth;

pub use error::DemoError;

use crate::car::{Answers, BeamLine, CarModel};
use crate::history::{CarLine, FilmLine, Line, RigLine, SlipLine};
use crate::progress::Progress;
use crate::seed::{Generator, generator, seed_of_run};
use crate::stats::offset::Films;
use crate::tree::Lane;
use crate::trial::{
    CarFacts, Circumstances, CommonSetup, OffsetInForce, SeenFacts, SetupFacts, TrialRecord,
    amber_spacing,
};
use crate::units::{Inches, Span};
use calendar::{Evening, Plan, Planned};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use person::Person;
use rand::Rng;
use start::{Finished, LANE, Scene, lane_of};

/// The most years that are made up: more would be a file of gigabytes.
pub const MOST_YEARS: usize = 10;
/// From the end of a run to the beginning of the next.
const BETWEEN_RUNS: Span = Span::from_ms(24_000);
/// The program that made the lines.
const PROGRAM: &str = env!("CARGO_PKG_VERSION");

/// All lines of the six weeks in the order they were saved. The same seed gives the same lines.
///
/// # Errors
/// [`DemoError`] never, as long as the numbers of the truth fit the limits of the rooms they go
/// through.
pub fn demo_lines(seed: u64) -> Result<Vec<Line>, DemoError> {
    lines_of(Plan::SIX_WEEKS, seed, &Progress::default())
}

/// The same of so many years, 1 to [`MOST_YEARS`], about 35,000 runs each: the same driver, who goes on
/// practising five evenings a week; every run goes through the machine all the same.
///
/// # Errors
/// As [`demo_lines`], and [`DemoError::Cancelled`].
pub fn demo_years(years: usize, seed: u64, progress: &Progress) -> Result<Vec<Line>, DemoError> {
    lines_of(Plan::years(years.clamp(1, MOST_YEARS)), seed, progress)
}

fn lines_of(plan: Plan, seed: u64, progress: &Progress) -> Result<Vec<Line>, DemoError> {
    progress.begin("making runs up", plan.evenings() as u64);
    let mut weeks = Weeks::new(plan, seed)?;
    let mut place = 0;
    for season in 0..plan.seasons {
        for evening in plan.season(season, &mut weeks.random) {
            weeks.practise(place, &evening)?;
            if let Some(passes) = evening.passes {
                weeks.go_to_the_track(evening.day, passes)?;
            }
            progress.advance(1)?;
            place += 1;
        }
    }
    Ok(weeks.lines)
}

/// The weeks as far as they have come.
struct Weeks {
    plan: Plan,
    seed: u64,
    random: Generator,
    person: Person,
    model: CarModel,
    lines: Vec<Line>,
    trials: Vec<TrialRecord>,
    cars: Vec<CarLine>,
    films: Vec<FilmLine>,
    rigs: Vec<RigLine>,
    slips: Vec<SlipLine>,
}

impl Weeks {
    fn new(plan: Plan, seed: u64) -> Result<Self, DemoError> {
        let model = rig::car_line()?.model()?;
        Ok(Self {
            plan,
            seed,
            random: generator(seed),
            person: Person::default(),
            model,
            lines: Vec::new(),
            trials: Vec::new(),
            cars: Vec::new(),
            films: Vec::new(),
            rigs: Vec::new(),
            slips: Vec::new(),
        })
    }

    /// An evening at home.
    fn practise(&mut self, place: usize, evening: &Evening) -> Result<(), DemoError> {
        let begins = self.plan.evening_begins(evening.day, &mut self.random);
        self.person.begin_day(&mut self.random);
        if place == 0 {
            self.describe_car_and_rig(begins - jiff::Span::new().minutes(5))?;
        }
        if place == truth::FILM_DAY {
            self.film_the_rig(begins - jiff::Span::new().minutes(8))?;
        }
        self.forecast_evening(place, evening, begins - jiff::Span::new().seconds(40))?;
        let mut at = begins;
        for round in &evening.rounds {
            for planned in round {
                let took = self.run(*planned, at)?;
                at += jiff::Span::new().milliseconds((took + BETWEEN_RUNS).ns() / 1_000_000);
            }
            self.person.rest();
        }
        Ok(())
    }

    /// One run, from its first frame at `at`; how long it took.
    fn run(&mut self, planned: Planned, at: Timestamp) -> Result<Span, DemoError> {
        let offset = Films::new(&self.films).choose(&rig::print(), None).offset;
        let seed = seed_of_run(self.seed, self.trials.len() as u64);
        let stranger = CarModel::from_answers(&Answers::default(), BeamLine::default())?;
        let scene = Scene {
            own: lane_of(&self.model, Span::from_ms_f64(offset.ms.value)),
            other: lane_of(&stranger, Span::ZERO),
        };
        let finished = start::drive(&scene, planned, seed, &mut self.person, &mut self.random);
        let took = finished.took;
        let ends = at + jiff::Span::new().milliseconds(took.ns() / 1_000_000);
        let id = self.id(ends);
        // A start that was called off before its first amber leaves no record.
        if let Some(record) = self.record(id, at, planned, offset, finished) {
            self.lines.push(record.clone().into());
            self.trials.push(record);
        }
        Ok(took)
    }

    fn record(
        &self,
        id: String,
        began: Timestamp,
        planned: Planned,
        offset: OffsetInForce,
        run: Finished,
    ) -> Option<TrialRecord> {
        let machine = &run.machine;
        let result = machine.result(LANE)?;
        let spacing = amber_spacing(&run.lamps);
        let last_shown = machine.amber_shown(LANE, machine.setup().kind.last_amber());
        let first_amber = machine.amber_due(LANE, 0);
        let other_lane = run.temper.map(|temper| format!("simulated, {}", temper.name()));
        Some(TrialRecord {
            id: id.into(),
            began: wall(began).into(),
            setup: setup_facts(machine.setup(), planned, LANE, other_lane),
            amber_spacing_off: spacing.off,
            outcome: result.outcome,
            parts: result.parts,
            colour_in_doubt: result.parts.is_some_and(|parts| parts.straddles_green()),
            hitch: false,
            lamp_corrected: result.lamp_corrected,
            with: Circumstances {
                program: PROGRAM.into(),
                driver: truth::DRIVER.into(),
                car: self.car_facts().into(),
                rig: rig::print().into(),
                offset: offset.into(),
                onset_grade: if last_shown.is_some() { "grid" } else { "none" }.into(),
            }
            .into(),
            seen: SeenFacts {
                staging: machine.staging(LANE),
                amber_gaps_shown: spacing.gaps,
                hold: first_amber.zip(machine.armed_at()).map(|(amber, armed)| amber - armed),
                frame_period: start::FRAME,
                launch: run.launch,
                lamps: run.lamps,
            }
            .into(),
        })
    }

    fn car_facts(&self) -> CarFacts {
        CarFacts {
            name: truth::CAR.to_owned(),
            car_part_s: self.model.car_part().seconds,
            assumed: self.model.assumed(),
            tyre_diameter: Inches(self.model.tyre_diameter_in().value),
            lag_s: self.model.lag_s(),
            launch_g: self.model.launch_g(),
        }
    }

    fn describe_car_and_rig(&mut self, at: Timestamp) -> Result<(), DemoError> {
        let car = CarLine { id: self.id(at), saved_at: wall(at), ..rig::car_line()? };
        let at = at + jiff::Span::new().minutes(1);
        let test = RigLine { id: self.id(at), saved_at: wall(at), ..rig::self_test(PROGRAM) };
        self.cars.push(car.clone());
        self.rigs.push(test.clone());
        self.lines.extend([Line::from(car), Line::from(test)]);
        Ok(())
    }

    fn film_the_rig(&mut self, at: Timestamp) -> Result<(), DemoError> {
        let film = rig::film(PROGRAM, &mut self.random)?;
        let film = FilmLine { id: self.id(at), saved_at: wall(at), ..film };
        self.films.push(film.clone());
        self.lines.push(film.into());
        Ok(())
    }

    /// A night at the track; its slips are typed in the next morning.
    fn go_to_the_track(&mut self, day: usize, passes: usize) -> Result<(), DemoError> {
        let begins = self.plan.night_begins(day);
        self.forecast_night(begins - jiff::Span::new().minutes(30))?;
        let slips =
            night::slips((begins, passes), &self.model, &mut self.person, &mut self.random)?;
        let morning = begins + jiff::Span::new().hours(15);
        for (minute, slip) in slips.into_iter().enumerate() {
            let entered = morning + jiff::Span::new().minutes(minute as i64);
            let id = self.id(entered);
            let saved_at = wall(entered);
            let line = SlipLine { id, saved_at, corrects: None, withdrawn: false, slip };
            self.slips.push(line.clone());
            self.lines.push(line.into());
        }
        Ok(())
    }

    /// An id of this moment, drawn from the seed: version 7 of RFC 9562, ordered by time.
    fn id(&mut self, at: Timestamp) -> String {
        let mut luck = [0; 10];
        self.random.fill_bytes(&mut luck);
        let ms = u64::try_from(at.as_millisecond()).unwrap_or_default();
        uuid::Builder::from_unix_timestamp_millis(ms, &luck).into_uuid().to_string()
    }
}

fn setup_facts(
    setup: &crate::tree::StartSetup,
    planned: Planned,
    lane: Lane,
    other_lane: Option<String>,
) -> SetupFacts {
    SetupFacts {
        common: CommonSetup {
            tree: setup.kind.name().into(),
            ambers: setup.kind.ambers(),
            amber_gap: setup.kind.amber_gap(),
            interval: setup.kind.green_gap(),
            procedure: setup.procedure.name().into(),
            drill: planned.drill,
            style: planned.style,
            blank: setup.blank,
            lane,
            other_lane: other_lane.map(Into::into),
            scripted: false,
            aim: None,
        }
        .into(),
        seed: setup.seed,
        pause: None,
    }
}

/// Wall time, ISO 8601 with zone.
fn wall(at: Timestamp) -> String {
    at.to_zoned_datetime(TimeZone::UTC).to_string()
}
