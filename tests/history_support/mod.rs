//! Runs and answers made up at random from a fixed seed, and a sink that misbehaves on demand.
#![allow(dead_code, reason = "each test binary uses its part")]

use std::io::{self, Write};
use std::sync::{Arc, Mutex};

use lastamber::history::{
    BeamsLine, CarLine, ClockBase, DetailsLine, FilmLine, FilmedPartLine, Line, LoopLine,
    MeasuredLine, PollLine, RigLine, Sink, TractionLine, WakeUpLine,
};
use lastamber::press::Origin;
use lastamber::tree::{AbandonReason, Lamp, Lane, Outcome, Parts, Staging, VoidReason};
use lastamber::trial::{
    Aim, AimFrom, AimOf, CarFacts, Circumstances, CommonSetup, Drill, LampFact, LaunchFact,
    OffsetInForce, Pause, RigPrint, SeenFacts, SetupFacts, Style, TrialRecord,
};
use lastamber::units::{Inches, Measured, Span};
use proptest::num::f64 as floats;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{RngSeed, TestRunner};

/// The same cases on every machine, and no files left behind.
pub fn fixed(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        rng_seed: RngSeed::Fixed(20_260_501),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// Some runs, the same every time, with ids `run-0`, `run-1`, …
pub fn some_runs(count: usize) -> Vec<TrialRecord> {
    let mut runner = TestRunner::deterministic();
    (0..count)
        .map(|index| {
            let mut run = run().new_tree(&mut runner).expect("no filter rejects").current();
            run.id = format!("run-{index}").into();
            run
        })
        .collect()
}

/// A small car line.
pub fn some_car(id: &str) -> CarLine {
    CarLine {
        id: id.to_owned(),
        saved_at: "2026-05-01T10:00:00+02:00[Europe/Oslo]".to_owned(),
        name: "Bremse ä → \u{1F3C1}".to_owned(),
        kind: Some("door car".to_owned()),
        tyre_diameter_in: Some(26.1),
        control: "Space".to_owned(),
        ..CarLine::default()
    }
}

/// A rig for the lines below.
pub fn some_rig() -> RigPrint {
    RigPrint {
        device: "keyboard".to_owned(),
        control: "Space".to_owned(),
        launch_edge: "press".to_owned(),
        threshold: None,
        limb: "right-hand".to_owned(),
        source: "server".to_owned(),
        display: "x11 1280x720".to_owned(),
        refresh_hz: 60,
        present_mode: "fifo".to_owned(),
    }
}

/// A self test on that rig.
pub fn some_rig_test(id: &str) -> RigLine {
    RigLine {
        id: id.to_owned(),
        saved_at: "2026-05-01T10:00:00+02:00[Europe/Oslo]".to_owned(),
        program: "0.1.0".to_owned(),
        rig: some_rig().into(),
        source_reason: Some("no right to read the keyboard device".to_owned()),
        onset_grade: "grid".to_owned(),
        loop_time: LoopLine { period_ms: 16.67, jitter_median_ms: 0.1, jitter_worst_ms: 1.9 },
        wake_up: WakeUpLine { median_ms: 0.1, p95_ms: 0.3, worst_ms: 2.2 },
        clock_base: ClockBase::Holds,
        poll: PollLine::Found { period_ms: 8.0, presses: 40 },
        refresh_hz: 59.94,
        self_paced: false,
        press_half_width_ms: 0.5,
        lamp_half_width_ms: 0.3,
        load_average: Some(0.4),
        ran_s: 10.2,
    }
}

/// A film of that rig.
pub fn some_film(id: &str) -> FilmLine {
    FilmLine {
        id: id.to_owned(),
        saved_at: "2026-05-01T10:10:00+02:00[Europe/Oslo]".to_owned(),
        program: "0.1.0".to_owned(),
        rig: some_rig().into(),
        fps: 240.0,
        frames: vec![9.0, 10.5, 30.0],
        own_ms: vec![15.8, 16.1, 16.0],
        left_out: vec![3],
        offset_ms: 24.1,
        spread_ms: 2.6,
        standard_error_ms: 1.2,
        n: 2,
    }
}

/// The bytes of a whole file of lines.
pub fn file_of<'a>(lines: impl IntoIterator<Item = &'a Line>) -> Vec<u8> {
    lines.into_iter().flat_map(|line| line.seal().unwrap().bytes().to_vec()).collect()
}

/// Every finite number there is, and the two infinities.
pub fn any_number() -> impl Strategy<Value = f64> {
    floats::POSITIVE
        | floats::NEGATIVE
        | floats::NORMAL
        | floats::SUBNORMAL
        | floats::ZERO
        | floats::INFINITE
}

