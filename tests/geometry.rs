//! The published and derived numbers of beams, rollout and launch.
//!
//! Owns the checks of `car` against what is printed or follows from it, each with its standing.
//! Refuses the pass beyond 60 feet.

use lastamber::car::{
    Answers, BeamLine, CarKind, CarModel, DepthAnswer, EdgeAnswer, EndedBy, Launch, LeaveAnswer,
    Question, SixtyFootConvention, Source, StrengthAnswer, Tyre, TyreAnswer, g_from_sixty_foot,
    prestage_out_depth, rollout, time_to_roll,
};
use lastamber::seed::generator;
use lastamber::units::{Inches, Measured, Span};
use proptest::prelude::*;
use rand_distr::{Distribution, Normal};

fn rigid(diameter_in: f64) -> Tyre {
    Tyre::rigid(Inches(diameter_in)).unwrap()
}

fn beams_at(height_in: f64) -> BeamLine {
    let usual = BeamLine::default();
    BeamLine::new(
        usual.prestage_to_stage(),
        usual.stage_to_guard(),
        Inches(height_in),
        usual.sixty_foot_beam_height(),
    )
    .unwrap()
}

#[track_caller]
fn assert_near(got: f64, want: f64, within: f64) {
    assert!((got - want).abs() <= within, "{got}, not {want} ± {within}");
}

/// The time of `roll_in` from rest, s.
fn roll_s(roll_in: f64, g: f64) -> f64 {
    time_to_roll(Inches(roll_in), g, 0.0).as_secs_f64()
}

#[test]
fn the_chord_is_the_printed_eleven_and_a_half_inches() {
    // Published, a track's set-up guideline: rigid 22 in wheel, beam 1 5/8 in → 11½ in of roll.
    let chord = Tyre::REFERENCE.chord(BeamLine::default().beam_height()).unwrap();
    assert_near(chord.0, 11.5, 0.01);
    // Derived, 2·√(h·(D − h)): D, h, chord.
    for (diameter, height, want) in [
        (22.0, 1.625, 11.508),
        (20.0, 1.625, 10.93),
        (24.0, 1.625, 12.06),
        (25.0, 1.625, 12.33),
        (26.0, 1.5, 12.12),
        (28.0, 1.75, 13.56),
        (30.0, 1.5, 13.08),
    ] {
        assert_near(rigid(diameter).chord(Inches(height)).unwrap().0, want, 0.005);
        assert_near(rigid(diameter).half_chord(Inches(height)).unwrap().0, want / 2.0, 0.0025);
    }
}

#[test]
fn when_the_pre_stage_lamp_goes_out_the_beams_distance_is_left_whatever_the_tyre() {
    // Derived: r = c − (c − 7.0).
    for diameter in [20.0, 22.0, 24.0, 25.0, 27.0] {
        let (tyre, beams) = (rigid(diameter), BeamLine::default());
        let left = rollout(tyre, beams, prestage_out_depth(tyre, beams));
        assert_near(left.remaining.0, 7.0, 1e-9);
        assert_eq!(left.ended_by, EndedBy::StageBeam);
    }
    // Derived: a 28 in tyre and a beam at 1.75 in reach the guard first, r = guard − c + 7.0.
    let (tyre, beams) = (rigid(28.0), beams_at(1.75));
    let left = rollout(tyre, beams, prestage_out_depth(tyre, beams));
    assert_near(left.remaining.0, 6.82, 0.005);
    assert_eq!(left.ended_by, EndedBy::GuardBeam);
}

#[test]
fn eleven_and_a_half_inches_take_a_third_of_a_second() {
    // Derived, t = √(2·r/a): g, s.
    for (g, want_s) in
        [(0.4, 0.386), (0.5, 0.345), (0.6, 0.315), (0.7, 0.292), (0.8, 0.273), (1.0, 0.244)]
    {
        assert_near(roll_s(11.5, g), want_s, 0.0005);
        let launch = Launch::new(g, Span::from_ms(100)).unwrap();
        let cleared = launch.time_to_clear(Inches(11.5));
        assert_near(cleared.as_secs_f64(), want_s + 0.1, 0.0005);
    }
}

