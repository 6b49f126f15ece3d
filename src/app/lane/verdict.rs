//! A finished run in words and figures for people.
//!
//! Owns the wording of a verdict: the answer first, then what it is worth. Refuses drawing.

use super::live::{Ending, Phase};
use super::session::Session;
use crate::app::clock::Now;
use crate::app::coach::Coach;
use crate::app::garage::Garage;
use crate::app::guest::{self, Guest};
use crate::app::rig::Rig;
use crate::drill::night::is_start;
use crate::report::hold::missed_sentence;
use crate::report::night::no_verdict_sentence;
use crate::strategy::hold::missed_by;
use crate::tree::{AbandonReason, Outcome, Parts, VoidReason};
use crate::trial::{Style, TrialRecord};
use bevy::prelude::*;

/// Lines that fit between the outcome's word and the time bar.
const NOTES: usize = 3;

/// What the verdict panel shows; empty while there is nothing to show.
#[derive(Resource, Debug, Clone, Default, PartialEq)]
pub struct Verdict {
    /// The big figure or word.
    pub big: String,
    /// The outcome's word.
    pub word: String,
    /// Its tone.
    pub tone: Tone,
    /// What it is worth, a line each; no more than fit beside the figure.
    pub notes: Vec<String>,
    /// What else there is to say, read at leisure.
    pub said: Vec<String>,
    /// The time in its parts, for the bar.
    pub parts: Option<Parts>,
}

/// How a verdict is coloured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Tone {
    /// Neither good nor bad.
    #[default]
    Plain,
    /// Legal.
    Clear,
    /// A foul.
    Foul,
}

/// Makes the verdict of the run that has just been told, and notes the update that draws it.
pub(super) fn read_verdict(
    now: Res<Now>,
    rig: Res<Rig>,
    session: Res<Session>,
    coach: Res<Coach>,
    garage: Res<Garage>,
    guest: Res<Guest>,
    mut phase: ResMut<Phase>,
    mut verdict: ResMut<Verdict>,
) {
    let told = match phase.live_mut().map(|live| &mut live.ending) {
        Some(Ending::Told { record, other, not_saved, drawn_in, .. }) => {
            drawn_in.get_or_insert(now.frame);
            if session.shows_numbers() {
                let mut told = of_record(record, not_saved.as_deref());
                if let (Some(other), Some(seat)) = (other, &guest.seat) {
                    let own = (session.driver.as_str(), &*garage, &**record);
                    let other = (seat.profile.name.as_str(), &seat.garage, &**other);
                    told.said = guest::told(own, other);
                }
                told.said.extend(coach.pace.clone());
                if told.parts.is_some() && told.notes.len() > NOTES {
                    told.said.extend(told.notes.drain(NOTES..));
                }
                told.said.extend(rig.said_news());
                told
            } else {
                without_numbers(record, session.night_made(), not_saved.as_deref())
            }
        }
        _ => Verdict::default(),
    };
    verdict.set_if_neq(told);
}

/// What stands where a verdict would while a track night lasts.
fn without_numbers(record: &TrialRecord, made: usize, not_saved: Option<&str>) -> Verdict {
    let mut notes = vec![no_verdict_sentence(made, is_start(record.outcome))];
    notes.extend(not_saved.map(|why| format!("Not saved: {why}")));
    Verdict { big: "in".to_owned(), notes, ..Verdict::default() }
}

/// The verdict of a record.
pub fn of_record(record: &TrialRecord, not_saved: Option<&str>) -> Verdict {
    let (word, tone) = word_of(record.outcome);
    let big = match record.parts {
        Some(parts) if counts(record.outcome) => figure(parts.rt()),
        _ => word.to_owned(),
    };
    let mut notes = Vec::new();
    match record.parts.filter(|_| counts(record.outcome)) {
        Some(parts) => {
            let missed = missed_by(record).zip(record.setup.aim);
            notes.extend(missed.map(|(missed, aim)| missed_sentence(&aim, missed)));
            notes.extend(worth(record, parts));
        }
        None => notes.push(reason(record.outcome)),
    }
    notes.extend(staging(record));
    if let Some(why) = not_saved {
        notes.insert(0, format!("Not saved: {why}"));
    }
    let parts = record.parts.filter(|_| counts(record.outcome));
    Verdict { big, word: word.to_owned(), tone, notes, said: Vec::new(), parts }
}

/// A time with a real minus sign, as people read it.
pub fn figure(span: crate::units::Span) -> String {
    span.to_string().replace('-', "\u{2212}")
}

