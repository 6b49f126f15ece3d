//! What must hold for every sample: fits follow changes of unit, origin and order, tails add up,
//! quantiles grow.

use lastamber::seed::generator;
use lastamber::stats::Sample;
use lastamber::stats::family::{
    AnticipateReact, Distribution, ExGaussian, Family, Model, Normal, ShiftedLognormal, ShiftedWald,
};
use lastamber::stats::fit::{Status, fit};
use lastamber::stats::summary::Summary;
use proptest::prelude::*;

/// Values drawn from an ex-Gaussian whose skew varies.
fn drawn(seed: u64, n: usize, tau: f64) -> Vec<f64> {
    let law = ExGaussian::new(0.19, 0.02, tau).unwrap();
    let mut random = generator(seed);
    (0..n).map(|_| law.sample(&mut random)).collect()
}

fn any_law() -> impl Strategy<Value = Model> {
    let small = 0.001..0.3f64;
    prop_oneof![
        (-0.3..0.3f64, small.clone()).prop_map(|(m, s)| Model::Normal(Normal::new(m, s).unwrap())),
        (-0.3..0.3f64, small.clone(), small.clone())
            .prop_map(|(m, s, t)| Model::ExGaussian(ExGaussian::new(m, s, t).unwrap())),
        (-0.3..0.3f64, -4.0..0.0f64, 0.05..1.5f64).prop_map(|(a, m, s)| {
            Model::ShiftedLognormal(ShiftedLognormal::new(a, m, s).unwrap())
        }),
        (-0.3..0.3f64, small.clone(), small.clone())
            .prop_map(|(a, m, l)| Model::ShiftedWald(ShiftedWald::new(a, m, l).unwrap())),
        (0.02..0.98f64, -0.1..0.1f64, small.clone(), 0.0..0.3f64, small.clone(), small).prop_map(
            |(w, m, d, mu, s, t)| {
                let parts = (Normal::new(m, d).unwrap(), ExGaussian::new(mu, s, t).unwrap());
                Model::AnticipateReact(AnticipateReact::new(w, parts.0, parts.1).unwrap())
            }
        ),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, rng_seed: proptest::test_runner::RngSeed::Fixed(7), ..ProptestConfig::default() })]

    #[test]
    fn fits_follow_unit_and_origin(
        seed in 0u64..10_000,
        n in 12usize..120,
        tau in 0.001..0.08f64,
        factor in prop::sample::select(vec![1e-3, 0.37, 1000.0]),
        shift in -0.5..0.5f64,
    ) {
        let values = drawn(seed, n, tau);
        let moved: Vec<f64> = values.iter().map(|x| factor * (x + shift)).collect();
        let (sample, moved) = (Sample::new(values).unwrap(), Sample::new(moved).unwrap());
        for family in Family::ALL {
            let (here, there) = (fit(family, &sample).unwrap(), fit(family, &moved).unwrap());
            prop_assert_eq!(here.status, there.status, "{}", family);
            let (Some(a), Some(b)) = (here.log_likelihood, there.log_likelihood) else { continue };
            let want = a - n as f64 * f64::ln(factor);
            prop_assert!((b - want).abs() < 1e-7, "{family}: {b} is not {want}");
            // The laws themselves, since single parameters may be ill-determined.
            let (a, b) = (here.model.unwrap(), there.model.unwrap());
            for p in [0.02, 0.5, 0.98] {
                let want = factor * (a.quantile(p).unwrap() + shift);
                let got = b.quantile(p).unwrap();
                prop_assert!((got - want).abs() < 1e-5 * factor * a.sd(), "{family} {p}: {got} {want}");
            }
        }
    }

    #[test]
    fn the_order_of_values_does_not_matter_to_a_fit(seed in 0u64..10_000, n in 12usize..120) {
        let values = drawn(seed, n, 0.03);
        let reversed: Vec<f64> = values.iter().rev().copied().collect();
        let (sample, reversed) = (Sample::new(values).unwrap(), Sample::new(reversed).unwrap());
        for family in Family::ALL {
            let (a, b) = (fit(family, &sample).unwrap(), fit(family, &reversed).unwrap());
            prop_assert_eq!(a.status, b.status);
            if let (Some(a), Some(b)) = (a.log_likelihood, b.log_likelihood) {
                prop_assert!((a - b).abs() < 1e-8);
            }
        }
    }

    #[test]
    fn no_neighbour_of_an_interior_fit_is_likelier(seed in 0u64..10_000, n in 12usize..80) {
        let sample = Sample::new(drawn(seed, n, 0.03)).unwrap();
        let fitted = fit(Family::ExGaussian, &sample).unwrap();
        prop_assume!(fitted.status == Status::Interior);
        let p: Vec<f64> = fitted.parameters.iter().map(|p| p.unwrap()).collect();
        let top = fitted.log_likelihood.unwrap();
        for (i, step) in [(0, 1e-4), (0, -1e-4), (1, 0.02), (1, -0.02), (2, 0.02), (2, -0.02)] {
            let mut q = p.clone();
            q[i] = if i == 0 { q[i] + step } else { q[i] * (1.0 + step) };
            let law = ExGaussian::new(q[0], q[1], q[2]).unwrap();
            let height: f64 = sample.values().iter().map(|x| law.ln_pdf(*x)).sum();
            prop_assert!(height <= top + 1e-9);
        }
    }

    #[test]
    fn tails_add_up_and_quantiles_grow(law in any_law(), p in 1e-9..0.999_999f64, x in -1.0..2.0f64) {
        prop_assert!((law.cdf(x) + law.sf(x) - 1.0).abs() < 1e-13);
        let (low, high) = (law.quantile(p * 0.99).unwrap(), law.quantile(p).unwrap());
        prop_assert!(low < high);
        prop_assert!((law.cdf(high) / p - 1.0).abs() < 1e-7, "{:?} {} {}", law, p, law.cdf(high));
    }

    #[test]
    fn a_summary_follows_unit_and_origin(seed in 0u64..10_000, n in 3usize..60, shift in -1.0..1.0f64) {
        let values = drawn(seed, n, 0.03);
        let moved: Vec<f64> = values.iter().map(|x| 1000.0 * (x + shift)).collect();
        let a = Summary::new(&Sample::new(values).unwrap(), 0.9).unwrap();
        let b = Summary::new(&Sample::new(moved).unwrap(), 0.9).unwrap();
        for (a, b) in [(a.mean, b.mean), (a.median, b.median)] {
            for (a, b) in [(a.value, b.value), (a.low, b.low), (a.high, b.high)] {
                prop_assert!((1000.0 * (a + shift) - b).abs() < 1e-9);
            }
        }
        prop_assert!((1000.0 * a.sd.high - b.sd.high).abs() < 1e-9 * b.sd.high);
        prop_assert!((1000.0 * a.mad - b.mad).abs() < 1e-9 && (a.lag_1 - b.lag_1).abs() < 1e-9);
    }
}
