//! The risk against numbers computed independently, and its promises as properties.

use lastamber::stats::family::{Distribution, ExGaussian, Normal};
use lastamber::stats::risk::{
    CarPart, DriverDraw, HomeToTrack, Pool, RedLine, RiskDraws, Settings,
};
use lastamber::stats::{Caveat, Sample, StatsError};

fn twenty() -> Vec<f64> {
    let text = include_str!("data/rt20_example.csv");
    text.lines().map(|line| line.trim().parse::<f64>().unwrap() / 1000.0).collect()
}

fn pool(seconds: Vec<f64>) -> Pool {
    Pool::new(Sample::new(seconds).unwrap())
}

fn line(ms: f64) -> RedLine {
    RedLine::at(ms / 1000.0).unwrap()
}

/// Dense four-dimensional quadrature (two grids agree to 5·10⁻⁵) of the posterior of the 20 numbers
/// with the priors centred on 150 ms; then the pull towards the counts with 50 launches and half a
/// count, by 10⁶ exact beta draws (numpy 2.4.6, scipy 1.17.1).
#[test]
fn twenty_numbers_have_the_posterior_of_quadrature() {
    let settings = Settings {
        draws: 20_000,
        either_tail: false,
        prior_centre_s: Some(0.150),
        concentration: 50.0,
        spare_launch: Some(0.5),
        ..Settings::new(1)
    };
    let draws = RiskDraws::this_form(&pool(twenty()), &settings).unwrap();
    let mean = |f: &dyn Fn(&lastamber::stats::risk::DriverDraw) -> f64| {
        draws.draws().map(|d| f(&d)).sum::<f64>() / 20_000.0
    };
    println!("effective {}", draws.effective_draws());
    let close = |got: f64, want: f64, relative: f64, what: &str| {
        println!("{what}: {got} {want} {}", got / want - 1.0);
        assert!((got / want - 1.0).abs() < relative, "{what}: {got} for {want}");
    };
    close(mean(&|d| 1000.0 * d.mu_s), 32.1274, 0.02, "mu");
    close(mean(&|d| (1000.0 * d.sigma_s).ln()), 2.75197, 0.02, "ln sigma");
    close(mean(&|d| (1000.0 * d.tau_s).ln()), 2.35110, 0.02, "ln tau");
    close(mean(&|d| d.wide_share), 0.027_675, 0.02, "wide");
    // Line, reds, posterior mean of the model, then 5 %, 95 % and value of the hybrid.
    let rows = [
        (0.0, 0, 0.018_388, 0.0000, 0.0623, 0.013_13),
        (10.0, 0, 0.046_577, 0.0006, 0.1075, 0.033_27),
        (20.0, 3, 0.116_735, 0.0478, 0.2379, 0.126_24),
    ];
    for (at, reds, model, low, high, value) in rows {
        let risk = draws.risk(&line(at), 0.0, 0.90).unwrap();
        assert_eq!(risk.reds, reds);
        let e = risk.estimate;
        close((e.value * 70.0 - reds as f64) / 50.0, model, 0.02, "model");
        close(e.value, value, 0.02, "value");
        close(e.high, high, 0.05, "high");
        assert!((e.low - low).abs() < 0.05 * low + 0.0001, "low {} for {low}", e.low);
    }
}

#[test]
fn the_same_seed_gives_the_same_bits_and_another_seed_others() {
    let answer = |seed| {
        let draws = RiskDraws::this_form(&pool(twenty()), &Settings::new(seed)).unwrap();
        draws.risk(&line(5.0), 0.002, 0.9).unwrap()
    };
    assert_eq!(answer(7), answer(7));
    assert_ne!(answer(7), answer(8));
    let (a, b) = (answer(7).estimate, answer(8).estimate);
    // Two seeds differ by Monte-Carlo error alone.
    assert!((a.value / b.value - 1.0).abs() < 0.1 && (a.high / b.high - 1.0).abs() < 0.15);
}

