//! The published numbers of the start: trees, procedures, head starts and double reds.
//!
//! Owns the checks of `rules` against what is printed, each with its source. Refuses time.

use lastamber::rules::{Extra, Foul, FoulRule, Procedure, TreeKind, foul_loser, head_start};
use lastamber::seed::generator;
use lastamber::units::Span;
use proptest::prelude::*;

const MS: fn(i64) -> Span = Span::from_ms;

#[test]
fn the_full_tree_takes_one_and_a_half_seconds() {
    // NHRA "101": three ambers .500 apart, green .500 after the last; 1.500 in all.
    let tree = TreeKind::full();
    let dues: Vec<Span> = (0..tree.ambers()).map(|i| tree.amber_due(i)).collect();
    assert_eq!(dues, [MS(0), MS(500), MS(1000)]);
    assert_eq!((tree.last_amber(), tree.total()), (2, MS(1500)));
    assert!(!tree.all_at_once());
}

#[test]
fn the_pro_trees_light_all_ambers_at_once() {
    // NHRA "101": .400. The .500 variant is common practice of street classes.
    for (tree, green_ms) in [(TreeKind::pro(), 400), (TreeKind::pro_500(), 500)] {
        assert!((0..tree.ambers()).all(|i| tree.amber_due(i) == Span::ZERO));
        assert_eq!((tree.ambers(), tree.total()), (3, MS(green_ms)));
        assert!(tree.all_at_once());
    }
}

#[test]
fn bracket_ambers_fall_a_second_and_a_half_after_the_second_stage_lamp() {
    // IHRA rulebook p. 55 (steady .6) and a track's start-procedure page (.9 + 0 to .2): 1.5–1.7 s.
    let range = |procedure: Procedure| procedure.ambers_after_second_stage_lamp();
    assert_eq!(range(Procedure::bracket()), (MS(1500), MS(1700)));
    // The same sources: junior 1.0 + .8, pro .5 + .7.
    assert_eq!(range(Procedure::junior()), (MS(1800), MS(2000)));
    assert_eq!(range(Procedure::pro()), (MS(1200), MS(1400)));
    // Chosen: a drill waits 1 to 4 s.
    assert_eq!(range(Procedure::tree_only()), (MS(1000), MS(4000)));
}

#[test]
fn the_second_car_has_ten_fifteen_or_seven_seconds() {
    // A track's start-procedure page; the 7 s from memory (ANDRA p. 17 prints 7 or 20 by group).
    assert_eq!(Procedure::bracket().time_out(), Some(MS(10_000)));
    assert_eq!(Procedure::junior().time_out(), Some(MS(15_000)));
    assert_eq!(Procedure::pro().time_out(), Some(MS(7000)));
    assert_eq!(Procedure::tree_only().time_out(), None);
}

#[test]
fn the_slower_car_starts_first_by_the_difference_of_the_dials() {
    // NHRA sportsman pages, as printed: (slower, quicker, head start in ms).
    for (slow_s, quick_s, ms) in [
        (16.00, 14.50, 1500),
        (17.75, 15.25, 2500),
        (14.20, 13.00, 1200),
        (15.70, 13.60, 2100),
        (11.68, 9.20, 2480),
    ] {
        assert_eq!(head_start([slow_s, quick_s]), Ok([Span::ZERO, MS(ms)]));
        assert_eq!(head_start([quick_s, slow_s]), Ok([MS(ms), Span::ZERO]));
    }
    assert_eq!(head_start([12.0, 12.0]), Ok([Span::ZERO; 2]));
}

/// Both lanes red: each lane's foul by the clock that lane 0's green would be zero on.
fn double_red(dials_s: [f64; 2], reds_ms: [i64; 2]) -> [Option<Foul>; 2] {
    let waits = head_start(dials_s).unwrap();
    [0, 1].map(|lane| {
        let red = MS(reds_ms[lane]);
        let at = waits[lane] - waits[0] + red;
        Some(Foul { at_ns_on_common_clock: at.ns(), amount: -red })
    })
}

#[test]
fn of_two_reds_the_rule_in_force_picks_the_loser() {
    // Derived from the two rules (first foul loses, worst foul loses):
    // dials, reds, loser by first foul, loser by worst foul.
    let cases = [
        // The slower car fouls a hair, two seconds before the other fouls by a lot.
        ([15.00, 13.00], [-4, -120], 0, 1),
        // Heads up: the worse is also the earlier.
        ([10.00, 10.00], [-10, -15], 1, 1),
        // A head start of .05 only: −.120 falls at −.070 on the slower car's clock.
        ([13.05, 13.00], [-4, -120], 1, 1),
    ];
    for (dials_s, reds_ms, first, worst) in cases {
        let fouls = double_red(dials_s, reds_ms);
        assert_eq!(foul_loser(FoulRule::First, fouls), Some(first), "{dials_s:?} first");
        assert_eq!(foul_loser(FoulRule::Worst, fouls), Some(worst), "{dials_s:?} worst");
    }
    let at_ns = double_red([13.05, 13.00], [-4, -120]).map(|f| f.unwrap().at_ns_on_common_clock);
    assert_eq!(at_ns, [-4_000_000, -70_000_000]);
}

