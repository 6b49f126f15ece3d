//! Aim and Odds worked out for one set-up: everything a screen asks for while a slider moves.
//!
//! Owns the order of the work: what is slow is done once, in [`Desk::new`], on any thread; what is
//! left afterwards is looking up a curve. Refuses words and drawing.

mod curve;
mod hands;
mod rival;
mod told;

pub use curve::{AIMS_S, Curve, aims_s, on_the_slider};
pub use hands::Hands;
pub use rival::{Against, Rival};
pub use told::{AtBest, Told, ViewTold};

use super::lever::{Lever, LeverKind, Price, price};
use super::own::{
    OwnCar, OwnLaunches, OwnLines, OwnRuns, OwnSetup, OwnSlips, as_believed, enough, fair_blocks,
};
use super::practise::{AtStake, Known, Practise, practise_next};
use super::verdict::{Stakes, Tested, Verdict, verdict};
use super::{Doubt, StrategyError};
use crate::car;
use crate::rules::TrackLength;
use crate::stats::mixture::decide;
use crate::stats::risk::{HomeToTrack, LEAST_FOR_RISK, Pool, RedLine, count_interval};
use crate::stats::{Estimate, StatsError};
use crate::strategy::launches::{Launches, Seen, Source, View};
use crate::trial::Style;

/// Level of every interval here.
pub const LEVEL: f64 = 0.90;
/// Samples a check of declared reactions draws.
const CHECK_SAMPLES: usize = 99;
/// What levers are compared by where no aim is to be reached, s.
const LEVER_STEP_S: f64 = 0.010;
/// No lever reaches further, s. Chosen.
const FARTHEST_LEVER_S: f64 = 0.100;

/// What to work out.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// Whose launches, with what.
    pub setup: OwnSetup,
    /// A light is good from 0 up to this, s.
    pub better_than_s: f64,
    /// Against whom; `None` on a test-and-tune: no winner, no odds.
    pub against: Option<Against>,
    /// How far is raced.
    pub length: TrackLength,
    /// The class allows a delay box.
    pub delay_box: bool,
    /// Seed of everything random.
    pub seed: u64,
}

impl Asked {
    /// A test-and-tune: risk and lights, no winner.
    pub fn test_and_tune(setup: OwnSetup, seed: u64) -> Self {
        Self {
            setup,
            better_than_s: 0.050,
            against: None,
            length: TrackLength::Quarter,
            delay_box: false,
            seed,
        }
    }
}

/// Reds among the starts there are, however few.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counted {
    /// Starts that were red, those that left before the tree included.
    pub reds: usize,
    /// Their share of all starts with its exact interval.
    pub share: Estimate,
}

/// React or time it, as far as it was asked.
#[derive(Debug, Clone, PartialEq)]
pub enum ReactOrTime {
    /// The tree has no rhythm to time by.
    NoRhythm,
    /// No blocks of both styles that took turns, or too few launches in them.
    NoBlocks,
    /// The answer.
    Told(Box<Verdict>),
}

/// A lever with its price.
#[derive(Debug, Clone, PartialEq)]
pub struct PricedLever {
    /// What RT and ET change by.
    pub lever: Lever,
    /// How much of it, in its unit; 0 for one without.
    pub amount: f64,
    /// The unit: `in`, `psi`, `s at 60 ft`.
    pub unit: &'static str,
    /// P(red) with it.
    pub red: Estimate,
    /// What it comes to in the race; `None` on a test-and-tune.
    pub price: Option<Price>,
}

/// Aim and Odds, worked out.
#[derive(Debug, Clone, PartialEq)]
pub struct Desk {
    /// What was asked.
    pub asked: Asked,
    /// Practice of the set-up.
    pub runs: OwnRuns,
    /// Its slips.
    pub slips: OwnSlips,
    /// The car.
    pub car: OwnCar,
    /// What is known of the way to the track.
    pub home: HomeToTrack,
    /// Practice counted, with the car as believed; `None` without a start.
    pub practice_counts: Option<Counted>,
    /// Slips counted; `None` without a slip.
    pub slip_counts: Option<Counted>,
    /// What practice tells; `None` below ten launches.
    pub practice: Option<Told>,
    /// What slips tell on their own, never pooled with practice; `None` below ten lights.
    pub slips_alone: Option<Told>,
    /// The risk in this form with everything the driver excluded back in, where anything was.
    pub red_without_exclusions: Option<Estimate>,
    /// React or time it.
    pub react_or_time_it: ReactOrTime,
    /// Levers that make the best aim, or 10 ms where there is none to reach.
    pub levers: Vec<PricedLever>,
    /// The one thing to practise next.
    pub next: Practise,
    /// Doubts about the advice.
    pub doubts: Vec<Doubt>,
}