fn counts(outcome: Outcome) -> bool {
    matches!(outcome, Outcome::Green | Outcome::Red)
}

fn word_of(outcome: Outcome) -> (&'static str, Tone) {
    match outcome {
        Outcome::Green => ("green", Tone::Clear),
        Outcome::Red => ("red light", Tone::Foul),
        Outcome::LeftBeforeTree => ("left before the tree", Tone::Foul),
        Outcome::TimedOut => ("timed out", Tone::Foul),
        Outcome::Lapse => ("no launch", Tone::Plain),
        Outcome::Stayed => ("stayed", Tone::Clear),
        Outcome::Guessed { .. } => ("guessed", Tone::Foul),
        Outcome::Abandoned(_) => ("abandoned", Tone::Plain),
        Outcome::Void(_) => ("void", Tone::Plain),
    }
}

/// What the figure is worth: the stamps' doubt and the assumed delay, kept apart.
fn worth(record: &TrialRecord, parts: Parts) -> Vec<String> {
    let doubt_ms = parts.early_doubt.max(parts.late_doubt).as_ms_f64();
    let offset = record.offset.ms;
    let delay = match record.offset.from.as_str() {
        "given" => format!("delay {:.0} \u{b1} {:.0} ms as given", offset.value, offset.sd),
        "filmed" => format!("delay {:.0} \u{b1} {:.1} ms as filmed", offset.value, offset.sd),
        _ => format!("delay assumed {:.0} \u{b1} {:.0} ms", offset.value, offset.sd),
    };
    let mut notes = vec![format!("repeatable to \u{b1}{doubt_ms:.1} ms; {delay}")];
    if record.colour_in_doubt {
        notes.push("so close that the timing's own doubt reaches both colours".to_owned());
    } else if parts.rt().as_ms_f64().abs() < offset.sd {
        notes.push("the colour lies inside the doubt of that delay".to_owned());
    }
    if record.lamp_corrected {
        notes.push("green was drawn before your launch was known".to_owned());
    }
    if record.amber_spacing_off && record.setup.style == Style::TimeIt {
        notes.push("the ambers came unevenly on this screen: a poor run to time by".to_owned());
    }
    if record.hitch {
        notes.push("the picture stuttered during this run".to_owned());
    }
    notes
}

fn reason(outcome: Outcome) -> String {
    match outcome {
        Outcome::LeftBeforeTree => {
            "The car left its beams before the ambers. Counts as red.".into()
        }
        Outcome::TimedOut => "The other lane was staged; your time to stage ran out.".into(),
        Outcome::Lapse => "No launch within two seconds of green. It is counted.".into(),
        Outcome::Stayed => "No last amber came, and you stayed. Right.".into(),
        Outcome::Guessed { .. } => "No last amber came, and you left: a guess.".into(),
        Outcome::Red => "The car rolled out of its beams during the ambers.".into(),
        Outcome::Green => String::new(),
        Outcome::Abandoned(AbandonReason::Paused) => {
            "Paused after the first amber. It is counted.".into()
        }
        Outcome::Abandoned(AbandonReason::FocusLost) => {
            "The window lost the focus after the first amber. It is counted.".into()
        }
        Outcome::Abandoned(AbandonReason::Closed) => "The window was closed.".into(),
        Outcome::Void(VoidReason::NoOnset) => {
            "The screen never confirmed the last amber. Says nothing about you.".into()
        }
        Outcome::Void(VoidReason::LampLate { late_ns, .. }) => format!(
            "A lamp came {:.0} ms late on this screen. Says nothing about you.",
            late_ns as f64 / 1e6
        ),
        Outcome::Void(VoidReason::LampHidden { .. }) => {
            "A lamp was skipped by the screen. Says nothing about you.".into()
        }
        Outcome::Void(VoidReason::ControlLost) => {
            "The pad went away. Says nothing about you.".into()
        }
    }
}

/// What is worth saying about the way in.
fn staging(record: &TrialRecord) -> Vec<String> {
    let s = record.seen.staging();
    let mut notes = Vec::new();
    if s.courtesy_broken {
        notes.push("You staged before the other lane had lit pre-stage.".to_owned());
    }
    if s.rolled_through > 0 {
        notes.push("You rolled through the stage beam on the way in.".to_owned());
    }
    if s.deep {
        notes.push("Staged deep: quicker reaction, slower pass.".to_owned());
    }
    notes
}
