//! Aims, levers and styles of drivers whose truth is known.

use lastamber::rules::{FoulRule, TreeKind};
use lastamber::seed::generator;
use lastamber::stats::Sample;
use lastamber::stats::risk::{CarPart, HomeToTrack, Pool};
use lastamber::strategy::StrategyError;
use lastamber::strategy::aim::{AimQuestion, Headline, aims, headline};
use lastamber::strategy::launches::{Launches, Source, View};
use lastamber::strategy::law::RtLaw;
use lastamber::strategy::lever::{Lever, LeverKind, price};
use lastamber::strategy::odds::{Finish, Level, Opponent, Order, Race, WinChance};
use lastamber::strategy::verdict::{Block, By, Choice, More, Stakes, Tested, verdict};
use lastamber::trial::Style;
use lastamber::units::{Inches, Measured};
use proptest::prelude::*;
use rand::seq::SliceRandom;

fn normal(mean: f64, sd: f64) -> RtLaw {
    RtLaw::normal(mean, sd).unwrap()
}

fn tailed(mu: f64, sigma: f64, tau: f64) -> RtLaw {
    RtLaw::ex_gaussian(mu, sigma, tau).unwrap()
}

const CAR: CarPart = CarPart { mean_s: 0.28, doubt_sd_s: 0.0, run_sd_s: 0.0 };

/// Launches of a driver whose lights follow a law, five a day.
fn practice(law: &RtLaw, n: usize, home: HomeToTrack, seed: u64) -> Launches {
    let rng = &mut generator(seed);
    let parts = (0..n).map(|_| law.sample(rng) + 0.22).collect();
    let pool = Pool::new(Sample::new(parts).unwrap());
    let pool = pool.with_days((0..n as u32).map(|i| i / 5).collect()).unwrap();
    Launches::practice(pool, CAR, 0.5, home).unwrap()
}

fn prior() -> HomeToTrack {
    HomeToTrack::prior(0.0).unwrap()
}

fn question(earlier_s: &[f64]) -> AimQuestion {
    AimQuestion { earlier_s: earlier_s.to_vec(), better_than_s: 0.04, level: 0.90 }
}

