//! What Weeks and Review count, of every way a run may end, and what is told apart.

mod desk_support;

use desk_support::{run, setup, timed};
use lastamber::demo::demo_lines;
use lastamber::history::{ExclusionLine, Loaded, load_without_lock, write_demo};
use lastamber::strategy::own::{GuessTest, OwnLines, OwnRuns, OwnSetup};
use lastamber::strategy::weeks::{
    Choices, Filter, ROWS, Review, Row, SessionsBy, Weeks, What, unlike,
};
use lastamber::tree::{AbandonReason, Outcome, Staging, VoidReason};
use lastamber::trial::{Drill, Style, TrialRecord};
use lastamber::units::{Inches, Span};

const R: Style = Style::React;

fn loaded(trials: Vec<TrialRecord>) -> Loaded {
    Loaded { trials, ..Loaded::default() }
}

fn weeks_of(loaded: &Loaded, filter: Option<Filter>) -> Weeks {
    Weeks::of_loaded(loaded, filter, SessionsBy::Day, 1).unwrap()
}

fn with(mut run: TrialRecord, change: impl FnOnce(&mut TrialRecord)) -> TrialRecord {
    change(&mut run);
    run
}

/// A day on which everything happens once, and green launches four times.
fn day_of_everything(day: u8) -> Vec<TrialRecord> {
    let id = |i: usize| 100 * usize::from(day) + i;
    let ends = |i: usize, outcome: Outcome| run(id(i), day, R, outcome, None);
    let of_guess_test = |run: TrialRecord| with(run, |run| run.setup.drill = Drill::GuessTest);
    vec![
        timed(id(0), day, R, 0.031),
        timed(id(1), day, R, 0.035),
        timed(id(2), day, R, -0.012),
        timed(id(3), day, R, 0.044),
        ends(4, Outcome::LeftBeforeTree),
        ends(5, Outcome::Lapse),
        ends(6, Outcome::TimedOut),
        ends(7, Outcome::Void(VoidReason::NoOnset)),
        ends(8, Outcome::Abandoned(AbandonReason::Paused)),
        with(timed(id(9), day, R, -0.030), |run| run.setup.scripted = true),
        of_guess_test(ends(10, Outcome::Stayed)),
        of_guess_test(ends(11, Outcome::Guessed { after_due_ns: 60_000_000 })),
        of_guess_test(timed(id(12), day, R, -0.002)),
        // A launch on a blank run is none.
        with(timed(id(13), day, R, -0.004), |run| run.setup.blank = true),
        timed(id(14), day, R, 0.028),
    ]
}

#[test]
fn what_happened_in_every_session_is_added_up() {
    let mut all = loaded((4..7).flat_map(day_of_everything).collect());
    let at = "2026-06-01T10:00:00+02:00[Europe/Oslo]".to_owned();
    let left_out = ExclusionLine::leaving_out("out".to_owned(), at, "run-503", "the phone rang");
    all.exclusions = vec![left_out.unwrap()];
    let weeks = weeks_of(&all, None);
    let c = weeks.counts;
    assert_eq!((c.launches, c.left_before_tree, c.lapses), (14, 3, 3));
    assert_eq!((c.timed_out, c.void, c.abandoned, c.scripted), (3, 3, 3, 3));
    assert_eq!((c.excluded, c.excluded_reds), (1, 0));
    let g = weeks.guess_test;
    assert_eq!((g.blanks, g.guesses, g.lit), (6, 3, 3));
    // A red with a time and one before the tree, each day; those of the guess test and of scripts are none.
    assert_eq!((weeks.reds, weeks.red.unwrap().n), (6, 20));
    assert_eq!(weeks.red_without_exclusions.unwrap().n, 21);
    let days: Vec<_> = weeks.calendar.iter().map(|(day, _)| day.day()).collect();
    assert_eq!(days, [4, 5, 6]);
    for (i, session) in weeks.sessions.iter().enumerate() {
        assert_eq!(session.reds, 2, "{i}");
        assert_eq!(session.other_starts.len(), 2, "{i}");
        // The launch of the guess test is seen, and left out of every number.
        let seen = session.launches.iter().filter(|launch| !launch.excluded).count();
        let excluded = usize::from(i == 1);
        assert_eq!((session.launches.len(), seen), (6, 5 - excluded), "{i}");
        assert_eq!(session.red.unwrap().n, 7 - excluded, "{i}");
        let without = session.red_without_exclusions.map(|red| red.n);
        assert_eq!(without, (i == 1).then_some(7), "{i}");
        assert_eq!(weeks.calendar[i].1, 6);
    }
}

