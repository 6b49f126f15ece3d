//! Aim and Odds from a driver's own lines: what counts, what it rests on, and the pages.

mod desk_support;

use desk_support::*;
use lastamber::history::{FilmLine, Loaded};
use lastamber::report::desk::{aim_page, odds_page};
use lastamber::slips::{Manner, SlipOrigin, SlipTree};
use lastamber::strategy::Doubt;
use lastamber::strategy::desk::{Against, Asked, Desk, ReactOrTime, Rival, aims_s};
use lastamber::strategy::launches::View;
use lastamber::strategy::lever::LeverKind;
use lastamber::strategy::odds::{Finish, Level, Race};
use lastamber::strategy::own::{OwnLines, OwnRuns, OwnSlips, fair_blocks, setups};
use lastamber::tree::{AbandonReason, Outcome, VoidReason};
use lastamber::trial::{Drill, Style, TrialRecord};
use std::time::Instant;

const R: Style = Style::React;
const T: Style = Style::TimeIt;

fn against() -> Against {
    let race = Race::heads_up(Finish::gap(0.0, 0.030).unwrap());
    Against { rival: Rival::Level(Level::Sharp), race, rounds: 3 }
}

fn desk(loaded: &Loaded, style: Style, against: Option<Against>) -> Desk {
    let asked = Asked { against, ..Asked::test_and_tune(setup(style), 1) };
    Desk::new(&OwnLines::from(loaded), asked).unwrap()
}

fn practice(trials: Vec<TrialRecord>) -> Loaded {
    Loaded { trials, ..Loaded::default() }
}

/// Fourteen runs of every kind by reaction, on one day.
fn every_kind() -> Vec<TrialRecord> {
    let of = |id, outcome| run(id, 1, R, outcome, None);
    let mut runs = vec![
        timed(0, 1, R, 0.020),
        timed(1, 1, R, -0.004),
        of(2, Outcome::LeftBeforeTree),
        // Rolled out of the beams during the ambers: no launch, no time, red.
        of(12, Outcome::Red),
        of(3, Outcome::Lapse),
        of(4, Outcome::TimedOut),
        of(5, Outcome::Void(VoidReason::NoOnset)),
        of(6, Outcome::Abandoned(AbandonReason::Paused)),
        of(7, Outcome::Stayed),
        of(8, Outcome::Guessed { after_due_ns: 40_000_000 }),
        of(9, Outcome::Guessed { after_due_ns: 300_000_000 }),
        timed(10, 1, R, 0.030),
        timed(11, 1, T, 0.010),
        // Nobody left, and the last amber was to stay away: no lapse.
        of(13, Outcome::Lapse),
    ];
    runs[11].setup.scripted = true;
    runs[13].setup.blank = true;
    runs
}

#[test]
fn every_run_counts_as_something() {
    let loaded = practice(every_kind());
    let own = desk(&loaded, R, None).runs;
    let c = own.counts;
    assert_eq!((c.launches, c.left_before_tree, c.lapses), (2, 2, 1));
    assert_eq!((c.timed_out, c.void, c.abandoned, c.scripted), (1, 1, 1, 1));
    // Who left .3 s after a lamp that never came may have answered the one before.
    assert_eq!((own.guess_test.blanks, own.guess_test.guesses), (3, 1));
    let lights = own.lights_s();
    assert!((lights[0] - 0.020).abs() < 1e-9 && (lights[1] + 0.004).abs() < 1e-9, "{lights:?}");
    let none = practice(every_kind()[..2].to_vec());
    assert_eq!(desk(&none, R, None).runs.guess_test.share(0.9), Ok(None));
    let pool = own.pool().unwrap().unwrap();
    assert_eq!((pool.starts(), pool.left_before_tree(), pool.lapses()), (5, 2, 1));
    let counted = desk(&loaded, R, None).practice_counts.unwrap();
    assert_eq!((counted.reds, counted.share.n), (3, 5));
}

