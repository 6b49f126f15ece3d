//! What holds for any series: answers move with shift and scale, and nothing a user brings panics.

use lastamber::seed;
use lastamber::stats::over_time::change_point::ChangeSearch;
use lastamber::stats::over_time::cusum::CusumDesign;
use lastamber::stats::over_time::days::days;
use lastamber::stats::over_time::ewma::EwmaDesign;
use lastamber::stats::over_time::hold::{HeldSession, hold_slope};
use lastamber::stats::over_time::in_control::InControl;
use lastamber::stats::over_time::individuals::IndividualsLimits;
use lastamber::stats::over_time::learning::learning_curve;
use lastamber::stats::over_time::spread::spread;
use lastamber::stats::over_time::within_session::within_session;
use lastamber::stats::{Estimate, Sample, StatsError};
use proptest::prelude::*;
use rand_distr::{Distribution, Exp1};

/// Numbers that can be told apart from rounding.
fn series(n: std::ops::Range<usize>) -> impl Strategy<Value = Vec<f64>> {
    proptest::collection::vec((0..1000_i32).prop_map(|v| f64::from(v) / 1000.0), n)
}

fn sample(values: &[f64]) -> Sample {
    Sample::new(values.to_vec()).unwrap()
}

fn moved(values: &[f64], shift: f64, scale: f64) -> Sample {
    sample(&values.iter().map(|v| shift + scale * v).collect::<Vec<f64>>())
}

fn sessions(values: &[f64], shift: f64, scale: f64) -> Vec<Sample> {
    values.chunks(9).map(|part| moved(part, shift, scale)).collect()
}

/// Whether `there` is `here` moved, limits included; `size` is that of the numbers compared.
fn follows(here: &Estimate, there: &Estimate, shift: f64, scale: f64, size: f64) -> bool {
    let near = |a: f64, b: f64| (shift + scale * a - b).abs() <= 1e-6 * size;
    near(here.value, there.value) && near(here.low, there.low) && near(here.high, there.high)
}

fn few() -> ProptestConfig {
    ProptestConfig { cases: 24, failure_persistence: None, ..Default::default() }
}

/// A move: by how much, and how many times larger.
fn moves() -> (std::ops::Range<f64>, std::ops::Range<f64>) {
    (-5.0..5.0, 0.01..50.0)
}

