//! What the machine knows about one lane while a start runs.
//!
//! Owns the lane's motion, its staging so far, what its lamps did and how it ended. Refuses the
//! other lane and every decision: those are the machine's.

use super::facts::{Outcome, Parts, Staging};
use super::setup::{Entry, LaneSetup};
use crate::beams::{BeamState, Roll};
use crate::units::{Inches, Mark, Span, Stamp};

/// A launch edge as the machine took it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaunchTaken {
    /// When.
    pub stamp: Stamp,
    /// How far the tyre stood past the stage beam.
    pub depth: Inches,
    /// When the tyre clears the stage beam or reaches the guard beam.
    pub clears: Mark,
}

/// How a lane's run ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaneResult {
    /// When it was over.
    pub at: Mark,
    /// The outcome.
    pub outcome: Outcome,
    /// The time in its parts, where there is one.
    pub parts: Option<Parts>,
    /// A lamp was drawn against a fact that arrived later.
    pub lamp_corrected: bool,
}

#[derive(Debug, Clone)]
pub(super) struct LaneState {
    pub setup: LaneSetup,
    pub roll: Roll,
    /// Crossings up to this mark have been told.
    pub crossings_to: Mark,
    pub beams: BeamState,
    /// Since when the tyre has been in the beams at all.
    pub in_beams: Option<Mark>,
    pub first_pre_staged: Option<Mark>,
    pub stage_on: Option<Mark>,
    pub steady: Option<Mark>,
    pub time_out: Option<Mark>,
    /// Rolled through and not yet back behind the stage beam.
    pub backing_out: bool,
    pub staging: Staging,
    pub ambers_told: u8,
    pub shown: Vec<Option<Stamp>>,
    pub green_told: bool,
    pub red_told: bool,
    pub launch: Option<LaunchTaken>,
    pub cleared: bool,
    pub result: Option<LaneResult>,
}

impl LaneState {
    pub fn new(setup: LaneSetup, ambers: u8, start: Mark) -> Self {
        let depth = match setup.entry {
            Entry::Rolling { behind } => -setup.zones.spacing() - behind,
            Entry::Staged { depth } => depth,
        };
        let roll = Roll::at_rest(setup.zones, setup.handling, depth, start);
        let beams = roll.state(start);
        let lit = (beams != BeamState::Out).then_some(start);
        Self {
            setup,
            roll,
            crossings_to: start,
            beams,
            in_beams: lit,
            first_pre_staged: lit,
            stage_on: beams.lights_stage().then_some(start),
            steady: None,
            time_out: None,
            backing_out: false,
            staging: Staging::default(),
            ambers_told: 0,
            shown: vec![None; usize::from(ambers)],
            green_told: false,
            red_told: false,
            launch: None,
            cleared: false,
            result: None,
        }
    }

    /// Still to be waited for on the way to the tree.
    pub fn is_staging(&self) -> bool {
        self.result.is_none() && self.launch.is_none()
    }

    /// A person's run is judged by what the screen showed; a simulated driver needs no screen.
    pub fn is_person(&self) -> bool {
        self.setup.driver.is_none()
    }

    pub fn last_shown(&self) -> Option<Stamp> {
        self.shown.last().copied().flatten()
    }

    /// What the car would take if it were launched at `mark`; nothing for a car that never gets away.
    pub fn car_part(&self, mark: Mark) -> Span {
        let mut roll = self.roll.clone();
        roll.launch(mark, self.setup.launch);
        roll.clears_at(mark).map_or(Span::ZERO, |clears| clears - mark)
    }

    /// The time in its parts, once the last amber was seen and the launch is known.
    pub fn parts(&self, interval: Span) -> Option<Parts> {
        let (lamp, launch) = (self.last_shown()?, self.launch?);
        let (press, best) = (launch.stamp, launch.stamp.best());
        Some(Parts {
            driver_raw: best - lamp.best(),
            offset: self.setup.offset,
            car: launch.clears - best,
            interval,
            early_doubt: (best - press.earliest()) + (lamp.latest() - lamp.best()),
            late_doubt: (press.latest() - best) + (lamp.best() - lamp.earliest()),
        })
    }
}
