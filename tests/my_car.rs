//! My car beyond the five answers: strengths, scatter, levers, the trade of staging depth.
//!
//! Owns the checks of `car::Details`, `CarModel` and its levers against derived tables and the whole
//! pass. Refuses geometry (`geometry.rs`) and the pass itself (`pass.rs`).

use lastamber::car::{
    Answers, BeamLine, CarError, CarModel, DepthAnswer, DepthHabit, Details, DrivenEnd, FilmedPart,
    Launch, Lever, LeverKind, Question, Source, Strength, StrengthAnswer, Traction, TyreAnswer,
    rollout,
};
use lastamber::rules::TrackLength;
use lastamber::seed::generator;
use lastamber::units::{Inches, Measured, Span};
use proptest::prelude::*;
use rand_distr::{Distribution, Normal};

const QUARTER: TrackLength = TrackLength::Quarter;

#[track_caller]
fn assert_near(got: f64, want: f64, within: f64) {
    assert!((got - want).abs() <= within, "{got}, not {want} ± {within}");
}

fn car(tyre_in: f64, details: Details) -> CarModel {
    let tyre = TyreAnswer::Diameter(Inches(tyre_in));
    CarModel::new(&Answers { tyre, ..Answers::default() }, details, BeamLine::default()).unwrap()
}

fn launch(g: f64) -> Option<Strength> {
    Some(Strength::Launch(Measured::new(g, 0.0)))
}

fn lever(model: &CarModel, kind: LeverKind) -> Lever {
    let levers = model.levers(QUARTER).unwrap();
    *levers.iter().find(|lever| lever.kind == kind).expect("the lever is there")
}

#[test]
fn the_table_of_staging_depth_is_met() {
    // Derived, a car with a 2.000 s 60-foot time at 11.5 in of roll (2.847/t² = .71175 g) and a trap
    // of 95 mph: roll left, car part, change of RT, of the 60-foot time, of the ET.
    let model = car(21.970_9, Details { strength: launch(0.711_75), ..Details::default() });
    let lag_s = model.lag_s().value;
    for (roll_in, part_s, rt_s, sixty_s, et_s) in [
        (9.0, 0.256, -0.033, 0.029, 0.032),
        (7.0, 0.226, -0.064, 0.056, 0.061),
        (5.0, 0.191, -0.099, 0.088, 0.095),
        (3.0, 0.148, -0.142, 0.128, 0.136),
    ] {
        let row = model.depth_row(Inches(11.5 - roll_in), 95.0);
        assert_near(row.remaining.0, roll_in, 1e-4);
        assert_near(row.car_part_s - lag_s, part_s, 0.0006);
        assert_near(row.rt_s, rt_s, 0.0006);
        assert_near(row.sixty_foot_s, sixty_s, 0.0006);
        assert_near(row.et_s, et_s, 0.0006);
        // At 7.0 in itself the lamp is just going out.
        assert!(roll_in == 7.0 || row.deep == (roll_in < 7.0), "{roll_in}");
    }
}

#[test]
fn the_trade_runs_from_shallow_to_the_last_half_inch() {
    let rows = car(25.0, Details::default()).depth_trade(95.0);
    assert_near(rows[0].rt_s, 0.0, 1e-12);
    assert_near(rows[0].et_s, 0.0, 1e-12);
    assert!(rows.windows(2).all(|w| w[1].rt_s < w[0].rt_s && w[1].et_s > w[0].et_s));
    let last = rows.last().unwrap();
    assert!(last.remaining.0 >= 0.5 && last.remaining.0 < 1.0, "{}", last.remaining.0);
    // The pre-stage lamp is out once less than 7 in are left (published beams 7.0 in apart).
    assert!(rows.iter().all(|row| row.deep == (row.remaining.0 < 7.0)));
}