proptest! {
    #![proptest_config(few())]

    #[test]
    fn charts_move_with_their_values(values in series(20..60), (shift, scale) in moves()) {
        let here = IndividualsLimits::from_baseline(&sample(&values), 0.9);
        let there = IndividualsLimits::from_baseline(&moved(&values, shift, scale), 0.9);
        let size = scale + f64::abs(shift);
        match (here, there) {
            (Ok(here), Ok(there)) => {
                prop_assert!(follows(&here.centre, &there.centre, shift, scale, size));
                prop_assert!(follows(&here.sd, &there.sd, 0.0, scale, size));
                let usual = |v| InControl::from_baseline(v).unwrap();
                let (plain, other) = (sample(&values), moved(&values, shift, scale));
                let design = EwmaDesign::given(0.2, 2.0).unwrap();
                let a = design.chart(usual(&plain), &plain).unwrap();
                let b = design.chart(usual(&other), &other).unwrap();
                prop_assert_eq!(a.drift, b.drift);
                let design = CusumDesign::given(0.5, 3.0).unwrap();
                let a = design.chart(usual(&plain), &plain).unwrap();
                let b = design.chart(usual(&other), &other).unwrap();
                prop_assert_eq!(a.drift, b.drift);
            }
            (here, there) => prop_assert_eq!(here.is_ok(), there.is_ok()),
        }
    }

    #[test]
    fn changes_and_curves_move_with_their_values(values in series(20..40), (shift, scale) in moves()) {
        let search = ChangeSearch { shuffles: 39, ..ChangeSearch::default() };
        let size = scale + f64::abs(shift);
        let (plain, other) = (sample(&values), moved(&values, shift, scale));
        if let Ok(here) = search.of_level(&plain, &mut seed::generator(6)) {
            let there = search.of_level(&other, &mut seed::generator(6)).unwrap();
            prop_assert_eq!(here.segments.len(), there.segments.len());
            for (a, b) in here.segments.iter().zip(&there.segments) {
                prop_assert_eq!((a.first, a.last), (b.first, b.last));
                prop_assert!(follows(&a.estimate, &b.estimate, shift, scale, size));
            }
        }
        if let Ok(here) = learning_curve(&plain, 0.9, 0.5, &mut seed::generator(7)) {
            let there = learning_curve(&other, 0.9, 0.5, &mut seed::generator(7)).unwrap();
            prop_assert_eq!(here.outcome, there.outcome);
            for (a, b) in here.fits.iter().zip(&there.fits) {
                prop_assert!((scale * scale * a.rss - b.rss).abs() <= 1e-6 * size * size);
            }
        }
        // The same seed gives the same answer.
        let again = |s| search.of_spread(&plain, &mut seed::generator(s));
        prop_assert_eq!(again(5), again(5));
    }

    #[test]
    fn days_sessions_and_holds_move_with_their_values(values in series(36..60), (shift, scale) in moves()) {
        let size = scale + f64::abs(shift);
        let (here, there) = (sessions(&values, 0.0, 1.0), sessions(&values, shift, scale));
        if let Ok(a) = days(&here, 0.9) {
            let b = days(&there, 0.9).unwrap();
            prop_assert!(follows(&a.mean, &b.mean, shift, scale, size));
            prop_assert!(follows(&a.within, &b.within, 0.0, scale, size));
            // A spread near 0 is a flat optimum.
            let near = |a: f64, b: f64| (scale * a - b).abs() <= 1e-4 * size;
            prop_assert!(near(a.between.value, b.between.value));
            prop_assert!(near(a.between.high, b.between.high));
        }
        if let Ok(a) = within_session(&here, 3, 0.9) {
            let b = within_session(&there, 3, 0.9).unwrap();
            prop_assert!(follows(&a.warm_up_level.size, &b.warm_up_level.size, 0.0, scale, size));
            let (a, b) = (a.fatigue_spread.size, b.fatigue_spread.size);
            prop_assert!(follows(&a, &b, 0.0, 1.0, 1.0 + size / scale));
        }
        let holds = |v: &[Sample]| v.iter().map(|s| {
            let waits = (0..s.n()).map(|i| 1.0 + (i * i % 5) as f64).collect();
            HeldSession::new(Sample::new(waits).unwrap(), s.clone()).unwrap()
        }).collect::<Vec<_>>();
        let a = hold_slope(&holds(&here), 0.9).unwrap();
        let b = hold_slope(&holds(&there), 0.9).unwrap();
        prop_assert!(follows(&a.slope, &b.slope, 0.0, scale, size));
    }
}

/// Every question of the room, asked of one series; how many were answered.
fn ask_everything(values: &[f64]) -> usize {
    let finite = |e: &Estimate| e.value.is_finite() && e.low.is_finite() && e.high.is_finite();
    let Ok(all) = Sample::new(values.to_vec()) else { return 0 };
    let mut generator = seed::generator(13);
    let search = ChangeSearch { shuffles: 19, ..ChangeSearch::default() };
    let mut answers = 0;
    if let Ok(limits) = IndividualsLimits::from_baseline(&all, 0.9) {
        assert!(finite(&limits.centre) && finite(&limits.sd));
        limits.signals(&all);
        answers += 1;
    }
    if let Ok(usual) = InControl::from_baseline(&all) {
        let ewma = EwmaDesign::given(0.2, 2.9).unwrap().chart(usual, &all).unwrap();
        assert!(ewma.points.iter().all(|p| p.is_finite()));
        CusumDesign::given(0.5, 4.8).unwrap().chart(usual, &all).unwrap();
        answers += 1;
    }
    let changes = [search.of_level(&all, &mut generator), search.of_spread(&all, &mut generator)];
    for found in changes.into_iter().flatten() {
        assert!(found.segments.iter().all(|s| finite(&s.estimate)) && found.chance <= 1.0);
        answers += 1;
    }
    if let Ok(found) = learning_curve(&all, 0.9, 0.05, &mut generator) {
        assert!(found.fits.iter().all(|f| f.aicc.is_finite()), "{:?}", found.fits);
        assert!(found.plateau.iter().all(finite));
        answers += 1;
    }
    if let Ok(found) = spread(&all, 0.9) {
        assert!(finite(&found));
        answers += 1;
    }
    let parts: Vec<Sample> = values.chunks(8).map(sample).collect();
    if let Ok(found) = days(&parts, 0.9) {
        assert!(finite(&found.between) && finite(&found.mean) && found.per_day.iter().all(finite));
        answers += 1;
    }
    if let Ok(found) = within_session(&parts, 3, 0.9) {
        assert!(finite(&found.fatigue_spread.size) && finite(&found.warm_up_level.size));
        answers += 1;
    }
    let held = HeldSession::new(all.clone(), all).unwrap();
    if let Ok(found) = hold_slope(&[held], 0.9) {
        assert!(finite(&found.slope));
        answers += 1;
    }
    answers
}