#[test]
fn who_knows_the_last_amber_may_stay_away_makes_no_ordinary_launch() {
    let ordinary: Vec<TrialRecord> = (0..20).map(|id| timed(id, 1, R, 0.030)).collect();
    let mut tested = vec![
        timed(20, 1, R, -0.050),
        timed(21, 1, R, 0.090),
        run(22, 1, R, Outcome::LeftBeforeTree, None),
        run(23, 1, R, Outcome::Lapse, None),
        run(24, 1, R, Outcome::Stayed, None),
        run(25, 1, R, Outcome::Guessed { after_due_ns: 10_000_000 }, None),
        run(26, 1, R, Outcome::Void(VoidReason::NoOnset), None),
    ];
    tested.iter_mut().for_each(|run| run.setup.drill = Drill::GuessTest);
    let without = desk(&practice(ordinary.clone()), R, None);
    let both = practice([ordinary, tested].concat());
    let with = desk(&both, R, None);
    let test = with.runs.guess_test;
    assert_eq!((test.blanks, test.guesses, test.lit), (2, 1, 4));
    assert_eq!(with.practice, without.practice);
    assert_eq!(with.practice_counts, without.practice_counts);
    assert_eq!(setups(&OwnLines::from(&both))[0].launches, 20);
    let text = as_text(&aim_page(&with, 0.0));
    assert!(text.contains("6 of the guess test, kept apart"), "{text}");
}

#[test]
fn an_excluded_red_still_counts_and_the_rest_is_told_both_ways() {
    let mut trials = blocks(&[(T, 1), (T, 2), (T, 3)], 4);
    trials[3] = timed(3, 1, T, -0.010);
    trials[5] = timed(5, 1, T, 0.160);
    let excluded = ["run-3".to_owned(), "run-5".to_owned()];
    let loaded = practice(trials);
    let lines = OwnLines { excluded: &excluded, ..OwnLines::from(&loaded) };
    let told = Desk::new(&lines, Asked::test_and_tune(setup(T), 1)).unwrap();
    let c = told.runs.counts;
    assert_eq!((c.launches, c.excluded, c.excluded_reds), (29, 1, 1));
    let red = told.practice.as_ref().unwrap().view(View::ThisForm).unwrap().curve.red(0.0);
    let all = told.red_without_exclusions.unwrap();
    assert_eq!((red.n, all.n), (29, 30));
    let text = as_text(&aim_page(&told, 0.0));
    assert!(text.contains("1 excluded by you and left out"), "{text}");
    assert!(text.contains("With the excluded runs back in: red"), "{text}");
}

#[test]
fn past_runs_are_read_with_the_delay_filmed_since() {
    let mut loaded = practice(blocks(&[(T, 1)], 3));
    let before = desk(&loaded, T, None).runs;
    loaded.films.push(FilmLine {
        id: "film".to_owned(),
        saved_at: String::new(),
        program: String::new(),
        rig: rig().into(),
        fps: 240.0,
        frames: Vec::new(),
        own_ms: Vec::new(),
        left_out: Vec::new(),
        offset_ms: 55.0,
        spread_ms: 2.0,
        standard_error_ms: 1.5,
        n: 25,
    });
    let after = desk(&loaded, T, None).runs;
    for (now, then) in after.driver_parts_s().iter().zip(before.driver_parts_s()) {
        assert!((then - now - 0.020).abs() < 1e-9);
    }
    assert!((before.delay_sd_s - 0.015).abs() < 1e-12 && (after.delay_sd_s - 0.0015).abs() < 1e-12);
    let greens = before.colours.runs;
    assert!(after.colours.green_to_red > 0 && after.colours.red_to_green == 0, "{greens}");
    // Stamps of ± 0.5 ms at both ends: √(1/12 + 1/12) ms.
    assert!((1000.0 * after.clock_sd_s - (2.0_f64 / 12.0).sqrt()).abs() < 1e-9);
}