fn text() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        "\\PC{0,12}",
        proptest::collection::vec(any::<char>(), 0..8)
            .prop_map(|chars| chars.into_iter().collect())
    ]
}

fn span() -> impl Strategy<Value = Span> {
    any::<i64>().prop_map(Span::from_ns)
}

fn measured() -> impl Strategy<Value = Measured> {
    (any_number(), any_number()).prop_map(|(value, sd)| Measured { value, sd })
}

fn lamp() -> impl Strategy<Value = Lamp> {
    prop_oneof![
        Just(Lamp::PreStage),
        Just(Lamp::Stage),
        any::<u8>().prop_map(Lamp::Amber),
        Just(Lamp::Green),
        Just(Lamp::Red),
    ]
}

/// Every way a run can end.
pub fn outcome() -> impl Strategy<Value = Outcome> {
    use AbandonReason::{Closed, FocusLost, Paused};
    let void = prop_oneof![
        Just(VoidReason::NoOnset),
        (lamp(), any::<i64>()).prop_map(|(lamp, late_ns)| VoidReason::LampLate { lamp, late_ns }),
        lamp().prop_map(|lamp| VoidReason::LampHidden { lamp }),
        Just(VoidReason::ControlLost),
    ];
    prop_oneof![
        Just(Outcome::Green),
        Just(Outcome::Red),
        Just(Outcome::LeftBeforeTree),
        Just(Outcome::TimedOut),
        Just(Outcome::Lapse),
        Just(Outcome::Stayed),
        any::<i64>().prop_map(|after_due_ns| Outcome::Guessed { after_due_ns }),
        prop_oneof![Just(Paused), Just(FocusLost), Just(Closed)].prop_map(Outcome::Abandoned),
        void.prop_map(Outcome::Void),
    ]
}

prop_compose! {
    fn setup()(
        (tree, procedure, other_lane) in (text(), text(), proptest::option::of(text())),
        (ambers, amber_gap, interval, seed) in (any::<u8>(), span(), span(), any::<u64>()),
        drill in prop_oneof![
            Just(Drill::RollUp),
            Just(Drill::TreeOnly),
            Just(Drill::ReactOrTime),
            Just(Drill::GuessTest),
            Just(Drill::OtherLaneFirst),
            Just(Drill::HoldAnAim),
            Just(Drill::TrackNight)
        ],
        style in prop_oneof![Just(Style::React), Just(Style::TimeIt)],
        lane in prop_oneof![Just(Lane::Left), Just(Lane::Right)],
        (blank, scripted) in any::<(bool, bool)>(),
        (aim, pause) in (proptest::option::of(aim()), proptest::option::of(pause())),
    ) -> SetupFacts {
        let (tree, procedure, other_lane) = (tree.into(), procedure.into(), other_lane.map(Into::into));
        let common = CommonSetup { tree, ambers, amber_gap, interval, procedure, drill, style, blank, lane, other_lane, scripted, aim };
        SetupFacts { common: common.into(), seed, pause }
    }
}

prop_compose! {
    fn aim()(
        at in span(),
        of in prop_oneof![Just(AimOf::DriverPart), Just(AimOf::Light)],
        from in prop_oneof![Just(AimFrom::Chosen), Just(AimFrom::Advised)],
    ) -> Aim {
        Aim { of, at, from }
    }
}

prop_compose! {
    fn pause()(planned in span(), waited in span()) -> Pause {
        Pause { planned, waited }
    }
}

prop_compose! {
    fn car_facts()(
        (name, assumed, diameter) in (text(), any::<bool>(), any_number()),
        (car_part_s, lag_s, launch_g) in (measured(), measured(), measured()),
    ) -> CarFacts {
        let tyre_diameter = Inches(diameter);
        CarFacts { name, car_part_s, assumed, tyre_diameter, lag_s, launch_g }
    }
}

prop_compose! {
    fn rig()(
        (device, control, launch_edge, limb) in (text(), text(), text(), text()),
        (source, display, present_mode, refresh_hz) in (text(), text(), text(), any::<u32>()),
        threshold in proptest::option::of(any_number()),
    ) -> RigPrint {
        RigPrint {
            device, control, launch_edge, threshold, limb, source, display, refresh_hz, present_mode,
        }
    }
}

