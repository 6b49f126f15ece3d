//! Speed of the risk: the posterior with an interval, a curve on draws there are,
//! one part or two.
//!
//! Measured on one of two shared cores of a virtual machine at load 5, the least and the median of the
//! runs: with interval n = 50 2.9 and 7.4 ms, n = 300 6.3 and 18.6 ms; a curve of 100 aims 1.2 and
//! 3.4 ms, with another day and a doubtful car 4.0 and 7.1 ms; two parts of 300 launches 4.8 and
//! 5.7 ms, with the decision 275 and 319 ms.

use criterion::{Criterion, criterion_group, criterion_main};
use lastamber::seed::generator;
use lastamber::stats::Sample;
use lastamber::stats::family::Family;
use lastamber::stats::fit::fit;
use lastamber::stats::mixture::decide;
use lastamber::stats::risk::{CarPart, Pool, RedLine, RiskDraws, Settings};
use rand_distr::{Distribution, Exp1, StandardNormal};
use std::hint::black_box;

fn pool(n: usize) -> Pool {
    let mut rng = generator(7);
    let mut draw = || -> f64 {
        let (z, e): (f64, f64) = (StandardNormal.sample(&mut rng), Exp1.sample(&mut rng));
        0.19 + 0.02 * z + 0.03 * e
    };
    let x = (0..n).map(|_| draw()).collect();
    let days = (0..n).map(|i| i as u32 / 10).collect();
    Pool::new(Sample::new(x).unwrap()).with_days(days).unwrap()
}

fn risk(c: &mut Criterion) {
    let settings = Settings::new(1);
    let line = RedLine::at(0.17).unwrap();
    for n in [10, 50, 300] {
        let pool = pool(n);
        c.bench_function(&format!("risk with interval, n = {n}"), |b| {
            b.iter(|| {
                let draws = RiskDraws::this_form(black_box(&pool), &settings).unwrap();
                draws.risk(&line, 0.0, 0.90).unwrap()
            });
        });
    }
    let pool = pool(300);
    let aims: Vec<f64> = (0..100).map(|i| -0.025 + 0.0005 * f64::from(i)).collect();
    let draws = RiskDraws::this_form(&pool, &settings).unwrap();
    c.bench_function("curve of 100 aims, this form", |b| {
        b.iter(|| draws.curve(black_box(&line), &aims, 0.90).unwrap());
    });
    let draws = RiskDraws::next_session(&pool, &settings).unwrap();
    let car = CarPart { mean_s: 0.23, doubt_sd_s: 0.01, run_sd_s: 0.005 };
    let line = RedLine::of_car(car, 0.4).unwrap();
    c.bench_function("curve of 100 aims, next session, doubtful car", |b| {
        b.iter(|| draws.curve(black_box(&line), &aims, 0.90).unwrap());
    });
}

fn mixture(c: &mut Criterion) {
    let mut rng = generator(8);
    let x = (0..300).map(|i| {
        let (z, e): (f64, f64) = (StandardNormal.sample(&mut rng), Exp1.sample(&mut rng));
        if i % 3 == 0 { 0.14 + 0.018 * z + 0.028 * e } else { 0.035 + 0.022 * z }
    });
    let sample = Sample::new(x.collect()).unwrap();
    let mut group = c.benchmark_group("mixture, n = 300");
    group.sample_size(10);
    group.bench_function("fit", |b| {
        b.iter(|| fit(Family::AnticipateReact, black_box(&sample)).unwrap())
    });
    group.bench_function("decision, 99 samples", |b| {
        b.iter(|| decide(black_box(&sample), 99, 1).unwrap());
    });
}

criterion_group!(benches, risk, mixture);
criterion_main!(benches);