/// The launch of a car with 11.5 in of roll and 60.0 ft of travel, in g.
fn simple_g(t60_s: f64) -> f64 {
    let tyre = rigid(21.970_9); // The tyre whose chord at 1.625 in is 11.500 in.
    let shallow = Inches(0.0);
    let simple = SixtyFootConvention::Simple;
    g_from_sixty_foot(t60_s, tyre, BeamLine::default(), shallow, simple).unwrap()
}

#[test]
fn a_sixty_foot_time_stands_for_a_launch() {
    // Derived: a[g] = 2.847 / t60², rollout ≈ .145 × t60.
    assert_near(rigid(21.970_9).chord(Inches(1.625)).unwrap().0, 11.5, 1e-4);
    for (t60_s, want_s) in [(2.0, 0.289), (2.4, 0.347), (1.8, 0.260)] {
        assert_near(simple_g(t60_s) * t60_s * t60_s, 2.847, 0.001);
        assert_near(roll_s(11.5, simple_g(t60_s)), want_s, 0.0006);
        assert_near(roll_s(11.5, simple_g(t60_s)) / t60_s, 0.145, 0.0005);
    }
}

#[test]
fn the_tyres_front_edge_shortens_the_sixty_feet() {
    // Derived: a 25 in tyre meets a 60-foot beam 10 in high √(10·15) = 12.247 in ahead of its axle
    // and lit the stage beam 6.163 in ahead: 720 − 12.247 + 6.163 = 713.916 in = 59.49 ft.
    let (tyre, beams) = (rigid(25.0), BeamLine::default());
    let edge = |height| tyre.half_chord(height).unwrap().0;
    let travel_in = 720.0 - edge(beams.sixty_foot_beam_height()) + edge(beams.beam_height());
    assert_near(travel_in / 12.0, 59.49, 0.005);
    // With its own roll of 12.33 in the constant is 2.79 …
    let shallow = Inches(0.0);
    let geometric = SixtyFootConvention::Geometric;
    let g = g_from_sixty_foot(2.0, tyre, beams, shallow, geometric).unwrap();
    assert_near(g * 4.0, 2.790, 0.0005);
    // … and 2.82 with the 11.5 in that a beam 1.401 in high leaves it.
    let low = beams_at(1.401);
    assert_near(tyre.chord(low.beam_height()).unwrap().0, 11.5, 0.01);
    let g = g_from_sixty_foot(2.0, tyre, low, shallow, geometric).unwrap();
    assert_near(g * 4.0, 2.82, 0.005);
}

#[test]
fn the_launch_found_from_a_sixty_foot_time_runs_that_time() {
    for depth_in in [0.0, 3.0] {
        let (tyre, beams, depth) = (rigid(26.0), BeamLine::default(), Inches(depth_in));
        let geometric = SixtyFootConvention::Geometric;
        let g = g_from_sixty_foot(1.9, tyre, beams, depth, geometric).unwrap();
        let edge = |height| tyre.half_chord(height).unwrap();
        let travel = Inches(720.0) - edge(beams.sixty_foot_beam_height())
            + edge(beams.beam_height())
            - depth;
        let clock_s = roll_s(travel.0, g) - roll_s(rollout(tyre, beams, depth).remaining.0, g);
        assert_near(clock_s, 1.9, 1e-8);
    }
}

