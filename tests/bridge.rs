//! Home against real slips, for drivers whose way to the track is known.
//!
//! Owns the checks of `strategy::own::Bridge`: what it takes to have one, what slips move and what they
//! never move, the order of the likely reasons. Refuses the arithmetic (`stats_rig.rs`).

mod desk_support;

use desk_support::*;
use lastamber::history::{CarLine, Loaded, SlipLine};
use lastamber::report::home_track::home_to_track_page;
use lastamber::seed::generator;
use lastamber::slips::{LampKind, LaneSlip, Manner, Slip, SlipOrigin};
use lastamber::strategy::law::RtLaw;
use lastamber::strategy::own::{Bridge, OwnCar, OwnLines, OwnSlips, Reason};
use lastamber::trial::Style;

const LEVEL: f64 = 0.90;
/// Mean of the lights at home by timing, as `blocks` draws them, s.
const HOME_S: f64 = 0.030;

/// Practice by timing on six days, and these slips.
fn with(slips: Vec<SlipLine>) -> Loaded {
    let days = [4, 6, 9, 11, 13, 15].map(|day| (Style::TimeIt, day));
    Loaded { trials: blocks(&days, 11), slips, ..Loaded::default() }
}

fn bridge(loaded: &Loaded) -> Option<Bridge> {
    Bridge::new(&OwnLines::from(loaded), &setup(Style::TimeIt), LEVEL).unwrap()
}

fn one(rt_s: f64, change: impl FnOnce(&mut Slip)) -> Bridge {
    let mut line = slip(0, 6, rt_s, None);
    change(&mut line.slip);
    bridge(&with(vec![line])).expect("a slip with a light and sixty launches")
}

fn order(bridge: &Bridge) -> Vec<Reason> {
    bridge.reasons.iter().map(|likely| likely.reason).collect()
}

fn has(bridge: &Bridge, reason: Reason) -> bool {
    order(bridge).contains(&reason)
}

#[test]
fn it_takes_a_slip_with_a_light_and_two_launches_at_home() {
    assert_eq!(bridge(&with(Vec::new())), None);
    assert_eq!(bridge(&Loaded { slips: slips(5, 3), ..Loaded::default() }), None);
    let mut alone = with(slips(1, 3));
    alone.trials.truncate(1);
    assert_eq!(bridge(&alone), None);
    alone = with(slips(1, 3));
    alone.trials.truncate(2);
    assert_eq!(bridge(&alone).expect("two are enough").home_s.n, 2);
    // What is no light of this set-up is none: no R/T, left on green, computed, another's.
    let mut other = slip(0, 6, 0.05, None);
    for change in [
        (|s: &mut Slip| s.own = LaneSlip::default()) as fn(&mut Slip),
        |s| s.manner = Some(Manner::OnGreen),
        |s| s.manner = Some(Manner::Reacted),
        |s| s.origin = SlipOrigin::Simulated { trial: "run-1".to_owned() },
        |s| s.driver = "somebody".to_owned(),
        |s| s.car = "another".to_owned(),
    ] {
        let before = other.slip.clone();
        change(&mut other.slip);
        assert_eq!(bridge(&with(vec![other.clone()])), None, "{:?}", other.slip);
        other.slip = before;
    }
    assert!(bridge(&with(vec![other])).is_some());
}

#[test]
fn one_slip_moves_the_offset_a_part_of_the_way_and_two_give_a_difference() {
    let got = one(0.130, |_| {});
    assert_eq!((got.difference, got.offset_s.n, got.slips_s.len()), (None, 1, 1));
    let gap_s = got.gap_s();
    assert!((gap_s - (0.130 - got.home_s.value)).abs() < 1e-12);
    assert!(got.offset_s.value > 0.0 && got.offset_s.value < gap_s, "{:?}", got.offset_s);
    let half_s = (got.offset_s.high - got.offset_s.low) / 2.0;
    assert!(half_s < 1.645 * got.prior_sd_s);
    // The prior is 40 ms, chosen, and what is not known of the car.
    let lines = with(Vec::new());
    let car = OwnCar::new(&OwnLines::from(&lines), &setup(Style::TimeIt));
    assert!((got.prior_sd_s - 0.040_f64.hypot(car.part.doubt_sd_s)).abs() < 1e-12);
    let two = bridge(&with(vec![slip(0, 6, 0.13, None), slip(1, 7, 0.12, None)])).unwrap();
    assert_eq!(two.difference.expect("two slips").seconds.n, 2);
}