#[test]
fn hostile_series_get_an_answer_or_an_error_and_never_a_panic() {
    let ramp = |n: usize, scale: f64| -> Vec<f64> {
        (0..n).map(|i| scale * ((i * 7919 % 1013) as f64 - 500.0)).collect()
    };
    let mut spike = ramp(40, 1e-3);
    spike[17] = 1e90;
    let mut end = vec![0.2; 39];
    end.push(0.3);
    let hostile: Vec<Vec<f64>> = vec![
        vec![],
        vec![0.2],
        vec![0.2, 0.3],
        vec![0.2; 50],
        vec![f64::NAN; 20],
        vec![1e308; 30],
        ramp(40, 1e305),
        ramp(40, 1e96),
        ramp(40, 1e-3),
        ramp(40, 1e-120),
        ramp(40, 1e-300),
        ramp(40, f64::MIN_POSITIVE),
        spike,
        end,
        (0..60).map(|i| f64::from(i % 2)).collect(),
        (0..60).map(|i| f64::from(i / 30)).collect(),
        (0..60).map(|i| 1e15 + f64::from(i % 3)).collect(),
        (0..60).map(f64::from).collect(),
        (0..60).map(|i| (-f64::from(i)).exp()).collect(),
    ];
    let answered: Vec<usize> = hostile.iter().map(|values| ask_everything(values)).collect();
    println!("{answered:?}");
    assert_eq!(answered[..6], [0; 6]);
    // An ordinary series is answered in full.
    assert_eq!(answered[8], 9);
}

#[test]
fn odd_levels_are_refused_everywhere() {
    let values: Vec<f64> = (0..40).map(|i| f64::from(i * 7 % 11)).collect();
    let all = sample(&values);
    let parts = sessions(&values, 0.0, 1.0);
    for level in [f64::NAN, 0.0, 1.0, -3.0, f64::INFINITY] {
        let refused = |error: Option<StatsError>| {
            assert!(matches!(error, Some(StatsError::OutOfDomain { .. })), "{level}: {error:?}");
        };
        refused(IndividualsLimits::from_baseline(&all, level).err());
        refused(spread(&all, level).err());
        refused(days(&parts, level).err());
        refused(within_session(&parts, 3, level).err());
        refused(learning_curve(&all, level, 0.05, &mut seed::generator(1)).err());
        let search = ChangeSearch { level, ..ChangeSearch::default() };
        refused(search.of_level(&all, &mut seed::generator(1)).err());
    }
}

#[test]
fn a_hundred_thousand_launches_are_answered_in_blocks() {
    let mut generator = seed::generator(60);
    let values: Vec<f64> = (0..100_000)
        .map(|i| {
            let late: f64 = Exp1.sample(&mut generator);
            0.2 + 0.05 * late + if i < 60_000 { 0.0 } else { 0.01 }
        })
        .collect();
    let search = ChangeSearch { shuffles: 19, ..ChangeSearch::default() };
    let found = search.of_level(&sample(&values), &mut seed::generator(1)).unwrap();
    let cuts: Vec<usize> = found.changes().map(|c| c.0).collect();
    // Blocks are of 334.
    assert!(cuts.len() == 1 && cuts[0].abs_diff(60_000) <= 334, "{cuts:?}");
    assert!(learning_curve(&sample(&values), 0.9, 0.05, &mut seed::generator(1)).is_ok());
}
