//! The one line that says what to do next.
//!
//! Owns its words and the key they name. From staged to launch it stays the same: only the lamps
//! say when. Refuses drawing.

use super::drill;
use super::guide::{self, Guide};
use super::live::{Ending, Live, Phase};
use super::session::Session;
use crate::beams::BeamState;
use crate::car::EdgeAnswer;
use crate::drill::{Moment, Step};
use crate::report::hold::aim_words;
use crate::report::night::moment_sentence;
use crate::trial::{Drill, Style};
use crate::units::{Mark, Span};
use bevy::prelude::*;

/// How long the launch control is ignored after a verdict came up.
pub const VERDICT_STANDS: Span = Span::from_ms(400);

/// The key that rolls forward, as people read it.
const ROLL: &str = "\u{2191}";

/// What to do now.
#[derive(Resource, Debug, Clone, PartialEq, Eq, Default)]
pub struct Prompt {
    /// The key to use, by its W3C name; none means wait.
    pub key: Option<&'static str>,
    /// Hold it down rather than tap it.
    pub hold: bool,
    /// The words.
    pub text: String,
}

impl Prompt {
    fn tap(key: &'static str, text: impl Into<String>) -> Self {
        Self { key: Some(key), hold: false, text: text.into() }
    }

    fn hold(key: &'static str, text: impl Into<String>) -> Self {
        Self { key: Some(key), hold: true, text: text.into() }
    }

    fn wait(text: impl Into<String>) -> Self {
        Self { key: None, hold: false, text: text.into() }
    }

    /// The prompt as a trace event: `prompt Space …`, `prompt +ArrowUp …`, `prompt - …`.
    pub fn event(&self) -> String {
        let hold = if self.hold { "+" } else { "" };
        format!("prompt {hold}{} {}", self.key.unwrap_or("-"), self.text.replace('\n', " "))
    }
}

/// The prompt of this moment.
pub fn prompt(
    phase: &Phase,
    session: &Session,
    guide: &Guide,
    edge: EdgeAnswer,
    now: Mark,
) -> Prompt {
    let step = guide.step(session);
    match phase {
        Phase::Ready => match step.filter(|step| step.is_before_the_run()) {
            Some(step) => Prompt::tap("Space", guide::words(step, edge, "Space", ROLL)),
            None => ready(session, edge, now),
        },
        Phase::Asked { .. } if holds(session, edge) => Prompt::hold("Space", "Keep holding Space"),
        Phase::Asked { .. } => Prompt::wait("Let go of Space"),
        Phase::Live(live) => match &live.ending {
            Ending::Running => guided(running(live, edge), live, step, edge),
            Ending::Saving { .. } => Prompt::wait("Saving"),
            Ending::Told { seen, .. } => match seen {
                Some(seen) if now - *seen >= VERDICT_STANDS => match (step, session.night(now)) {
                    (Some(step), _) => {
                        Prompt::tap("Space", guide::words(step, edge, "Space", ROLL))
                    }
                    (None, Some(_)) => ready(session, edge, now),
                    (None, None) => next(session, edge),
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
fn guided(usual: Prompt, live: &Live, step: Option<Step>, edge: EdgeAnswer) -> Prompt {
    let Some(step) = step.filter(|_| !live.machine.must_back_out(live.you)) else { return usual };
    let rolls = usual.key == Some("ArrowUp");
    let fits = match step {
        Step::RollIn | Step::RollOn => rolls,
        Step::Wait | Step::Leave | Step::Launched => !rolls,
        _ => false,
    };
    if !fits {
        return usual;
    }
    Prompt { text: guide::words(step, edge, "Space", ROLL), ..usual }
}

/// The prompt of a track night between its runs.
fn night(moment: Moment) -> Prompt {
    let words = moment_sentence(moment, "N");
    match moment {
        Moment::Waiting { .. } => Prompt::wait(words),
        Moment::Called { .. } => {
            Prompt::tap("Space", format!("{words}\nSpace: start your roll-up"))
        }
        Moment::Over => Prompt::tap("Space", format!("{words}\nSpace: read them")),
    }
}

/// The prompt of an aim that is to be held.
fn aimed(session: &Session, edge: EdgeAnswer) -> Prompt {
    let keys = "\u{2212} or +: change it   A: as advised   H: how you held it";
    let Some(aim) = session.aim_to_hold() else {
        return Prompt::wait("Where is the launch to fall? Press + for a light of .020");
    };
    let aim = aim_words(&aim);
    let start =
        if edge == EdgeAnswer::Release { "Hold Space, let go on it" } else { "Space: start" };
    let text = format!("Your aim: {aim}. {start}\n{keys}");
    if edge == EdgeAnswer::Release {
        Prompt::hold("Space", text)
    } else {
        Prompt::tap("Space", text)
    }
}

fn ready(session: &Session, edge: EdgeAnswer, now: Mark) -> Prompt {
    if let Some(moment) = session.night(now) {
        return night(moment);
    }
    let block = block_words(session);
    match session.drill() {
        Drill::HoldAnAim => aimed(session, edge),
        Drill::RollUp => Prompt::tap("Space", "Space: start your roll-up"),
        _ if edge == EdgeAnswer::Release => {
            Prompt::hold("Space", format!("{block}Hold Space; let go on the last amber"))
        }
        Drill::GuessTest => {
            Prompt::tap("Space", "Space: start. Leave on the last amber; if it does not come, stay")
        }
        Drill::OtherLaneFirst => {
            Prompt::tap("Space", "Space: start. Watch your own side; leave on its last amber")
        }
        _ => Prompt::tap("Space", format!("{block}Space: start, then leave on the last amber")),
    }
}

fn next(session: &Session, edge: EdgeAnswer) -> Prompt {
    let block = block_words(session);
    let aimed = session.drill() == Drill::HoldAnAim;
    let text = if session.round_is_full() {
        let held = if aimed { "H: how you held it   " } else { "" };
        format!("That was the round. {held}{block}Space: another")
    } else {
        format!("{block}Space: next run")
    };
    if holds(session, edge) {
        Prompt::hold("Space", format!("{text} (hold, let go on the last amber)"))
    } else {
        Prompt::tap("Space", text)
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

fn running(live: &Live, edge: EdgeAnswer) -> Prompt {
    let machine = &live.machine;
    if machine.launch(live.you).is_some() {
        return leave(edge);
    }
    if machine.must_back_out(live.you) {
        let text = "Rolled through. Hold \u{2190}: back until the stage lamps go out";
        return Prompt::hold("ArrowLeft", text);
    }
    let other_in = machine.beams(live.you.other()).is_none_or(|b| b != BeamState::Out);
    match machine.beams(live.you) {
        Some(BeamState::Out) => {
            Prompt::hold("ArrowUp", "Hold \u{2191}: creep until the top lamps light")
        }
        Some(BeamState::PreStaged) if !other_in => {
            Prompt::wait("Stop here: let the other lane light its pre-stage lamps")
        }
        Some(BeamState::PreStaged) => {
            Prompt::hold("ArrowUp", "Hold \u{2191}: roll on gently until the stage lamps light")
        }
        _ => leave(edge),
    }
}

/// The words that stand still from staged to launch.
fn leave(edge: EdgeAnswer) -> Prompt {
    match edge {
        EdgeAnswer::Press => Prompt::wait("Wait for the last amber"),
        EdgeAnswer::Release => Prompt::hold("Space", "Hold Space. Wait for the last amber"),
    }
}
