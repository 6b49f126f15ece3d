//! The worked cases of winners, and what must hold of every judgement.
//!
//! Owns the checks of `rules::judge` against printed races. Refuses the start line's own fouls
//! (`rules_of_the_start.rs`).

use lastamber::rules::{
    FoulRule, Judgement, LaneRun, Reason, RtScale, RulesError, SlipTime, judge,
};
use proptest::prelude::*;

const A: Option<usize> = Some(0);
const B: Option<usize> = Some(1);

fn time(text: &str) -> SlipTime {
    text.parse().unwrap()
}

/// `dial rt et mph` with `-` for what is not given.
fn lane(words: &str) -> LaneRun {
    let mut words = words.split_whitespace().map(|word| (word != "-").then_some(word));
    let mut next = || words.next().flatten();
    let (dial, rt, et) = (next().map(time), next().map(time), next().map(time));
    let mph = next().map(|word| word.parse().unwrap());
    LaneRun { dial, rt, et, mph, ..LaneRun::default() }
}

fn judged_by(rule: FoulRule, scale: RtScale, a: &str, b: &str) -> Judgement {
    judge([lane(a), lane(b)], rule, scale).unwrap()
}

fn judged(a: &str, b: &str) -> Judgement {
    judged_by(FoulRule::First, RtScale::Modern, a, b)
}

#[track_caller]
fn assert_won(got: Judgement, winner: Option<usize>, reason: Reason, margin: Option<&str>) {
    assert_eq!((got.winner, got.reason, got.margin), (winner, reason, margin.map(time)));
}

#[test]
fn the_smaller_package_wins_by_the_difference() {
    // Published in event reports and columns (numbers of the worked cases), but for 7 and 13, which
    // are derived from the rules. Lanes: dial, RT, ET, speed.
    let cases = [
        (1, "- .032 6.636 209.26", "- .032 6.622 206.80", B, ".014"),
        (2, "- .079 6.538", "- .013 6.574", B, ".030"),
        (3, "- .048 6.624", "- .034 6.647", A, ".009"),
        (5, "- .069 4.150 278.92", "- .083 4.092", B, ".044"),
        (6, "- .092 5.452", "- .084 4.071", B, "1.389"),
        (7, "- .100 4.100", "- .000 4.150", B, ".050"),
        (9, "8.90 .080 8.900", "8.90 .000 8.979", B, ".001"),
        (10, "14.20 .020 14.32", "13.00 .050 13.10", A, ".010"),
        (12, "6.81 .000 6.825", "5.43 .010 5.440", A, ".005"),
        (13, "20.00 .000 20.50", "10.00 .000 10.00", B, ".500"),
    ];
    for (case, a, b, winner, margin) in cases {
        let got = judged(a, b);
        assert_eq!((case, got.winner, got.reason), (case, winner, Reason::Package));
        assert_eq!((case, got.margin), (case, Some(time(margin))));
        let [a, b] = got.packages.map(|package| package.expect("both are whole"));
        assert_eq!((case, (a - b).seconds().abs()), (case, time(margin).seconds()));
    }
}

#[test]
fn old_scales_are_judged_as_they_were_printed() {
    // Published, old .400 scale (cases 4 and 8).
    let old = |a, b| judged_by(FoulRule::First, RtScale::Old400, a, b);
    assert_won(old("- .432 6.924", "- .457 6.908"), A, Reason::Package, Some(".009"));
    let eight = old("- .495 6.80", "- .444 6.85");
    assert_won(eight, B, Reason::Package, Some(".001"));
    // .095 + 6.80 against .044 + 6.85.
    assert_eq!(eight.packages, [Some(time("6.895")), Some(time("6.894"))]);
    // Below the perfect light of its scale is red.
    let red = judged_by(FoulRule::First, RtScale::Old500, "- .499 12.0", "- .500 14.0");
    assert_won(red, B, Reason::Red, None);
}

