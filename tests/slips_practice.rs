//! Practice slips: from a run's record and a computed pass, on disk and back, marked all the way.

use lastamber::car::pass::{CarBody, Pass, StartPlace, drive};
use lastamber::car::{Answers, BeamLine, CarModel, Details, Strength, Tyre};
use lastamber::history::{Line, SlipLine, load, slips_in_force};
use lastamber::press::Origin;
use lastamber::rules::{RtScale, TrackLength};
use lastamber::slips::{
    Manner, OtherRun, Slip, SlipOrigin, SlipTree, SlipsError, check, explain, practice_pass,
    practice_slip, read_table, write_table,
};
use lastamber::tree::{AbandonReason, Lane, Outcome, Parts, Staging, VoidReason};
use lastamber::trial::{
    CarFacts, Circumstances, CommonSetup, Drill, LaunchFact, OffsetInForce, RigPrint, SeenFacts,
    SetupFacts, Style, TrialRecord,
};
use lastamber::units::{Inches, Measured, Span};

const MS: fn(i64) -> Span = Span::from_ms;

/// A run whose reaction time comes to `rt`, thousandths of a second.
fn record(rt: i64, outcome: Outcome) -> TrialRecord {
    let word = |text: &str| text.to_owned();
    TrialRecord {
        id: "0190-practice".into(),
        began: "2026-05-01T19:35:12.345+02:00[Europe/Oslo]".into(),
        setup: SetupFacts {
            common: CommonSetup {
                tree: "full".into(),
                ambers: 3,
                amber_gap: MS(500),
                interval: MS(500),
                procedure: "bracket".into(),
                drill: Drill::RollUp,
                style: Style::React,
                blank: false,
                lane: Lane::Right,
                other_lane: None,
                scripted: false,
                aim: None,
            }
            .into(),
            seed: 1,
            pause: None,
        },
        outcome,
        parts: Some(Parts {
            driver_raw: MS(200) + MS(rt),
            offset: MS(0),
            car: MS(300),
            interval: MS(500),
            early_doubt: MS(1),
            late_doubt: MS(1),
        }),
        colour_in_doubt: false,
        hitch: false,
        lamp_corrected: false,
        amber_spacing_off: false,
        with: Circumstances {
            program: "0".into(),
            driver: "me".into(),
            car: CarFacts {
                name: word("my car"),
                car_part_s: Measured::new(0.3, 0.02),
                assumed: false,
                tyre_diameter: Inches(25.0),
                lag_s: Measured::new(0.05, 0.01),
                launch_g: Measured::new(0.7, 0.02),
            }
            .into(),
            rig: RigPrint {
                device: word("keyboard"),
                control: word("Space"),
                launch_edge: word("press"),
                limb: word("right-hand"),
                source: word("frame"),
                display: word("x"),
                refresh_hz: 60,
                present_mode: word("fifo"),
                threshold: None,
            }
            .into(),
            offset: OffsetInForce { ms: Measured::new(35.0, 15.0), from: word("assumed") }.into(),
            onset_grade: "frame".into(),
        }
        .into(),
        seen: SeenFacts {
            staging: Staging::default(),
            lamps: Vec::new(),
            hold: None,
            frame_period: MS(16),
            launch: Some(LaunchFact {
                at: [MS(0); 3],
                origin: Origin::Frame,
                sources_disagree: false,
                depth: Inches(1.5),
            }),
            amber_gaps_shown: Vec::new(),
        }
        .into(),
    }
}

fn pass(length: TrackLength) -> Pass {
    let start =
        StartPlace::new(Tyre::rigid(Inches(25.0)).unwrap(), BeamLine::default(), Inches(1.5));
    drive(&CarBody::street(3400.0, 300.0).forces(0.7).unwrap(), start, length).unwrap()
}

fn slip(rt: i64, outcome: Outcome) -> Slip {
    practice_slip(&record(rt, outcome), None, Some(&pass(TrackLength::Quarter)), None).unwrap()
}

#[test]
fn a_practice_slip_prints_the_launch_that_was_timed_and_the_pass_that_was_computed() {
    let slip = slip(45, Outcome::Green);
    let pass = pass(TrackLength::Quarter);
    assert_eq!(slip.own.rt.unwrap().to_string(), ".045");
    assert_eq!(
        (slip.scale, slip.tree, slip.lane),
        (RtScale::Modern, Some(SlipTree::Full), Some(Lane::Right))
    );
    assert!((slip.own.t1320.unwrap().seconds() - pass.et_s()).abs() < 0.0005 + 1e-9);
    assert!((slip.own.mph1320.unwrap() - pass.mph()).abs() < 0.005 + 1e-9);
    assert_eq!(slip.own.t1320.unwrap().to_string(), format!("{:.3}", pass.et_s()));
    assert_eq!(slip.date.unwrap().to_string(), "2026-05-01");
    assert_eq!(slip.time.unwrap().to_string(), "19:35:12");
    assert_eq!((slip.depth_in, slip.manner), (Some(1.5), Some(Manner::Reacted)));
    // What the program computes raises no question of its own.
    assert_eq!(check(&slip), []);
}