#[test]
fn slips_find_a_known_way_to_the_track_and_move_nothing_else() {
    // Drivers whose lights at the track are later by a shift that is known.
    let (mut held, mut shifts) = (0, 0);
    for shift_s in [-0.060, -0.020, 0.0, 0.035, 0.080] {
        for seed in 0..8 {
            let law = RtLaw::normal(HOME_S + shift_s, 0.018).unwrap();
            let rng = &mut generator(100 + seed);
            let lines: Vec<SlipLine> =
                (0..20).map(|i| slip(i, 1 + i as i8 % 5, law.sample(rng), None)).collect();
            let loaded = with(lines);
            let got = bridge(&loaded).unwrap();
            shifts += 1;
            held += usize::from((got.offset_s.low..=got.offset_s.high).contains(&shift_s));
            assert!((got.offset_s.value - shift_s).abs() < 0.025, "{shift_s}: {:?}", got.offset_s);
            let without = with(Vec::new());
            let setup = setup(Style::TimeIt);
            assert_eq!(
                OwnCar::new(&OwnLines::from(&loaded), &setup),
                OwnCar::new(&OwnLines::from(&without), &setup)
            );
            let home = got.home_s;
            assert_eq!(home, bridge(&with(slips(1, seed))).unwrap().home_s);
        }
    }
    assert!(held as f64 >= 0.85 * f64::from(shifts), "{held} of {shifts}");
}

#[test]
fn more_slips_narrow_the_offset_and_a_narrower_one_asks_for_more() {
    let width = |count| {
        let offset = bridge(&with(slips(count, 5))).unwrap().offset_s;
        offset.high - offset.low
    };
    let widths = [1, 4, 16, 64].map(width);
    assert!(widths.windows(2).all(|pair| pair[1] < pair[0]), "{widths:?}");
    let got = bridge(&with(slips(4, 5))).unwrap();
    assert!(!got.slips_own_spread && bridge(&with(slips(5, 5))).unwrap().slips_own_spread);
    let [coarse, fine] = got.slips_wanted;
    let coarse = coarse.expect("25 ms can be had");
    assert!(fine.is_none_or(|fine| fine > coarse), "{coarse}, {fine:?}");
    // That many slips, four a night, do leave ± 25 ms.
    let many: Vec<SlipLine> = (0..coarse as usize)
        .map(|i| slip(i, 1 + (i / 4) as i8, HOME_S + 0.018 * [-1.0, 1.0][i % 2], None))
        .collect();
    let known = bridge(&with(many)).unwrap().offset_s;
    assert!(known.high - known.low <= 0.050, "{coarse}: {known:?}");
}

#[test]
fn a_slip_like_any_launch_at_home_is_chance_before_all() {
    assert_eq!(order(&one(HOME_S + 0.01, |_| {}))[0], Reason::Chance);
    let late = one(HOME_S + 0.15, |_| {});
    assert_ne!(order(&late)[0], Reason::Chance);
    let worths: Vec<f64> = late.reasons.iter().map(|likely| likely.worth_s).collect();
    assert!(worths.windows(2).all(|pair| pair[0] >= pair[1]), "{worths:?}");
}

#[test]
fn half_a_second_is_waiting_for_green_or_an_older_scale() {
    let half = one(0.53, |_| {});
    assert_eq!(order(&half)[..2], [Reason::WaitedForGreen, Reason::OlderScale]);
    // Who says how it was left has not read the scale wrongly by it.
    let timed = one(0.53, |slip| slip.manner = Some(Manner::Timed));
    assert!(has(&timed, Reason::WaitedForGreen) && !has(&timed, Reason::OlderScale));
    assert!(!has(&one(0.10, |_| {}), Reason::WaitedForGreen));
}

