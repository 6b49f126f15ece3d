//! Reference values and run lengths of the charts over time, and what holds for any series.
//!
//! Handbook: NIST/SEMATECH e-Handbook of Statistical Methods, pages 6.3.2.2, 6.3.2.3, 6.3.2.4.
//! Run lengths: R package spc 0.6.7. Days: R package lme4 1.1-31. Peirce: see tests/data.

use lastamber::seed;
use lastamber::stats::over_time::change_point::{ChangeSearch, Changes};
use lastamber::stats::over_time::curves::Shape;
use lastamber::stats::over_time::cusum::CusumDesign;
use lastamber::stats::over_time::days::{DayToDay, days};
use lastamber::stats::over_time::ewma::EwmaDesign;
use lastamber::stats::over_time::hold::{HeldSession, HoldEffect, hold_slope};
use lastamber::stats::over_time::in_control::{Direction, Drift, InControl};
use lastamber::stats::over_time::individuals::{IndividualsLimits, Rule, Signal};
use lastamber::stats::over_time::learning::{Learning, learning_curve};
use lastamber::stats::{Caveat, Sample};
use rand_distr::{Distribution, Exp1, StandardNormal};

fn sample(values: &[f64]) -> Sample {
    Sample::new(values.to_vec()).unwrap()
}

fn assert_near(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found} is not {wanted} to {within}");
}

/// Peirce's reactions in milliseconds, by day from 1 to 24.
fn peirce() -> Vec<Sample> {
    let text = include_str!("data/peirce1872.csv");
    let mut days: Vec<Vec<f64>> = vec![Vec::new(); 24];
    for line in text.lines().skip(1) {
        let fields: Vec<&str> = line.split(',').collect();
        let day: usize = fields[0].parse().unwrap();
        let count: usize = fields[3].parse().unwrap();
        days[day - 1].extend(vec![fields[2].parse::<f64>().unwrap(); count]);
    }
    days.into_iter().map(|day| Sample::new(day).unwrap()).collect()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn day_means(from: usize) -> Sample {
    sample(&peirce()[from - 1..].iter().map(|d| mean(d.values())).collect::<Vec<f64>>())
}

const FLOW: [f64; 10] = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];

#[test]
fn the_individuals_chart_is_the_handbooks() {
    let limits = IndividualsLimits::from_baseline(&sample(&FLOW), 0.9).unwrap();
    assert_near(limits.centre.value, 50.81, 1e-12);
    assert_near(limits.range_mean, 1.8778, 5e-5);
    // With d₂ exact; the handbook's 1.128 gives 55.8041 and 45.8159.
    assert_near(limits.high, 55.802_412, 1e-6);
    assert_near(limits.low, 45.817_588, 1e-6);
    assert_near(limits.centre.value + 3.0 * limits.range_mean / 1.128, 55.8041, 5e-5);
    assert_near(limits.range_high, 6.1347, 1e-3);
    assert_eq!(limits.signals(&sample(&FLOW)), []);
    assert_eq!(limits.caveats, [Caveat::ShortBaseline { n: 10 }]);
}

#[test]
fn peirces_first_weeks_have_odd_days_and_his_last_have_none() {
    let steady = IndividualsLimits::from_baseline(&day_means(13), 0.9).unwrap();
    assert_near(steady.centre.value, 248.197_571, 1e-6);
    assert_near(steady.range_mean, 8.949_179, 1e-6);
    assert_near(steady.centre.value + 3.0 * steady.range_mean / 1.128, 271.998_579, 2e-6);
    assert_near(steady.centre.value - 3.0 * steady.range_mean / 1.128, 224.396_564, 2e-6);
    // None outside, but day 17 is a jump.
    assert_eq!(steady.signals(&day_means(13)), [Signal { at: 5, rule: Rule::Jump }]);
    let all = day_means(2);
    let limits = IndividualsLimits::from_baseline(&all, 0.9).unwrap();
    assert_near(limits.centre.value, 225.963_896, 1e-6);
    assert_near(limits.range_mean, 13.288_310, 1e-6);
    let odd: Vec<usize> = limits
        .signals(&all)
        .into_iter()
        .filter(|s: &Signal| s.rule == Rule::BeyondLimit)
        .map(|s| s.at + 1)
        .collect();
    assert_eq!(odd, [5, 6, 7, 17]);
}

const EWMA_VALUES: [f64; 20] = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2,
    52.6, 52.4, 53.6, 52.1,
];