prop_compose! {
    /// Any self test whatever, with an id.
    pub fn rig_test()(
        (id, saved_at, program, rig) in ("[0-9a-f-]{1,36}", text(), text(), rig()),
        (source_reason, onset_grade) in (proptest::option::of(text()), text()),
        numbers in proptest::collection::vec(any_number(), 10),
        clock_base in prop_oneof![
            Just(ClockBase::Holds), Just(ClockBase::Fails), Just(ClockBase::Unknown),
        ],
        poll in prop_oneof![
            (any_number(), any::<u32>())
                .prop_map(|(period_ms, presses)| PollLine::Found { period_ms, presses }),
            (text(), any::<u32>()).prop_map(|(why, presses)| PollLine::NotFound { why, presses }),
        ],
        (self_paced, load_average) in (any::<bool>(), proptest::option::of(any_number())),
    ) -> RigLine {
        let mut numbers = numbers.into_iter();
        let mut number = || numbers.next().expect("ten were made");
        RigLine {
            id, saved_at, program, rig: rig.into(), source_reason, onset_grade,
            loop_time: LoopLine {
                period_ms: number(), jitter_median_ms: number(), jitter_worst_ms: number(),
            },
            wake_up: WakeUpLine { median_ms: number(), p95_ms: number(), worst_ms: number() },
            clock_base, poll, refresh_hz: number(), self_paced,
            press_half_width_ms: number(), lamp_half_width_ms: number(),
            load_average, ran_s: number(),
        }
    }
}

prop_compose! {
    /// Any film whatever, with an id.
    pub fn film()(
        (id, saved_at, program, rig) in ("[0-9a-f-]{1,36}", text(), text(), rig()),
        frames in proptest::collection::vec(any_number(), 0..6),
        own_ms in proptest::collection::vec(any_number(), 0..6),
        (left_out, n) in (proptest::collection::vec(any::<u32>(), 0..3), any::<u32>()),
        (fps, offset_ms) in (any_number(), any_number()),
        (spread_ms, standard_error_ms) in (any_number(), any_number()),
    ) -> FilmLine {
        FilmLine {
            id, saved_at, program, rig: rig.into(), fps, frames, own_ms, left_out, offset_ms,
            spread_ms, standard_error_ms, n,
        }
    }
}

prop_compose! {
    fn staging()(
        took in proptest::option::of(span()),
        (courtesy_broken, deep) in any::<(bool, bool)>(),
        (sent_back, rolled_through) in any::<(u8, u8)>(),
    ) -> Staging {
        Staging { took, courtesy_broken, sent_back, rolled_through, deep }
    }
}

prop_compose! {
    fn lamp_fact()(
        (lamp, due) in (lamp(), span()),
        shown in proptest::option::of([span(), span(), span()]),
    ) -> LampFact {
        LampFact { lamp, due, shown }
    }
}

prop_compose! {
    fn launch()(
        at in [span(), span(), span()],
        origin in prop_oneof![
            Just(Origin::Kernel), Just(Origin::Server), Just(Origin::Pad), Just(Origin::Frame),
        ],
        (sources_disagree, depth) in (any::<bool>(), any_number()),
    ) -> LaunchFact {
        LaunchFact { at, origin, sources_disagree, depth: Inches(depth) }
    }
}

prop_compose! {
    fn parts()(
        (driver_raw, offset, car) in (span(), span(), span()),
        (interval, early_doubt, late_doubt) in (span(), span(), span()),
    ) -> Parts {
        Parts { driver_raw, offset, car, interval, early_doubt, late_doubt }
    }
}

prop_compose! {
    /// Any run whatever, with an id.
    pub fn run()(
        (id, began, program, driver) in ("[0-9a-f-]{1,36}", text(), text(), text()),
        (setup, car, rig) in (setup(), car_facts(), rig()),
        (offset_ms, offset_from, staging) in (measured(), text(), staging()),
        lamps in proptest::collection::vec(lamp_fact(), 0..7),
        (onset_grade, amber_spacing_off) in (text(), any::<bool>()),
        amber_gaps_shown in proptest::collection::vec(span(), 0..5),
        (hold, frame_period) in (proptest::option::of(span()), span()),
        launch in proptest::option::of(launch()),
        (outcome, parts) in (outcome(), proptest::option::of(parts())),
        (colour_in_doubt, hitch, lamp_corrected) in any::<(bool, bool, bool)>(),
    ) -> TrialRecord {
        let (program, driver, car, rig) = (program.into(), driver.into(), car.into(), rig.into());
        let offset = OffsetInForce { ms: offset_ms, from: offset_from }.into();
        let with = Circumstances { program, driver, car, rig, offset, onset_grade: onset_grade.into() }.into();
        let seen = SeenFacts { staging, lamps, amber_gaps_shown, hold, frame_period, launch }.into();
        let (id, began) = (id.into(), began.into());
        TrialRecord { id, began, with, setup, seen, amber_spacing_off, outcome, parts, colour_in_doubt, hitch, lamp_corrected }
    }
}