#[test]
fn the_whole_pass_pays_what_the_formula_says() {
    let details = Details {
        weight_lb: Some(3400.0),
        power_hp: Some(310.0),
        strength: launch(0.7),
        ..Details::default()
    };
    let model = car(25.0, details);
    let trap_mph = model.trap_mph(QUARTER).unwrap();
    assert!((95.0..112.0).contains(&trap_mph), "{trap_mph}");
    let pass = |depth_in: f64| model.pass(Inches(depth_in), QUARTER).unwrap().unwrap();
    for depth_in in [2.0, 5.0, 8.0] {
        let row = model.depth_row(Inches(depth_in), trap_mph);
        assert_near(pass(depth_in).et_s() - pass(0.0).et_s(), row.et_s, 0.0005);
        assert_near(pass(depth_in).roll_s - pass(0.0).roll_s, row.rt_s, 0.0005);
        assert_near(pass(depth_in).t60_s - pass(0.0).t60_s, row.sixty_foot_s, 0.001);
    }
    let no_power = car(25.0, Details { weight_lb: Some(3400.0), ..Details::default() });
    assert_eq!(no_power.pass(Inches(0.0), QUARTER), Ok(None));
}

#[test]
fn every_way_to_know_a_launch_gives_the_same_car_part() {
    // A 60-foot time, the acceleration it stands for, grip and weight that give it, and slips.
    let by_time = car(
        25.0,
        Details {
            strength: Some(Strength::SixtyFoot(Measured::new(2.0, 0.02))),
            ..Details::default()
        },
    );
    let g = by_time.launch_g().value;
    let by_g = car(25.0, Details { strength: launch(g), ..Details::default() });
    let traction = Traction::new(g, DrivenEnd::All, 0.5, 0.2).unwrap();
    let by_grip =
        car(25.0, Details { strength: Some(Strength::Traction(traction)), ..Details::default() });
    let slips = Strength::Slips(vec![1.97, 2.0, 2.03]);
    let by_slips = car(25.0, Details { strength: Some(slips), ..Details::default() });
    for model in [&by_g, &by_grip, &by_slips] {
        assert_near(model.car_part().seconds.value, by_time.car_part().seconds.value, 1e-9);
        assert_near(model.sixty_foot_s().value, 2.0, 1e-9);
        assert!(!model.assumed_what().contains(&Question::Strength));
    }
    // Grip gives the launch to a tenth, a time to 2 %.
    let share = |model: &CarModel| model.launch_g().sd / model.launch_g().value;
    assert_near(share(&by_grip), 0.10, 1e-9);
    assert_near(share(&by_time), 0.02, 0.002);
    assert!(matches!(
        CarModel::new(
            &Answers::default(),
            Details { strength: Some(Strength::Slips(Vec::new())), ..Details::default() },
            BeamLine::default(),
        ),
        Err(CarError::NoSlips)
    ));
}

#[test]
fn the_rule_of_thumb_of_a_tenth_a_thousand_pounds_is_near() {
    // Common practice: .1 s of rollout for 1000 lb, so .28 s for 2800 lb. Here, with a 2.0 s 60-foot
    // time from the shallow position on a 22 in wheel.
    let details = Details {
        strength: Some(Strength::SixtyFoot(Measured::new(2.0, 0.03))),
        depth: Some(DepthHabit { mean_in: Measured::new(0.0, 0.0), spread_in: 0.0 }),
        lag_s: Some(Measured::new(0.0, 0.0)),
        ..Details::default()
    };
    assert_near(car(22.0, details).car_part().seconds.value, 0.28, 0.015);
}