#[test]
fn a_curve_is_the_risks_at_its_aims_and_rises() {
    let draws = RiskDraws::this_form(&pool(twenty()), &Settings::new(3)).unwrap();
    let earlier: Vec<f64> = (0..60).map(|i| f64::from(i) * 0.001 - 0.020).collect();
    let curve = draws.curve(&line(0.0), &earlier, 0.9).unwrap();
    for (e, at) in curve.iter().zip(&earlier) {
        assert_eq!(*e, draws.risk(&line(0.0), *at, 0.9).unwrap().estimate);
        assert!(0.0 <= e.low && e.low <= e.value && e.value <= e.high && e.high <= 1.0);
    }
    for w in curve.windows(2) {
        assert!(w[0].value <= w[1].value);
    }
}

#[test]
fn a_higher_level_is_a_wider_interval() {
    let draws = RiskDraws::this_form(&pool(twenty()), &Settings::new(3)).unwrap();
    let at = |level| draws.risk(&line(20.0), 0.0, level).unwrap().estimate;
    let (a, b, c) = (at(0.5), at(0.8), at(0.95));
    assert!(c.low < b.low && b.low < a.low && a.high < b.high && b.high < c.high);
}

/// Without a model the limits are those of Clopper & Pearson (1934), whatever the posterior.
#[test]
fn counts_alone_have_their_exact_interval() {
    let settings = Settings { draws: 20_000, concentration: 0.0, ..Settings::new(2) };
    let draws = RiskDraws::this_form(&pool(twenty()), &settings).unwrap();
    for at in [13.0, 20.0, 41.0, 75.0] {
        let risk = draws.risk(&line(at), 0.0, 0.90).unwrap();
        let (e, counts) = (risk.estimate, risk.counts);
        assert!((e.value - counts.value).abs() < 1e-9, "{risk:?}");
        assert!((e.low / counts.low - 1.0).abs() < 0.04, "{risk:?}");
        assert!((e.high / counts.high - 1.0).abs() < 0.04, "{risk:?}");
    }
}

/// With few launches a limit has a third of a launch to spare, with many a whole one.
#[test]
fn no_clean_practice_rules_out_more_than_its_count_can() {
    let spread = |n: usize| (0..n).map(|i| 0.2 + 0.0002 * ((i * 37) % 101) as f64).collect();
    let high = |n: usize| {
        let draws = RiskDraws::this_form(&pool(spread(n)), &Settings::new(3)).unwrap();
        let risk = draws.risk(&line(-2000.0), 0.0, 0.90).unwrap();
        assert_eq!(risk.reds, 0);
        (risk.estimate.high, risk.counts.high)
    };
    let (few, many) = (high(20), high(2000));
    // With 20 launches the model speaks and knows better than 20 launches can.
    assert!(few.0 < 0.5 * few.1, "{few:?}");
    assert!(many.0 > 0.85 * many.1, "{many:?}");
}

#[test]
fn doubt_about_the_car_widens_and_scatter_moves_the_risk() {
    let draws = RiskDraws::this_form(&pool(twenty()), &Settings::new(3)).unwrap();
    let with = |doubt_sd_s, run_sd_s| {
        let car = CarPart { mean_s: 0.49, doubt_sd_s, run_sd_s };
        draws.risk(&RedLine::of_car(car, 0.5).unwrap(), 0.0, 0.9).unwrap().estimate
    };
    let width = |e: lastamber::stats::Estimate| e.high - e.low;
    let (known, doubtful, scattered) = (with(0.0, 0.0), with(0.02, 0.0), with(0.0, 0.02));
    assert!(width(doubtful) > 1.5 * width(known), "{known:?} {doubtful:?}");
    // In the left tail more scatter is more risk: about Φ(−34/√(19² + 20²)) instead of Φ(−34/19).
    assert!(scattered.value > 1.5 * known.value, "{known:?} {scattered:?}");
}