#[test]
fn the_pass_of_a_run_is_that_of_the_drivers_car_and_of_the_runs_seed() {
    let details = Details {
        weight_lb: Some(3400.0),
        power_hp: Some(310.0),
        strength: Some(Strength::Launch(Measured::new(0.7, 0.02))),
        ..Details::default()
    };
    let model = |details| CarModel::new(&Answers::default(), details, BeamLine::default()).unwrap();
    let car = model(details);
    let of = |seed: u64, depth_in: f64| {
        let mut run = record(45, Outcome::Green);
        run.setup.seed = seed;
        run.seen.change(|seen| {
            seen.launch = seen.launch.map(|l| LaunchFact { depth: Inches(depth_in), ..l });
        });
        practice_pass(&car, &run, TrackLength::Quarter).unwrap().unwrap()
    };
    assert_eq!(of(1, 1.5), of(1, 1.5));
    assert_ne!(of(1, 1.5), of(2, 1.5));
    // The same draw from deeper in the beams: a longer pass.
    assert!(of(1, 6.0).et_s() > of(1, 1.5).et_s());
    let average = car.pass(Inches(1.5), TrackLength::Quarter).unwrap().unwrap().et_s();
    assert!((of(1, 1.5).et_s() - average).abs() < 0.35);
    let unknown = model(Details::default());
    let none = practice_pass(&unknown, &record(45, Outcome::Green), TrackLength::Quarter);
    assert_eq!(none, Ok(None));
}

#[test]
fn a_red_practice_run_prints_red_and_never_zero() {
    let mut run = record(0, Outcome::Red);
    if let Some(parts) = &mut run.parts {
        parts.driver_raw = parts.driver_raw - Span::from_us(300);
    }
    let slip = practice_slip(&run, None, None, None).unwrap();
    assert_eq!(slip.own.rt.unwrap().to_string(), "-.001");
    assert!(slip.is_red());
    // Without weight and power there is no pass to print.
    assert_eq!(slip.own.t60, None);
}

#[test]
fn runs_a_track_prints_nothing_for_have_no_slip() {
    for outcome in [
        Outcome::Lapse,
        Outcome::TimedOut,
        Outcome::Stayed,
        Outcome::Guessed { after_due_ns: 5 },
        Outcome::Abandoned(AbandonReason::Paused),
        Outcome::Void(VoidReason::NoOnset),
    ] {
        let refused = practice_slip(&record(45, outcome), None, None, None);
        assert!(matches!(refused, Err(SlipsError::NoSlip { .. })), "{outcome:?}");
    }
}

#[test]
fn both_lanes_and_an_eighth_mile_are_printed() {
    let other = OtherRun {
        rt: Some(MS(-12)),
        pass: Some(pass(TrackLength::Eighth)),
        ..OtherRun::default()
    };
    let dial = "8.70".parse().ok();
    let eighth = pass(TrackLength::Eighth);
    let slip =
        practice_slip(&record(45, Outcome::Green), dial, Some(&eighth), Some(&other)).unwrap();
    assert_eq!(slip.length, TrackLength::Eighth);
    let column = slip.other.as_ref().unwrap();
    assert!(column.red && column.is_red(slip.scale));
    assert_eq!(slip.own.t1320, None);
    let text = slip.to_text();
    // The driver stands on the right, the other lane on the left.
    let rt = text.lines().find(|line| line.contains("R/T")).unwrap();
    assert!(rt.find("-.012").unwrap() < rt.find(".045").unwrap(), "{rt}");
    assert!(text.contains("8.700"), "{text}");
}

#[test]
fn a_practice_slip_stays_marked_through_file_table_print_and_explanation() {
    let slip = slip(45, Outcome::Green);
    let mark = SlipOrigin::Simulated { trial: "0190-practice".to_owned() };
    assert_eq!(slip.origin, mark);
    assert!(slip.to_text().matches("SIMULATED").count() == 2);
    let line = SlipLine {
        id: "s1".to_owned(),
        saved_at: String::new(),
        corrects: None,
        withdrawn: false,
        slip: slip.clone(),
    };
    let sealed = Line::from(line).seal().unwrap();
    let loaded = load(sealed.bytes()).unwrap();
    assert_eq!(slips_in_force(&loaded.slips)[0].slip, slip);
    let back = read_table(write_table([&slip]).as_bytes(), &Slip::default()).unwrap();
    assert_eq!(back.accepted().next().unwrap().origin, mark);
    // A correction may not take the mark off.
    let without = slip.without(&[lastamber::slips::Cell::Simulated]).unwrap();
    assert_eq!(without.origin, mark);
    assert_eq!(explain(&slip, None).len(), slip.lines().len());
}

#[test]
fn the_mark_outlives_a_run_without_an_id() {
    let mut run = record(45, Outcome::Green);
    run.id = "".into();
    let slip = practice_slip(&run, None, None, None).unwrap();
    let back = read_table(write_table([&slip]).as_bytes(), &Slip::default()).unwrap();
    assert!(back.accepted().next().unwrap().is_simulated());
}