#[test]
fn lights_are_read_by_the_line_of_the_car_and_nothing_blank_is_a_launch() {
    let loaded = loaded(day_of_everything(4));
    let lines = OwnLines::from(&loaded);
    let own = OwnRuns::new(&lines, &setup(R), 0.5 - desk_support::CAR_PART_S);
    let lights = own.lights_s();
    let expected = [0.031, 0.035, -0.012, 0.044, 0.028];
    assert_eq!(lights.len(), expected.len(), "{lights:?}");
    for (light, expected) in lights.iter().zip(expected) {
        assert!((light - expected).abs() < 1e-6, "{lights:?}");
    }
    assert_eq!(GuessTest::default().share(0.9).unwrap(), None);
}

#[test]
fn a_start_without_a_time_breaks_a_row_of_ten() {
    let row = |day: u8, lapse_after: Option<usize>| {
        let mut runs: Vec<_> =
            (0..16).map(|i| timed(100 * usize::from(day) + i, day, R, 0.03)).collect();
        if let Some(i) = lapse_after {
            runs[i] = run(100 * usize::from(day) + i, day, R, Outcome::Lapse, None);
        }
        runs
    };
    let ten = |runs: Vec<TrialRecord>| {
        let mut more: Vec<_> = (0..12).map(|i| timed(900 + i, 9, R, 0.060)).collect();
        more[7] = run(907, 9, R, Outcome::Lapse, None);
        let all = loaded([runs, more].concat());
        weeks_of(&all, None).compared.unwrap().bests.ten
    };
    assert!(ten(row(4, None)).is_some_and(|ten| ten.day.is_some_and(|day| day.day() == 4)));
    // Seven and eight on either side, and seven and four.
    assert_eq!(ten(row(4, Some(7))), None);
}

#[test]
fn staging_is_counted_where_the_car_was_rolled_in() {
    let rolled = |i: usize, change: fn(&mut Staging)| {
        with(timed(i, 4, R, 0.03), |run| {
            run.setup.drill = Drill::RollUp;
            run.seen.change(|seen| {
                seen.staging.took = Some(Span::from_ms(4_000 + 100 * i as i64));
                if let Some(launch) = &mut seen.launch {
                    launch.depth = Inches(i as f64);
                }
                change(&mut seen.staging);
            });
        })
    };
    let runs = vec![
        rolled(0, |staging| staging.courtesy_broken = true),
        rolled(1, |staging| (staging.sent_back, staging.rolled_through) = (2, 1)),
        rolled(2, |staging| (staging.sent_back, staging.rolled_through) = (3, 2)),
        rolled(3, |staging| staging.deep = true),
        timed(4, 4, R, 0.03),
        with(rolled(5, |staging| staging.deep = true), |run| run.setup.scripted = true),
    ];
    let review = Review::of_loaded(&loaded(runs), None, None).unwrap().unwrap();
    let s = &review.staging;
    assert_eq!((s.rolled_in, s.courtesy_kept, s.deep), (4, 3, 1));
    assert_eq!((s.sent_back, s.rolled_through), (5, 3));
    assert_eq!(s.depth_in.as_ref().map(|depths| depths.range), Some((0.0, 3.0)));
}

#[test]
fn a_plateau_is_where_a_tenth_is_left_to_learn() {
    let days = 18;
    let runs = (0..days).flat_map(|day| {
        // Half is left after every ln 2/.5 sessions: a tenth after 4.6.
        let off = 0.002 * (f64::from(day * 5 % 7) - 3.0);
        let level = 0.030 + off + 0.200 * (-0.5 * f64::from(day)).exp();
        (0..15).map(move |i| {
            let light = level + 0.002 * f64::from(i * 7 % 15 - 7) / 7.0;
            timed(100 * day as usize + i as usize, day as u8 + 1, R, light)
        })
    });
    let weeks = weeks_of(&loaded(runs.collect()), None);
    let since = weeks.compared.unwrap().plateau_since.unwrap();
    assert!((5..=7).contains(&since.day()), "{since}");
}