#[test]
fn what_is_measured_is_no_longer_assumed() {
    let details = Details {
        strength: launch(0.6),
        lag_s: Some(Measured::new(0.06, 0.01)),
        depth: Some(DepthHabit { mean_in: Measured::new(1.5, 0.2), spread_in: 0.8 }),
        deflection_in: Some(Measured::new(0.2, 0.1)),
        ..Details::default()
    };
    let model = car(24.0, details);
    assert!(!model.assumed());
    assert_near(model.depth_in().value, 1.5, 0.0);
    assert_near(model.depth_run_in(), 0.8, 0.0);
    assert_near(model.lag_s().value, 0.06, 0.0);
    assert_near(model.tyre().deflection().0, 0.2, 0.0);
    let part = model.car_part();
    let of = |source| part.contributions.iter().find(|c| c.source == source).unwrap().sd_s;
    assert!(of(Source::Deflection) > 0.0);
    // Five shares, added in squares.
    let squares: f64 = part.contributions.iter().map(|c| c.sd_s * c.sd_s).sum();
    assert_near(squares.sqrt(), part.seconds.sd, 1e-12);
}

#[test]
fn a_rigid_tyre_is_the_car_of_the_five_answers() {
    let answers = Answers::default();
    let beams = BeamLine::default();
    let old = CarModel::from_answers(&answers, beams).unwrap();
    let new = CarModel::new(&answers, Details::default(), beams).unwrap();
    assert_eq!(old, new);
    assert_near(old.car_part().seconds.value, 0.397, 0.001);
}

#[test]
fn starts_drawn_at_random_scatter_as_the_model_says() {
    let details = Details {
        depth: Some(DepthHabit { mean_in: Measured::new(3.0, 0.0), spread_in: 0.6 }),
        strength: launch(0.65),
        ..Details::default()
    };
    let model = car(25.0, details);
    let mut random = generator(61);
    let mut draw = |mean: f64, sd: f64| Normal::new(mean, sd).unwrap().sample(&mut random);
    let n = 20_000;
    let parts: Vec<f64> = (0..n)
        .map(|_| {
            let g = draw(0.65, 0.65 * model.launch_run_share());
            let lag = Span::from_secs_f64(draw(model.lag_s().value, 0.010));
            let depth = Inches(draw(3.0, 0.6));
            let left = rollout(model.tyre(), model.beams(), depth).remaining;
            Launch::new(g, lag).unwrap().time_to_clear(left).as_secs_f64()
        })
        .collect();
    let mean = parts.iter().sum::<f64>() / f64::from(n);
    let sd = (parts.iter().map(|p| (p - mean).powi(2)).sum::<f64>() / f64::from(n - 1)).sqrt();
    assert_near(model.car_part().run_sd_s / sd, 1.0, 0.03);
}

#[test]
fn the_guard_beam_caps_the_roll_of_tall_tyres() {
    // Derived: 28 in tyre, beam 1.75 in → chord 13.56 in, guard 13.375 in.
    let usual = BeamLine::default();
    let beams = BeamLine::new(
        usual.prestage_to_stage(),
        usual.stage_to_guard(),
        Inches(1.75),
        usual.sixty_foot_beam_height(),
    )
    .unwrap();
    let tall = |tyre_in: f64| {
        let tyre = TyreAnswer::Diameter(Inches(tyre_in));
        let answers = Answers { tyre, ..Answers::default() };
        CarModel::new(&answers, Details::default(), beams).unwrap()
    };
    let cap = tall(28.0).guard_cap();
    assert!(cap.ends_roll);
    assert_near(cap.cut.0, 13.56 - 13.375, 0.005);
    // 13.375²/(4·1.75) + 1.75 = 27.305 in.
    assert_near(cap.from_diameter.0, 27.305, 0.001);
    assert!(!tall(27.30).guard_cap().ends_roll && tall(27.31).guard_cap().ends_roll);
    assert_near(lever(&tall(28.0), LeverKind::Tyre).rt_s, 0.0, 0.0);
    assert!(lever(&tall(26.0), LeverKind::Tyre).rt_s > 0.0);
}