#[test]
fn set_ups_are_offered_the_one_driven_last_first() {
    let mut loaded = full_history();
    let other = |manner| slip(90, 20, 0.1, manner);
    loaded.slips.push(other(Some(Manner::OnGreen)));
    loaded.slips.push(other(None));
    loaded.slips.last_mut().unwrap().slip.car = "another demo car".to_owned();
    let all = setups(&OwnLines::from(&loaded));
    let told: Vec<(&str, Style, usize, usize, usize)> = all
        .iter()
        .map(|s| (s.setup.car.as_str(), s.setup.style, s.launches, s.days, s.slips))
        .collect();
    let want = [(CAR, T, 60, 6, 22), (CAR, R, 60, 6, 0), ("another demo car", R, 0, 0, 1)];
    assert_eq!(told, want);
    assert_eq!(all[0].last, Some(jiff::civil::date(2026, 6, 7)));
    assert_eq!(all[1].last, Some(jiff::civil::date(2026, 5, 15)));
}

#[test]
fn another_car_edge_tree_or_driver_is_another_set_up() {
    let base = timed(0, 1, R, 0.03);
    let change: [fn(&mut TrialRecord); 5] = [
        |run| run.car.name = "x".to_owned(),
        |run| run.rig.launch_edge = "release".to_owned(),
        |run| run.setup.interval = lastamber::units::Span::from_ms(400),
        |run| run.driver = "x".into(),
        |run| run.setup.style = T,
    ];
    for change in change {
        let mut run = base.clone();
        change(&mut run);
        assert!(!setup(R).holds(&run));
    }
    // The rest of a rig may differ: its delay is taken off.
    let mut run = base.clone();
    run.rig.refresh_hz = 144;
    assert!(setup(R).holds(&run));
}

#[test]
fn cold_are_the_first_three_starts_of_a_day_once_fifteen_have_a_time() {
    let style = |day: u8| (0..5).map(move |i| timed(usize::from(day) * 10 + i, day, R, 0.03));
    let cold = |days: u8, spoilt: bool| {
        let mut trials: Vec<TrialRecord> = (1..=days).flat_map(style).collect();
        if spoilt {
            trials[0] = run(10, 1, R, Outcome::LeftBeforeTree, None);
        }
        let loaded = practice(trials);
        let own = OwnRuns::new(&OwnLines::from(&loaded), &setup(R), 0.22);
        own.cold_pool().unwrap().map(|pool| (pool.driver_parts().n(), pool.left_before_tree()))
    };
    assert_eq!(cold(4, false), None);
    assert_eq!(cold(5, false), Some((15, 0)));
    assert_eq!(cold(5, true), None);
    assert_eq!(cold(6, true), Some((17, 1)));
    let full = desk(&full_history(), T, None);
    assert_eq!(full.practice.as_ref().unwrap().cold, Some(18));
    let track = full.practice.as_ref().unwrap().view(View::AtTheTrack).unwrap();
    assert_eq!((track.n, full.practice.as_ref().unwrap().n), (18, 60));
}

#[test]
fn slips_of_the_same_car_tree_and_style_tell_the_way_to_the_track() {
    let loaded = full_history();
    let timing = desk(&loaded, T, None);
    // Slips about .041 ± .018, practice about .030 ± .016 with the car as the runs believed it.
    assert_eq!(timing.home.slips, 22);
    let later_ms = 1000.0 * timing.home.offset_s.value;
    assert!((4.0..24.0).contains(&later_ms), "{later_ms}");
    assert!(timing.home.offset_s.sd < 0.016, "{:?}", timing.home);
    let reacting = desk(&loaded, R, None);
    assert_eq!((reacting.home.slips, reacting.home.offset_s.value), (0, 0.0));
    // 40 ms, and the doubts of car (20 ms) and delay (15 ms).
    let want = (40.0_f64.powi(2) + 20.0_f64.powi(2) + 15.0_f64.powi(2)).sqrt();
    assert!((1000.0 * reacting.home.offset_s.sd - want).abs() < 0.5, "{:?}", reacting.home);
}

