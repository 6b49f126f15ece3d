//! The slip of the run that was just told: the launch as it was timed, the rest computed from the car.
//!
//! Owns gathering both lanes. Refuses printing and computing: the slip room and the car room do.

use super::live::{Ending, Live};
use crate::app::garage::Garage;
use crate::rules::{SlipTime, TrackLength};
use crate::slips::{OtherRun, Slip, practice_pass, practice_slip};
use crate::tree::Outcome;

/// The slip of a run that is over; `None` while it is not, and for a run a track prints nothing for.
pub fn slip_of(live: &Live, garage: &Garage) -> Option<Slip> {
    let Ending::Told { record, .. } = &live.ending else { return None };
    let model = garage.model();
    let pass = match practice_pass(model, record, TrackLength::Quarter) {
        Ok(pass) => pass,
        Err(error) => {
            bevy::log::warn!("no pass is computed for the slip: {error}");
            None
        }
    };
    let dial = model.details().dial_s.and_then(|dial_s| SlipTime::from_seconds(dial_s).ok());
    let other = live.machine.result(live.you.other()).map(|result| OtherRun {
        rt: result.parts.map(|parts| parts.rt()),
        red: matches!(result.outcome, Outcome::Red | Outcome::LeftBeforeTree),
        ..OtherRun::default()
    });
    practice_slip(record, dial, pass.as_ref(), other.as_ref()).ok()
}