#[test]
fn levers_move_rt_and_et_as_the_sport_knows_them() {
    let details = Details {
        weight_lb: Some(3400.0),
        power_hp: Some(310.0),
        strength: Some(Strength::SixtyFoot(Measured::new(2.0, 0.03))),
        deflection_in: Some(Measured::new(0.2, 0.1)),
        front_pressure_psi: Some(32.0),
        ..Details::default()
    };
    let model = car(24.0, details);
    // A taller tyre rolls longer: later RT, quicker ET.
    let tyre = lever(&model, LeverKind::Tyre);
    assert!(tyre.rt_s > 0.0 && tyre.et_s < 0.0);
    // More pressure stands taller on a shorter chord: earlier RT, slower ET.
    let pressure = lever(&model, LeverKind::Pressure);
    assert!(pressure.rt_s < 0.0 && pressure.et_s > 0.0 && pressure.rt_s.abs() < 0.002);
    let depth = lever(&model, LeverKind::Depth);
    assert!(depth.rt_s < 0.0 && depth.et_s > 0.0 && depth.et_s < -depth.rt_s);
    // Lag moves RT alone.
    let lag = lever(&model, LeverKind::Lag);
    assert_eq!((lag.rt_s, lag.et_s), (0.001, 0.0));
    // A stronger launch improves both: .1 s at 60 ft is .15–.2 s at the quarter (common practice).
    let sixty = lever(&model, LeverKind::SixtyFoot);
    assert!(sixty.rt_s > 0.0);
    assert!((0.13..=0.2).contains(&sixty.et_s), "{}", sixty.et_s);
    assert!(model.levers(TrackLength::Eighth).unwrap().len() == 5);
    let unknown = car(25.0, Details::default());
    assert_eq!(unknown.levers(QUARTER).unwrap().len(), 4);
    assert_near(lever(&unknown, LeverKind::SixtyFoot).et_s, 0.16, 1e-12);
}

#[test]
fn slopes_are_those_of_the_car_part_itself() {
    let strength = launch(0.6);
    let at = |tyre_in: f64, depth_in: f64| {
        let depth = Some(DepthHabit { mean_in: Measured::new(depth_in, 0.0), spread_in: 0.5 });
        car(tyre_in, Details { strength: strength.clone(), depth, ..Details::default() })
    };
    let part = |model: &CarModel| model.car_part().seconds.value;
    let model = at(25.0, 2.0);
    let by_tyre = (part(&at(25.5, 2.0)) - part(&at(24.5, 2.0))) / 1.0;
    assert_near(lever(&model, LeverKind::Tyre).rt_s, by_tyre, 2e-5);
    let by_depth = (part(&at(25.0, 2.05)) - part(&at(25.0, 1.95))) / 0.1;
    assert_near(lever(&model, LeverKind::Depth).rt_s, by_depth, 2e-5);
}

fn filmed(seconds: f64) -> FilmedPart {
    FilmedPart { seconds: Measured::new(seconds, 0.016), fps: 240.0, frames: vec![240.0 * seconds] }
}

/// Any car, every other one filmed. A film that only an impossible launch could make is drawn anew.
fn any_model() -> impl Strategy<Value = CarModel> {
    let numbers = (18.0..40.0_f64, 0.0..2.0_f64, 0.05..6.0_f64, 0.0..6.0_f64);
    (numbers, prop::option::of(0.1..1.5_f64)).prop_filter_map(
        "no launch takes what the film shows",
        |((tyre_in, deflection_in, g, depth_in), film_s)| {
            let details = Details {
                deflection_in: Some(Measured::new(deflection_in, 0.1)),
                strength: launch(g),
                depth: Some(DepthHabit { mean_in: Measured::new(depth_in, 0.3), spread_in: 0.5 }),
                filmed: film_s.map(filmed),
                ..Details::default()
            };
            let tyre = TyreAnswer::Diameter(Inches(tyre_in));
            let answers = Answers { tyre, ..Answers::default() };
            CarModel::new(&answers, details, BeamLine::default()).ok()
        },
    )
}