#[test]
fn practice_and_slips_are_never_pooled() {
    let told = desk(&full_history(), T, Some(against()));
    assert_eq!(told.practice.as_ref().unwrap().n, 60);
    let slips = told.slips_alone.as_ref().unwrap();
    assert_eq!(slips.n, 22);
    let alone = Loaded { slips: full_history().slips, ..Loaded::default() };
    assert_eq!(desk(&alone, T, Some(against())).slips_alone.as_ref(), Some(slips));
    let text = as_text(&aim_page(&desk(&alone, T, Some(against())), 0.0));
    assert!(text.contains("No practice, 22 slips on 2 days"), "{text}");
}

#[test]
fn computed_slips_count_nowhere_and_a_red_without_a_number_is_red() {
    let mut loaded = Loaded { slips: slips(12, 2), ..Loaded::default() };
    loaded.slips[0].slip.origin = SlipOrigin::Simulated { trial: "run-1".to_owned() };
    loaded.slips[1].slip.own.rt = None;
    loaded.slips[1].slip.own.red = true;
    loaded.slips[2].slip.manner = None;
    loaded.slips[3].slip.manner = Some(Manner::Reacted);
    loaded.slips[4].slip.tree = Some(SlipTree::Pro500);
    let own = OwnSlips::new(&OwnLines::from(&loaded), &setup(T));
    let c = own.counts;
    assert_eq!((c.lights, c.reds_without_number, c.not_said, c.of_others), (8, 1, 1, 2));
    assert_eq!(own.pool().unwrap().unwrap().left_before_tree(), 1);
}

#[test]
fn only_blocks_that_took_turns_are_compared() {
    let styles = |trials: Vec<TrialRecord>| {
        let loaded = practice(trials);
        let blocks = fair_blocks(&OwnLines::from(&loaded), &setup(R));
        blocks.iter().map(|b| if b.style == R { 'R' } else { 'T' }).collect::<String>()
    };
    let early_weeks = [(R, 1), (R, 2), (R, 3), (R, 4), (T, 4), (R, 5), (T, 5), (T, 6), (T, 7)];
    assert_eq!(styles(blocks(&early_weeks, 1)), "RTRTT");
    assert_eq!(styles(blocks(&[(R, 1), (R, 2), (T, 3), (T, 4)], 1)), "");
    assert_eq!(styles(blocks(&[(R, 1), (T, 1), (R, 2), (T, 2)], 1)), "RTRT");
    assert!(matches!(desk(&full_history(), T, None).react_or_time_it, ReactOrTime::Told(_)));
    let weeks = practice(blocks(&[(R, 1), (R, 2), (T, 3), (T, 4)], 1));
    assert_eq!(desk(&weeks, T, None).react_or_time_it, ReactOrTime::NoBlocks);
}

#[test]
fn blocks_are_of_their_own_drill_and_lose_no_red() {
    let mut trials = blocks(&[(R, 1), (T, 1), (R, 2), (T, 2)], 1);
    trials[2] = TrialRecord { setup: trials[2].setup.clone(), ..timed(2, 1, R, -0.010) };
    trials[3] = TrialRecord { setup: trials[3].setup.clone(), ..timed(3, 1, R, 0.200) };
    for (place, outcome) in [(4, Outcome::Red), (5, Outcome::LeftBeforeTree), (6, Outcome::Lapse)] {
        let setup = trials[place].setup.clone();
        trials[place] = TrialRecord { setup, ..run(place, 1, R, outcome, None) };
    }
    // Before, between and after: launches that belong to no comparison.
    for place in [40, 25, 10, 0] {
        trials.insert(place, timed(100 + place, 1 + u8::from(place > 20), T, 0.015));
    }
    let loaded = practice(trials);
    let excluded = ["run-2".to_owned(), "run-3".to_owned()];
    let lines = OwnLines { excluded: &excluded, ..OwnLines::from(&loaded) };
    let fair = fair_blocks(&lines, &setup(T));
    let told: Vec<(Style, usize, usize, usize)> = fair
        .iter()
        .map(|b| (b.style, b.driver_parts_s.len(), b.left_before_tree, b.lapses))
        .collect();
    // Rolled out during the ambers and left before them are red; so is the one that was excluded.
    assert_eq!(told, [(R, 6, 2, 1), (T, 10, 0, 0), (R, 10, 0, 0), (T, 10, 0, 0)]);
}

