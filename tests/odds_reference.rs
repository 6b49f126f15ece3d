//! Win chances against numbers computed elsewhere: worked examples with mpmath at 25 digits, and the
//! closed form that a normal race has.

use lastamber::rules::FoulRule;
use lastamber::strategy::law::RtLaw;
use lastamber::strategy::odds::{Finish, Level, Opponent, Order, Race, WinChance};
use lastamber::units::Measured;

fn normal(mean: f64, sd: f64) -> RtLaw {
    RtLaw::normal(mean, sd).unwrap()
}

fn ex_gaussian(mu: f64, sigma: f64, tau: f64) -> RtLaw {
    RtLaw::ex_gaussian(mu, sigma, tau).unwrap()
}

/// An opponent who is always a second late in a car that is that much quicker: the margin M is
/// N(.060, .035²) and nobody but me can be red.
fn never_red(me: RtLaw) -> WinChance {
    let race = Race::heads_up(Finish::gap(0.060 - 1.0, 0.035).unwrap());
    WinChance::new(me, &Opponent::normal(1.0, 0.0).unwrap(), &race)
}

const AIMS: [f64; 7] = [-0.02, -0.01, 0.0, 0.01, 0.02, 0.03, 0.05];

fn check(odds: &WinChance, reds: [f64; 7], wins: [f64; 7], best: [f64; 3]) {
    for ((a, red), win) in AIMS.into_iter().zip(reds).zip(wins) {
        assert!((odds.red(a) - red).abs() < 1e-11, "red at {a}: {}", odds.red(a));
        assert!((odds.win(a) - win).abs() < 1e-10, "win at {a}: {}", odds.win(a));
    }
    let found = odds.best().unwrap();
    assert!((found.earlier_s - best[0]).abs() < 1e-8, "{found:?}");
    assert!((odds.red(found.earlier_s) - best[1]).abs() < 1e-7, "{found:?}");
    assert!((found.win - best[2]).abs() < 1e-10, "{found:?}");
    assert!(found.flat_low_s < found.earlier_s && found.earlier_s < found.flat_high_s);
    for edge in [found.flat_low_s, found.flat_high_s] {
        assert!((odds.win(edge) / found.win - 0.995).abs() < 1e-6);
    }
}

#[test]
fn a_normal_driver_has_the_worked_win_chances() {
    let reds = [
        0.004_661_188_023_72,
        0.013_903_447_513_5,
        0.035_930_319_112_9,
        0.080_756_659_233_8,
        0.158_655_253_931,
        0.274_253_117_75,
        0.579_259_709_439,
    ];
    let wins = [
        0.449_199_704_46,
        0.532_747_196_51,
        0.601_356_464_192,
        0.640_657_507_027,
        0.636_988_639_35,
        0.583_558_705_818,
        0.364_149_029_167,
    ];
    let odds = never_red(normal(0.045, 0.025));
    check(&odds, reds, wins, [0.014_304_803_992_8, 0.109_759_555_894, 0.644_977_899_168]);
}

#[test]
fn an_ex_gaussian_driver_has_the_worked_win_chances() {
    let reds = [
        0.000_733_585_575_045,
        0.003_951_816_561_37,
        0.016_304_870_745_7,
        0.052_100_235_341_5,
        0.130_869_749_699,
        0.263_597_047_959,
        0.615_147_057_014,
    ];
    let wins = [
        0.456_746_460_54,
        0.548_898_032_697,
        0.628_688_745_955,
        0.677_396_485_72,
        0.672_430_391_25,
        0.600_993_217_612,
        0.331_929_524_705,
    ];
    let odds = never_red(ex_gaussian(0.030, 0.018, 0.015));
    check(&odds, reds, wins, [0.014_316_843_109_3, 0.079_778_306_694_9, 0.683_020_933_634]);
}

#[test]
fn a_driver_of_two_kinds_has_the_worked_win_chances() {
    let reds = [
        0.004_346_765_728_06,
        0.014_283_523_140_8,
        0.039_070_512_724_4,
        0.089_531_542_791_8,
        0.173_373_874_097,
        0.287_074_087_568,
        0.526_626_135_137,
    ];
    let wins = [
        0.379_997_537_652,
        0.436_369_559_59,
        0.473_296_303_454,
        0.477_814_803_947,
        0.441_222_050_2,
        0.367_042_887_532,
        0.187_349_229_251,
    ];
    let (guess, react) = (normal(0.035, 0.022), ex_gaussian(0.14, 0.018, 0.028));
    let odds = never_red(RtLaw::mixture(vec![(0.7, guess), (0.3, react)]).unwrap());
    check(&odds, reds, wins, [0.006_259_077_337_74, 0.066_995_134_774, 0.480_659_422_305]);
}