#[test]
fn the_ewma_chart_is_the_handbooks() {
    let design = EwmaDesign::given(0.3, 3.0).unwrap();
    let usual = InControl::known(50.0, 2.0539).unwrap();
    let chart = design.chart(usual, &sample(&EWMA_VALUES)).unwrap();
    let wanted = [
        50.60, 49.52, 50.564, 50.1848, 50.15936, 49.211552, 49.748086, 49.853660, 50.257562,
        50.330294, 50.111206, 49.357844, 49.520491, 50.054344, 49.378040, 49.924628, 50.727240,
        51.229068, 51.940348, 51.988243,
    ];
    for (found, wanted) in chart.points.iter().zip(wanted) {
        assert_near(*found, wanted, 5.1e-7);
    }
    assert_near(chart.high, 52.588_432, 1e-6);
    assert_near(chart.low, 47.411_568, 1e-6);
    assert_eq!(chart.drift, Drift::NoneToSee);
    // Limits that follow the average from its start, computed from the same formula apart.
    for (i, wanted) in [(1, 1.84851), (2, 2.256394), (3, 2.431406), (5, 2.551611), (10, 2.587399)] {
        assert_near(2.0539 * design.half_width_sds(i), wanted, 1e-6);
    }
}

#[test]
fn the_cusum_chart_is_the_handbooks() {
    let values = [
        324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
        324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
    ];
    let design = CusumDesign::given(0.3175, 4.1959).unwrap();
    let chart = design.chart(InControl::known(325.0, 1.0).unwrap(), &sample(&values)).unwrap();
    let mut high = [0.0; 20];
    high[4] = 0.0325;
    high[12..].copy_from_slice(&[3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035]);
    let mut low = [0.0; 20];
    (low[1], low[3]) = (0.0075, 0.3325);
    low[6..11].copy_from_slice(&[0.5575, 0.715, 0.1725, 0.255, 0.3125]);
    for i in 0..20 {
        assert_near(chart.upper[i], high[i], 1e-9);
        assert_near(chart.lower[i], low[i], 1e-9);
    }
    assert_eq!(chart.drift, Drift::Seen { direction: Direction::Up, at: 14, began: 13 });
}

#[test]
fn cusum_run_lengths_and_limits_are_those_of_spc() {
    // xcusum.arl(.5, h, shift, sided = "two")
    let shifts = [0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0];
    let four = [167.6838, 74.2240, 26.6302, 13.2851, 8.3831, 4.7472, 3.3428, 2.1945];
    let five = [465.4435, 139.4937, 37.9961, 17.0483, 10.3760, 5.7472, 4.0089, 2.5733];
    for (limit, wanted) in [(4.0, four), (5.0, five)] {
        let design = CusumDesign::given(0.5, limit).unwrap();
        for (shift, wanted) in shifts.into_iter().zip(wanted) {
            assert_near(design.run_length(shift).unwrap(), wanted, 1.01e-4);
            assert_eq!(design.run_length(-shift), design.run_length(shift));
        }
    }
    // xcusum.arl(.5, h, 0) and xcusum.crit(.5, 370, sided = "two")
    let alone = |h| CusumDesign::given(0.5, h).unwrap().one_sided_run_length(0.0).unwrap();
    assert_near(alone(4.0), 335.3676, 1e-4);
    assert_near(alone(5.0), 930.8870, 1e-4);
    let design = CusumDesign::for_run_length(0.5, 370.0).unwrap();
    assert_near(design.limit_sds(), 4.773_834, 1e-6);
}

#[test]
fn ewma_run_lengths_and_limits_are_those_of_spc() {
    // xewma.arl(lambda, L, shift, sided = "two")
    let table = [
        (0.1, 2.814, [499.580, 31.2974, 10.3307, 4.3623]),
        (0.2, 2.962, [499.735, 41.7644, 10.5417, 3.7434]),
        (0.4, 3.054, [499.951, 71.2005, 14.2628, 3.5215]),
        (0.3, 3.0, [465.553, 53.1603, 11.6986, 3.5063]),
    ];
    for (weight, limit, wanted) in table {
        let design = EwmaDesign::given(weight, limit).unwrap();
        for (shift, wanted) in [0.0, 0.5, 1.0, 2.0].into_iter().zip(wanted) {
            let within = if shift == 0.0 { 6e-4 } else { 1e-4 };
            assert_near(design.run_length(shift).unwrap(), wanted, within);
        }
    }
    // xewma.crit(lambda, 370, sided = "two")
    for (weight, wanted) in [(0.2, 2.858_961), (0.1, 2.701_046)] {
        let design = EwmaDesign::for_run_length(weight, 370.0).unwrap();
        assert_near(design.limit_sds(), wanted, 1e-6);
    }
}

