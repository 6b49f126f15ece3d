//! What is being practised now, and how it went so far.
//!
//! Owns drill, style, lane, run numbers and the counts of this sitting. Refuses the run itself.

use super::drill;
use crate::drill::{Moment, TrackNight};
use crate::history::Tally;
use crate::seed;
use crate::stats::offset::{ASSUMED, ASSUMED_OFFSET_MS, GIVEN};
use crate::tree::{Company, Lane, Outcome};
use crate::trial::{Aim, AimFrom, AimOf, Drill, OffsetInForce, Pause, Style};
use crate::units::{Mark, Measured, Span};
use bevy::prelude::*;

/// How many launches are shown as dots.
const DOTS: usize = 10;

/// Newest own lights that tell what one like the driver is. Chosen: some weeks of practice.
pub const OWN_LIGHTS: usize = 200;

/// The light an own aim begins at, and the latest, ms. Chosen: a light most can hold without reds, and
/// one nobody has to aim for.
const FIRST_AIM_MS: i64 = 20;
const MOST_AIM_MS: i64 = 200;

/// One launch as a dot of the last ten.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dot {
    /// Its time, where it has one.
    pub rt: Option<Span>,
    /// How it ended.
    pub outcome: Outcome,
}

/// This sitting.
#[derive(Resource, Debug, Clone)]
pub struct Session {
    /// Who practises.
    pub driver: String,
    /// What is practised.
    drill: Drill,
    /// How the driver means to leave, where the drill leaves it to him.
    chosen: Style,
    /// Whom the driver wishes to meet in the other lane.
    pub company: Company,
    /// The lane the driver is in.
    pub lane: Lane,
    /// Driven by a script or under a provoked fault.
    pub scripted: bool,
    /// The rig's delay in force.
    pub offset: OffsetInForce,
    /// The delay given by hand, ms: it comes before every other.
    pub given: Option<Measured>,
    /// The aim the driver chose to hold; none: the advised one.
    aim: Option<Aim>,
    /// The aim that is advised now, where there is one.
    pub advised: Option<Aim>,
    night: Option<TrackNight>,
    last_run: Option<Mark>,
    seed: u64,
    started: u64,
    in_drill: u32,
    tally: Tally,
    dots: Vec<Dot>,
    own_lights_s: Vec<f64>,
}

impl Session {
    /// A sitting whose random things follow from `seed`.
    pub fn new(driver: String, seed: u64, given: Option<Measured>, scripted: bool) -> Self {
        // The rig is not known yet: what is given holds on any, and nothing is filmed on none.
        let ms = given.unwrap_or(ASSUMED_OFFSET_MS);
        let from = if given.is_some() { GIVEN } else { ASSUMED };
        Self {
            driver,
            drill: Drill::RollUp,
            chosen: Style::React,
            company: Company::default(),
            lane: Lane::Left,
            scripted,
            offset: OffsetInForce { ms, from: from.to_owned() },
            given,
            aim: None,
            advised: None,
            night: None,
            last_run: None,
            seed,
            started: 0,
            in_drill: 0,
            tally: Tally::default(),
            dots: Vec::new(),
            own_lights_s: Vec::new(),
        }
    }

    /// The sitting of another driver at this machine, with as much luck of its own.
    pub fn of_another(&self, driver: &str) -> Self {
        let seed = seed::seed_of_run(self.seed, u64::MAX - self.started);
        Self::new(driver.to_owned(), seed, self.given, self.scripted)
    }

    /// Runs finished in this sitting.
    pub fn tally(&self) -> &Tally {
        &self.tally
    }

    /// The last ten launches, oldest first.
    pub fn dots(&self) -> &[Dot] {
        &self.dots
    }

    /// Runs of a round of the drill.
    pub fn drill_length(&self) -> u32 {
        drill::drill_length(self.drill)
    }

    /// How the driver means to leave in the run that comes next or is under way.
    pub fn style(&self) -> Style {
        drill::declared_style(self.drill, self.in_drill % self.drill_length(), self.chosen)
    }

    /// How the driver means to leave where the drill leaves it to him.
    pub fn chosen_style(&self) -> Style {
        self.chosen
    }

    /// Declares how to leave where the drill leaves it to the driver.
    pub fn choose_style(&mut self, style: Style) {
        self.chosen = style;
    }

    /// The style just changed by itself: a block of the other one begins.
    pub fn new_block(&self) -> bool {
        self.drill == Drill::ReactOrTime && self.in_drill.is_multiple_of(drill::BLOCK)
    }

    /// Number of the run that comes next or is under way, from 1, within its round of the drill.
    pub fn run_of_drill(&self) -> u32 {
        self.in_drill % self.drill_length() + 1
    }

    /// A round of the drill was just finished.
    pub fn round_is_full(&self) -> bool {
        self.in_drill > 0 && self.in_drill.is_multiple_of(self.drill_length())
    }