#[test]
fn another_day_and_the_track_are_wider_than_this_form_and_say_what_they_assume() {
    let one_day = pool(twenty());
    let now = RiskDraws::this_form(&one_day, &Settings::new(3)).unwrap();
    let next = RiskDraws::next_session(&one_day, &Settings::new(3)).unwrap();
    let track = next.clone().at_the_track(&HomeToTrack::prior(0.0).unwrap(), 3);
    let width = |draws: &RiskDraws| {
        let e = draws.risk(&line(10.0), 0.0, 0.9).unwrap().estimate;
        e.high - e.low
    };
    assert!(now.caveats().is_empty());
    assert_eq!(next.caveats(), [Caveat::DaySpreadAssumed { days: 1 }]);
    assert!(track.caveats().contains(&Caveat::TrackUnknown));
    assert!(width(&next) > 1.2 * width(&now));
    assert!(width(&track) > 2.0 * width(&next));
    let slips = Sample::new(vec![0.05; 30]).unwrap();
    let known = HomeToTrack::from_slips(&slips, 0.02, 0.003, 0.0).unwrap();
    let told = next.clone().at_the_track(&known, 3);
    // Launches 50 ms later at the track are hardly ever red.
    assert!(told.risk(&line(10.0), 0.0, 0.9).unwrap().estimate.value < 0.02);
    assert!(!told.caveats().contains(&Caveat::TrackUnknown));
}

#[test]
fn leaving_before_the_tree_is_red_and_a_lapse_is_late() {
    let plain = pool(twenty());
    let risk = |pool: &Pool| {
        let draws = RiskDraws::this_form(pool, &Settings::new(3)).unwrap();
        draws.risk(&line(0.0), 0.0, 0.9).unwrap()
    };
    let (none, left, lapsed) = (
        risk(&plain),
        risk(&plain.clone().with_unmeasured(5, 0)),
        risk(&plain.clone().with_unmeasured(0, 20)),
    );
    assert_eq!((none.reds, left.reds, lapsed.reds), (0, 5, 0));
    assert!((left.estimate.value - 0.2).abs() < 0.05, "{:?}", left.estimate);
    assert!(lapsed.estimate.value < 0.75 * none.estimate.value);
    assert_eq!(plain.clone().with_unmeasured(5, 20).counts(&line(0.0), 0.0, 0.9).unwrap().0, 5);
}

#[test]
fn launches_that_follow_each_other_count_for_less() {
    let slow: Vec<f64> = (0..80).map(|i| 0.2 + 0.03 * (f64::from(i) / 6.0).sin()).collect();
    let at = RedLine::at(0.18).unwrap();
    let width = |serial_correction| {
        let settings = Settings { serial_correction, ..Settings::new(3) };
        let draws = RiskDraws::this_form(&pool(slow.clone()), &settings).unwrap();
        let e = draws.risk(&at, 0.0, 0.9).unwrap().estimate;
        (e.high - e.low, draws.caveats().len())
    };
    let ((corrected, caveats), (plain, none)) = (width(true), width(false));
    assert!(corrected > 1.3 * plain, "{corrected} {plain}");
    assert_eq!((caveats, none), (1, 0));
}

#[test]
fn a_fat_tailed_driver_is_never_told_nothing() {
    // Tight at 200 ms but for a few wild ones, lines far below anything seen.
    let x: Vec<f64> = (0..400)
        .map(|i| if i % 40 == 7 { 0.9 } else { 0.2 + 0.0002 * f64::from(i % 11) })
        .collect();
    let draws = RiskDraws::this_form(&pool(x), &Settings::new(3)).unwrap();
    for at in [0.15, 0.0, -1.0, -1e4] {
        let risk = draws.risk(&RedLine::at(at).unwrap(), 0.0, 0.95).unwrap();
        assert_eq!(risk.reds, 0);
        let e = risk.estimate;
        assert!(e.value > 0.0 && e.high >= e.value && e.low >= 0.0, "{e:?}");
        assert!(e.high > 1e-4, "400 launches cannot rule out one in 10,000: {e:?}");
    }
}