/// First signal of a chart fed with normal values `shift` off, up to 4000 points.
fn simulated_run(
    generator: &mut seed::Generator,
    mut step: impl FnMut(f64) -> bool,
    shift: f64,
) -> f64 {
    for i in 1..=4000 {
        let z: f64 = StandardNormal.sample(generator);
        if step(z + shift) {
            return f64::from(i);
        }
    }
    4000.0
}

#[test]
fn simulated_charts_run_as_long_as_computed() {
    let ewma = EwmaDesign::for_run_length(0.2, 200.0).unwrap();
    let half = ewma.limit_sds() * (0.2_f64 / 1.8).sqrt();
    let cusum = CusumDesign::for_run_length(0.5, 200.0).unwrap();
    let mut generator = seed::generator(370);
    for shift in [0.0, 1.0] {
        let runs = 3000;
        let (mut of_ewma, mut of_cusum) = (0.0, 0.0);
        for _ in 0..runs {
            let mut z = 0.0;
            let average = |x: f64| {
                z = 0.2 * x + 0.8 * z;
                f64::abs(z) > half
            };
            of_ewma += simulated_run(&mut generator, average, shift);
            let (mut up, mut down) = (0.0_f64, 0.0_f64);
            let sums = |x: f64| {
                up = (up + x - 0.5).max(0.0);
                down = (down - x - 0.5).max(0.0);
                up.max(down) > cusum.limit_sds()
            };
            of_cusum += simulated_run(&mut generator, sums, shift);
        }
        // A run length's spread is about its mean: four standard errors are 4/√3000 = 7.3 %.
        for (sum, wanted) in [
            (of_ewma, ewma.run_length(shift).unwrap()),
            (of_cusum, cusum.run_length(shift).unwrap()),
        ] {
            let found = sum / f64::from(runs);
            println!("shift {shift}: simulated {found:.2}, computed {wanted:.2}");
            assert_near(found / wanted, 1.0, 0.073);
        }
    }
}

#[test]
fn a_short_baseline_costs_false_alarms_and_a_long_one_few() {
    // Share of CUSUM charts (370) that alarm within 50 steady points.
    let design = CusumDesign::for_run_length(0.5, 370.0).unwrap();
    let mut generator = seed::generator(25);
    let mut alarms = [0; 3];
    for _ in 0..4000 {
        let mut draw = |n: usize| -> Sample {
            sample(&(0..n).map(|_| StandardNormal.sample(&mut generator)).collect::<Vec<f64>>())
        };
        let usual = [
            InControl::known(0.0, 1.0).unwrap(),
            InControl::from_baseline(&draw(25)).unwrap(),
            InControl::from_baseline(&draw(100)).unwrap(),
        ];
        let watched = draw(50);
        for (alarm, usual) in alarms.iter_mut().zip(usual) {
            let chart = design.chart(usual, &watched).unwrap();
            *alarm += i32::from(chart.drift != Drift::NoneToSee);
        }
    }
    println!(
        "of 4000 steady charts alarmed: known {}, 25 {}, 100 {}",
        alarms[0], alarms[1], alarms[2]
    );
    assert!((400..=520).contains(&alarms[0]), "{alarms:?}");
    assert!(alarms[0] < alarms[2] && alarms[2] < alarms[1], "{alarms:?}");
}

#[test]
fn peirces_level_changed_once_after_the_tenth_day() {
    let means = day_means(2);
    let search = ChangeSearch { shortest: 4, ..ChangeSearch::default() };
    let found = search.of_level(&means, &mut seed::generator(1)).unwrap();
    assert_eq!(found.changes().collect::<Vec<_>>(), [(10, Direction::Up)]);
    // strucchange 1.5-3, breakpoints(m ~ 1, h = 4)
    assert_near(found.segments[0].estimate.value, 198.317_249, 1e-6);
    assert_near(found.segments[1].estimate.value, 247.230_548, 1e-6);
    assert_near(bic(&means, &found), 209.2339, 1e-4);
    let whole = Changes { segments: vec![], ..found };
    assert_near(bic(&means, &whole), 227.7665, 1e-4);
}

/// BIC with the stated count of parameters; no segments stand for one.
fn bic(series: &Sample, found: &Changes) -> f64 {
    let values = series.values();
    let ranges: Vec<_> = if found.segments.is_empty() {
        std::iter::once(0..values.len()).collect()
    } else {
        found.segments.iter().map(|s| s.first - 1..s.last).collect()
    };
    let rss: f64 = ranges
        .iter()
        .map(|range| {
            let part = &values[range.clone()];
            part.iter().map(|v| (v - mean(part)).powi(2)).sum::<f64>()
        })
        .sum();
    let n = values.len() as f64;
    let variance = rss / n;
    n * ((2.0 * std::f64::consts::PI * variance).ln() + 1.0) + 2.0 * ranges.len() as f64 * n.ln()
}

