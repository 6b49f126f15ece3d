//! The one line that says what to do next.
//!
//! Owns its words and the key they name. From staged to launch it stays the same: only the lamps
//! say when. Refuses drawing.

use super::drill;
use super::guide::{self, Guide};
use super::live::{Ending, Live, Phase};
use super::session::Session;
use crate::app::bindings::Bindings;
use crate::beams::BeamState;
use crate::car::EdgeAnswer;
use crate::controls::{Act, Controls, words};
use crate::drill::{Moment, Step};
use crate::press::keys;
use crate::report::hold::aim_words;
use crate::report::night::moment_sentence;
use crate::trial::{Drill, Style};
use crate::units::{Mark, Span};
use bevy::prelude::*;

/// How long the launch control is ignored after a verdict came up.
pub const VERDICT_STANDS: Span = Span::from_ms(400);

/// A control by its W3C name and in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    key: String,
    /// In words.
    pub words: String,
}

/// The controls that prompts name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Names {
    /// Launches, and goes on.
    pub launch: Named,
    /// Rolls forward.
    pub creep: Named,
    brake: Named,
    back: Named,
    /// The car rolls unless the brake is held.
    holds_to_brake: bool,
}

impl Names {
    /// Of the driver's own controls; an act without one has the name of its usual key.
    pub fn of(bindings: &Bindings) -> Self {
        let usual = Controls::default();
        let named = |act| {
            let control = bindings.first(act).or_else(|| usual.controls_of(act).next());
            let key = control.map(keys::key_name).unwrap_or_default();
            Named { key, words: control.map(words).unwrap_or_default() }
        };
        Self {
            launch: named(Act::Launch),
            creep: named(Act::Creep),
            brake: named(Act::Brake),
            back: named(Act::Back),
            holds_to_brake: bindings.driver.holds_to_brake(),
        }
    }
}

/// What to do now.
#[derive(Resource, Debug, Clone, PartialEq, Eq, Default)]
pub struct Prompt {
    /// The key to use, by its W3C name; none means wait.
    pub key: Option<String>,
    /// Hold it down rather than tap it.
    pub hold: bool,
    /// The words.
    pub text: String,
}

impl Prompt {
    fn tap(key: &Named, text: impl Into<String>) -> Self {
        Self { key: Some(key.key.clone()), hold: false, text: text.into() }
    }

    fn hold(key: &Named, text: impl Into<String>) -> Self {
        Self { key: Some(key.key.clone()), hold: true, text: text.into() }
    }

    fn wait(text: impl Into<String>) -> Self {
        Self { key: None, hold: false, text: text.into() }
    }

    /// The prompt as a trace event: `prompt Space …`, `prompt +ArrowUp …`, `prompt - …`.
    pub fn event(&self) -> String {
        let hold = if self.hold { "+" } else { "" };
        format!(
            "prompt {hold}{} {}",
            self.key.as_deref().unwrap_or("-"),
            self.text.replace('\n', " ")
        )
    }
}

/// The prompt of this moment.
pub fn prompt(
    phase: &Phase,
    session: &Session,
    guide: &Guide,
    names: &Names,
    edge: EdgeAnswer,
    now: Mark,
) -> Prompt {
    let launch = &names.launch;
    let step = guide.step(session);
    match phase {
        Phase::Ready => match step.filter(|step| step.is_before_the_run()) {
            Some(step) => Prompt::tap(launch, guide::words(step, edge, names)),
            None => ready(session, names, edge, now),
        },
        Phase::Asked { .. } if holds(session, edge) => {
            Prompt::hold(launch, format!("Keep holding {}", launch.words))
        }
        Phase::Asked { .. } => Prompt::wait(format!("Let go of {}", launch.words)),
        Phase::Live(live) => match &live.ending {
            Ending::Running => guided(running(live, names, edge), live, step, names, edge),
            Ending::Saving { .. } => Prompt::wait("Saving"),
            Ending::Told { seen, .. } => match seen {
                Some(seen) if now - *seen >= VERDICT_STANDS => match (step, session.night(now)) {
                    (Some(step), _) => Prompt::tap(launch, guide::words(step, edge, names)),
                    (None, Some(_)) => ready(session, names, edge, now),
                    (None, None) => next(session, names, edge),
                },
                _ => Prompt::wait(""),
            },
        },
    }
}

/// Whether asking for a run means to hold the control from then on.
pub fn holds(session: &Session, edge: EdgeAnswer) -> bool {
    drill::starts_staged(session.drill()) && edge == EdgeAnswer::Release
}

/// The guide's words in place of the usual ones, where it has a step of its own for them.
fn guided(
    usual: Prompt,
    live: &Live,
    step: Option<Step>,
    names: &Names,
    edge: EdgeAnswer,
) -> Prompt {
    let Some(step) = step.filter(|_| !live.machine.must_back_out(live.you)) else { return usual };
    let rolls = usual.key.as_ref() == Some(&names.creep.key);
    let fits = match step {
        Step::RollIn | Step::RollOn => rolls,
        Step::Wait | Step::Leave | Step::Launched => !rolls,
        _ => false,
    };
    if !fits {
        return usual;
    }
    Prompt { text: guide::words(step, edge, names), ..usual }
}

