//! Launch-rpm steps: what is advised in the situations the sport knows, and on cars that are known.

use lastamber::seed::{Generator, generator};
use lastamber::slips::{Slip, SlipOrigin, read_column};
use lastamber::stats::StatsError;
use lastamber::strategy::rpm_steps::{
    LaunchFeel, NextStep, RpmRun, RpmSteps, WhyStop, advise, runs_of,
};
use proptest::prelude::*;
use rand_distr::{Distribution, Normal};

fn runs(list: &[(f64, f64)]) -> Vec<RpmRun> {
    list.iter().map(|&(rpm, sixty_foot_s)| RpmRun { rpm, sixty_foot_s, feel: None }).collect()
}

fn next(list: &[(f64, f64)]) -> NextStep {
    advise(&RpmSteps::new(&runs(list)).unwrap()).next
}

#[test]
fn one_run_at_a_step_says_nothing() {
    assert_eq!(next(&[(3000.0, 2.10)]), NextStep::Repeat { rpm: 3000.0, more: 1 });
    let later = [(3000.0, 2.10), (3020.0, 2.08), (3300.0, 2.02)];
    assert_eq!(next(&later), NextStep::Repeat { rpm: 3300.0, more: 1 });
}

#[test]
fn bogging_asks_for_more_and_spinning_for_less() {
    // Common practice: raise a few hundred if it bogs, lower if it spins.
    let with = |feel| {
        let mut runs = runs(&[(3000.0, 2.10), (3000.0, 2.12)]);
        runs[1].feel = Some(feel);
        advise(&RpmSteps::new(&runs).unwrap()).next
    };
    assert_eq!(with(LaunchFeel::Bogged), NextStep::Raise { to: 3300.0 });
    assert_eq!(with(LaunchFeel::Spun), NextStep::Lower { to: 2700.0 });
}

#[test]
fn a_difference_that_shows_is_followed() {
    let better_up = [(3000.0, 2.30), (3000.0, 2.31), (3300.0, 2.10), (3300.0, 2.11)];
    assert_eq!(next(&better_up), NextStep::Raise { to: 3600.0 });
    let worse_up = [(3000.0, 2.10), (3000.0, 2.11), (3400.0, 2.30), (3400.0, 2.31)];
    assert_eq!(next(&worse_up), NextStep::Lower { to: 3200.0 });
}

#[test]
fn steps_that_drown_in_noise_end_the_search() {
    let drowned = [(3000.0, 2.10), (3000.0, 2.16), (3300.0, 2.11), (3300.0, 2.14)];
    let NextStep::Stop { why, .. } = next(&drowned) else { panic!("{:?}", next(&drowned)) };
    assert_eq!(why, WhyStop::Noise);
}

#[test]
fn repeats_and_spread_are_told_for_every_step() {
    let list =
        runs(&[(3000.0, 2.10), (3040.0, 2.12), (2960.0, 2.08), (3300.0, 2.02), (3300.0, 2.04)]);
    let steps = RpmSteps::new(&list).unwrap();
    assert_eq!(steps.steps.len(), 2);
    assert_eq!((steps.steps[0].sixty_foot_s.n, steps.steps[1].sixty_foot_s.n), (3, 2));
    assert!((steps.steps[0].rpm - 3000.0).abs() < 1e-9);
    assert!((steps.steps[0].sixty_foot_s.value - 2.10).abs() < 1e-12);
    // By hand: squares .0008 + .0002, s² = (5·.0009 + .001)/(5 + 3).
    assert!((steps.run_sd_s - (0.0055_f64 / 8.0).sqrt()).abs() < 1e-12);
    assert!((steps.best().rpm - 3300.0).abs() < 1e-9);
    // Three runs at 3000: their interval is ± t noise, t = 1.860 on 8 degrees of freedom (any table).
    let half = 0.5 * (steps.steps[0].sixty_foot_s.high - steps.steps[0].sixty_foot_s.low);
    assert!((half / steps.noise_s() - 1.860).abs() < 0.000_6, "{half} {}", steps.noise_s());
}

/// A car whose 60-foot time is lowest at 3700 rpm.
fn drive(rpm: f64, noise_s: f64, random: &mut Generator) -> (f64, f64) {
    let noise = Normal::new(0.0, noise_s).unwrap().sample(random);
    (rpm, 1.95 + 0.08 * ((rpm - 3700.0) / 500.0).powi(2) + noise)
}

#[test]
fn four_steps_show_the_optimum_with_its_interval() {
    let mut random = generator(70);
    let mut list = Vec::new();
    for rpm in [3000.0, 3300.0, 3600.0, 3900.0, 4200.0] {
        list.extend((0..3).map(|_| drive(rpm, 0.01, &mut random)));
    }
    let advice = advise(&RpmSteps::new(&runs(&list)).unwrap());
    let curve = advice.curve.unwrap();
    assert!(curve.optimum_rpm.low < 3700.0 && 3700.0 < curve.optimum_rpm.high);
    assert!((curve.best_s - 1.95).abs() < 0.02, "{curve:?}");
    let NextStep::Stop { at, why } = advice.next else { panic!("{:?}", advice.next) };
    assert!((at - 3700.0).abs() <= 150.0);
    assert_eq!(why, WhyStop::Found);
}