#[test]
fn staging_deeper_trades_sixty_foot_time_for_car_part() {
    // Derived, a car with a 2.000 60-foot at 11.5 in: roll left, car part, change of RT, of 60 ft.
    let g = simple_g(2.0);
    let whole_s = roll_s(11.5, g);
    for (roll_in, part_s, rt_s, sixty_s) in [
        (9.0, 0.256, -0.033, 0.029),
        (7.0, 0.226, -0.064, 0.056),
        (5.0, 0.191, -0.099, 0.088),
        (3.0, 0.148, -0.142, 0.128),
    ] {
        let depth_in = 11.5 - roll_in;
        assert_near(roll_s(roll_in, g), part_s, 0.0006);
        assert_near(roll_s(roll_in, g) - whole_s, rt_s, 0.0006);
        let t60_s = roll_s(720.0 - depth_in, g) - roll_s(roll_in, g);
        assert_near(t60_s - 2.0, sixty_s, 0.0006);
    }
}

#[test]
fn waiting_for_green_gives_half_a_second() {
    // Derived sum check: driver .213 (visual reaction corrected for hardware, Woods et al. 2015)
    // + car .289 = .502: +.002 on a full tree, +.102 on a pro .400 tree.
    let sum = Span::from_ms(213) + time_to_roll(Inches(11.5), simple_g(2.0), 0.0);
    assert_near(sum.as_secs_f64(), 0.502, 0.0006);
    assert_near((sum - Span::from_ms(500)).as_secs_f64(), 0.002, 0.0006);
    assert_near((sum - Span::from_ms(400)).as_secs_f64(), 0.102, 0.0006);
}

#[test]
fn the_published_rollout_of_street_cars_is_met() {
    // Published, encyclopaedia entry on drag-racing rollout: street cars .2 to .3 s, which is the
    // roll alone from the shallow position on ordinary tyres at the strong end of the street.
    for kind in [CarKind::QuickStreet, CarKind::StickyTyres, CarKind::Slicks] {
        let t60_s = kind.sixty_foot_s().value;
        let part_s = roll_s(11.5, simple_g(t60_s));
        assert!((0.2..=0.3).contains(&part_s), "{kind:?}: {part_s}");
    }
}

#[test]
fn a_car_nobody_knows_anything_about_takes_four_tenths() {
    let model = CarModel::from_answers(&Answers::default(), BeamLine::default()).unwrap();
    let part = model.car_part();
    // lag .08 + 11.33 in at the launch of a 2.2 s 60-foot: .397 by hand.
    assert_near(part.seconds.value, 0.397, 0.001);
    assert_near(part.seconds.sd, 0.05, 0.005);
    assert!(model.assumed());
    assert_eq!(
        model.assumed_what(),
        [Question::Tyre, Question::Leave, Question::Strength, Question::Depth]
    );
    let largest = part.contributions.iter().max_by(|a, b| a.sd_s.total_cmp(&b.sd_s)).unwrap();
    assert_eq!(largest.source, Source::Lag);
    assert_near(largest.sd_s, 0.04, 1e-9);
}

/// The car part by the public functions alone, for numbers drawn at random.
fn drawn_car_part_s(lag_s: f64, diameter_in: f64, t60_s: f64, depth_in: f64) -> f64 {
    let (tyre, beams) = (rigid(diameter_in), BeamLine::default());
    let depth = Inches(depth_in.max(0.0));
    let geometric = SixtyFootConvention::Geometric;
    let g = g_from_sixty_foot(t60_s, tyre, beams, depth, geometric).unwrap();
    lag_s + roll_s(rollout(tyre, beams, depth).remaining.0, g)
}

