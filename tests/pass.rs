//! The whole pass against closed forms and another integrator.
//!
//! Owns the checks of the arithmetic of `car::pass`. Refuses printed runs (`pass_printed.rs`) and
//! speed of computing (`benches/pass.rs`).

use lastamber::car::pass::{
    CarBody, Energy, Forces, Gear, Gearbox, HORSEPOWER_W, POUND_KG, Pass, PassScatter, StartPlace,
    drive, fit, launch_for_sixty_foot,
};
use lastamber::car::{Air, BeamLine, CarError, Tyre};
use lastamber::rules::TrackLength;
use lastamber::seed::generator;
use lastamber::units::Inches;
use proptest::prelude::*;

const FOOT_M: f64 = 0.3048;
const QUARTER: TrackLength = TrackLength::Quarter;

#[track_caller]
fn assert_near(got: f64, want: f64, within: f64) {
    assert!((got - want).abs() <= within, "{got}, not {want} ± {within}");
}

#[track_caller]
fn assert_share(got: f64, want: f64, within: f64) {
    assert!((got / want - 1.0).abs() <= within, "{got}, not {want} within a share of {within}");
}

fn bare(launch_m_s2: f64, power_w_kg: f64) -> Forces {
    let (drag_per_m, rolling_m_s2, shift_s) = (0.0, 0.0, 0.0);
    Forces { launch_m_s2, power_w_kg, drag_per_m, rolling_m_s2, gears: Vec::new(), shift_s }
}

/// The usual tyre, beams and depth.
fn usual_start() -> StartPlace {
    StartPlace::new(Tyre::rigid(Inches(25.0)).unwrap(), BeamLine::default(), Inches(0.0))
}

/// Splits and speeds of a pass whose position after `feet` is reached at `time_s(feet)`.
fn assert_closed_form(pass: &Pass, roll_ft: f64, time_s: impl Fn(f64) -> f64) {
    let clock = |feet: f64| time_s(feet) - time_s(roll_ft);
    let trap = |feet: f64| 66.0 / (clock(feet) - clock(feet - 66.0)) * 15.0 / 22.0;
    assert_near(pass.roll_s, time_s(roll_ft), 1e-6 * time_s(1.0));
    assert_share(pass.t60_s, clock(60.0), 1e-6);
    assert_share(pass.t330_s, clock(330.0), 1e-6);
    assert_share(pass.t660_s, clock(660.0), 1e-6);
    assert_share(pass.t1000_s.unwrap(), clock(1000.0), 1e-6);
    assert_share(pass.t1320_s.unwrap(), clock(1320.0), 1e-6);
    assert_share(pass.mph660, trap(660.0), 1e-6);
    assert_share(pass.mph1320.unwrap(), trap(1320.0), 1e-6);
}

#[test]
fn constant_power_follows_its_closed_form() {
    // Derived: t³ = 9·m·s²/(8·P). From the very start, where the push has no limit.
    for (power_w_kg, roll_in) in [(100.0, 11.5), (1644.0, 7.0), (30.0, 0.5)] {
        let start = StartPlace::point(Inches(roll_in), Inches(0.0));
        let pass = drive(&bare(f64::INFINITY, power_w_kg), start, QUARTER).unwrap();
        let time_s = |feet: f64| (9.0 * (feet * FOOT_M).powi(2) / (8.0 * power_w_kg)).cbrt();
        assert_closed_form(&pass, roll_in / 12.0, time_s);
    }
}

#[test]
fn one_horsepower_a_pound_takes_4_803_seconds_to_281_mph() {
    // Derived: 4.803 s, 281.1 mph at the line itself; the trap's average is lower by a hundredth.
    let power_w_kg = HORSEPOWER_W / POUND_KG;
    let start = StartPlace::point(Inches(0.0), Inches(0.0));
    let pass = drive(&bare(f64::INFINITY, power_w_kg), start, QUARTER).unwrap();
    assert_near(pass.et_s(), 4.803, 0.0005);
    let mph = (3.0 * power_w_kg * 1320.0 * FOOT_M).cbrt() / FOOT_M * 15.0 / 22.0;
    assert_near(mph, 281.1, 0.05);
    assert_share(pass.et_s() * mph, 1350.0, 1e-9);
    assert_share(pass.mph(), mph, 0.009);
}