#[test]
fn an_opponent_who_can_be_red_gives_the_worked_win_chances() {
    let finish = Finish::gap(0.0, 0.020).unwrap();
    let race = Race::handicap(finish, Order::First, FoulRule::First);
    let opponent = Opponent::normal(0.060, 0.030).unwrap();
    assert!((opponent.red() - 0.022_750_131_948_2).abs() < 1e-12);
    let odds = WinChance::new(ex_gaussian(0.030, 0.018, 0.015), &opponent, &race);
    let wins = [
        (-0.02, 0.480_061_710_988),
        (-0.01, 0.569_975_440_370),
        (0.0, 0.647_459_564_486),
        (0.01, 0.693_802_110_566),
        (0.02, 0.686_278_069_665),
        (0.03, 0.611_999_071_674),
    ];
    for (a, win) in wins {
        assert!((odds.win(a) - win).abs() < 1e-10, "{a}: {}", odds.win(a));
    }
    let best = odds.best().unwrap();
    // The example's best aim is known to 1e-7, its win chance better.
    assert!((best.earlier_s - 0.013_914_07).abs() < 1e-7, "{best:?}");
    assert!((best.win - 0.698_406_115_717).abs() < 1e-10, "{best:?}");
    assert!((odds.red(best.earlier_s) - 0.076_811_8).abs() < 1e-6);
}

/// P(X ≤ x, Y ≤ y) of two standard normals with correlation rho: Φ(x)Φ(y) + ∫_0^rho of the density
/// over the correlation (Drezner & Wesolowsky 1990, after Plackett 1954), Simpson's rule.
fn bivariate(x: f64, y: f64, rho: f64) -> f64 {
    let phi = |z: f64| 0.5 * statrs::function::erf::erfc(-z / std::f64::consts::SQRT_2);
    let density = |t: f64| {
        let r = t.sin();
        let rest = t.cos() * t.cos();
        (-(x * x + y * y - 2.0 * r * x * y) / (2.0 * rest)).exp()
    };
    let (end, n) = (rho.asin(), 4000);
    let step = end / f64::from(n);
    let at = |i: i32| density(f64::from(i) * step);
    let inner: f64 = (1..n).map(|i| if i % 2 == 1 { 4.0 } else { 2.0 } * at(i)).sum();
    let integral = (at(0) + inner + at(n)) * step / 3.0;
    phi(x) * phi(y) + integral / (2.0 * std::f64::consts::PI)
}

#[test]
fn a_normal_race_is_one_bivariate_normal_rectangle() {
    for (mx, sx, mm, sm) in
        [(0.045, 0.025, 0.06, 0.035), (0.1, 0.012, 0.05, 0.1), (0.02, 0.03, 0.01, 0.004)]
    {
        let race = Race::heads_up(Finish::gap(mm - 1.0, sm).unwrap());
        let odds = WinChance::new(normal(mx, sx), &Opponent::normal(1.0, 0.0).unwrap(), &race);
        for a in [-0.05_f64, -0.01, 0.0, 0.02, 0.08] {
            // P(−X < −a, X − M < a): variances sX², sX² + sM², covariance −sX².
            let s2 = (sx * sx + sm * sm).sqrt();
            let want = bivariate((mx - a) / sx, (a - mx + mm) / s2, -sx / s2);
            assert!((odds.win(a) - want).abs() < 1e-10, "{mx} {sx} {mm} {sm} {a}");
        }
    }
}

#[test]
fn equals_win_half_of_their_races() {
    let law = RtLaw::mixture(vec![
        (2.0, normal(0.02, 0.03)),
        (1.0, ex_gaussian(0.05, 0.01, 0.06)),
        (0.5, ex_gaussian(0.03, 0.02, -0.04)),
    ])
    .unwrap();
    let et = Measured::new(12.31, 0.04);
    let finishes = [
        Finish::gap(0.0, 0.03).unwrap(),
        Finish::times(et, et).unwrap(),
        Finish::dialled(et, et, [12.30, 12.30]).unwrap(),
    ];
    for finish in finishes {
        for foul in [FoulRule::First, FoulRule::Worst] {
            let race = Race::handicap(finish, Order::Together, foul);
            let odds = WinChance::new(law.clone(), &Opponent::of(law.clone()), &race);
            assert!((odds.win(0.0) - 0.5).abs() < 1e-9, "{finish:?}: {}", odds.win(0.0));
        }
    }
}

#[test]
fn what_one_wins_the_other_loses() {
    let (a, b) = (ex_gaussian(0.01, 0.018, 0.015), normal(0.03, 0.03));
    let (mine, his) = (Measured::new(13.02, 0.05), Measured::new(11.99, 0.03));
    for foul in [FoulRule::First, FoulRule::Worst] {
        for head_start in [-0.4, -0.01, 0.0, 0.007, 1.0] {
            let (here, there) = (Order::HeadStart(head_start), Order::HeadStart(-head_start));
            let one = Finish::dialled(mine, his, [13.0, 12.0]).unwrap();
            let other = Finish::dialled(his, mine, [12.0, 13.0]).unwrap();
            let one = Race::handicap(one, here, foul);
            let other = Race::handicap(other, there, foul);
            let one = WinChance::new(a.clone(), &Opponent::of(b.clone()), &one).win(0.0);
            let other = WinChance::new(b.clone(), &Opponent::of(a.clone()), &other).win(0.0);
            assert!((one + other - 1.0).abs() < 1e-8, "{foul:?} {head_start}: {one} + {other}");
        }
    }
}

