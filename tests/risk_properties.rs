//! What must hold of the risk for any launches.

use lastamber::stats::Sample;
use lastamber::stats::risk::{Pool, RedLine, RiskDraws, Settings, count_interval};
use proptest::prelude::*;

fn pool(x: Vec<f64>) -> Pool {
    Pool::new(Sample::new(x).unwrap())
}

fn settings() -> Settings {
    Settings { draws: 200, serial_correction: false, ..Settings::new(5) }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// Times to the tenth of a millisecond, as people write them.
    #[test]
    fn seconds_and_milliseconds_give_the_same_risk(
        tenths in prop::collection::vec(-500i32..4000, 10..40),
        at in -100i32..2000,
    ) {
        let ms: Vec<f64> = tenths.iter().map(|t| f64::from(*t) / 10.0).collect();
        let from_ms = pool(ms.iter().map(|x| x / 1000.0).collect());
        let from_s = pool(tenths.iter().map(|t| format!("{}e-4", t).parse().unwrap()).collect());
        let answer = |pool: &Pool, line: f64| {
            let draws = RiskDraws::this_form(pool, &settings()).unwrap();
            draws.risk(&RedLine::at(line).unwrap(), 0.0, 0.9).unwrap()
        };
        let a = answer(&from_ms, f64::from(at) / 10.0 / 1000.0);
        let b = answer(&from_s, f64::from(at) * 1e-4);
        prop_assert_eq!(a.reds, b.reds);
        prop_assert!((a.estimate.value - b.estimate.value).abs() < 1e-9);
        prop_assert!((a.estimate.low - b.estimate.low).abs() < 1e-9);
        prop_assert!((a.estimate.high - b.estimate.high).abs() < 1e-9);
    }

    #[test]
    fn the_order_of_the_launches_does_not_matter(
        x in prop::collection::vec(0.0..0.4f64, 10..40),
        turn in 1usize..9,
    ) {
        let mut turned = x.clone();
        turned.rotate_left(turn);
        turned.swap(0, 5);
        let answer = |x: Vec<f64>| {
            let draws = RiskDraws::this_form(&pool(x), &settings()).unwrap();
            draws.curve(&RedLine::at(0.15).unwrap(), &[0.0, 0.02], 0.9).unwrap()
        };
        prop_assert_eq!(answer(x), answer(turned));
    }

    /// Moving launches and line together, by whole nanoseconds, changes no count.
    #[test]
    fn counts_move_and_stretch_with_the_launches(
        ms in prop::collection::vec(-100i32..400, 1..60),
        at in -50i32..200,
        shift in -1000i32..1000,
        scale in 1i32..5,
    ) {
        let counted = |map: &dyn Fn(i32) -> i32| {
            let x = ms.iter().map(|v| f64::from(map(*v)) / 1000.0).collect();
            let line = RedLine::at(f64::from(map(at)) / 1000.0).unwrap();
            pool(x).counts(&line, 0.0, 0.9).unwrap()
        };
        let plain = counted(&|v| v);
        prop_assert_eq!(&plain, &counted(&|v| v + shift));
        prop_assert_eq!(&plain, &counted(&|v| v * scale));
    }

    #[test]
    fn an_exact_interval_holds_its_share_and_widens_with_the_level(
        n in 1usize..2000,
        share in 0.0..1.0f64,
        level in 0.5..0.98f64,
    ) {
        let k = (share * n as f64) as usize;
        let narrow = count_interval(k, n, level).unwrap();
        let wide = count_interval(k, n, level + 0.015).unwrap();
        prop_assert!(narrow.low <= narrow.value && narrow.value <= narrow.high);
        prop_assert!(wide.low <= narrow.low && narrow.high <= wide.high);
    }
}