#[test]
fn a_launch_that_waited_for_green_moves_nothing_and_is_told_of() {
    let said = |bridge: &Bridge| format!("{:?}", home_to_track_page(Some(bridge)).blocks);
    for count in [1, 4, 12] {
        let ordinary = bridge(&with(slips(count, 5))).unwrap();
        assert_eq!(ordinary.left_on_green, 0);
        assert!(!said(&ordinary).contains("waited for green, with"));
        let mut lines = slips(count, 5);
        lines.insert(count / 2, slip(99, 7, 0.452, None));
        let got = bridge(&with(lines)).unwrap();
        assert_eq!((got.left_on_green, got.slips_s.len()), (1, count + 1));
        // Only how many slips share a day is another: the weight of days differs by that.
        let moved_s = got.offset_s.value - ordinary.offset_s.value;
        assert!(moved_s.abs() < 0.001, "{count}: {moved_s}");
        assert_eq!(got.offset_s.n, count);
        assert_eq!(
            got.difference.map(|d| d.seconds.value),
            ordinary.difference.map(|d| d.seconds.value)
        );
        let words = format!("One of {} slips reads as if you had waited for green", count + 1);
        assert!(said(&got).contains(&words), "{}", said(&got));
    }
    // Nothing but such slips leaves what was known before any.
    let alone = one(0.452, |_| {});
    assert_eq!((alone.left_on_green, alone.offset_s.n, alone.difference), (1, 0, None));
    assert_eq!(alone.offset_s.value, 0.0);
}

#[test]
fn bulbs_depth_and_first_launch_count_where_they_can_be_behind_it() {
    let bulb = |rt_s| one(rt_s, |slip| slip.lamps = Some(LampKind::Bulb));
    assert!(has(&bulb(0.10), Reason::Bulbs) && !has(&bulb(-0.05), Reason::Bulbs));
    assert!(has(&one(0.1, |slip| slip.first_of_day = Some(true)), Reason::FirstLaunch));
    assert!(!has(&one(0.1, |_| {}), Reason::FirstLaunch));
    // Deeper is earlier: it cannot be why a slip is late.
    let at = |rt_s| {
        let mut line = slip(0, 6, rt_s, None);
        line.slip.depth_in = Some(6.0);
        bridge(&Loaded { cars: vec![car_line()], ..with(vec![line]) }).unwrap()
    };
    // At home this car's lights are at .165.
    assert!(has(&at(0.10), Reason::Depth) && !has(&at(0.25), Reason::Depth));
}

#[test]
fn the_newest_slip_is_the_one_of_the_last_day_and_hour() {
    let at = |id, day, hour: Option<i8>, rt_s| {
        let mut line = slip(id, day, rt_s, None);
        line.slip.time = hour.map(|hour| jiff::civil::time(hour, 0, 0, 0));
        line
    };
    let newest = |lines| bridge(&with(lines)).unwrap().newest.rt().unwrap().seconds();
    assert_eq!(newest(vec![at(0, 9, None, 0.07), at(1, 6, None, 0.05)]), 0.07);
    assert_eq!(newest(vec![at(0, 6, Some(21), 0.07), at(1, 6, Some(19), 0.05)]), 0.07);
    assert_eq!(newest(vec![at(0, 6, None, 0.05), at(1, 6, None, 0.07)]), 0.07);
    // A correction stands for what it corrects.
    let corrected = SlipLine { corrects: Some("slip-0".to_owned()), ..at(1, 6, None, 0.04) };
    assert_eq!(newest(vec![at(0, 6, None, 0.4), corrected]), 0.04);
}

#[test]
fn a_car_of_which_nothing_is_known_is_a_reason_of_its_own() {
    let car_of = |bridge: &Bridge| {
        let found = bridge.reasons.iter().find(|l| matches!(l.reason, Reason::Car(_)));
        found.expect("the car is always told").worth_s
    };
    let told = bridge(&Loaded { cars: vec![car_line()], ..with(slips(1, 3)) }).unwrap();
    let unknown = CarLine {
        id: "car".to_owned(),
        name: CAR.to_owned(),
        control: "Space".to_owned(),
        launch_edge: Some("press".to_owned()),
        ..CarLine::default()
    };
    let guessed = bridge(&Loaded { cars: vec![unknown], ..with(slips(1, 3)) }).unwrap();
    assert!(car_of(&guessed) > car_of(&told));
    let lines = with(slips(3, 3));
    let own = OwnSlips::new(&OwnLines::from(&lines), &setup(Style::TimeIt));
    assert_eq!(own.counts.lights, bridge(&lines).unwrap().slips_s.len());
}