#[test]
fn what_an_aim_brings_is_what_it_would_bring() {
    let law = normal(0.045, 0.025);
    let seen = practice(&law, 300, prior(), 3).seen(View::ThisForm, 1, 0).unwrap();
    let mut held = 0;
    for row in aims(&seen, &question(&[-0.01, 0.0, 0.02])).unwrap().rows {
        let a = row.earlier_s;
        let (mean, sd) = (0.045 - a, 0.025);
        let red = law.below(a);
        // Truncated normal: mean + sd φ(z)/(1 − Φ(z)) at z = −mean/sd.
        let z: f64 = -mean / sd;
        let phi = (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt();
        let green = mean + sd * phi / (1.0 - red);
        let good = law.below(a + 0.04) - red;
        for (e, truth) in [(row.red, red), (row.green_light_s, green), (row.better, good)] {
            held += usize::from(e.low <= truth && truth <= e.high);
            assert!(e.low <= e.value && e.value <= e.high);
            assert!((e.value - truth).abs() < 0.06, "{a}: {truth} and {e:?}");
        }
        assert!(row.green_light_s.high - row.green_light_s.low < 0.01);
    }
    // Nine 90 % intervals from one sample.
    assert!(held >= 7, "{held} of 9");
}

/// Launches that are the quantiles of their law, in random order: nothing but that is left to chance.
fn even(law: &RtLaw, n: usize) -> Sample {
    let place = |i: usize| law.quantile((i as f64 + 0.5) / n as f64).unwrap();
    let mut lights: Vec<f64> = (0..n).map(place).collect();
    lights.shuffle(&mut generator(8));
    Sample::new(lights).unwrap()
}

/// The mean of a normal law cut off at 0 is m + s φ(z)/Φ(−z), z = −m/s; its variance
/// s² (1 + z λ − λ²), λ = φ(z)/Φ(−z) (Johnson, Kotz & Balakrishnan 1994, Continuous Univariate
/// Distributions 1, section 10.1). Of n launches n Φ(−z) are green.
#[test]
fn the_mean_green_light_and_its_interval_are_those_of_a_normal_law_cut_off() {
    let n = 300;
    let slips = Launches::slips(Pool::new(even(&normal(0.045, 0.025), n))).unwrap();
    let seen = slips.seen(View::ThisForm, 1, 0).unwrap();
    for row in aims(&seen, &question(&[0.0, 0.02, 0.045, 0.06])).unwrap().rows {
        let (mean, sd) = (0.045 - row.earlier_s, 0.025);
        let z: f64 = -mean / sd;
        let green = 1.0 - normal(0.0, 1.0).below(z);
        let lambda = (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt() / green;
        let light = mean + sd * lambda;
        let se = sd * (1.0 + z * lambda - lambda * lambda).sqrt() / (n as f64 * green).sqrt();
        let told = row.green_light_s;
        assert!((told.value - light).abs() < 0.000_6, "{}: {told:?} {light}", row.earlier_s);
        let half = 0.5 * (told.high - told.low) / se;
        assert!((half / 1.645 - 1.0).abs() < 0.3, "{}: {half} standard errors", row.earlier_s);
    }
}

#[test]
fn the_aim_for_a_risk_has_that_risk() {
    let law = tailed(0.03, 0.018, 0.015);
    let seen = practice(&law, 300, prior(), 4).seen(View::NextSession, 1, 0).unwrap();
    let found = aims(&seen, &question(&[0.0])).unwrap().for_risk;
    assert_eq!(found.iter().map(|a| a.risk).collect::<Vec<_>>(), [0.01, 0.02, 0.05, 0.10]);
    for aim in &found {
        let e = aim.earlier_s;
        assert!(e.low <= e.value && e.value <= e.high);
        let risks = seen.red(&[e.low, e.value, e.high], 0.90).unwrap();
        assert!((risks[1].value / aim.risk - 1.0).abs() < 0.05, "{aim:?} {risks:?}");
        // Far out the upper limit hardly moves, so it is met less closely.
        assert!((risks[0].high / aim.risk - 1.0).abs() < 0.35, "{aim:?} {risks:?}");
        assert!((risks[2].low / aim.risk - 1.0).abs() < 0.10, "{aim:?} {risks:?}");
    }
    assert!(found.windows(2).all(|w| w[0].earlier_s.value < w[1].earlier_s.value));
}

/// A hundred and twenty launches cannot promise one red in a hundred: the careful end of the aim is
/// the earliest looked at, and the risk's upper limit there says why.
#[test]
fn an_aim_is_not_promised_a_risk_the_launches_are_too_few_for() {
    let law = tailed(0.03, 0.018, 0.015);
    let seen = practice(&law, 120, prior(), 4).seen(View::NextSession, 1, 0).unwrap();
    let careful = aims(&seen, &question(&[0.0])).unwrap().for_risk[0];
    assert_eq!(careful.risk, 0.01);
    let e = careful.earlier_s;
    let there = seen.red(&[e.low, e.value], 0.90).unwrap();
    assert!(there[0].high > 0.01 && there[0].value < 0.001, "{careful:?} {there:?}");
    assert!((there[1].value / 0.01 - 1.0).abs() < 0.05, "{careful:?} {there:?}");
    assert!(e.low < e.value - 0.05, "{careful:?}");
}

#[test]
fn a_headline_stays_unknown_until_as_many_slips_as_it_asked_for() {
    let law = normal(0.035, 0.022);
    let launches = practice(&law, 150, prior(), 5);
    let told = headline(&launches, 0.0, 1).unwrap();
    let Headline::NotKnown { risk, slips: Some(slips) } = told else { panic!("{told:?}") };
    assert!(risk.high - risk.low > 0.20 && slips > 1, "{told:?}");
    let after = |slips: usize| {
        // Slips that say the offset is 0, as the forecast of their use assumed.
        let data = 0.022_f64.powi(2) / slips as f64;
        let sd = (0.04_f64.powi(2) * data / (0.04_f64.powi(2) + data)).sqrt();
        let home = HomeToTrack { offset_s: Measured::new(0.0, sd), slips };
        headline(&practice(&law, 150, home, 5), 0.0, 1).unwrap()
    };
    assert!(matches!(after(slips + 1), Headline::Known(_)));
    assert!(matches!(after(slips.div_ceil(2)), Headline::NotKnown { .. }));
    // A risk about .3, where both limits are above twenty points long before it is known.
    let often = headline(&practice(&normal(0.015, 0.03), 150, prior(), 5), 0.0, 1).unwrap();
    let Headline::NotKnown { risk, slips: Some(2..) } = often else { panic!("{often:?}") };
    assert!((0.2..0.45).contains(&risk.value), "{often:?}");
    let late = headline(&practice(&normal(0.3, 0.02), 60, prior(), 5), 0.0, 1).unwrap();
    assert!(matches!(late, Headline::Known(_)), "{late:?}");
}

#[test]
fn slips_are_the_track_already_and_stay_apart_from_practice() {
    let rng = &mut generator(6);
    let rts: Vec<f64> = (0..30).map(|_| normal(0.06, 0.03).sample(rng)).collect();
    let slips = Launches::slips(Pool::new(Sample::new(rts).unwrap())).unwrap();
    let view = |view| slips.seen(view, 1, 0).unwrap();
    assert_eq!(view(View::ThisForm).source(), Source::Slips);
    let red = |seen: lastamber::strategy::launches::Seen| seen.red(&[0.0], 0.9).unwrap()[0];
    assert_eq!(red(view(View::NextSession)), red(view(View::AtTheTrack)));
    assert_ne!(red(view(View::ThisForm)), red(view(View::NextSession)));
    // Slips that do not tell yet ask for more of themselves.
    let few: Vec<f64> = (0..12).map(|_| normal(0.03, 0.03).sample(rng)).collect();
    let few = Launches::slips(Pool::new(Sample::new(few).unwrap())).unwrap();
    let told = headline(&few, 0.0, 1).unwrap();
    let Headline::NotKnown { risk, slips: Some(more) } = told else { panic!("{told:?}") };
    // The normal interval p ± 1.645 √(p (1 − p)/n) is ten points to either side at this n.
    let n = (1.645 / 0.10_f64).powi(2) * risk.value * (1.0 - risk.value);
    assert!((more as f64 + 12.0 - n).abs() < 1.1 && more > 4, "{told:?} {n}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    /// Deeper by t of RT costs t − depth ÷ trap speed of ET: at any aim it wins no more than the way
    /// gone would win by itself.
    #[test]
    fn deeper_staging_wins_no_more_than_the_way_gone_explains(
        mean in -0.02..0.15_f64,
        sd in 0.01..0.06_f64,
        theirs in 0.0..0.2_f64,
        gap in -0.1..0.1_f64,
        depth in 0.0..8.0_f64,
        gain in 0.0..0.15_f64,
        trap in 60.0..160.0_f64,
        aim in -0.04..0.04_f64,
    ) {
        let me = normal(mean, sd);
        let opponent = Opponent::normal(theirs, 0.03).unwrap();
        let lever = Lever::deeper(gain, Inches(depth), trap).unwrap();
        let finish = Finish::gap(gap, 0.04).unwrap();
        let gone = Inches(depth).feet() / (trap * 22.0 / 15.0);
        let deep = Race::heads_up(finish.with_my_et_longer(lever.et_s).unwrap());
        let ahead = Race::heads_up(finish.with_my_et_longer(-gone).unwrap());
        let deep = WinChance::new(me.clone(), &opponent, &deep).win(aim - lever.rt_s);
        let ahead = WinChance::new(me, &opponent, &ahead).win(aim);
        prop_assert!(deep <= ahead + 1e-9, "{deep} {ahead}");
    }
}

#[test]
fn a_lever_is_priced_with_and_without_a_redial() {
    let launches = practice(&normal(0.06, 0.02), 100, prior(), 7);
    let seen = launches.seen(View::ThisForm, 1, 0).unwrap();
    let opponent = Opponent::level(Level::Weekend);
    let (mine, his) = (Measured::new(13.15, 0.03), Measured::new(12.16, 0.04));
    let finish = Finish::dialled(mine, his, [13.0, 12.0]).unwrap();
    let race = Race::handicap(finish, Order::HeadStart(1.0), FoulRule::First);
    let price = |lever: &Lever, race: &Race| price(&seen, &opponent, race, lever, 0.9).unwrap();
    let depth = price(&Lever::pair(LeverKind::Depth, -0.02, 0.019).unwrap(), &race);
    let timing = price(&Lever::free(LeverKind::Timing, 0.02).unwrap(), &race);
    // Far from breakouts. Dialled in, depth is as good as timing; undialled it gives the ET away.
    let redialled = depth.win_redialled.unwrap();
    assert_eq!((redialled.value, depth.red), (timing.win.value, timing.red));
    assert!(depth.win.value < redialled.value, "{depth:?}");
    let gap = Race::heads_up(Finish::gap(0.0, 0.05).unwrap());
    let strength = price(&Lever::pair(LeverKind::Strength, -0.01, -0.05).unwrap(), &gap);
    let nothing = price(&Lever::pair(LeverKind::Tyre, 0.0, 0.0).unwrap(), &gap);
    assert!(strength.win.low > nothing.win.value && strength.win_redialled.is_none());
}

fn tested(react: &RtLaw, time_it: &RtLaw, blocks: usize, seed: u64) -> Tested {
    let rng = &mut generator(seed);
    let block = |i: usize| {
        let (style, law) =
            if i.is_multiple_of(2) { (Style::React, react) } else { (Style::TimeIt, time_it) };
        let driver_parts_s = (0..10).map(|_| law.sample(rng) + 0.22).collect();
        Block { style, driver_parts_s, left_before_tree: 0, lapses: 0, day: i as u32 / 4 }
    };
    let blocks: Vec<Block> = (0..blocks).map(block).collect();
    Tested::new(&blocks, &TreeKind::full(), CAR, prior()).unwrap()
}

#[test]
fn a_clear_case_gets_its_verdict_and_an_unclear_one_asks_for_more() {
    let opponent = Opponent::level(Level::Weekend);
    let race = Race::heads_up(Finish::gap(0.0, 0.05).unwrap());
    let stakes = Stakes::round(&opponent, &race);
    let ask = |react: &RtLaw, time_it: &RtLaw| {
        verdict(&tested(react, time_it, 8, 9), &stakes, View::ThisForm, CAR.mean_s, 2).unwrap()
    };
    // A late reaction and an even rhythm.
    let (late, even) = (tailed(0.12, 0.018, 0.02), normal(0.05, 0.018));
    let told = ask(&late, &even);
    assert_eq!(told.choice, Choice::TimeIt);
    assert!(told.right > 0.95 && told.worth.low > 0.0, "{told:?}");
    // With a quicker car the reaction would be as good: .12 late now, so less than .28 of car.
    let flip = told.flips_at_car_part_s.iter().any(|part| *part > 0.17 && *part < 0.26);
    assert!(flip || told.worth.value > 0.05, "{told:?}");
    // A sharp reaction and a wild rhythm.
    let told = ask(&tailed(0.02, 0.012, 0.01), &normal(0.05, 0.06));
    assert_eq!(told.choice, Choice::React);
    assert!(told.worth.high < 0.0 && !told.flips_at_car_part_s.is_empty(), "{told:?}");
    // Moved to the mean light of the reaction three in ten of these would be red, Φ(−.03/.06).
    let by_risk = told.judgements.iter().find(|j| j.by == By::RiskAtEqualLight).unwrap();
    assert!(by_risk.time_it_right < 0.02, "{by_risk:?}");
    // Two of a kind.
    let same = normal(0.03, 0.022);
    let told = ask(&same, &same);
    assert!(told.right >= 0.5 && told.right < 0.99, "{told:?}");
    if let Choice::NotEnough(more) = told.choice {
        assert!(matches!(more, More::Of(..) | More::OfEach(_) | More::TooClose));
    }
    assert_eq!(told.judgements.len(), 9);
    assert!(told.judgements.iter().all(|j| j.time_it_right > 0.0 && j.time_it_right < 1.0));
}

#[test]
fn without_an_opponent_a_good_light_is_at_stake() {
    let stakes = Stakes::good_light(0.05).unwrap();
    let both = tested(&tailed(0.02, 0.012, 0.01), &normal(0.05, 0.06), 8, 10);
    let told = verdict(&both, &stakes, View::AtTheTrack, CAR.mean_s, 2).unwrap();
    assert_eq!(told.judgements[0].view, View::AtTheTrack);
    assert!(told.judgements[0].time_it_right < 0.5, "{told:?}");
    // Here it is plain; the unknown way to the track blurs it.
    assert_eq!(told.judgements[3].view, View::ThisForm);
    assert!(told.judgements[3].time_it_right < 0.05, "{told:?}");
}

#[test]
fn early_weeks_are_not_held_against_late_ones() {
    let block = |style| Block {
        style,
        driver_parts_s: vec![0.25; 10],
        left_before_tree: 0,
        lapses: 0,
        day: 0,
    };
    let [r, t] = [Style::React, Style::TimeIt].map(block);
    let weeks = [r.clone(), r.clone(), r, t.clone(), t.clone(), t];
    let error = Tested::new(&weeks, &TreeKind::full(), CAR, prior()).unwrap_err();
    assert!(matches!(error, StrategyError::NotAlternating { longest_row: 3, .. }), "{error}");
}