#[test]
fn a_session_is_scored_by_the_forecast_of_its_own_day_and_set_up() {
    let folder = tempfile::tempdir().unwrap();
    write_demo(folder.path(), 1, &demo_lines(1).unwrap()).unwrap();
    let mut loaded = load_without_lock(folder.path()).unwrap();
    let newest = loaded.trials.iter().rev().find(|run| run.setup.style == Style::TimeIt).unwrap();
    let filter = Filter::of_setup(&OwnSetup::of(newest));
    let scores = |loaded: &Loaded| -> Vec<_> {
        let weeks = weeks_of(loaded, Some(filter.clone()));
        weeks.sessions.into_iter().map(|session| session.score).collect()
    };
    let before = scores(&loaded);
    assert!(before.iter().flatten().count() > 3, "{before:?}");
    // The same forecasts of a driver who reacts, and of a day on which nobody drove, said last.
    let theirs = loaded.forecasts.clone().into_iter().flat_map(|mut line| {
        line.red.value = 0.77;
        let (mut style, mut day) = (line.clone(), line);
        style.style = R;
        day.occasion_id = "2020-02-02".to_owned();
        [style, day]
    });
    let theirs: Vec<_> = theirs.collect();
    loaded.forecasts.extend(theirs);
    assert_eq!(scores(&loaded), before);
}

#[test]
fn runs_of_one_kind_are_not_unlike_and_a_day_is_held_from_both_sides() {
    let runs: Vec<_> = (0..4).map(|i| timed(i, 4 + i as u8, R, 0.03)).collect();
    assert_eq!(unlike(&runs.iter().collect::<Vec<_>>()), []);
    let mut other = runs.clone();
    other[1].setup.interval = Span::from_ms(400);
    let told = unlike(&other.iter().collect::<Vec<_>>());
    assert_eq!(told.iter().map(|unlike| unlike.what).collect::<Vec<_>>(), [What::Tree]);
    let day = |day: i8| Some(jiff::civil::date(2026, 5, day));
    let filter = Filter { from: day(5), to: day(6), ..Filter::default() };
    let held: Vec<bool> = (4..8).map(|n| filter.holds_day(day(n))).collect();
    assert_eq!(held, [false, true, true, false]);
    assert!(!filter.holds_day(None) && Filter::default().holds_day(None));
}

#[test]
fn what_is_chosen_in_a_row_is_called_by_its_name() {
    let runs = vec![
        timed(0, 4, R, 0.03),
        with(timed(1, 5, Style::TimeIt, 0.03), |run| {
            run.driver = "somebody else".into();
            run.car.name = "another car".to_owned();
            run.setup.tree = "pro".into();
            run.setup.drill = Drill::GuessTest;
            run.rig.launch_edge = "release".to_owned();
            run.rig.device = "pad".to_owned();
        }),
    ];
    let loaded = loaded(runs);
    let lines = OwnLines::from(&loaded);
    let today = Some(jiff::civil::date(2026, 5, 6));
    let mut choices = Choices::of(&lines, &Filter::default(), today);
    let newest_and_other: [(Row, [&str; 2]); 6] = [
        (Row::Driver, ["somebody else", desk_support::DRIVER]),
        (Row::Car, ["another car", desk_support::CAR]),
        (Row::Tree, ["pro", "full"]),
        (Row::LaunchEdge, ["release", "press"]),
        (Row::Style, ["timing it", "by reaction"]),
        (Row::Drill, ["guess test", "tree only"]),
    ];
    for (row, names) in newest_and_other {
        assert_eq!(choices.words(row), "all 2", "{row:?}");
        for name in names {
            choices.turn(row, true);
            assert_eq!(choices.words(row), name, "{row:?}");
        }
        choices.turn(row, true);
    }
    let mut words = ROWS.map(|row| {
        choices.turn(row, true);
        choices.words(row)
    });
    words.sort();
    assert_eq!(words.iter().filter(|word| word.is_empty()).count(), 0, "{words:?}");
}
