//! The guided first run, in the lane.
//!
//! Owns what the guide is told (from the run as it stands), whom it guides and that it is had once.
//! Refuses its steps (the drill room) and words (the report room).

use super::live::{Ending, Live, Phase};
use super::prompt::Names;
use super::session::Session;
use crate::app::book::Book;
use crate::app::settings::InForce;
use crate::app::trace_file::TraceFile;
use crate::app::{AppSystems, Screen};
use crate::beams::BeamState;
use crate::car::EdgeAnswer;
use crate::drill::{Ending as GuideEnding, Fact, Step, Welcome};
use crate::report::welcome::{GuideKeys, step_keys, step_sentence};
use crate::tree::LampSet;
use crate::trial::Drill;
use bevy::prelude::*;

/// Name of the choice, and its word once it was had.
const GUIDE: &str = "guide";
const HAD: &str = "had";

/// The guide.
#[derive(Resource, Debug, Clone, PartialEq)]
pub struct Guide {
    welcome: Welcome,
    seen: Seen,
}

impl Default for Guide {
    fn default() -> Self {
        Self { welcome: Welcome::had(), seen: Seen::default() }
    }
}

/// What of the run was told already.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Seen {
    beams: Option<BeamState>,
    launch: bool,
    verdict: bool,
}

impl Seen {
    fn of(live: &Live) -> Self {
        let ending = &live.ending;
        Self {
            beams: live.machine.beams(live.you),
            launch: live.machine.launch(live.you).is_some(),
            verdict: matches!(ending, Ending::Told { seen: Some(_), .. }),
        }
    }
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Guide>()
        .add_systems(Startup, meet_driver)
        .add_systems(Update, keep.in_set(AppSystems::Record))
        .add_systems(Update, follow.in_set(AppSystems::Analyse).run_if(in_state(Screen::Lane)));
}

impl Guide {
    /// The step that is on; none where nothing is guided, and in other drills than the roll-up.
    pub fn step(&self, session: &Session) -> Option<Step> {
        let guides = !self.welcome.is_over() && session.drill() == Drill::RollUp;
        guides.then(|| self.welcome.step())
    }

    /// Whether it explains a lamp and no run may begin yet.
    pub fn explains(&self, session: &Session) -> bool {
        self.step(session).is_some_and(Step::is_before_the_run)
    }

    /// The driver has read what there is to read.
    pub fn go_on(&mut self, session: &Session) {
        if self.step(session).is_some() {
            self.welcome.take(Fact::GoOn);
        }
    }

    /// Ends it, or begins it again.
    pub fn skip_or_replay(&mut self, session: &mut Session) {
        let fact = if self.step(session).is_some() { Fact::Skip } else { Fact::Replay };
        if fact == Fact::Replay {
            session.set_drill(Drill::RollUp);
        }
        self.welcome.take(fact);
    }

    /// The driver's own lamps while they are explained.
    pub fn lit(&self, session: &Session, ambers: u8) -> Option<LampSet> {
        let step = self.step(session).filter(|step| step.is_before_the_run())?;
        let mut lit = LampSet::default();
        for lamp in step.lamps(ambers) {
            super::step::light(&mut lit, lamp);
        }
        Some(lit)
    }
}

/// The words of a step, with its keys on a line of their own.
pub(super) fn words(step: Step, edge: EdgeAnswer, names: &Names) -> String {
    let (launch, roll) = (names.launch.words.as_str(), names.creep.words.as_str());
    let keys = GuideKeys { roll, launch, edge, go_on: launch, skip: "G" };
    // From staged to the verdict the words stand still: only the lamps say when.
    let sentence = match step {
        Step::Wait | Step::Leave | Step::Launched => {
            format!("{} {}", step_sentence(Step::Wait, &keys), step_sentence(Step::Leave, &keys))
        }
        step => step_sentence(step, &keys),
    };
    let step = if step == Step::Launched || step == Step::Leave { Step::Wait } else { step };
    format!("{sentence}\n{}", step_keys(step, &keys))
}

/// Guides who has no runs yet and did not have the guide.
pub fn meet_driver(
    in_force: Res<InForce>,
    book: Option<Res<Book>>,
    session: Option<Res<Session>>,
    mut guide: ResMut<Guide>,
) {
    let Some(session) = session else { return };
    let has_runs =
        book.is_some_and(|book| book.lines().trials.iter().any(|run| run.driver == session.driver));
    if !has_runs && in_force.choice(GUIDE) != Some(HAD) {
        guide.welcome = Welcome::default();
    }
}

/// Tells the guide what changed in the run.
fn follow(phase: Res<Phase>, session: Res<Session>, mut guide: ResMut<Guide>) {
    let now = phase.live().map(Seen::of).unwrap_or_default();
    let before = guide.seen;
    if now == before {
        return;
    }
    guide.seen = now;
    let guided = guide.step(&session).is_some();
    let Some(live) = phase.live().filter(|_| guided) else { return };
    let mut take = |fact| {
        guide.welcome.take(fact);
    };
    if now.beams != before.beams && !now.launch {
        match now.beams {
            Some(BeamState::PreStaged) => take(Fact::PreStaged),
            Some(BeamState::Staged | BeamState::Deep) => {
                take(Fact::PreStaged);
                take(Fact::Staged);
            }
            Some(BeamState::Out | BeamState::Past) if before.beams.is_some() => {
                take(Fact::OutOfBeams);
            }
            _ => {}
        }
    }
    if now.launch && !before.launch {
        take(Fact::Launch);
    }
    if let (Ending::Told { record, .. }, true) = (&live.ending, now.verdict && !before.verdict) {
        take(Fact::Verdict(GuideEnding::of(record.outcome)));
    }
}

/// Once it is over it is not had again unasked.
fn keep(
    guide: Res<Guide>,
    mut in_force: ResMut<InForce>,
    mut trace: ResMut<TraceFile>,
    mut was: Local<Option<Step>>,
) {
    let step = guide.welcome.step();
    let before = was.replace(step);
    if before == Some(step) || before.is_none() {
        return;
    }
    trace.event(format_args!("guide {step:?}"));
    if step == Step::Over {
        in_force.choose(GUIDE, HAD);
    }
}