#[test]
fn a_film_outranks_what_was_worked_out_and_deeper_still_takes_less() {
    let known = |film_s: Option<f64>| Details {
        strength: launch(0.6),
        depth: Some(DepthHabit { mean_in: Measured::new(1.0, 0.2), spread_in: 0.5 }),
        filmed: film_s.map(filmed),
        ..Details::default()
    };
    // From what the roll alone takes (.31 s) the lag explains .35 and .7 s; .2 s and 1.2 s are beyond
    // any lag, so the launch gives way.
    for film_s in [None, Some(0.2), Some(0.35), Some(0.7), Some(1.2)] {
        let model = car(25.0, known(film_s));
        let part = model.car_part();
        if let Some(film_s) = film_s {
            assert_eq!((part.seconds.value, part.seconds.sd), (film_s, 0.016));
            assert_near(model.depth_row(Inches(1.0), 95.0).car_part_s, film_s, 2e-9);
        }
        let at = |depth_in| model.depth_row(Inches(depth_in), 95.0).car_part_s;
        let parts: Vec<f64> = (0..30).map(|i| at(0.4 * f64::from(i))).collect();
        assert!(parts.windows(2).all(|pair| pair[1] < pair[0]), "{film_s:?}: {parts:?}");
    }
}

proptest! {
    #[test]
    fn deeper_staging_never_raises_the_car_part_and_never_shortens_the_pass(
        model in any_model(), depth in 0.0..12.0_f64, more in 0.0..3.0_f64,
        trap_mph in 60.0..200.0_f64,
    ) {
        let (shallow, deep) =
            (model.depth_row(Inches(depth), trap_mph), model.depth_row(Inches(depth + more), trap_mph));
        prop_assert!(deep.car_part_s <= shallow.car_part_s);
        prop_assert!(deep.rt_s <= shallow.rt_s && shallow.rt_s <= 0.0);
    }

    #[test]
    fn the_trade_has_the_right_sign_on_every_row(
        model in any_model(), trap_mph in 60.0..200.0_f64,
    ) {
        for row in model.depth_trade(trap_mph) {
            prop_assert!(row.rt_s <= 0.0 && row.sixty_foot_s >= -1e-12, "{row:?}");
            // A launch so strong that the car leaves the beams faster than it passes the trap
            // cannot be; the drawn pairs of launch and trap may be such.
            let leaves_mph = (2.0 * 6.0 * 32.174_f64 * 13.4 / 12.0).sqrt() * 15.0 / 22.0;
            prop_assert!(trap_mph < leaves_mph || row.et_s >= -1e-12, "{row:?}");
        }
    }

    #[test]
    fn a_car_part_has_a_value_a_doubt_and_a_scatter(model in any_model()) {
        let part = model.car_part();
        prop_assert!(part.seconds.value.is_finite() && part.seconds.sd >= 0.0);
        prop_assert!(part.run_sd_s.is_finite() && part.run_sd_s >= 0.010);
        let drawn = model.launch().time_to_clear(
            rollout(model.tyre(), model.beams(), Inches(model.depth_in().value)).remaining,
        );
        prop_assert!((drawn.as_secs_f64() - part.seconds.value).abs() < 2e-9);
    }
}

#[test]
fn an_answer_that_stands_gives_way_to_what_was_measured() {
    let answers = Answers {
        strength: StrengthAnswer::SixtyFoot { seconds: 2.4 },
        depth: DepthAnswer::Deeper,
        ..Answers::default()
    };
    let details = Details {
        strength: Some(Strength::SixtyFoot(Measured::new(1.9, 0.02))),
        ..Details::default()
    };
    let model = CarModel::new(&answers, details, BeamLine::default()).unwrap();
    assert_near(model.sixty_foot_s().value, 1.9, 0.0);
    assert_near(model.depth_in().value, 3.0, 0.0);
}