#[test]
fn a_lone_red_loses_and_a_clean_start_has_no_loser() {
    let fouls = double_red([12.0, 12.0], [-4, -4]);
    for rule in [FoulRule::First, FoulRule::Worst] {
        assert_eq!(foul_loser(rule, [None, None]), None);
        assert_eq!(foul_loser(rule, [fouls[0], None]), Some(0));
        assert_eq!(foul_loser(rule, [None, fouls[1]]), Some(1));
    }
}

#[test]
fn uniform_waits_fill_their_range_evenly() {
    let extra = Procedure::tree_only().extra();
    let mut generator = generator(11);
    let n = 20_000;
    let mut quarters = [0_u32; 4];
    for _ in 0..n {
        let wait = extra.draw(&mut generator);
        assert!((MS(1000)..=MS(4000)).contains(&wait));
        quarters[(((wait - MS(1000)).as_secs_f64() / 0.75) as usize).min(3)] += 1;
    }
    // 5000 expected in each, SD 61: five of those is a chance of one in a million.
    assert!(quarters.iter().all(|&k| k.abs_diff(5000) < 306), "{quarters:?}");
}

#[test]
fn memoryless_waits_have_the_truncated_exponential_distribution() {
    let extra = Extra::Memoryless { from: MS(1000), mean: MS(2000), cap: MS(4000) };
    let mut generator = generator(12);
    let n = 20_000;
    let waits: Vec<f64> = (0..n).map(|_| extra.draw(&mut generator).as_secs_f64()).collect();
    assert!(waits.iter().all(|wait| (1.0..=4.0).contains(wait)));
    for t in [0.25, 0.5, 1.0, 1.5, 2.0, 2.5, 2.75_f64] {
        let want = (1.0 - (-t / 2.0).exp()) / (1.0 - (-3.0_f64 / 2.0).exp());
        let got = waits.iter().filter(|&&wait| wait <= 1.0 + t).count() as f64 / f64::from(n);
        let sd = (want * (1.0 - want) / f64::from(n)).sqrt();
        assert!((got - want).abs() < 5.0 * sd, "P(X <= {t}) = {got}, not {want}");
    }
}

proptest! {
    #[test]
    fn one_of_the_two_trees_always_starts_at_once(a in 0.0..99.0_f64, b in 0.0..99.0_f64) {
        let [wait_a, wait_b] = head_start([a, b]).unwrap();
        prop_assert!(wait_a == Span::ZERO || wait_b == Span::ZERO);
        prop_assert!(wait_a >= Span::ZERO && wait_b >= Span::ZERO);
        // Rounded to whole microseconds, half of one to either side for each dial.
        prop_assert!(((wait_b - wait_a).as_secs_f64() - (a - b)).abs() <= 1.01e-6);
        prop_assert_eq!(head_start([b, a]), Ok([wait_b, wait_a]));
    }

    #[test]
    fn swapping_the_lanes_swaps_the_loser(
        marks in prop::array::uniform2(-300_i64..0), amounts in prop::array::uniform2(1_i64..300),
    ) {
        let foul = |i: usize| Some(Foul { at_ns_on_common_clock: marks[i], amount: MS(amounts[i]) });
        for rule in [FoulRule::First, FoulRule::Worst] {
            let straight = foul_loser(rule, [foul(0), foul(1)]);
            let swapped = foul_loser(rule, [foul(1), foul(0)]);
            prop_assert_eq!(straight.map(|lane| 1 - lane), swapped);
        }
    }

    #[test]
    fn a_drawn_wait_stays_within_its_ends(
        seed: u64, from in 0_i64..3000, room in 0_i64..9000, mean in 100_i64..5000,
    ) {
        let mut generator = generator(seed);
        let (from, end) = (MS(from), MS(from + room));
        for extra in [
            Extra::Uniform { from, to: end },
            Extra::Memoryless { from, mean: MS(mean), cap: end },
        ] {
            for _ in 0..8 {
                let wait = extra.draw(&mut generator);
                prop_assert!(from <= wait && wait <= end);
            }
        }
    }
}
