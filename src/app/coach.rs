//! What is worked out while the lane waits: the aim that is advised, and whether to stop for today.
//!
//! Owns when each is asked, beside the frames and never between staged and verdict. Refuses computing
//! (the strategy room) and words (the report room).

use super::background::Work;
use super::book::Book;
use super::garage::Garage;
use super::lane::{Ending, Phase, Session};
use super::setup::setup_now;
use super::{AppSystems, Screen};
use crate::report::pacing::pace_sentence;
use crate::strategy::desk::{Asked, Desk};
use crate::strategy::hold::advised_aim;
use crate::strategy::launches::View;
use crate::strategy::own::{OwnLines, OwnSetup};
use crate::strategy::pacing::{ENOUGH, Pace, pace};
use crate::trial::{Aim, Drill, Id, TrialRecord};
use bevy::prelude::*;

/// Seed of everything drawn here: the same launches give the same answer.
const SEED: u64 = 1;

/// What the lane is told between runs.
#[derive(Resource, Default)]
pub struct Coach {
    /// Id of the run whose verdict was heard of last.
    heard: Option<Id>,
    /// Launches of this sitting.
    launches: usize,
    /// The same, oldest first, as long as they decide: from [`ENOUGH`] on their number does.
    sitting: Vec<TrialRecord>,
    /// When to stop, in words.
    pub pace: Option<String>,
    pacing: Work<Option<String>>,
    advising: Work<Option<Aim>>,
    advised_for: Option<(u64, OwnSetup)>,
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Coach>().add_systems(
        Update,
        (keep_pace, advise).in_set(AppSystems::Analyse).run_if(in_state(Screen::Lane)),
    );
}

/// After each verdict: go on, or stop while it is good?
fn keep_pace(phase: Res<Phase>, mut coach: ResMut<Coach>) {
    let coach = coach.bypass_change_detection();
    if let Some(said) = coach.pacing.answer() {
        coach.pace = said;
    }
    let Some(Ending::Told { record, seen: Some(_), .. }) = phase.live().map(|live| &live.ending)
    else {
        return;
    };
    if coach.heard.as_ref() == Some(&record.id) {
        return;
    }
    coach.heard = Some(record.id.clone());
    if record.seen.launch().is_none() || record.setup.scripted {
        return;
    }
    coach.launches += 1;
    if coach.launches >= ENOUGH {
        (coach.sitting, coach.pacing) = (Vec::new(), Work::default());
        coach.pace = pace_sentence(&Pace::Enough { launches: coach.launches });
        return;
    }
    coach.sitting.push((**record).clone());
    let sitting = coach.sitting.clone();
    coach.pacing.start("pace", move || {
        let lines = OwnLines {
            trials: &sitting,
            cars: &[],
            slips: &[],
            films: &[],
            rigs: &[],
            excluded: &[],
        };
        match pace(&lines, SEED) {
            Ok(pace) => pace_sentence(&pace),
            Err(error) => {
                warn!("no word on the pace: {error}");
                None
            }
        }
    });
}

/// The aim advised for the set-up of now, while an aim is to be held and nothing runs.
fn advise(
    phase: Res<Phase>,
    session: Option<ResMut<Session>>,
    garage: Res<Garage>,
    mut book: ResMut<Book>,
    mut coach: ResMut<Coach>,
) {
    let coach = coach.bypass_change_detection();
    let Some(mut session) = session else { return };
    if let Some(aim) = coach.advising.answer()
        && session.advised != aim
    {
        session.advised = aim;
    }
    if session.drill() != Drill::HoldAnAim || !matches!(*phase, Phase::Ready) {
        return;
    }
    if !book.is_current() {
        book.want();
        return;
    }
    let asked = (book.edition(), setup_now(&session, &garage));
    if coach.advised_for.as_ref() == Some(&asked) || coach.advising.is_under_way() {
        return;
    }
    coach.advised_for = Some(asked.clone());
    let lines = book.lines().clone();
    coach.advising.start("advise", move || {
        let excluded = lines.excluded();
        let lines = OwnLines { excluded: &excluded, ..OwnLines::from(&*lines) };
        let desk = Desk::new(&lines, Asked::test_and_tune(asked.1, SEED)).ok()?;
        advised_aim(&desk, View::AtTheTrack)
    });
}