#[test]
fn constant_acceleration_follows_its_closed_form() {
    // Derived: t = √(2·s/a); ET × MPH = 1800 with the speed at the line itself.
    for (launch_m_s2, roll_in) in [(5.0, 11.5), (29.0, 7.0), (0.7, 0.0)] {
        let start = StartPlace::point(Inches(roll_in), Inches(0.0));
        let pass = drive(&bare(launch_m_s2, f64::INFINITY), start, QUARTER).unwrap();
        let time_s = |feet: f64| (2.0 * feet * FOOT_M / launch_m_s2).sqrt();
        assert_closed_form(&pass, roll_in / 12.0, time_s);
    }
    let a_ft_s2 = 20.0;
    let (t, v) = ((2.0 * 1320.0_f64 / a_ft_s2).sqrt(), (2.0 * 1320.0 * a_ft_s2).sqrt());
    assert_share(t * v * 15.0 / 22.0, 1800.0, 1e-12);
}

#[test]
fn the_end_of_traction_joins_the_two_closed_forms() {
    // Derived: constant a up to v* = p/a, from there v³ − v*³ = 3·p·(x − x*) and
    // v² − v*² = 2·p·(t − t*).
    let (a, p): (f64, f64) = (6.0, 120.0);
    let pass = drive(&bare(a, p), StartPlace::point(Inches(11.5), Inches(0.0)), QUARTER).unwrap();
    let v_star = p / a;
    let (x_star, t_star) = (v_star * v_star / (2.0 * a), v_star / a);
    let time_s = |feet: f64| {
        let x = feet * FOOT_M;
        if x <= x_star {
            return (2.0 * x / a).sqrt();
        }
        let v = (v_star.powi(3) + 3.0 * p * (x - x_star)).cbrt();
        t_star + (v * v - v_star * v_star) / (2.0 * p)
    };
    assert_closed_form(&pass, 11.5 / 12.0, time_s);
}

#[test]
fn air_alone_slows_a_car_as_its_closed_form_says() {
    // Derived: a = a₀ − k·v² gives v² = (a₀/k)·(1 − e^(−2kx)) and
    // t = artanh(v·√(k/a₀)) / √(a₀·k).
    let (a, k): (f64, f64) = (7.0, 4e-3);
    let forces = Forces { drag_per_m: k, ..bare(a, f64::INFINITY) };
    let pass = drive(&forces, StartPlace::point(Inches(9.0), Inches(0.0)), QUARTER).unwrap();
    let time_s = |feet: f64| {
        let v2 = a / k * -(-2.0 * k * feet * FOOT_M).exp_m1();
        (v2 * k / a).sqrt().atanh() / (a * k).sqrt()
    };
    assert_closed_form(&pass, 9.0 / 12.0, time_s);
}

/// The same motion in small steps of time: classic Runge–Kutta of order four (Press et al.,
/// Numerical Recipes, 16.1), the step in which a beam is passed or a gear ends cut by bisection.
struct InTime<'a> {
    forces: &'a Forces,
    gear: usize,
    off_until: f64,
    t: f64,
    x: f64,
    v: f64,
}