/// The prompt of a track night between its runs.
fn night(moment: Moment, launch: &Named) -> Prompt {
    let key = &launch.words;
    let words = moment_sentence(moment, "N");
    match moment {
        Moment::Waiting { .. } => Prompt::wait(words),
        Moment::Called { .. } => Prompt::tap(launch, format!("{words}\n{key}: start your roll-up")),
        Moment::Over => Prompt::tap(launch, format!("{words}\n{key}: read them")),
    }
}

/// The prompt of an aim that is to be held.
fn aimed(session: &Session, launch: &Named, edge: EdgeAnswer) -> Prompt {
    let key = &launch.words;
    let keys = "\u{2212} or +: change it   A: as advised   H: how you held it";
    let Some(aim) = session.aim_to_hold() else {
        return Prompt::wait("Where is the launch to fall? Press + for a light of .020");
    };
    let aim = aim_words(&aim);
    let start = match edge {
        EdgeAnswer::Release => format!("Hold {key}, let go on it"),
        EdgeAnswer::Press => format!("{key}: start"),
    };
    let text = format!("Your aim: {aim}. {start}\n{keys}");
    if edge == EdgeAnswer::Release { Prompt::hold(launch, text) } else { Prompt::tap(launch, text) }
}

fn ready(session: &Session, names: &Names, edge: EdgeAnswer, now: Mark) -> Prompt {
    let (launch, key) = (&names.launch, &names.launch.words);
    if let Some(moment) = session.night(now) {
        return night(moment, launch);
    }
    let block = block_words(session);
    match session.drill() {
        Drill::HoldAnAim => aimed(session, launch, edge),
        Drill::RollUp => Prompt::tap(launch, format!("{key}: start your roll-up")),
        _ if edge == EdgeAnswer::Release => {
            Prompt::hold(launch, format!("{block}Hold {key}; let go on the last amber"))
        }
        Drill::GuessTest => Prompt::tap(
            launch,
            format!("{key}: start. Leave on the last amber; if it does not come, stay"),
        ),
        Drill::OtherLaneFirst => Prompt::tap(
            launch,
            format!("{key}: start. Watch your own side; leave on its last amber"),
        ),
        _ => Prompt::tap(launch, format!("{block}{key}: start, then leave on the last amber")),
    }
}

fn next(session: &Session, names: &Names, edge: EdgeAnswer) -> Prompt {
    let (launch, key) = (&names.launch, &names.launch.words);
    let block = block_words(session);
    let aimed = session.drill() == Drill::HoldAnAim;
    let text = if session.round_is_full() {
        let held = if aimed { "H: how you held it   " } else { "" };
        format!("That was the round. {held}{block}{key}: another")
    } else {
        format!("{block}{key}: next run")
    };
    if holds(session, edge) {
        Prompt::hold(launch, format!("{text} (hold, let go on the last amber)"))
    } else {
        Prompt::tap(launch, text)
    }
}

/// How the ten runs that begin now are declared.
fn block_words(session: &Session) -> &'static str {
    match (session.new_block(), session.style()) {
        (false, _) => "",
        (true, Style::React) => "Next ten: react to the last amber. ",
        (true, Style::TimeIt) => "Next ten: time it by the rhythm. ",
    }
}

fn running(live: &Live, names: &Names, edge: EdgeAnswer) -> Prompt {
    let machine = &live.machine;
    if machine.launch(live.you).is_some() {
        return leave(names, edge);
    }
    let Names { creep, brake, back, .. } = names;
    if machine.must_back_out(live.you) {
        let text =
            format!("Rolled through. Hold {}: back until the stage lamps go out", back.words);
        return Prompt::hold(back, text);
    }
    let other_in = machine.beams(live.you.other()).is_none_or(|b| b != BeamState::Out);
    let rolls = names.holds_to_brake && !drill::starts_staged(live.drill);
    match (machine.beams(live.you), rolls) {
        (Some(BeamState::Out), false) => {
            Prompt::hold(creep, format!("Hold {}: creep until the top lamps light", creep.words))
        }
        (Some(BeamState::Out), true) => Prompt::wait(format!(
            "The car creeps by itself. Hold {} when the top lamps light",
            brake.words
        )),
        (Some(BeamState::PreStaged), false) if !other_in => {
            Prompt::wait("Stop here: let the other lane light its pre-stage lamps")
        }
        (Some(BeamState::PreStaged), true) if !other_in => Prompt::hold(
            brake,
            format!("Hold {}: let the other lane light its pre-stage lamps", brake.words),
        ),
        (Some(BeamState::PreStaged), false) => Prompt::hold(
            creep,
            format!("Hold {}: roll on gently until the stage lamps light", creep.words),
        ),
        (Some(BeamState::PreStaged), true) => Prompt::wait(format!(
            "Let go of {}: roll on gently; hold it when the stage lamps light",
            brake.words
        )),
        (_, true) => {
            Prompt::hold(brake, format!("Hold {}. {}", brake.words, leave(names, edge).text))
        }
        (_, false) => leave(names, edge),
    }
}

/// The words that stand still from staged to launch.
fn leave(names: &Names, edge: EdgeAnswer) -> Prompt {
    let launch = &names.launch;
    match edge {
        EdgeAnswer::Press => Prompt::wait("Wait for the last amber"),
        EdgeAnswer::Release => {
            Prompt::hold(launch, format!("Hold {}. Wait for the last amber", launch.words))
        }
    }
}
