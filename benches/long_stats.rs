//! What each statistic takes on 100,000 launches in 780 sessions, off the frames. The bar is 200 ms each;
//! the table with what misses it and why is in DEVELOPERS.md.

use criterion::{Criterion, criterion_group, criterion_main};
use lastamber::seed::generator;
use lastamber::stats::family::Family;
use lastamber::stats::fit::fit;
use lastamber::stats::held::Held;
use lastamber::stats::mixture::decide;
use lastamber::stats::over_time::days::days;
use lastamber::stats::over_time::in_control::InControl;
use lastamber::stats::over_time::sessions::SessionTrend;
use lastamber::stats::over_time::spread::spread;
use lastamber::stats::over_time::within_session::{COLD_LAUNCHES, within_session};
use lastamber::stats::risk::{CarPart, Pool, RedLine, RiskDraws, Settings};
use lastamber::stats::summary::{Summary, quantile_with_interval};
use lastamber::stats::{Sample, over_time};
use rand_distr::{Distribution, Exp1, StandardNormal};
use std::hint::black_box;

const LAUNCHES: usize = 100_000;
const SESSIONS: usize = 780;
const LEVEL: f64 = 0.90;

/// Driver parts of one who is a little faster every session, s.
fn launches() -> Vec<f64> {
    let mut rng = generator(3);
    let one = |i: usize| {
        let (z, e): (f64, f64) = (StandardNormal.sample(&mut rng), Exp1.sample(&mut rng));
        0.19 + 0.02 * z + 0.03 * e + 0.02 * (-(i as f64) / 20_000.0).exp()
    };
    (0..LAUNCHES).map(one).collect()
}

fn sessions(x: &[f64]) -> Vec<Sample> {
    let sessions = x.chunks(LAUNCHES.div_ceil(SESSIONS));
    sessions.map(|s| Sample::new(s.to_vec()).unwrap()).collect()
}

fn one_sample(c: &mut Criterion) {
    let sample = Sample::new(launches()).unwrap();
    let mut group = c.benchmark_group("100000 launches");
    group.sample_size(10);
    group.bench_function("summary", |b| b.iter(|| Summary::new(black_box(&sample), LEVEL)));
    group.bench_function("a quantile with its interval", |b| {
        b.iter(|| quantile_with_interval(black_box(&sample), 0.05, LEVEL));
    });
    group.bench_function("spread from launch to launch", |b| {
        b.iter(|| spread(black_box(&sample), LEVEL));
    });
    group
        .bench_function("held against an aim", |b| b.iter(|| Held::new(black_box(&sample), LEVEL)));
    for family in Family::ALL {
        group.bench_function(format!("fit {family}"), |b| {
            b.iter(|| fit(family, black_box(&sample)));
        });
    }
    group.bench_function("one part or two, 99 samples", |b| {
        b.iter(|| decide(black_box(&sample), 99, 1));
    });
    // Where there are two, all samples are drawn.
    let early = |i: usize| if i.is_multiple_of(3) { 0.09 } else { 0.0 };
    let two = launches().into_iter().enumerate().map(|(i, x)| x - early(i)).collect();
    let two = Sample::new(two).unwrap();
    group.bench_function("one part or two, where there are two", |b| {
        b.iter(|| decide(black_box(&two), 99, 1));
    });
    group.finish();
}

fn pool(c: &mut Criterion) {
    let x = launches();
    let day = (0..LAUNCHES).map(|i| (i * SESSIONS / LAUNCHES) as u32).collect::<Vec<_>>();
    let make = || {
        let pool = Pool::new(Sample::new(x.clone()).unwrap());
        pool.with_days(day.clone()).unwrap().with_unmeasured(40, 12)
    };
    let (pool, settings) = (make(), Settings::new(1));
    let car = CarPart { mean_s: 0.23, doubt_sd_s: 0.01, run_sd_s: 0.005 };
    let line = RedLine::of_car(car, 0.4).unwrap();
    let aims: Vec<f64> = (0..100).map(|i| -0.025 + 0.0005 * f64::from(i)).collect();
    let mut group = c.benchmark_group("a pool of 100000");
    group.sample_size(10);
    group.bench_function("put together", |b| b.iter(make));
    group.bench_function("reds counted", |b| b.iter(|| pool.counts(&line, 0.0, LEVEL)));
    group.bench_function("risk, this form", |b| {
        b.iter(|| RiskDraws::this_form(&pool, &settings).unwrap().risk(&line, 0.0, LEVEL));
    });
    group.bench_function("risk, next session", |b| {
        b.iter(|| RiskDraws::next_session(&pool, &settings).unwrap().risk(&line, 0.0, LEVEL));
    });
    let draws = RiskDraws::this_form(&pool, &settings).unwrap();
    group.bench_function("curve of 100 aims", |b| b.iter(|| draws.curve(&line, &aims, LEVEL)));
    group.finish();
}

fn weeks(c: &mut Criterion) {
    let x = launches();
    let of_sessions = sessions(&x);
    let sample = Sample::new(x).unwrap();
    let mut group = c.benchmark_group("100000 launches in 780 sessions");
    group.sample_size(10);
    group.bench_function("days that differ", |b| b.iter(|| days(black_box(&of_sessions), LEVEL)));
    group.bench_function("trend of level", |b| {
        b.iter(|| SessionTrend::of_level(&of_sessions, LEVEL, &mut generator(1)));
    });
    group.bench_function("trend of spread", |b| {
        b.iter(|| SessionTrend::of_spread(&of_sessions, LEVEL, &mut generator(1)));
    });
    group.bench_function("what a session does", |b| {
        b.iter(|| within_session(black_box(&of_sessions), COLD_LAUNCHES, LEVEL));
    });
    let medians: Vec<f64> =
        of_sessions.iter().map(|s| quantile_with_interval(s, 0.5, LEVEL).unwrap().value).collect();
    let medians = Sample::new(medians).unwrap();
    group.bench_function("learning curve of 780 medians", |b| {
        b.iter(|| over_time::learning::learning_curve(&medians, LEVEL, 0.05, &mut generator(1)));
    });
    let usual = InControl::from_baseline(&medians).unwrap();
    let ewma = over_time::ewma::EwmaDesign::for_run_length(0.2, 370.0).unwrap();
    group.bench_function("EWMA chart", |b| b.iter(|| ewma.chart(usual, black_box(&sample))));
    let cusum = over_time::cusum::CusumDesign::for_run_length(0.5, 370.0).unwrap();
    group.bench_function("CUSUM chart", |b| b.iter(|| cusum.chart(usual, black_box(&sample))));
    group.finish();
}

criterion_group!(benches, one_sample, pool, weeks);
criterion_main!(benches);
