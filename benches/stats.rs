//! Speed of the fits on one core: an ex-Gaussian driver (mu 190 ms, sigma 20 ms, tau 35 ms) with
//! 1 000, 10 000 and 100 000 times.
//!
//! `LASTAMBER_SAMPLES=DIR` fits the samples `exgauss_N.txt` in that folder (one value a line)
//! instead, to compare with another program on the same numbers, and prints what it finds.
//!
//! Measured on one of two shared cores of a virtual machine at load 5, ex-Gaussian, beside
//! `scipy.stats.exponnorm.fit` (SciPy 1.17.1, one thread) on the same numbers in the same sitting;
//! the least and the median of the runs:
//!
//! | n | here | SciPy | −ln L here | −ln L SciPy |
//! |---|---|---|---|---|
//! | 1 000 | 0.059, 0.117 ms | 6.97, 7.00 ms | −1903.501248 | −1903.501248 |
//! | 10 000 | 0.50, 1.20 ms | 35, 43 ms | −19035.636921 | −19035.636920 |
//! | 100 000 | 5.3, 11.2 ms | 761, 999 ms | −189759.760758 | −189759.760746 |
//!
//! At 100 000 times the other laws took 0.6 ms (normal), 22 ms (shifted lognormal) and 7.3 ms
//! (shifted Wald).

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use lastamber::seed::generator;
use lastamber::stats::Sample;
use lastamber::stats::family::{Distribution, ExGaussian, Family};
use lastamber::stats::fit::fit;
use std::hint::black_box;

fn sample(n: usize) -> Sample {
    if let Ok(folder) = std::env::var("LASTAMBER_SAMPLES") {
        let text = std::fs::read_to_string(format!("{folder}/exgauss_{n}.txt"))
            .expect("the folder holds a sample of this size");
        let values = text.lines().map(|line| line.parse().expect("a number a line")).collect();
        return Sample::new(values).expect("the samples are finite");
    }
    let law = ExGaussian::new(0.19, 0.02, 0.035).expect("the parameters are in the domain");
    let mut random = generator(12_345 + n as u64);
    Sample::new((0..n).map(|_| law.sample(&mut random)).collect()).expect("samples are finite")
}

fn fits(c: &mut Criterion) {
    for family in Family::ALL {
        let mut group = c.benchmark_group(format!("fit {family}"));
        group.sample_size(20);
        for n in [1_000, 10_000, 100_000] {
            let sample = sample(n);
            let found = fit(family, &sample).expect("the sample can be fitted");
            println!("{family} {n}: {:?} {:?}", found.log_likelihood, found.parameters);
            group.bench_with_input(BenchmarkId::from_parameter(n), &sample, |b, sample| {
                b.iter(|| fit(family, black_box(sample)));
            });
        }
        group.finish();
    }
}

criterion_group!(benches, fits);
criterion_main!(benches);