#[test]
fn a_margin_in_feet_is_the_losers_speed_for_that_long() {
    // Published: .014 s at 209.26 mph is 4.3 ft (case 1); .0441 s at 278.92 mph is 18.04 ft (case 5);
    // .0003 s at 120 mph is .0528 ft = .633 in.
    let feet = |a: &str, b: &str| judged(a, b).margin_ft.unwrap();
    assert!((feet("- .032 6.636 209.26", "- .032 6.622 206.80") - 4.3).abs() < 0.05);
    assert!((feet("- .0690 4.1500 278.92", "- .0830 4.0919") - 18.04).abs() < 0.005);
    let small = feet("- .0003 10.0 120", "- .0000 10.0");
    assert!((small - 0.0528).abs() < 5e-5 && (small * 12.0 - 0.633).abs() < 1e-3);
    // Without the loser's speed there is no distance.
    assert_eq!(judged("- .1 6.6", "- .0 6.6 120").margin_ft, None);
}

#[test]
fn a_breakout_is_strict_and_loses_to_a_clean_run() {
    // Published: 10.159 on a 10.16 dial is a breakout by .001; 12.29 on 12.30 loses (case 14).
    let got = judged("12.30 - 12.29", "13.00 - 13.05");
    assert_won(got, B, Reason::Breakout, None);
    assert_won(judged("10.16 .0 10.159", "10.16 .3 10.20"), B, Reason::Breakout, None);
    assert_eq!(judged("10.16 .0 10.16", "10.16 .3 10.20").winner, A);
    // A clean lane needs no numbers.
    assert_won(judged("12.30 - 12.29", ""), B, Reason::Breakout, None);
    // Case 11, published: both under, the smaller amount wins.
    let got = judged("14.20 - 14.19", "13.00 - 12.96");
    assert_won(got, A, Reason::DoubleBreakout, Some(".03"));
    let even = judged("14.20 - 14.19", "13.00 - 12.99");
    assert_won(even, None, Reason::DoubleBreakout, Some(".000"));
}

#[test]
fn red_outranks_a_breakout_and_leaving_early_outranks_red() {
    // Cases 15 and 16, published (NHRA sportsman article: red outranks breakout).
    assert_won(judged("- -.033 15.52", "- .576 13.93"), B, Reason::Red, None);
    assert_won(judged("14.00 -.002 14.05", "13.00 .040 12.90"), B, Reason::Red, None);
    let early = LaneRun { left_early: true, ..LaneRun::default() };
    let red = lane("14.00 -.002 14.05");
    for rule in [FoulRule::First, FoulRule::Worst] {
        let got = judge([early, red], rule, RtScale::Modern).unwrap();
        assert_won(got, B, Reason::LeftBeforeTree, None);
        let got = judge([early, early], rule, RtScale::Modern).unwrap();
        assert_won(got, None, Reason::LeftBeforeTree, None);
    }
    // .000 is legal.
    assert_eq!(judged("- .000 10.0", "- .001 10.0").winner, A);
}

#[test]
fn two_reds_go_by_the_rule_in_force() {
    // Cases 17 to 19, derived from the two rules.
    for (case, a, b, first, worst) in [
        (17, "15.00 -.004", "13.00 -.120", B, A),
        (18, "- -.010", "- -.015", A, A),
        // A's clock: −.120 falls at −.070.
        (19, "13.05 -.004", "13.00 -.120", A, A),
    ] {
        let by = |rule| judged_by(rule, RtScale::Modern, a, b);
        assert_eq!((case, by(FoulRule::First).winner), (case, first));
        assert_eq!((case, by(FoulRule::Worst).winner), (case, worst));
        assert_eq!(by(FoulRule::First).reason, Reason::DoubleRed);
    }
    // The lamps alone do not say which was first.
    let red = LaneRun { red: true, ..LaneRun::default() };
    let got = judge([red, red], FoulRule::First, RtScale::Modern).unwrap();
    assert_won(got, None, Reason::DoubleRed, None);
}