impl InTime<'_> {
    fn acceleration(&self, v: f64) -> f64 {
        let f = self.forces;
        let resistance = f.drag_per_m * v * v + f.rolling_m_s2;
        if self.t < self.off_until - 1e-12 {
            return -resistance;
        }
        let factor = f.gears.get(self.gear).map_or(1.0, |gear| gear.mass_factor);
        let engine = (f.power_w_kg / v.max(1e-12) - resistance) / factor;
        engine.min(f.launch_m_s2 - f.drag_per_m * v * v)
    }

    fn after(&self, h: f64) -> (f64, f64) {
        let a = |v: f64| self.acceleration(v);
        let (k1, l1) = (self.v, a(self.v));
        let (k2, l2) = (self.v + h / 2.0 * l1, a(self.v + h / 2.0 * l1));
        let (k3, l3) = (self.v + h / 2.0 * l2, a(self.v + h / 2.0 * l2));
        let (k4, l4) = (self.v + h * l3, a(self.v + h * l3));
        let mean = |a: f64, b: f64, c: f64, d: f64| h / 6.0 * (a + 2.0 * b + 2.0 * c + d);
        (self.x + mean(k1, k2, k3, k4), self.v + mean(l1, l2, l3, l4))
    }

    /// Moments at which `places` are passed.
    fn drive(forces: &Forces, places_m: &[f64]) -> Vec<f64> {
        let mut car = InTime { forces, gear: 0, off_until: 0.0, t: 0.0, x: 0.0, v: 0.0 };
        let mut passed = Vec::new();
        while passed.len() < places_m.len() {
            let mut h = 1e-3;
            let coasting = car.t < car.off_until - 1e-12;
            if coasting {
                h = f64::min(h, car.off_until - car.t);
            }
            let last = car.gear + 1 >= forces.gears.len();
            let top = if last { f64::INFINITY } else { forces.gears[car.gear].top_m_s };
            let over = |h: f64| car.after(h).1 >= top;
            let shifts = !coasting && over(h);
            if shifts {
                let (mut low, mut high) = (0.0, h);
                for _ in 0..60 {
                    let middle = (low + high) / 2.0;
                    if over(middle) { high = middle } else { low = middle }
                }
                h = high;
            }
            let (x, v) = car.after(h);
            while passed.len() < places_m.len() && places_m[passed.len()] <= x {
                let place = places_m[passed.len()];
                let (mut low, mut high) = (0.0, h);
                for _ in 0..60 {
                    let middle = (low + high) / 2.0;
                    if car.after(middle).0 >= place { high = middle } else { low = middle }
                }
                passed.push(car.t + high);
            }
            (car.t, car.x, car.v) = (car.t + h, x, v);
            if shifts {
                car.gear += 1;
                car.off_until = car.t + forces.shift_s;
            }
        }
        passed
    }
}

#[test]
fn small_steps_of_time_find_the_same_pass() {
    for (body, launch_g) in [
        (CarBody::street(3400.0, 300.0), 0.7),
        (CarBody { gearbox: Gearbox::RACE, ..CarBody::street(2400.0, 1400.0) }, 2.4),
        (CarBody { gearbox: Gearbox::NONE, ..CarBody::street(4800.0, 90.0) }, 0.3),
    ] {
        let forces = body.forces(launch_g).unwrap();
        let start = StartPlace::point(Inches(11.5), Inches(0.0));
        let pass = drive(&forces, start, QUARTER).unwrap();
        let places = [11.5 / 12.0, 60.0, 330.0, 594.0, 660.0, 1000.0, 1254.0, 1320.0];
        let t = InTime::drive(&forces, &places.map(|feet| feet * FOOT_M));
        assert_near(pass.roll_s, t[0], 1e-6);
        assert_near(pass.t60_s, t[1] - t[0], 1e-6);
        assert_near(pass.t330_s, t[2] - t[0], 1e-6);
        assert_near(pass.t660_s, t[4] - t[0], 1e-6);
        assert_near(pass.mph660, 45.0 / (t[4] - t[3]), 1e-4);
        assert_near(pass.t1000_s.unwrap(), t[5] - t[0], 1e-6);
        assert_near(pass.t1320_s.unwrap(), t[7] - t[0], 1e-6);
        assert_near(pass.mph1320.unwrap(), 45.0 / (t[7] - t[6]), 1e-4);
    }
}

#[test]
fn no_energy_is_made_or_lost() {
    for (body, launch_g) in [
        (CarBody::street(3400.0, 300.0), 0.7),
        (CarBody::street(5200.0, 60.0), 0.2),
        (CarBody { gearbox: Gearbox::RACE, ..CarBody::street(2400.0, 2000.0) }, 3.0),
        (
            CarBody {
                gearbox: Gearbox { shifts: 4, shift_s: 0.8 },
                ..CarBody::street(3000.0, 250.0)
            },
            0.8,
        ),
        // So slow that it drives the last part at its top speed.
        (CarBody { drag_area_m2: 5.0, ..CarBody::street(300.0, 3.0) }, 0.5),
    ] {
        let pass = drive(&body.forces(launch_g).unwrap(), usual_start(), QUARTER).unwrap();
        let Energy { from_engine, motion, spinning, air, rolling } = pass.energy;
        assert_share(motion + spinning + air + rolling, from_engine, 1e-9);
        assert!([motion, spinning, air, rolling].iter().all(|part| *part > 0.0), "{body:?}");
    }
}