#[test]
fn consistency_buys_more_than_aim() {
    let odds = never_red(normal(0.045, 0.025));
    let best = odds.best().unwrap();
    let (spread, aim) = (odds.worth_of_1ms_spread().unwrap(), odds.worth_of_1ms_aim(&best));
    assert!(spread > 10.0 * aim && aim > 0.0, "{spread} {aim}");
    // The worked case with 24.5 and 25.5 ms of spread, each at its own best aim.
    let at = |sd: f64| never_red(normal(0.045, sd)).best().unwrap().win;
    assert!((spread - (at(0.0245) - at(0.0255))).abs() < 1e-9, "{spread}");
    // With a millisecond of spread a quarter of it to either side, told for the whole one.
    let even = never_red(normal(0.045, 0.001)).worth_of_1ms_spread().unwrap();
    assert!((even - 2.0 * (at(0.000_75) - at(0.001_25))).abs() < 1e-9, "{even}");
}

#[test]
fn rounds_are_survived_one_by_one() {
    let odds = never_red(normal(0.045, 0.025));
    assert!((odds.survive(0.01, 3) - 0.640_657_507_027_f64.powi(3)).abs() < 1e-9);
    // All lights up to 20 ms later or earlier together: W² and W³ averaged over that, Simpson's rule.
    let doubtful = odds.doubtful(0.02).unwrap();
    assert!((doubtful.survive(0.01, 1) - doubtful.win(0.01)).abs() < 1e-9);
    for rounds in [2, 3] {
        let at = |i: i32| {
            let z = -6.0 + 0.1 * f64::from(i);
            let weight = match i {
                0 | 120 => 1.0,
                _ if i % 2 == 1 => 4.0,
                _ => 2.0,
            };
            let won = never_red(normal(0.045 + 0.02 * z, 0.025)).win(0.01).powi(rounds);
            weight * 0.1 / 3.0 * (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt() * won
        };
        let want: f64 = (0..=120).map(at).sum();
        let told = doubtful.survive(0.01, rounds as u32);
        assert!((told - want).abs() < 1e-6, "{rounds}: {told} {want}");
    }
}

#[test]
fn who_cannot_win_by_driving_waits_for_the_other_to_foul() {
    let race = Race::heads_up(Finish::gap(-30.0, 0.1).unwrap());
    let weekend = Opponent::level(Level::Weekend);
    let odds = WinChance::new(normal(0.05, 0.03), &weekend, &race);
    let best = odds.best().unwrap();
    assert!(best.at_the_end && odds.red(best.earlier_s) < 1e-5, "{best:?}");
    assert!((best.win - weekend.red()).abs() < 1e-6);
}

/// Lights that are always the same: an ET margin of N(.060, .035²) less the light decides.
#[test]
fn fixed_lights_win_by_their_weights() {
    let me = RtLaw::mixture(vec![(0.3, normal(0.02, 0.0)), (0.7, normal(0.08, 0.0))]).unwrap();
    let odds = never_red(me);
    let phi = |z: f64| 0.5 * statrs::function::erf::erfc(-z / std::f64::consts::SQRT_2);
    for a in [-0.02, 0.0, 0.01] {
        let want = 0.3 * phi((0.04 + a) / 0.035) + 0.7 * phi((a - 0.02) / 0.035);
        assert!((odds.win(a) - want).abs() < 1e-10, "{a}: {}", odds.win(a));
    }
}

/// An opponent who is always red, 50 ms early and very evenly, leaves 4 ms after me: his foul comes
/// first where my light is later than his by more than that, so W = P(X > Y), Y = N(−.046, .0002²).
#[test]
fn a_narrow_foul_of_the_other_is_seen_whole() {
    let opponent = Opponent::normal(-0.05, 0.000_2).unwrap();
    let finish = Finish::gap(0.0, 0.02).unwrap();
    let race = Race::handicap(finish, Order::HeadStart(0.004), FoulRule::First);
    let phi = |z: f64| 0.5 * statrs::function::erf::erfc(-z / std::f64::consts::SQRT_2);
    for (mean, sd) in [(-0.03, 0.03), (0.0, 0.1), (-0.046, 0.5)] {
        let odds = WinChance::new(normal(mean, sd), &opponent, &race);
        for a in [-0.01_f64, 0.0, 0.02] {
            let want = phi((mean - a + 0.046) / sd.hypot(0.000_2));
            assert!((odds.win(a) - want).abs() < 1e-10, "{mean} {sd} {a}: {}", odds.win(a) - want);
        }
    }
}