#[test]
fn a_known_car_has_levers_and_a_reaction_none_of_its_own() {
    let loaded = Loaded { cars: vec![car_line()], ..full_history() };
    let kinds = |style| {
        let told = desk(&loaded, style, Some(against()));
        told.levers.iter().map(|priced| priced.lever.kind).collect::<Vec<LeverKind>>()
    };
    assert!(!kinds(R).contains(&LeverKind::Timing));
    assert!(kinds(T).contains(&LeverKind::Timing) && kinds(T).contains(&LeverKind::Depth));
    let told = desk(&loaded, T, Some(against()));
    for priced in &told.levers {
        // All of them bring the same light; what they cost at the finish tells them apart.
        assert!((priced.lever.rt_s - told.levers[0].lever.rt_s).abs() < 1e-9, "{priced:?}");
    }
}

#[test]
fn reactions_without_a_lamp_are_told_of_and_a_lever_has_the_risk_of_its_aim() {
    let mut trials = blocks(&[(R, 1), (T, 1), (R, 2), (T, 2)], 4);
    let quiet = desk(&practice(trials.clone()), T, None);
    assert!(matches!(quiet.react_or_time_it, ReactOrTime::Told(_)));
    assert!(!quiet.doubts.contains(&Doubt::ReactionsWithoutALamp));
    let mut guess = run(90, 2, R, Outcome::Guessed { after_due_ns: 10_000_000 }, None);
    guess.setup.drill = Drill::GuessTest;
    trials.push(guess);
    let told = desk(&practice(trials), T, None);
    assert!(told.doubts.contains(&Doubt::ReactionsWithoutALamp), "{:?}", told.doubts);
    let track = told.practice.as_ref().unwrap().view(View::AtTheTrack).unwrap();
    let timing = told.levers.iter().find(|priced| priced.lever.kind == LeverKind::Timing).unwrap();
    let there = track.curve.red(-timing.lever.rt_s);
    assert!((timing.red.value - there.value).abs() < 2e-3, "{timing:?} {there:?}");
    assert!((timing.red.value - track.curve.red(0.0).value).abs() > 0.01, "{timing:?}");
}

#[test]
fn a_slider_reads_what_asking_directly_gives() {
    let told = desk(&full_history(), T, Some(against()));
    let view = told.practice.as_ref().unwrap().view(View::ThisForm).unwrap();
    assert_eq!(view.curve.rows().len(), aims_s().len());
    // The best aim was asked for directly, between two rows of the curve.
    let best = view.at_best.best.earlier_s;
    let red = view.curve.red(best);
    assert!((red.value - view.at_best.red.value).abs() < 2e-3, "{red:?}");
    assert!((view.curve.win(best).unwrap().value - view.at_best.win.value).abs() < 1e-3);
    // What going there brings: the difference of the two, draw by draw.
    let at = &view.at_best;
    assert!((at.gain.value - (at.win.value - at.now.value)).abs() < 1e-5, "{at:?}");
    assert!(at.gain.low < at.gain.value && at.gain.value < at.gain.high, "{:?}", at.gain);
}

#[test]
fn a_place_of_the_slider_costs_far_less_than_a_frame() {
    let told = desk(&full_history(), T, Some(against()));
    let places = 400;
    let began = Instant::now();
    for i in 0..places {
        let aim_s = -0.06 + 0.12 * f64::from(i) / f64::from(places);
        std::hint::black_box((aim_page(&told, aim_s), odds_page(&told, aim_s)));
    }
    let each_ms = 1000.0 * began.elapsed().as_secs_f64() / f64::from(places);
    println!("both pages: {each_ms:.3} ms a place");
    assert!(each_ms < 4.0, "{each_ms} ms");
}

#[test]
fn the_same_seed_gives_the_same_answer_on_any_thread() {
    let here = desk(&full_history(), T, Some(against()));
    let there = std::thread::spawn(|| desk(&full_history(), T, Some(against()))).join().unwrap();
    assert_eq!(here, there);
}