impl Desk {
    /// Works everything out: some tenths of a second for hundreds of launches.
    ///
    /// # Errors
    /// [`StrategyError`] for a race nobody could run or times that are no numbers. Too few launches
    /// are no error: the answer says what is missing.
    pub fn new(lines: &OwnLines, asked: Asked) -> Result<Self, StrategyError> {
        Self::by(Hands::One, lines, asked)
    }

    /// The same to the last bit with as many hands as there are.
    ///
    /// # Errors
    /// As [`Desk::new`].
    pub fn by(hands: Hands, lines: &OwnLines, asked: Asked) -> Result<Self, StrategyError> {
        let own = OwnLaunches::new(lines, &asked.setup)?;
        let practice_counts = counted(&own.runs, own.pool.as_ref(), &own.line)?;
        let slip_counts = match &own.slip_pool {
            Some(pool) => Some(reds(pool, &RedLine::at(0.0)?)?),
            None => none_measured(own.slips.counts.reds_without_number, 0)?,
        };
        let mut desk = Self {
            red_without_exclusions: without_exclusions(&own.runs, &own.believed_line, asked.seed)?,
            asked,
            runs: own.runs,
            slips: own.slips,
            car: own.car,
            home: own.home,
            practice_counts,
            slip_counts,
            practice: None,
            slips_alone: None,
            react_or_time_it: ReactOrTime::NoBlocks,
            levers: Vec::new(),
            next: Practise::KeepTheForm,
            doubts: vec![Doubt::MovesAsOne],
        };
        desk.ask(hands, lines, own.practice, own.slips_alone)?;
        Ok(desk)
    }

    /// Practice where there is enough of it, else slips; `None` if neither tells more than counts.
    pub fn main(&self) -> Option<&Told> {
        self.practice.as_ref().or(self.slips_alone.as_ref())
    }

    /// Launches with a time still missing until there is more than counts.
    pub fn missing(&self) -> usize {
        LEAST_FOR_RISK.saturating_sub(self.runs.counts.launches)
    }

    fn ask(
        &mut self,
        hands: Hands,
        lines: &OwnLines,
        practice: Option<Launches>,
        slips: Option<Launches>,
    ) -> Result<(), StrategyError> {
        let seed = self.asked.seed;
        let main = practice.as_ref().or(slips.as_ref());
        let like_me = main.map(|launches| launches.seen(View::ThisForm, seed, 0)).transpose()?;
        let opponent = match (&self.asked.against, &like_me) {
            (Some(against), Some(me)) => Some(against.opponent(me.lights())?),
            _ => None,
        };
        let race = self.asked.against.as_ref().map(|against| against.race);
        let stakes = match (&opponent, &race) {
            (Some(opponent), Some(race)) => Stakes::round(opponent, race),
            _ => Stakes::good_light(self.asked.better_than_s)?,
        };
        let told = |launches: &Launches| Told::new(launches, &stakes, &self.asked);
        let (practice_told, (slips_told, styles)) = hands.both(
            || practice.as_ref().map(told).transpose(),
            || (slips.as_ref().map(told).transpose(), self.styles(lines, &stakes)),
        );
        (self.practice, self.slips_alone) = (practice_told?, slips_told?);
        self.react_or_time_it = styles?;
        if let Some(launches) = main {
            let seen = launches.seen(View::AtTheTrack, seed, 0)?;
            self.levers = self.levers(&seen, opponent.as_ref().zip(race.as_ref()))?;
        }
        self.next = practise_next(&self.known())?;
        if let ReactOrTime::Told(verdict) = &self.react_or_time_it {
            self.doubts.extend(&verdict.doubts);
        }
        self.doubts.sort();
        self.doubts.dedup();
        Ok(())
    }