#[test]
fn false_changes_come_as_rarely_as_stated_even_with_long_tails() {
    let search = ChangeSearch::default();
    let mut generator = seed::generator(99);
    for n in [20, 60] {
        let (mut levels, mut spreads) = (0, 0);
        for _ in 0..250 {
            let values: Vec<f64> = (0..n)
                .map(|_| {
                    let z: f64 = StandardNormal.sample(&mut generator);
                    let late: f64 = Exp1.sample(&mut generator);
                    0.2 + 0.01 * z + 0.03 * late
                })
                .collect();
            let series = sample(&values);
            let level = search.of_level(&series, &mut generator).unwrap();
            levels += i32::from(level.changes().count() > 0);
            let spread = search.of_spread(&series, &mut generator).unwrap();
            spreads += i32::from(spread.changes().count() > 0);
        }
        println!("n {n}: of 250 steady series {levels} changes of level, {spreads} of spread");
        // 5 % of 250 is 12.5, three standard errors 10.
        assert!((2..=23).contains(&levels), "{levels}");
        assert!((2..=23).contains(&spreads), "{spreads}");
    }
}

#[test]
fn a_change_of_spread_is_no_change_of_level_and_is_dated() {
    let mut generator = seed::generator(4);
    let values: Vec<f64> = (0..120)
        .map(|i| {
            let z: f64 = StandardNormal.sample(&mut generator);
            0.2 + if i < 70 { 0.01 } else { 0.03 } * z
        })
        .collect();
    let search = ChangeSearch::default();
    let series = sample(&values);
    let found = search.of_spread(&series, &mut generator).unwrap();
    let changes: Vec<_> = found.changes().collect();
    assert_eq!(changes.len(), 1);
    assert!((60..=80).contains(&changes[0].0) && changes[0].1 == Direction::Up, "{changes:?}");
    assert_eq!(search.of_level(&series, &mut generator).unwrap().changes().count(), 0);
}

#[test]
fn peirces_learning_curves_are_those_of_r() {
    // R nls on day means 1–24 and day standard deviations: A, B, rate, RSS.
    let of_means = [
        (Shape::Exponential, [225.340299, 250.376964, 2.920377, 20282.09093]),
        (Shape::Power, [225.577386, 250.179803, 5.066611, 20382.6874]),
    ];
    let of_spreads = [
        (Shape::Exponential, [34.924477, 56.532770, 1.239426, 988.2010]),
        (Shape::Power, [33.684083, 57.807822, 1.708396, 913.4294]),
    ];
    let sd = |d: &Sample| {
        let m = mean(d.values());
        let squares: f64 = d.values().iter().map(|v| (v - m).powi(2)).sum();
        (squares / (d.n() as f64 - 1.0)).sqrt()
    };
    let spreads = sample(&peirce().iter().map(sd).collect::<Vec<f64>>());
    for (series, wanted) in [(day_means(1), of_means), (spreads, of_spreads)] {
        let found = learning_curve(&series, 0.9, 0.05, &mut seed::generator(3)).unwrap();
        for (shape, [plateau, gain, rate, rss]) in wanted {
            let fit = found.fits.iter().find(|f| f.shape == shape).unwrap();
            assert_near(fit.plateau / plateau, 1.0, 2e-6);
            assert_near(fit.gain / gain, 1.0, 2e-6);
            assert_near((fit.exponential_rate + fit.power_rate) / rate, 1.0, 2e-5);
            assert_near(fit.rss / rss, 1.0, 1e-7);
        }
        println!("{:?} {} {:?}", found.outcome, found.chance, found.plateau);
    }
    // AIC 237.8556 and 237.9743 there; AICc adds 2·4·5/(24 − 5) for four parameters.
    let found = learning_curve(&day_means(1), 0.9, 0.05, &mut seed::generator(3)).unwrap();
    for (shape, aic) in [(Shape::Exponential, 237.8556), (Shape::Power, 237.9743)] {
        let fit = found.fits.iter().find(|f| f.shape == shape).unwrap();
        assert_near(fit.aicc - 40.0 / 19.0, aic, 1e-4);
    }
}