#[test]
fn the_launch_found_from_a_sixty_foot_time_runs_it_even_when_power_ends_first() {
    for (power_hp, t60_s) in [(80.0, 2.9), (300.0, 2.0), (2500.0, 1.0)] {
        let body = CarBody::street(3400.0, power_hp);
        let g = launch_for_sixty_foot(&body, usual_start(), t60_s).unwrap();
        let pass = drive(&body.forces(g).unwrap(), usual_start(), QUARTER).unwrap();
        assert_near(pass.t60_s, t60_s, 1e-8);
    }
}

#[test]
fn times_no_such_car_can_make_are_refused_with_the_best_it_can() {
    let body = CarBody::street(3400.0, 60.0);
    let refused = launch_for_sixty_foot(&body, usual_start(), 1.2).unwrap_err();
    assert!(matches!(refused, CarError::OutOfReach { .. }));
    assert!(refused.to_string().contains("60 hp in 3400 lb"), "{refused}");
    // A 60-foot time that is longer than the quarter allows.
    let t60: fn(&Pass) -> f64 = |pass| pass.t60_s;
    let refused = fit(&body, usual_start(), QUARTER, (t60, 4.0), 5.0).unwrap_err();
    assert!(matches!(refused, CarError::OutOfReach { .. }), "{refused}");
    for bad in [f64::NAN, 0.0, -3.0, f64::INFINITY] {
        assert!(CarBody::street(bad, 300.0).forces(0.6).is_err(), "{bad}");
        assert!(CarBody::street(3400.0, bad).forces(0.6).is_err(), "{bad}");
        assert!(CarBody::street(3400.0, 300.0).forces(bad).is_err(), "{bad}");
    }
    let none = bare(f64::INFINITY, f64::INFINITY);
    assert_eq!(drive(&none, usual_start(), QUARTER), Err(CarError::NoLimit));
    let gears = vec![Gear { top_m_s: f64::NAN, mass_factor: 1.0 }];
    assert!(drive(&Forces { gears, ..bare(5.0, 100.0) }, usual_start(), QUARTER).is_err());
}

#[test]
fn an_eighth_mile_is_the_first_half_of_a_quarter() {
    let forces = CarBody::street(3400.0, 300.0).forces(0.7).unwrap();
    let whole = drive(&forces, usual_start(), QUARTER).unwrap();
    let half = drive(&forces, usual_start(), TrackLength::Eighth).unwrap();
    assert_eq!((half.t1000_s, half.t1320_s, half.mph1320), (None, None, None));
    assert_near(half.t660_s, whole.t660_s, 1e-9);
    assert_near(half.mph660, whole.mph660, 1e-9);
    assert_eq!((half.et_s(), half.mph()), (half.t660_s, half.mph660));
    // Common practice: a quarter takes 1.55 to 1.60 times the eighth.
    assert!((1.55..=1.60).contains(&(whole.et_s() / half.et_s())));
}

#[test]
fn thin_air_costs_time_and_a_blown_engine_loses_less() {
    let air = Air::new(95.0, 75.0, 28.50).unwrap();
    let et =
        |body: CarBody| drive(&body.forces(0.7).unwrap(), usual_start(), QUARTER).unwrap().et_s();
    let usual = CarBody::street(3400.0, 300.0);
    let blown = CarBody { air, power_follows_air: false, ..usual };
    assert!(et(CarBody { air, ..usual }) > et(usual) + 0.05);
    // Only the drag is less.
    assert!(et(blown) < et(usual));
}