#[test]
fn the_first_order_doubt_agrees_with_drawing_cars_at_random() {
    let answered = Answers {
        tyre: TyreAnswer::Size("225/45R17".parse().unwrap()),
        leave: LeaveAnswer::Button,
        strength: StrengthAnswer::Kind(CarKind::Slicks),
        depth: DepthAnswer::Deeper,
        ..Answers::default()
    };
    let mut generator = generator(60);
    for answers in [Answers::default(), answered] {
        let model = CarModel::from_answers(&answers, BeamLine::default()).unwrap();
        let mut draw = |m: Measured| Normal::new(m.value, m.sd).unwrap().sample(&mut generator);
        let n = 20_000;
        let parts: Vec<f64> = (0..n)
            .map(|_| {
                drawn_car_part_s(
                    draw(model.lag_s()),
                    draw(model.tyre_diameter_in()),
                    draw(model.sixty_foot_s()),
                    draw(model.depth_in()),
                )
            })
            .collect();
        let mean = parts.iter().sum::<f64>() / f64::from(n);
        let sd = (parts.iter().map(|p| (p - mean).powi(2)).sum::<f64>() / f64::from(n - 1)).sqrt();
        let linear = model.car_part().seconds;
        assert_near(linear.value, mean, 0.002);
        assert_near(linear.sd / sd, 1.0, 0.1);
    }
}

#[test]
fn each_way_to_leave_has_its_edge_and_a_lag_within_the_remembered_range() {
    // From memory: drivetrain lag 0 to .15 s.
    for (leave, edge) in [
        (LeaveAnswer::OneFoot, EdgeAnswer::Press),
        (LeaveAnswer::TwoFeetIdle, EdgeAnswer::Press),
        (LeaveAnswer::TwoFeetConverter, EdgeAnswer::Release),
        (LeaveAnswer::Clutch, EdgeAnswer::Release),
        (LeaveAnswer::LaunchControl, EdgeAnswer::Release),
        (LeaveAnswer::Button, EdgeAnswer::Release),
        (LeaveAnswer::DontKnow, EdgeAnswer::Press),
    ] {
        let model =
            CarModel::from_answers(&Answers { leave, ..Answers::default() }, BeamLine::default())
                .unwrap();
        assert_eq!(model.edge(), edge, "{leave:?}");
        assert!((0.0..=0.15).contains(&model.lag_s().value), "{leave:?}");
        let asked = model.assumed_what().contains(&Question::Leave);
        assert_eq!(asked, leave == LeaveAnswer::DontKnow, "{leave:?}");
    }
}

#[test]
fn a_fully_answered_car_assumes_nothing_and_is_known_better() {
    let answers = Answers {
        tyre: TyreAnswer::Diameter(Inches(25.0)),
        leave: LeaveAnswer::TwoFeetConverter,
        strength: StrengthAnswer::SixtyFoot { seconds: 2.0 },
        depth: DepthAnswer::JustLit,
        ..Answers::default()
    };
    let model = CarModel::from_answers(&answers, BeamLine::default()).unwrap();
    assert!(!model.assumed());
    let vague = CarModel::from_answers(&Answers::default(), BeamLine::default()).unwrap();
    assert!(model.car_part().seconds.sd < vague.car_part().seconds.sd / 2.0);
    // a ∝ 1/t60², so 1.5 % of doubt about the time is 3 % about the launch.
    assert_near(model.launch_g().sd / model.launch_g().value, 0.03, 0.002);
}

#[test]
fn an_answer_outside_its_limits_is_refused_with_the_limits() {
    let refuse = |answers: Answers| {
        CarModel::from_answers(&answers, BeamLine::default()).unwrap_err().to_string()
    };
    let tyre = TyreAnswer::Diameter(Inches(635.0));
    assert_eq!(
        refuse(Answers { tyre, ..Answers::default() }),
        "the tyre's diameter is 635 in; give 18 to 40 in"
    );
    for seconds in [0.79, 5.1, f64::NAN] {
        let strength = StrengthAnswer::SixtyFoot { seconds };
        let message = refuse(Answers { strength, ..Answers::default() });
        assert!(message.ends_with("give 0.8 to 5 s"), "{message}");
    }
}

