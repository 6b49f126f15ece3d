//! A second person in the other lane.
//!
//! Owns who that is, the person's own car, log and counts, and what a pair of runs comes to. Refuses the
//! start line (the lane's) and statistics: those are in the person's own folder.

use super::AppSystems;
use super::data::open_data;
use super::garage::Garage;
use super::history_store::{SaveNews, Store};
use super::lane::Session;
use super::presses::{Presses, Who};
use crate::history::{Profile, Settings, Tally};
use crate::press::Control;
use crate::report::beside::{YOU, beside_sentence, judged_sentence};
use crate::rules::{LaneRun, SlipTime, TrackLength, head_start};
use crate::slips::practice_pass;
use crate::stats::offset::{ASSUMED, ASSUMED_OFFSET_MS};
use crate::tree::Outcome;
use crate::trial::{Drill, OffsetInForce, Style, TrialRecord};
use crate::units::Span;
use bevy::prelude::*;

/// The person in the other lane, if there is one.
#[derive(Resource, Default)]
pub struct Guest {
    /// Who.
    pub seat: Option<Seat>,
}

/// A person's place at this machine.
pub struct Seat {
    /// Who sits there.
    pub profile: Profile,
    /// The person's car.
    pub garage: Garage,
    /// The person's own log.
    pub store: Store,
    /// How the person means to leave.
    pub style: Style,
    /// Runs of this sitting.
    pub tally: Tally,
}

impl Seat {
    /// Opens the person's folder.
    ///
    /// # Errors
    /// A sentence for the driver.
    pub fn take(profile: Profile) -> Result<Self, String> {
        let opened = open_data(&profile.path).map_err(|error| error.to_string())?;
        let style = Settings::read(&profile.path).settings.style;
        let style = style.as_deref().and_then(super::lane::style_of_word).unwrap_or(Style::React);
        Ok(Self {
            profile,
            garage: opened.garage,
            store: opened.store,
            style,
            tally: Tally::default(),
        })
    }
}

impl Guest {
    /// The person, in drills two can drive.
    pub fn in_drill(&self, drill: Drill) -> Option<&Seat> {
        let for_two = matches!(drill, Drill::RollUp | Drill::TreeOnly | Drill::OtherLaneFirst);
        self.seat.as_ref().filter(|_| for_two)
    }
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Guest>()
        .add_systems(Update, read_save_news.in_set(AppSystems::ReadPresses));
}

/// The other log's answers reach the lane like the first one's.
fn read_save_news(mut guest: ResMut<Guest>, mut news: MessageWriter<SaveNews>) {
    let Some(seat) = &mut guest.bypass_change_detection().seat else { return };
    news.write_batch(seat.store.news().into_iter().map(SaveNews));
}

/// How long each tree waits: by the dial-ins where both cars have one, the driver's first. A tree-only
/// start is heads-up.
pub fn waits(drill: Drill, own: &Garage, other: &Garage) -> [Span; 2] {
    let dials = [own, other].map(|garage| garage.model().details().dial_s);
    match (drill, dials) {
        (Drill::RollUp | Drill::OtherLaneFirst, [Some(a), Some(b)]) => {
            head_start([a, b]).unwrap_or([Span::ZERO; 2])
        }
        _ => [Span::ZERO; 2],
    }
}

/// The delay in force for the person: the sitting's where both use keys, else one nobody measured.
pub fn offset(session: &Session, presses: &Presses) -> OffsetInForce {
    let keys = [Who::Driver, Who::Guest]
        .map(|who| matches!(presses.launch_control_of(who), Control::Key(_)));
    if keys == [true, true] {
        return session.offset.clone();
    }
    OffsetInForce { ms: ASSUMED_OFFSET_MS, from: ASSUMED.to_owned() }
}

/// What the pair of runs comes to: the other one's, and who won.
pub fn told(
    own: (&str, &Garage, &TrialRecord),
    other: (&str, &Garage, &TrialRecord),
) -> Vec<String> {
    // The usual name of who gave none.
    let names = [if own.0 == "me" { YOU } else { own.0 }, other.0];
    let [a, b] = [lane_run(own.1, own.2), lane_run(other.1, other.2)];
    // A dial-in races against a dial-in; one alone decides nothing.
    let both = a.dial.is_some() && b.dial.is_some() && own.2.setup.drill != Drill::TreeOnly;
    let lanes = [a, b].map(|lane| LaneRun { dial: lane.dial.filter(|_| both), ..lane });
    let decides = |record: &TrialRecord| {
        matches!(record.outcome, Outcome::Green | Outcome::Red | Outcome::LeftBeforeTree)
    };
    let mut said = vec![beside_sentence(other.0, other.2)];
    if decides(own.2) && decides(other.2) {
        said.insert(0, judged_sentence(names, lanes));
    }
    said
}

fn lane_run(garage: &Garage, record: &TrialRecord) -> LaneRun {
    let model = garage.model();
    let pass = practice_pass(model, record, TrackLength::Quarter).ok().flatten();
    let et_s = pass.and_then(|pass| pass.t1320_s);
    let time = |seconds: f64| SlipTime::from_seconds(seconds).ok();
    LaneRun {
        dial: model.details().dial_s.and_then(time),
        rt: record.parts.map(|parts| SlipTime::printed(parts.rt())),
        et: et_s.and_then(time),
        red: record.outcome == Outcome::Red,
        left_early: record.outcome == Outcome::LeftBeforeTree,
        ..LaneRun::default()
    }
}
