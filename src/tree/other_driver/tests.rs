//! What the other driver is drawn from, counted; what a seat sees.
//!
//! Owns counts over seeds against the table. Refuses whole starts: `tests/stories/` has them.

use super::*;
use crate::units::Stamp;

const N: usize = 20_000;

fn drivers(temper: Temper) -> impl Iterator<Item = OtherDriver> {
    (0..N as u64).map(move |seed| OtherDriver::new(temper, seed))
}

#[test]
fn the_same_seed_gives_the_same_driver() {
    let a = OtherDriver::new(Temper::Slow, 7);
    let b = OtherDriver::new(Temper::Slow, 7);
    assert_eq!((a.light, a.thinks), (b.light, b.thinks));
    assert_ne!(a.light, OtherDriver::new(Temper::Slow, 8).light);
}

#[test]
fn lights_have_the_mean_the_spread_and_the_band_of_their_temper() {
    let n = N as f64;
    for temper in Temper::ALL {
        let habits = temper.habits();
        let lights: Vec<f64> = drivers(temper).map(|d| d.light().as_secs_f64()).collect();
        let mean = lights.iter().sum::<f64>() / n;
        let sd = (lights.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt();
        // Four standard errors of a normal law's mean and SD.
        let due = habits.sd_light_s();
        assert!((mean - habits.mean_light_s()).abs() < 4.0 * due / n.sqrt(), "{temper:?} {mean}");
        assert!((sd - due).abs() < 4.0 * due / (2.0 * n).sqrt(), "{temper:?} {sd}");
        let (low, high) = habits.light_s;
        let within = lights.iter().filter(|x| (low..=high).contains(*x)).count() as f64;
        assert!((within / n - 0.9).abs() < 4.0 * (0.09 / n).sqrt(), "{temper:?} {within}");
    }
}

#[test]
fn manners_are_kept_at_the_rates_of_the_table() {
    let n = N as f64;
    for temper in Temper::ALL {
        let habits = temper.habits();
        let ways: [(&str, f64, fn(&OtherDriver) -> bool); 3] = [
            ("courtesy", habits.courtesy, OtherDriver::is_courteous),
            ("first", habits.goes_first, OtherDriver::goes_first),
            ("deep", habits.deep, OtherDriver::goes_deep),
        ];
        for (what, due, does) in ways {
            let share = drivers(temper).filter(does).count() as f64 / n;
            let error = (due * (1.0 - due) / n).sqrt();
            assert!((share - due).abs() <= 4.0 * error, "{temper:?} {what}: {share}, due {due}");
        }
        for d in drivers(temper).take(200) {
            let inside = |span: Span, (low, high): (f64, f64)| {
                (Span::from_secs_f64(low)..=Span::from_secs_f64(high)).contains(&span)
            };
            assert!(inside(d.arrives_after, habits.arrives_s) && inside(d.thinks, habits.thinks_s));
        }
    }
}

#[test]
fn one_like_the_driver_has_the_drivers_quantiles() {
    // A skewed driver with reds: −.020 to .241, most of them early.
    let own: Vec<f64> = (0..30).map(|i| -0.020 + 0.009 * f64::from(i * i) / 30.0).rev().collect();
    let n = N as f64;
    let drawn: Vec<f64> = (0..N as u64)
        .map(|seed| OtherDriver::like(&own, seed).unwrap().light().as_secs_f64())
        .collect();
    for p in [0.05_f64, 0.25, 0.5, 0.75, 0.95] {
        // Type 7 by hand: the own lights are i² for i = 29·p joined in straight lines.
        let (i, part) = ((29.0 * p) as i32, (29.0 * p).fract());
        let at = |i: i32| -0.020 + 0.009 * f64::from(i * i) / 30.0;
        let quantile = at(i) + part * (at(i + 1) - at(i));
        let below = drawn.iter().filter(|x| **x < quantile).count() as f64 / n;
        let error = (p * (1.0 - p) / n).sqrt();
        assert!((below - p).abs() < 4.0 * error, "{p}: {below} below {quantile}");
    }
    let (least, most) = (own[29], own[0]);
    let close = Span::from_us(1).as_secs_f64();
    assert!(drawn.iter().all(|x| (least - close..=most + close).contains(x)));
}

#[test]
fn fewer_than_ten_lights_make_nobody_and_no_number_is_no_light() {
    let lights = [0.05, f64::NAN, 0.06, 0.07, 0.08, 0.09, 0.1, 0.11, 0.12, f64::INFINITY, 0.2];
    assert!(OtherDriver::like(&lights, 1).is_none(), "nine of eleven are numbers");
    assert!(
        OtherDriver::like(&[0.07; LEAST_LIGHTS], 1).is_some_and(|d| d.light.ns() == 70_000_000)
    );
}

/// A courteous driver in pre-stage who does or does not go first, and what is planned.
fn in_pre_stage(goes_first: bool) -> OtherDriver {
    let mut d = OtherDriver { goes_first, ..OtherDriver::new(Temper::Prompt, 1) };
    let at = Mark::from_ns(0);
    d.enter(at, 2, false, false);
    while d.act().is_some() {}
    sees(&mut d, at, Lane::Right, BeamState::PreStaged);
    d
}

fn sees(d: &mut OtherDriver, at: Mark, lane: Lane, state: BeamState) {
    let line = TraceLine { at, event: TreeEvent::Beams { lane, state } };
    d.notice(Lane::Right, &line, Span::ZERO);
}

fn rolls_on(d: &OtherDriver) -> Option<Mark> {
    let creep = |(_, action): &&(Mark, Action)| *action == Action::Pedal(Pedal::Creep, true);
    d.todo.iter().find(creep).map(|(at, _)| *at)
}

#[test]
fn a_courteous_driver_waits_in_pre_stage_until_the_other_lamp_lights() {
    let mut d = in_pre_stage(true);
    assert!(d.todo.iter().any(|(_, a)| *a == Action::Pedal(Pedal::Brake, true)));
    assert_eq!(rolls_on(&d), None);
    let at = Mark::from_ns(2_000_000_000);
    sees(&mut d, at, Lane::Left, BeamState::PreStaged);
    assert_eq!(rolls_on(&d), Some(at + d.thinks));
}

#[test]
fn who_goes_second_waits_for_the_stage_lamp_too_but_not_for_ever() {
    let mut d = in_pre_stage(false);
    let at = Mark::from_ns(2_000_000_000);
    sees(&mut d, at, Lane::Left, BeamState::PreStaged);
    assert_eq!(rolls_on(&d), Some(at + d.thinks + PATIENCE));
    let staged = at + Span::from_ms(900);
    sees(&mut d, staged, Lane::Left, BeamState::Staged);
    assert_eq!(rolls_on(&d), Some(staged + d.thinks));
    let creeps = d.todo.iter().filter(|(_, a)| *a == Action::Pedal(Pedal::Creep, true)).count();
    assert_eq!(creeps, 1, "planned once");
}

#[test]
fn times_are_spread_evenly_over_what_the_table_gives() {
    let n = N as f64;
    for temper in Temper::ALL {
        let habits = temper.habits();
        let ways: [(&str, (f64, f64), fn(&OtherDriver) -> Span); 3] = [
            ("arrives", habits.arrives_s, |d| d.arrives_after),
            ("thinks", habits.thinks_s, |d| d.thinks),
            ("foot", FOOT_S, |d| d.foot_reaction),
        ];
        for (what, (low, high), time) in ways {
            let mean = drivers(temper).map(|d| time(&d).as_secs_f64()).sum::<f64>() / n;
            // An even law has the SD of its width over √12.
            let error = (high - low) / 12.0_f64.sqrt() / n.sqrt();
            let off = (mean - 0.5 * (low + high)).abs();
            assert!(off <= 4.0 * error + 1e-9, "{temper:?} {what}: {mean}");
        }
    }
}

/// What is planned, in the order of its marks.
fn planned(d: &mut OtherDriver) -> Vec<(Mark, Action)> {
    std::iter::from_fn(|| d.act()).collect()
}

#[test]
fn the_first_roll_comes_when_the_driver_arrives_and_the_brake_a_foots_reaction_after_the_lamp() {
    let start = Mark::from_ns(5_000_000_000);
    let mut d = OtherDriver::new(Temper::Prompt, 1);
    d.enter(start, 2, false, true);
    assert_eq!(d.next_due(), Some(start + d.arrives_after));
    assert_eq!(planned(&mut d), [(start + d.arrives_after, Action::Pedal(Pedal::Creep, true))]);
    let lamp = start + Span::from_ms(3_000);
    sees(&mut d, lamp, Lane::Right, BeamState::PreStaged);
    let foot = lamp + d.foot_reaction;
    let stops = planned(&mut d);
    assert!(stops.contains(&(foot, Action::Pedal(Pedal::Creep, false))));
    assert!(stops.contains(&(foot, Action::Pedal(Pedal::Brake, true))));
}

#[test]
fn sent_back_the_driver_stops_and_comes_again_seven_tenths_later() {
    let at = Mark::from_ns(9_000_000_000);
    let after = |why: SentBack| {
        let mut d = in_pre_stage(true);
        sees(&mut d, at - Span::from_ms(10), Lane::Left, BeamState::PreStaged);
        let line = TraceLine { at, event: TreeEvent::SentBack { lane: Lane::Right, why } };
        d.notice(Lane::Right, &line, Span::ZERO);
        (at + d.foot_reaction, planned(&mut d))
    };
    for why in [SentBack::Flicker, SentBack::RolledBack, SentBack::RolledThrough] {
        let (foot, plan) = after(why);
        let again = foot + Span::from_ms(700);
        let way = if why == SentBack::RolledThrough { Pedal::Back } else { Pedal::Creep };
        let due = [
            (foot, Action::Pedal(Pedal::Creep, false)),
            (foot, Action::Pedal(Pedal::Brake, true)),
            (again, Action::Pedal(Pedal::Brake, false)),
            (again, Action::Pedal(way, true)),
        ];
        assert_eq!(plan, due, "{why:?}: nothing planned before is left");
    }
}

#[test]
fn who_backs_out_and_comes_again_does_not_make_the_patient_wait_longer() {
    let mut d = in_pre_stage(false);
    let at = Mark::from_ns(2_000_000_000);
    sees(&mut d, at, Lane::Left, BeamState::PreStaged);
    sees(&mut d, at + Span::from_ms(500), Lane::Left, BeamState::Out);
    sees(&mut d, at + Span::from_ms(900), Lane::Left, BeamState::PreStaged);
    assert_eq!(rolls_on(&d), Some(at + d.thinks + PATIENCE));
}

#[test]
fn a_driver_whose_car_is_slow_leaves_no_sooner_than_a_foot_can() {
    let leaves_after = |car_part: Span| {
        let mut d = OtherDriver::new(Temper::Prompt, 1);
        let at = Mark::from_ns(1_000_000_000);
        d.enter(at, 2, true, true);
        let stamp = Stamp::exact(at);
        let event = TreeEvent::LampShown { lane: Lane::Right, lamp: Lamp::Amber(2), stamp };
        d.notice(Lane::Right, &TraceLine { at, event }, car_part);
        (d.next_due().unwrap() - at, d.light)
    };
    let (after, light) = leaves_after(Span::from_ms(300));
    assert_eq!(after, light + TOLD_FOR - Span::from_ms(300));
    assert_eq!(leaves_after(Span::from_ms(1_500)).0, SOONEST);
}