#[test]
fn flags_stand_for_numbers_nobody_wrote_down() {
    let red = LaneRun { red: true, ..LaneRun::default() };
    let under = LaneRun { broke_out: true, ..LaneRun::default() };
    let clean = LaneRun::default();
    let by = |lanes| judge(lanes, FoulRule::First, RtScale::Modern).unwrap();
    assert_won(by([red, clean]), B, Reason::Red, None);
    assert_won(by([red, under]), B, Reason::Red, None);
    assert_won(by([clean, under]), A, Reason::Breakout, None);
    assert_won(by([under, under]), None, Reason::DoubleBreakout, None);
}

#[test]
fn a_number_that_is_needed_and_missing_is_named() {
    let refuse =
        |a: &str, b: &str| judge([lane(a), lane(b)], FoulRule::First, RtScale::Modern).unwrap_err();
    let missing = |lane, what| RulesError::Missing { lane, what };
    assert_eq!(refuse("- .1 12.0", "- .1"), missing(1, "et"));
    assert_eq!(refuse("- - 12.0", "- .1 12.0"), missing(0, "rt"));
    assert_eq!(refuse("12.0 .1 12.1", "- .1 12.0"), missing(1, "dial"));
    assert_eq!(
        refuse("12.0 .1 12.1", "- .1 12.0").to_string(),
        "the right lane's dial is missing; without it the packages cannot be compared"
    );
}

#[test]
fn equal_packages_are_a_tie() {
    let got = judged("12.00 .100 12.100 100", "11.00 .150 11.050 110");
    assert_won(got, None, Reason::Tie, Some(".000"));
    assert_eq!(got.margin_ft, None);
}

fn any_lane() -> impl Strategy<Value = LaneRun> {
    let t = |low: i64, high: i64| {
        prop::option::weighted(0.8, low..high).prop_map(|n| n.map(SlipTime::from_ten_thousandths))
    };
    let flag = || prop::bool::weighted(0.1);
    // Narrow ranges, so that ties and near ties come up.
    (t(100_000, 100_040), t(-20, 20), t(100_000, 100_040), flag(), flag(), flag()).prop_map(
        |(dial, rt, et, red, broke_out, left_early)| LaneRun {
            dial,
            rt,
            et,
            mph: et.map(|et| 1_400.0 / et.seconds()),
            red,
            broke_out,
            left_early,
        },
    )
}

proptest! {
    #[test]
    fn swapping_the_lanes_swaps_the_winner_and_nothing_else(
        a in any_lane(), b in any_lane(), worst: bool, old: bool,
    ) {
        let rule = if worst { FoulRule::Worst } else { FoulRule::First };
        let scale = if old { RtScale::Old400 } else { RtScale::Modern };
        match (judge([a, b], rule, scale), judge([b, a], rule, scale)) {
            (Ok(straight), Ok(swapped)) => {
                prop_assert_eq!(straight.winner.map(|lane| 1 - lane), swapped.winner);
                prop_assert_eq!(straight.reason, swapped.reason);
                prop_assert_eq!(straight.margin, swapped.margin);
                prop_assert_eq!(straight.margin_ft, swapped.margin_ft);
                prop_assert_eq!([straight.packages[1], straight.packages[0]], swapped.packages);
            }
            (Err(_), Err(_)) => {}
            (one, other) => prop_assert!(false, "{one:?} but {other:?}"),
        }
    }

    #[test]
    fn a_winner_never_fouled_worse_than_the_loser(a in any_lane(), b in any_lane()) {
        let lanes = [a, b];
        let Ok(got) = judge(lanes, FoulRule::First, RtScale::Modern) else { return Ok(()) };
        let rank = |lane: &LaneRun| {
            if lane.left_early { 3 }
            else if lane.red || lane.rt.is_some_and(|rt| rt < SlipTime::ZERO) { 2 }
            else if lane.broke_out || lane.dial.zip(lane.et).is_some_and(|(dial, et)| et < dial) { 1 }
            else { 0 }
        };
        if let Some(winner) = got.winner {
            prop_assert!(rank(&lanes[winner]) <= rank(&lanes[1 - winner]));
        }
        prop_assert!(got.margin.is_none_or(|margin| margin >= SlipTime::ZERO));
    }
}