#[test]
fn the_launch_of_the_model_gives_its_car_part_and_less_when_staged_deeper() {
    let model = CarModel::from_answers(&Answers::default(), BeamLine::default()).unwrap();
    let at = |depth_in| {
        let left = rollout(model.tyre(), model.beams(), Inches(depth_in)).remaining;
        model.launch().time_to_clear(left).as_secs_f64()
    };
    assert_near(at(model.depth_in().value), model.car_part().seconds.value, 2e-9);
    assert!(at(5.0) < at(1.0));
}

#[test]
fn every_car_within_the_limits_has_a_launch() {
    for diameter_in in [18.0, 40.0] {
        for seconds in [0.8, 5.0] {
            for (guard_in, height_in) in [(8.0, 0.5), (8.0, 4.0), (30.0, 0.5), (30.0, 4.0)] {
                let [prestage, guard, height] = [7.0, guard_in, height_in].map(Inches);
                let beams = BeamLine::new(prestage, guard, height, Inches(14.0)).unwrap();
                let answers = Answers {
                    tyre: TyreAnswer::Diameter(Inches(diameter_in)),
                    strength: StrengthAnswer::SixtyFoot { seconds },
                    depth: DepthAnswer::Deeper,
                    ..Answers::default()
                };
                let model = CarModel::from_answers(&answers, beams).unwrap();
                assert_near(model.launch().g(), model.launch_g().value, 0.0);
                assert!(model.car_part().seconds.sd.is_finite());
            }
        }
    }
}

proptest! {
    #[test]
    fn the_chord_is_the_same_from_the_ground_up_and_from_the_top_down(
        diameter in 18.0..40.0_f64, share in 0.01..0.99_f64,
    ) {
        let tyre = rigid(diameter);
        let up = tyre.chord(Inches(share * diameter)).unwrap().0;
        let down = tyre.chord(Inches(diameter - share * diameter)).unwrap().0;
        prop_assert!((up - down).abs() < 1e-9);
        prop_assert!(up <= diameter + 1e-9);
    }

    #[test]
    fn the_roll_left_is_never_negative_and_shrinks_with_depth(
        diameter in 18.0..40.0_f64, height in 0.5..4.0_f64, depth in -5.0..40.0_f64,
        more in 0.0..10.0_f64,
    ) {
        let (tyre, beams) = (rigid(diameter), beams_at(height));
        let shallow = rollout(tyre, beams, Inches(depth));
        let deeper = rollout(tyre, beams, Inches(depth + more));
        prop_assert!(shallow.remaining.0 >= 0.0);
        prop_assert!(deeper.remaining <= shallow.remaining);
        prop_assert!(shallow.remaining <= beams.stage_to_guard());
        prop_assert!(rollout(tyre, beams, Inches(f64::NAN)).remaining.0 >= 0.0);
    }

    #[test]
    fn more_push_more_depth_and_more_speed_all_take_less_time(
        g in 0.05..5.0_f64, more_g in 0.01..1.0_f64, depth in 0.0..5.0_f64,
        more_depth in 0.01..2.0_f64, speed in 0.0..5.0_f64, more_speed in 0.01..1.0_f64,
    ) {
        let roll = |depth| rollout(rigid(25.0), BeamLine::default(), Inches(depth)).remaining;
        let base = time_to_roll(roll(depth), g, speed);
        prop_assert!(time_to_roll(roll(depth), g + more_g, speed) < base);
        prop_assert!(time_to_roll(roll(depth + more_depth), g, speed) < base);
        prop_assert!(time_to_roll(roll(depth), g, speed + more_speed) < base);
    }

    #[test]
    fn the_time_to_roll_solves_its_own_equation(
        roll in 0.1..13.0_f64, g in 0.05..5.0_f64, speed in -2.0..5.0_f64,
    ) {
        let t = time_to_roll(Inches(roll), g, speed).as_secs_f64();
        let covered_m = speed * t + g * 9.80665 * t * t / 2.0;
        // Half a nanosecond of rounding at up to 8 m/s, and as much again for the arithmetic.
        prop_assert!((covered_m - Inches(roll).metres()).abs() < 2e-8);
    }
}