/// Two runs at each of four steps, so much above and below a parabola.
fn beside_a_parabola(optimum_rpm: f64, beside_s: f64) -> Vec<(f64, f64)> {
    let at = |rpm: f64| 1.95 + 0.08 * ((rpm - optimum_rpm) / 500.0).powi(2);
    let both = |rpm: f64| [(rpm, at(rpm) - beside_s), (rpm, at(rpm) + beside_s)];
    [3000.0, 3300.0, 3600.0, 3900.0].into_iter().flat_map(both).collect()
}

#[test]
fn a_curve_that_promises_less_than_noise_ends_the_search_and_one_step_beyond_is_the_farthest() {
    let unsteady = beside_a_parabola(3500.0, 0.025);
    let advice = advise(&RpmSteps::new(&runs(&unsteady)).unwrap());
    let curve = advice.curve.unwrap();
    assert!(curve.optimum_rpm.high - curve.optimum_rpm.low > 300.0, "{curve:?}");
    assert_eq!(advice.next, NextStep::Stop { at: 3600.0, why: WhyStop::Noise });
    // Lowest at 4600, where nobody has been.
    let far = beside_a_parabola(4600.0, 0.002);
    let advice = advise(&RpmSteps::new(&runs(&far)).unwrap());
    assert!((advice.curve.unwrap().optimum_rpm.value - 4600.0).abs() < 1.0, "{advice:?}");
    assert_eq!(advice.next, NextStep::Raise { to: 4200.0 });
}

#[test]
fn following_the_advice_ends_near_the_optimum_of_a_steady_car() {
    let mut near = 0;
    for seed in 0..40 {
        let mut random = generator(seed);
        let mut list = vec![drive(2900.0, 0.012, &mut random)];
        let mut end = None;
        for _ in 0..40 {
            match next(&list) {
                NextStep::Repeat { rpm, .. } => list.push(drive(rpm, 0.012, &mut random)),
                NextStep::Raise { to } | NextStep::Lower { to } => {
                    list.push(drive(to, 0.012, &mut random));
                }
                NextStep::Stop { at, .. } => {
                    end = Some(at);
                    break;
                }
            }
        }
        let end = end.expect("the search ends");
        let lost_s = 0.08 * ((end - 3700.0) / 500.0).powi(2);
        near += usize::from(lost_s < 0.02);
    }
    // A run or two in ten may be stopped early by noise; the rest lose less than .02 s.
    assert!(near >= 32, "{near} of 40");
}

#[test]
fn practice_slips_and_slips_without_rpm_are_left_out() {
    let slip = |rpm: Option<f64>, simulated: bool| Slip {
        own: read_column(".1 2.05").unwrap(),
        launch_rpm: rpm,
        origin: if simulated {
            SlipOrigin::Simulated { trial: "t".to_owned() }
        } else {
            SlipOrigin::Track
        },
        ..Slip::default()
    };
    let slips = [slip(Some(3000.0), false), slip(None, false), slip(Some(3000.0), true)];
    let runs = runs_of(&slips);
    assert_eq!(runs.len(), 1);
    assert!((runs[0].sixty_foot_s - 2.05).abs() < 1e-12);
}

#[test]
fn nothing_and_nonsense_are_errors() {
    assert_eq!(RpmSteps::new(&[]), Err(StatsError::TooFew { have: 0, need: 1 }));
    for (rpm, t) in [(0.0, 2.0), (f64::NAN, 2.0), (3000.0, 20.0), (3000.0, f64::NAN)] {
        assert!(matches!(RpmSteps::new(&runs(&[(rpm, t)])), Err(StatsError::OutOfDomain { .. })));
    }
}

#[test]
fn the_advice_is_one_sentence_a_driver_can_follow() {
    let advice = advise(&RpmSteps::new(&runs(&[(3000.0, 2.10), (3000.0, 2.12)])).unwrap());
    assert_eq!(advice.to_string(), "Try 3300 rpm, two or three runs; leave all else alone.");
}

proptest! {
    #[test]
    fn whatever_the_runs_there_is_one_next_step(
        list in prop::collection::vec((500.0..15_000.0_f64, 0.8..5.0_f64), 1..30),
    ) {
        let steps = RpmSteps::new(&runs(&list)).unwrap();
        prop_assert_eq!(steps.steps.iter().map(|s| s.sixty_foot_s.n).sum::<usize>(), list.len());
        prop_assert!(steps.steps.windows(2).all(|w| w[0].rpm < w[1].rpm));
        let advice = advise(&steps);
        let to = match advice.next {
            NextStep::Repeat { rpm, .. } => rpm,
            NextStep::Raise { to } | NextStep::Lower { to } => to,
            NextStep::Stop { at, .. } => at,
        };
        prop_assert!((0.0..=16_000.0).contains(&to), "{to}");
        prop_assert!(!advice.to_string().contains("NaN"));
    }
}