    /// Seed and number of the next run.
    pub fn next_run(&mut self) -> (u64, u64) {
        self.started += 1;
        (seed::seed_of_run(self.seed, self.started), self.started)
    }

    /// What is practised.
    pub fn drill(&self) -> Drill {
        self.drill
    }

    /// Changes the drill; its runs are counted from one again, a track night begins anew.
    pub fn set_drill(&mut self, drill: Drill) {
        (self.drill, self.in_drill) = (drill, 0);
        self.night = (drill == Drill::TrackNight).then(|| self.new_night());
    }

    /// The next drill.
    pub fn change_drill(&mut self) {
        self.set_drill(drill::next_drill(self.drill));
    }

    fn new_night(&self) -> TrackNight {
        TrackNight::new(seed::seed_of_run(self.seed, self.started), self.last_run)
    }

    /// The aim that is to be held, where the drill has one: the driver's own before the advised one.
    pub fn aim_to_hold(&self) -> Option<Aim> {
        self.aim.or(self.advised).filter(|_| self.drill == Drill::HoldAnAim)
    }

    /// Holds the advised aim again.
    pub fn aim_as_advised(&mut self) {
        self.aim = None;
    }

    /// Moves the aim: a light, from the one in force, or from where most begin.
    pub fn shift_aim(&mut self, ms: i64) {
        self.choose_aim(self.chosen_aim_ms().map_or(FIRST_AIM_MS, |now| now + ms));
    }

    /// Aims at a light, ms; held to what can be aimed at.
    pub fn choose_aim(&mut self, ms: i64) {
        let at = Span::from_ms(ms.clamp(0, MOST_AIM_MS));
        self.aim = Some(Aim { of: AimOf::Light, at, from: AimFrom::Chosen });
    }

    /// The light the driver chose to aim at, ms; none: as advised.
    pub fn chosen_aim_ms(&self) -> Option<i64> {
        self.aim.map(|aim| aim.at.as_ms_f64().round() as i64)
    }

    /// Where the track night stands; none in another drill.
    pub fn night(&self, now: Mark) -> Option<Moment> {
        self.night.as_ref().map(|night| night.moment(now))
    }

    /// Launches of the track night so far.
    pub fn night_made(&self) -> usize {
        self.night.as_ref().map_or(0, TrackNight::made)
    }

    /// Whether figures, counts and verdicts may be shown: not before a track night is over.
    pub fn shows_numbers(&self) -> bool {
        self.night.as_ref().is_none_or(TrackNight::shows_numbers)
    }

    /// The pause before a run that begins now, in a track night.
    pub fn pause(&self, now: Mark) -> Option<Pause> {
        self.night.as_ref()?.pause(now)
    }

    /// The driver waits no longer.
    pub fn cut_short(&mut self) {
        if let Some(night) = &mut self.night {
            night.cut_short();
        }
    }

    /// The slips of the night were read: the next one begins, with its pause.
    pub fn end_night(&mut self) {
        if self.night.as_ref().is_some_and(TrackNight::shows_numbers) {
            self.night = Some(self.new_night());
            self.in_drill = 0;
        }
    }

    /// Changes the declared style.
    pub fn change_style(&mut self) {
        self.chosen = match self.chosen {
            Style::React => Style::TimeIt,
            Style::TimeIt => Style::React,
        };
    }

    /// The driver's own lights, oldest first, s.
    pub fn own_lights_s(&self) -> &[f64] {
        &self.own_lights_s
    }

    /// What is known of the driver's lights from before this sitting, oldest first, s.
    pub fn remember_lights(&mut self, lights_s: impl IntoIterator<Item = f64>) {
        self.own_lights_s = lights_s.into_iter().collect();
        self.forget_old_lights();
    }

    /// Counts a finished run. Every run counts somewhere.
    pub fn finish_run(&mut self, outcome: Outcome, rt: Option<Span>, now: Mark) {
        self.tally.add(outcome);
        self.last_run = Some(now);
        let made = self.night_made();
        if let Some(night) = &mut self.night {
            night.finish_run(outcome, now);
        }
        self.own_lights_s.extend(rt.map(Span::as_secs_f64));
        self.forget_old_lights();
        // A run of a night that was no start is made again.
        let counts = self.night.is_none() || self.night_made() > made;
        self.in_drill += u32::from(counts);
        if !matches!(outcome, Outcome::Void(_) | Outcome::Abandoned(_)) {
            if self.dots.len() == DOTS {
                self.dots.remove(0);
            }
            self.dots.push(Dot { rt, outcome });
        }
    }
}

impl Session {
    fn forget_old_lights(&mut self) {
        let old = self.own_lights_s.len().saturating_sub(OWN_LIGHTS);
        self.own_lights_s.drain(..old);
    }
}

/// A style's name for people.
pub fn style_name(style: Style) -> &'static str {
    match style {
        Style::React => "react",
        Style::TimeIt => "time it",
    }
}