    fn styles(&self, lines: &OwnLines, stakes: &Stakes) -> Result<ReactOrTime, StrategyError> {
        let tree = self.asked.setup.tree_kind();
        if tree.all_at_once() {
            return Ok(ReactOrTime::NoRhythm);
        }
        let blocks = fair_blocks(lines, &self.asked.setup);
        if blocks.is_empty() {
            return Ok(ReactOrTime::NoBlocks);
        }
        let tested = match Tested::new(&blocks, &tree, as_believed(self.car.part), self.home) {
            Err(StrategyError::Stats(StatsError::TooFew { .. })) => {
                return Ok(ReactOrTime::NoBlocks);
            }
            tested => tested?,
        };
        let mean_s = self.car.part.mean_s;
        let told = verdict(&tested, stakes, View::ThisForm, mean_s, self.asked.seed);
        let mut told = match told {
            Err(StrategyError::Stats(StatsError::TooFew { .. })) => {
                return Ok(ReactOrTime::NoBlocks);
            }
            told => told?,
        };
        let reactions = tested.react().pool().driver_parts();
        // Too few reactions for two parts leave the question open.
        if decide(reactions, CHECK_SAMPLES, self.asked.seed).is_ok_and(|d| d.two_parts) {
            told.doubts.push(Doubt::ReactionsOfTwoKinds);
        }
        let reacting = OwnSetup { style: Style::React, ..self.asked.setup.clone() };
        if OwnRuns::new(lines, &reacting, 0.0).guess_test.guesses > 0 {
            told.doubts.push(Doubt::ReactionsWithoutALamp);
        }
        Ok(ReactOrTime::Told(Box::new(told)))
    }

    fn levers(
        &self,
        seen: &Seen,
        race: Option<(&super::odds::Opponent, &super::odds::Race)>,
    ) -> Result<Vec<PricedLever>, StrategyError> {
        let track = self.main().and_then(|told| told.view(View::AtTheTrack));
        let best = track.map(|view| view.at_best.best);
        let reach =
            best.filter(|best| !best.holds_now() && best.earlier_s.abs() <= FARTHEST_LEVER_S);
        let earlier_s = reach.map_or(LEVER_STEP_S, |best| best.earlier_s);
        let mut levers = Vec::new();
        if self.asked.setup.style == Style::TimeIt {
            levers.push((Lever::free(LeverKind::Timing, earlier_s)?, 0.0, ""));
        }
        if self.asked.delay_box {
            levers.push((Lever::free(LeverKind::DelayBox, earlier_s)?, 0.0, ""));
        }
        levers.extend(self.of_the_car(earlier_s)?);
        let priced = |(lever, amount, unit): (Lever, f64, &'static str)| {
            let price = race.map(|(opponent, race)| price(seen, opponent, race, &lever, LEVEL));
            let red = seen.red(&[-lever.rt_s], LEVEL)?[0];
            Ok(PricedLever { lever, amount, unit, red, price: price.transpose()? })
        };
        levers.into_iter().map(priced).collect()
    }

    /// What the car could do to be so much earlier (later below 0), as far as it reaches.
    fn of_the_car(&self, earlier_s: f64) -> Result<Vec<(Lever, f64, &'static str)>, StrategyError> {
        let Some(model) = &self.car.model else { return Ok(Vec::new()) };
        // A car that cannot be driven down the track has no levers.
        let Ok(of_car) = model.levers(self.asked.length) else { return Ok(Vec::new()) };
        let mut levers = Vec::new();
        for lever in of_car.iter().filter(|lever| lever.rt_s != 0.0) {
            let amount = -earlier_s / lever.rt_s;
            let (kind, unit, limit) = match lever.kind {
                car::LeverKind::Depth => {
                    let shallow = -model.depth_in().value;
                    (LeverKind::Depth, "in", if amount < 0.0 { -shallow } else { DEEPEST_IN })
                }
                car::LeverKind::Tyre => (LeverKind::Tyre, "in of tyre", MOST_TYRE_IN),
                car::LeverKind::Pressure => (LeverKind::Tyre, "psi", MOST_PSI),
                car::LeverKind::SixtyFoot if amount < 0.0 => {
                    (LeverKind::Strength, "s at 60 ft", MOST_TENTHS)
                }
                // A weaker launch is no advice, and a lag is the driver's foot.
                car::LeverKind::SixtyFoot | car::LeverKind::Lag => continue,
            };
            if amount.abs() > limit {
                continue;
            }
            let pair = Lever::pair(kind, lever.rt_s * amount, lever.et_s * amount)?;
            let scale = if unit == "s at 60 ft" { 0.1 } else { 1.0 };
            levers.push((pair, scale * amount, unit));
        }
        Ok(levers)
    }

    fn known(&self) -> Known {
        let told = self.main();
        let days = if self.practice.is_some() { self.runs.days() } else { self.slips.days };
        let now = |view| told.and_then(|told| told.view(view));
        Known {
            launches: told.map_or(self.runs.counts.launches, |told| told.n),
            days,
            headline: told.map(|told| told.headline),
            red: now(View::ThisForm).map(|view| view.curve.red(0.0)),
            verdict: match &self.react_or_time_it {
                ReactOrTime::Told(verdict) => Some((**verdict).clone()),
                _ => None,
            },
            stakes: now(View::AtTheTrack).map(|view| AtStake {
                best_earlier_s: view.at_best.best.earlier_s,
                of_best_aim: view.at_best.gain,
                of_1ms_spread: view.at_best.worth_of_1ms_spread,
            }),
        }
    }