#[test]
fn runs_of_one_car_scatter_as_stated_and_repeat_by_their_seed() {
    let body = CarBody::street(3400.0, 300.0);
    let start = usual_start();
    let g = launch_for_sixty_foot(&body, start, 2.0).unwrap();
    let forces = body.forces(g).unwrap();
    let run = |generator: &mut _| {
        let drawn = PassScatter::default().draw(&forces, generator);
        drive(&drawn, start, QUARTER).unwrap()
    };
    let mut random = generator(7);
    let passes: Vec<Pass> = (0..2000).map(|_| run(&mut random)).collect();
    let sd = |of: fn(&Pass) -> f64| {
        let n = passes.len() as f64;
        let mean = passes.iter().map(of).sum::<f64>() / n;
        (passes.iter().map(|pass| (of(pass) - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
    };
    let (sixty, et) = (sd(|pass| pass.t60_s), sd(Pass::et_s));
    println!("60 ft ± {sixty:.4}, ET ± {et:.4}");
    assert_near(sixty, 0.03, 0.005);
    assert_near(et, 0.07, 0.03);
    assert_eq!(run(&mut generator(9)), run(&mut generator(9)));
    assert_ne!(run(&mut generator(9)), run(&mut generator(10)));
}

fn any_car() -> impl Strategy<Value = (CarBody, f64)> {
    (300.0..12_000.0_f64, 3.0..15_000.0_f64, 0.05..6.0_f64, 0.0..5.0_f64, 0_u8..5, 0.0..1.0_f64)
        .prop_map(|(weight_lb, power_hp, g, drag_area_m2, shifts, shift_s)| {
            let gearbox = Gearbox { shifts, shift_s };
            (CarBody { drag_area_m2, gearbox, ..CarBody::street(weight_lb, power_hp) }, g)
        })
}

proptest! {
    #[test]
    fn splits_follow_each_other_whatever_the_car((body, g) in any_car(), depth in 0.0..13.0_f64) {
        let tyre = Tyre::rigid(Inches(26.0)).unwrap();
        let start = StartPlace::new(tyre, BeamLine::default(), Inches(depth));
        let pass = drive(&body.forces(g).unwrap(), start, QUARTER).unwrap();
        let splits =
            [0.0, pass.t60_s, pass.t330_s, pass.t660_s, pass.t1000_s.unwrap(), pass.et_s()];
        prop_assert!(splits.windows(2).all(|w| w[0] < w[1]), "{splits:?}");
        prop_assert!(splits.iter().chain([&pass.mph660, &pass.mph()]).all(|x| x.is_finite()));
        let Energy { from_engine, motion, spinning, air, rolling } = pass.energy;
        let spent = motion + spinning + air + rolling;
        prop_assert!((spent / from_engine - 1.0).abs() < 1e-8, "{spent} {from_engine}");
    }

    #[test]
    fn more_launch_never_takes_longer((body, g) in any_car(), more in 1.0..2.0_f64) {
        let et = |g: f64| drive(&body.forces(g).unwrap(), usual_start(), QUARTER).unwrap();
        let (less, more) = (et(g), et((g * more).min(6.0)));
        prop_assert!(more.t60_s <= less.t60_s * (1.0 + 1e-9));
        prop_assert!(more.roll_s <= less.roll_s * (1.0 + 1e-9));
    }

    #[test]
    fn more_power_never_makes_the_early_splits_longer(
        (body, g) in any_car(), more in 1.0..2.0_f64,
    ) {
        let body = CarBody { gearbox: Gearbox::NONE, ..body };
        let pass = |power_hp: f64| {
            let body = CarBody { power_hp, ..body };
            drive(&body.forces(g).unwrap(), usual_start(), QUARTER).unwrap()
        };
        let (less, more) = (pass(body.power_hp), pass((body.power_hp * more).min(15_000.0)));
        prop_assert!(more.t60_s <= less.t60_s * (1.0 + 1e-9));
        prop_assert!(more.et_s() <= less.et_s() * (1.0 + 1e-9));
    }

    #[test]
    fn deeper_staging_shortens_the_roll_and_lengthens_the_pass(
        (body, g) in any_car(), depth in 0.0..8.0_f64, more in 0.1..3.0_f64,
    ) {
        let at = |depth: f64| {
            let tyre = Tyre::rigid(Inches(26.0)).unwrap();
            let start = StartPlace::new(tyre, BeamLine::default(), Inches(depth));
            drive(&body.forces(g).unwrap(), start, QUARTER).unwrap()
        };
        let (shallow, deep) = (at(depth), at(depth + more));
        prop_assert!(deep.roll_s < shallow.roll_s);
        prop_assert!(deep.et_s() > shallow.et_s());
        // What the roll gains the pass pays, less what lies behind the car already.
        prop_assert!(deep.et_s() + deep.roll_s < shallow.et_s() + shallow.roll_s);
    }
}