prop_compose! {
    fn details()(
        measured in proptest::collection::vec(proptest::option::of(measured()), 5),
        numbers in proptest::collection::vec(proptest::option::of(any_number()), 5),
        slip_sixty_feet_s in proptest::collection::vec(any_number(), 0..4),
        traction in proptest::option::of((any_number(), text(), any_number(), any_number())),
        beams in proptest::option::of([any_number(), any_number(), any_number(), any_number()]),
        filmed in proptest::option::of((
            measured(), any_number(), proptest::collection::vec(any_number(), 0..4),
        )),
    ) -> DetailsLine {
        let mut measured = measured.into_iter().map(|m| m.map(MeasuredLine::from));
        let mut measured = || measured.next().expect("five were made");
        let mut numbers = numbers.into_iter();
        let mut number = || numbers.next().expect("five were made");
        DetailsLine {
            deflection_in: measured(),
            front_pressure_psi: number(),
            launch_sixty_foot_s: measured(),
            launch_g: measured(),
            traction: traction.map(|(grip, driven, weight_share, height_over_wheelbase)| {
                TractionLine { grip, driven, weight_share, height_over_wheelbase }
            }),
            slip_sixty_feet_s,
            lag_s: measured(),
            depth_in: measured(),
            depth_spread_in: number(),
            weight_lb: number(),
            power_hp: number(),
            dial_s: number(),
            filmed: filmed.map(|(car_part, fps, frames)| FilmedPartLine {
                car_part_s: car_part.into(), fps, frames,
            }),
            beams: beams.map(|[prestage_in, guard_in, height_in, sixty_foot_height_in]| {
                BeamsLine { prestage_in, guard_in, height_in, sixty_foot_height_in }
            }),
        }
    }
}

prop_compose! {
    /// Any answers whatever, with an id.
    pub fn car()(
        (id, saved_at, name, control) in ("[0-9a-f-]{1,36}", text(), text(), text()),
        tyre_diameter_in in proptest::option::of(any_number()),
        sixty_foot_s in proptest::option::of(any_number()),
        words in proptest::collection::vec(proptest::option::of(text()), 6),
        details in details(),
    ) -> CarLine {
        let mut words = words.into_iter();
        let mut word = || words.next().expect("six were made");
        CarLine {
            id, saved_at, name, control, tyre_diameter_in, sixty_foot_s,
            tyre_size: word(), leave: word(), kind: word(), depth: word(), limb: word(),
            launch_edge: word(), details,
        }
    }
}

/// What happened to a sink, in order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Happened {
    Wrote(Vec<u8>),
    Synced,
    Failed,
    Saved(String),
}

/// What a sink does next; when the plan is used up, all goes well.
#[derive(Debug, Clone, Copy)]
pub enum Plan {
    Work,
    /// Take this many bytes, then fail.
    FailAfter(usize),
    FailSync,
}

/// A disk in memory that keeps a diary and fails by plan, one step of the plan for each line.
#[derive(Debug, Clone, Default)]
pub struct Disk(Arc<Mutex<Inner>>);

#[derive(Debug, Default)]
struct Inner {
    bytes: Vec<u8>,
    diary: Vec<Happened>,
    plans: std::collections::VecDeque<Plan>,
    /// Bytes still taken before the write in progress fails.
    room: Option<usize>,
}

impl Disk {
    pub fn with_plans(plans: impl IntoIterator<Item = Plan>) -> Self {
        let disk = Self::default();
        disk.0.lock().unwrap().plans.extend(plans);
        disk
    }

    pub fn bytes(&self) -> Vec<u8> {
        self.0.lock().unwrap().bytes.clone()
    }

    pub fn diary(&self) -> Vec<Happened> {
        self.0.lock().unwrap().diary.clone()
    }

    pub fn note(&self, happened: Happened) {
        self.0.lock().unwrap().diary.push(happened);
    }
}

impl Write for Disk {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut inner = self.0.lock().unwrap();
        let room = match (inner.room.take(), inner.plans.front()) {
            (Some(room), _) => room,
            (None, Some(&Plan::FailAfter(room))) => {
                inner.plans.pop_front();
                room
            }
            (None, _) => usize::MAX,
        };
        if room == 0 {
            inner.diary.push(Happened::Failed);
            return Err(io::Error::from(io::ErrorKind::StorageFull));
        }
        let taken = bytes.len().min(room);
        inner.bytes.extend_from_slice(&bytes[..taken]);
        inner.diary.push(Happened::Wrote(bytes[..taken].to_vec()));
        if taken < bytes.len() {
            inner.room = Some(0);
        }
        Ok(taken)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Sink for Disk {
    fn sync(&mut self) -> io::Result<()> {
        let mut inner = self.0.lock().unwrap();
        if let Some(Plan::FailSync) = inner.plans.pop_front() {
            inner.diary.push(Happened::Failed);
            return Err(io::Error::other("the disk went away"));
        }
        inner.diary.push(Happened::Synced);
        Ok(())
    }
}