#[test]
fn a_made_learner_is_seen_with_shape_and_plateau() {
    let mut generator = seed::generator(8);
    let values: Vec<f64> = (0..250)
        .map(|i| {
            let z: f64 = StandardNormal.sample(&mut generator);
            0.2 + 0.2 * (-0.05 * f64::from(i)).exp() + 0.015 * z
        })
        .collect();
    let found = learning_curve(&sample(&values), 0.9, 0.05, &mut generator).unwrap();
    let Learning::Seen { shape, direction, levels_off } = found.outcome else {
        panic!("no learning seen: {found:?}");
    };
    assert_eq!((shape, direction, levels_off), (Shape::Exponential, Direction::Down, true));
    let plateau = found.plateau.unwrap();
    assert!((plateau.low..=plateau.high).contains(&0.2) && plateau.high - plateau.low < 0.02);
}

#[test]
fn peirces_days_are_those_of_lme4() {
    // lmer(rt ~ 1 + (1 | day)): mean, between, within.
    let table = [
        (13, [248.198135, 9.894949, 34.573126]),
        (8, [237.405344, 20.903876, 34.159265]),
        (2, [225.964019, 30.476443, 36.625269]),
    ];
    let all = peirce();
    for (from, [wanted_mean, between, within]) in table {
        let fit = days(&all[from - 1..], 0.9).unwrap();
        assert_near(fit.mean.value, wanted_mean, 2e-6);
        assert_near(fit.between.value, between, 2e-5);
        assert_near(fit.within.value, within, 2e-6);
        assert_eq!(fit.outcome, DayToDay::Seen);
        assert!(fit.between.low < between && between < fit.between.high);
    }
    let fit = days(&all[12..], 0.9).unwrap();
    assert_near(fit.f, 41.99903, 5e-6);
    // Wald's limits, by scipy 1.17.1's F and Brent's method: 7.323243 and 15.454320.
    assert_near(fit.between.low, 7.323_243, 2e-5);
    assert_near(fit.between.high, 15.454_320, 2e-5);
    // Standard error 2.891222; Student's factor on 11 degrees of freedom 1.795885 (tables: 1.796).
    assert_near((fit.mean.high - fit.mean.value) / 1.795_885, 2.891_222, 2e-5);
    let drawn_in = [
        244.61901, 236.96624, 236.32127, 233.51262, 265.07874, 252.89231, 258.49655, 255.18364,
        245.09149, 255.40290, 251.33671, 243.47615,
    ];
    for (found, wanted) in fit.per_day.iter().zip(drawn_in) {
        assert_near(found.value, wanted, 2e-5);
    }
}

#[test]
fn the_slope_on_holds_is_nists_line() {
    // NIST StRD Norris: certified slope 1.00211681802045.
    let pairs = [
        (0.1, 0.2),
        (338.8, 337.4),
        (118.1, 118.2),
        (888.0, 884.6),
        (9.2, 10.1),
        (228.1, 226.5),
        (668.5, 666.3),
        (998.5, 996.3),
        (449.1, 448.6),
        (778.9, 777.0),
        (559.2, 558.2),
        (0.3, 0.4),
        (0.1, 0.6),
        (778.1, 775.5),
        (668.8, 666.9),
        (339.3, 338.0),
        (448.9, 447.5),
        (10.8, 11.6),
        (557.7, 556.0),
        (228.3, 228.1),
        (998.0, 995.8),
        (888.8, 887.6),
        (119.6, 120.2),
        (0.3, 0.3),
        (0.6, 0.3),
        (557.6, 556.8),
        (339.3, 339.1),
        (888.0, 887.2),
        (998.5, 999.0),
        (778.9, 779.0),
        (10.2, 11.1),
        (117.6, 118.3),
        (228.9, 229.2),
        (668.4, 669.1),
        (449.2, 448.9),
        (0.2, 0.5),
    ];
    let parts: Vec<f64> = pairs.iter().map(|p| p.0).collect();
    let holds: Vec<f64> = pairs.iter().map(|p| p.1).collect();
    let session = HeldSession::new(sample(&holds), sample(&parts)).unwrap();
    let found = hold_slope(&[session], 0.9).unwrap();
    assert_near(found.slope.value, 1.002_116_818_020_45, 1e-13);
    // statsmodels 0.15.0, OLS with cov_type="HC3": 90 % by Student's factor on 34 degrees of freedom.
    assert_near(found.slope.low, 1.001_232_219_82, 1e-10);
    assert_near(found.slope.high, 1.003_001_416_22, 1e-10);
    assert_eq!(found.outcome, HoldEffect::LaterAfterLongHolds);
}