#[test]
fn few_launches_have_counts_but_no_model() {
    let nine = pool(twenty()[..9].to_vec());
    let none = RiskDraws::this_form(&nine, &Settings::new(1));
    assert_eq!(none.err(), Some(StatsError::TooFew { have: 9, need: 10 }));
    assert_eq!(nine.counts(&line(16.0), 0.0, 0.9).unwrap().0, 1);
    assert!(RiskDraws::this_form(&pool(twenty()[..10].to_vec()), &Settings::new(1)).is_ok());
    let spare = Settings { spare_launch: Some(1.5), ..Settings::new(1) };
    assert!(RiskDraws::this_form(&pool(twenty()), &spare).is_err());
}

#[test]
fn hostile_launches_have_an_answer() {
    let mut wild = twenty();
    wild[3] = 1e308;
    wild[4] = -1e308;
    for x in [vec![0.2; 12], wild, vec![1e308; 15], (0..12).map(f64::from).collect()] {
        for make in [RiskDraws::this_form, RiskDraws::next_session] {
            let draws = make(&pool(x.clone()), &Settings::new(1)).unwrap();
            let e = draws.risk(&line(0.0), 0.0, 0.9).unwrap().estimate;
            assert!(e.value.is_finite() && e.low <= e.value && e.value <= e.high, "{x:?} {e:?}");
        }
    }
}

/// The chance of a value below `c` for one draw with scatter `run_sd`, from the laws themselves.
fn chance_below(draw: &DriverDraw, (centre, wide_sd): (f64, f64), c: f64, run_sd: f64) -> f64 {
    let sigma = draw.sigma_s.hypot(run_sd);
    let c = c - draw.later_s;
    let narrow = if draw.tau_s > 0.0 {
        ExGaussian::new(draw.mu_s, sigma, draw.tau_s).unwrap().cdf(c)
    } else {
        ExGaussian::new(-draw.mu_s, sigma, -draw.tau_s).unwrap().sf(-c)
    };
    let wide = Normal::new(centre, wide_sd.hypot(run_sd)).unwrap().cdf(c);
    (1.0 - draw.wide_share) * narrow + draw.wide_share * wide
}

#[test]
fn the_risk_is_the_mean_of_what_model_and_counts_say_of_every_draw() {
    // (α pⱼ + k)/(α + n), with as many draws as fill no whole number of blocks; scatter of the car
    // makes of a count the number expected below the line.
    let settings = Settings { draws: 107, ..Settings::new(3) };
    let draws = RiskDraws::this_form(&pool(twenty()), &settings).unwrap();
    let counted: Vec<f64> = draws.counted_s().collect();
    let (alpha, n) = (draws.concentration(), counted.len() as f64 * draws.effective_share());
    for (run_sd_s, tolerance) in [(0.0, 1e-7), (0.012, 2e-4)] {
        let car = CarPart { mean_s: 0.0, doubt_sd_s: 0.0, run_sd_s };
        for c in [0.020, 0.0335, 0.045, 0.070] {
            let line = RedLine::of_car(car, c).unwrap();
            let below = |x: &f64| match run_sd_s {
                0.0 => f64::from(u8::from(*x < c)),
                sd => Normal::new(*x, sd).unwrap().cdf(c),
            };
            let k = draws.effective_share() * counted.iter().map(below).sum::<f64>();
            let wide = draws.wide_part_s();
            let of = |draw| (alpha * chance_below(&draw, wide, c, run_sd_s) + k) / (alpha + n);
            let want = draws.draws().map(of).sum::<f64>() / 107.0;
            let got = draws.risk(&line, 0.0, 0.9).unwrap().estimate.value;
            assert!((got - want).abs() < tolerance, "{run_sd_s} {c}: {got} is not {want}");
        }
    }
}

#[test]
fn an_aim_that_is_none_is_refused() {
    let draws = RiskDraws::this_form(&pool(twenty()), &Settings::new(3)).unwrap();
    for aim in [f64::NAN, f64::INFINITY, 1.1e5, -1.1e5] {
        let refused = draws.curve(&line(30.0), &[0.0, aim], 0.9);
        assert!(matches!(refused, Err(StatsError::OutOfDomain { name: "shift", .. })), "{aim}");
    }
    assert!(draws.curve(&line(30.0), &[-1e5, 1e5], 0.9).is_ok());
}