    /// Where the launches would turn red, as aims, s: each light. At the track the way there is in it.
    pub fn rug_s(&self, source: Source, view: View) -> Vec<f64> {
        if source == Source::Slips {
            return self.slips.rts_s().to_vec();
        }
        let line_s = self.asked.setup.interval.as_secs_f64() - self.car.part.mean_s;
        let later_s = if view == View::AtTheTrack { self.home.offset_s.value } else { 0.0 };
        self.runs.driver_parts_s().iter().map(|part| part - line_s + later_s).collect()
    }
}

/// Deeper than this no car stays staged, in. Chosen.
const DEEPEST_IN: f64 = 8.0;
/// Tyres, pressures and launches that differ more are another car. Chosen.
const MOST_TYRE_IN: f64 = 2.0;
const MOST_PSI: f64 = 15.0;
const MOST_TENTHS: f64 = 2.0;

fn reds(pool: &Pool, line: &RedLine) -> Result<Counted, StrategyError> {
    let (reds, share) = pool.counts(line, 0.0, LEVEL)?;
    Ok(Counted { reds, share })
}

fn counted(
    runs: &OwnRuns,
    pool: Option<&Pool>,
    line: &RedLine,
) -> Result<Option<Counted>, StrategyError> {
    match pool {
        Some(pool) => Ok(Some(reds(pool, line)?)),
        None => none_measured(runs.counts.left_before_tree, runs.counts.lapses),
    }
}

/// Starts without a time.
fn none_measured(reds: usize, late: usize) -> Result<Option<Counted>, StrategyError> {
    if reds + late == 0 {
        return Ok(None);
    }
    Ok(Some(Counted { reds, share: count_interval(reds, reds + late, LEVEL)? }))
}

fn without_exclusions(
    runs: &OwnRuns,
    line: &RedLine,
    seed: u64,
) -> Result<Option<Estimate>, StrategyError> {
    let Some(pool) = enough(&runs.pool_without_exclusions()?) else { return Ok(None) };
    let settings = crate::stats::risk::Settings::new(seed);
    let draws = crate::stats::risk::RiskDraws::this_form(&pool, &settings)?;
    Ok(Some(draws.curve(line, &[0.0], LEVEL)?[0]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::history::CarLine;
    use crate::rules::TreeKind;

    /// A desk without a launch, for a car that is known.
    fn of_a_known_car() -> Desk {
        let car = CarLine {
            id: "car".to_owned(),
            name: "demo car".to_owned(),
            tyre_diameter_in: Some(25.0),
            leave: Some("one-foot".to_owned()),
            sixty_foot_s: Some(1.9),
            depth: Some("just-lit".to_owned()),
            ..CarLine::default()
        };
        let tree = TreeKind::full();
        let setup = OwnSetup {
            driver: "demo driver".to_owned(),
            car: car.name.clone(),
            tree: tree.name().to_owned(),
            ambers: tree.ambers(),
            amber_gap: tree.amber_gap(),
            interval: tree.green_gap(),
            launch_edge: "press".to_owned(),
            style: Style::TimeIt,
        };
        let lines = OwnLines { cars: std::slice::from_ref(&car), ..OwnLines::default() };
        Desk::new(&lines, Asked::test_and_tune(setup, 1)).unwrap()
    }

    #[test]
    fn a_car_is_rolled_no_further_back_than_it_stands_in_and_no_deeper_than_eight_inches() {
        let desk = of_a_known_car();
        let model = desk.car.model.as_ref().unwrap();
        let levers = model.levers(TrackLength::Quarter).unwrap();
        let inch = levers.iter().find(|lever| lever.kind == car::LeverKind::Depth).unwrap();
        let stands_in = model.depth_in().value;
        assert!(stands_in > 0.3 && inch.rt_s < 0.0, "{stands_in} {inch:?}");
        for (inches, fits) in [
            (1.0, true),
            (5.0, true),
            (8.0, true),
            (8.01, false),
            (-0.9 * stands_in, true),
            (-1.1 * stands_in, false),
        ] {
            let offered = desk.of_the_car(-inches * inch.rt_s).unwrap();
            let depth = offered.iter().find(|(lever, ..)| lever.kind == LeverKind::Depth);
            assert_eq!(depth.is_some(), fits, "{inches}");
            for (lever, amount, unit) in &offered {
                assert!((lever.rt_s - inches * inch.rt_s).abs() < 1e-12, "{lever:?}");
                assert!(*unit != "in" || (amount - inches).abs() < 1e-9, "{amount} {unit}");
            }
        }
    }
}
