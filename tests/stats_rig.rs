//! What the instrument adds to a spread, which delay is in force, and home against track.

#[path = "history_support/mod.rs"]
mod support;

use lastamber::history::FilmLine;
use lastamber::seed::generator;
use lastamber::stats::home_to_track::{Evidence, Wanted};
use lastamber::stats::instrument::{Doubt, RunDoubt, instrument_share};
use lastamber::stats::offset::{ASSUMED_OFFSET_MS, Films, Reread, offset_words};
use lastamber::stats::summary::{mean, sd};
use lastamber::stats::{Caveat, Sample, StatsError};
use lastamber::tree::{Lamp, Outcome, Parts};
use lastamber::trial::{LampFact, LaunchFact, RigPrint, TrialRecord};
use lastamber::units::{Inches, Measured, Span};
use rand_distr::{Distribution, Normal, Uniform};

const MS: f64 = 1e-3;
/// Reports of an ordinary and of a fast keyboard: 125 and 1000 a second.
const SLOW_POLL_S: f64 = 8.0 * MS;
const FAST_POLL_S: f64 = 1.0 * MS;

/// Doubts of four ways to time a launch, and the SD each comes to, ms. Rectangular and normal parts
/// by JCGM 100:2008 (4.3.7, 5.1.2); their sizes are measured on this program's own engine, where a
/// press drained once a frame at 60 Hz and a lamp stamped when it was decided came to 5.5 ms together.
fn four_ways() -> [(RunDoubt, f64, f64); 4] {
    let run = |press, poll, onset| RunDoubt { press, poll_period_s: Some(poll), onset };
    let frame = |hz: f64| Doubt::Within(1.0 / hz);
    [
        (run(Doubt::Normal(5.5 * MS), SLOW_POLL_S, Doubt::Normal(0.0)), 6.0, 0.05),
        (run(frame(144.0), SLOW_POLL_S, Doubt::Normal(0.3 * MS)), 3.1, 0.05),
        (run(Doubt::Within(1.0 * MS), SLOW_POLL_S, Doubt::Normal(0.3 * MS)), 2.35, 0.005),
        (run(Doubt::Within(1.0 * MS), FAST_POLL_S, Doubt::Normal(0.3 * MS)), 0.5, 0.01),
    ]
}

#[test]
fn the_parts_of_a_runs_doubt_come_to_known_totals() {
    for (doubt, want_ms, tolerance_ms) in four_ways() {
        let got_ms = doubt.sd_s() / MS;
        assert!((got_ms - want_ms).abs() <= tolerance_ms, "{got_ms} for {want_ms}");
    }
    // A lamp taken from its schedule is as uncertain as the press: 16.7/√12 twice, and the keyboard.
    let frame = Doubt::Within(1.0 / 60.0);
    let scheduled = RunDoubt { press: frame, poll_period_s: Some(SLOW_POLL_S), onset: frame };
    assert!((scheduled.sd_s() / MS - 7.2).abs() < 0.05);
    assert!((frame.variance_s2().sqrt() / MS - 4.81).abs() < 0.005);
    assert!((Doubt::Within(SLOW_POLL_S).variance_s2().sqrt() / MS - 2.31).abs() < 0.005);
    assert!((Doubt::Within(FAST_POLL_S).variance_s2().sqrt() / MS - 0.29).abs() < 0.005);
}

/// The same four against a human SD of 25 and of 15 ms: by how much, in percent, the SD seen is larger.
#[test]
fn what_the_instrument_adds_to_a_human_spread() {
    let inflation = |doubt_ms: f64, human_ms: f64| 100.0 * ((doubt_ms / human_ms).hypot(1.0) - 1.0);
    for ((doubt, _, _), (at_25, at_15)) in
        four_ways().into_iter().zip([(2.8, 7.7), (0.8, 2.1), (0.4, 1.2), (0.02, 0.06)])
    {
        let ms = doubt.sd_s() / MS;
        // Printed to one digit after the first.
        assert!((inflation(ms, 25.0) - at_25).abs() < 0.05, "{}", inflation(ms, 25.0));
        assert!((inflation(ms, 15.0) - at_15).abs() < 0.1, "{}", inflation(ms, 15.0));
    }
}

#[test]
fn the_drivers_own_spread_is_found_under_the_instruments() {
    let mut random = generator(12);
    let (human, frame) = (15.0 * MS, 1.0 / 60.0);
    let (driver, clock) =
        (Normal::new(0.2, human).unwrap(), Uniform::new(-frame / 2.0, frame / 2.0).unwrap());
    let (mut held, rounds, n) = (0, 400, 200);
    let doubt =
        RunDoubt { press: Doubt::Within(frame), poll_period_s: None, onset: Doubt::Within(frame) };
    let mut own = 0.0;
    for _ in 0..rounds {
        let times = (0..n).map(|_| {
            driver.sample(&mut random) + clock.sample(&mut random) - clock.sample(&mut random)
        });
        let sample = Sample::new(times.collect()).unwrap();
        let found = instrument_share(&sample, &vec![doubt; n], 0.90).unwrap();
        let e = found.driver_sd_s;
        held += usize::from(e.low <= human && human <= e.high);
        own += e.value / f64::from(rounds);
        assert!((found.run_sd_s - frame / 6f64.sqrt()).abs() < 1e-12);
    }
    assert!((own / human - 1.0).abs() < 0.01, "{own}");
    assert!((340..=376).contains(&held), "90 % of 400 with three standard errors: {held}");
}

#[test]
fn a_large_share_of_the_instrument_is_said_and_a_whole_one_leaves_nothing() {
    let sample = Sample::new(vec![0.200, 0.210, 0.220, 0.230]).unwrap();
    // Variance 166.7 ms²; 10 ms SD of the instrument are 60 % of it.
    let doubt = |sd_ms: f64| RunDoubt {
        press: Doubt::Normal(sd_ms * MS),
        poll_period_s: None,
        onset: Doubt::Normal(0.0),
    };
    let found = instrument_share(&sample, &[doubt(10.0); 4], 0.90).unwrap();
    assert!((found.share.value - 0.6).abs() < 1e-9);
    assert!(found.share.low < 0.6 && found.share.high == 1.0);
    assert!((found.driver_sd_s.value - (66.667_f64).sqrt() * MS).abs() < 1e-6);
    assert_eq!(found.caveats, [Caveat::InstrumentShare { percent: 60 }]);
    let all = instrument_share(&sample, &[doubt(20.0); 4], 0.90).unwrap();
    assert_eq!((all.share.value, all.driver_sd_s.value), (1.0, 0.0));
    let little = instrument_share(&sample, &[doubt(1.0); 4], 0.90).unwrap();
    assert_eq!(little.caveats, []);

    let wrong = |doubts: &[RunDoubt]| instrument_share(&sample, doubts, 0.90);
    assert!(matches!(wrong(&[doubt(1.0); 3]), Err(StatsError::OutOfDomain { .. })));
    assert!(matches!(wrong(&[doubt(f64::NAN); 4]), Err(StatsError::OutOfDomain { .. })));
    let same = Sample::new(vec![0.2; 4]).unwrap();
    assert_eq!(instrument_share(&same, &[doubt(1.0); 4], 0.9), Err(StatsError::NoSpread));
}

/// A green or red run on a rig, with an RT of `rt_ms` under the delay in force then.
fn run(rig: &RigPrint, offset: (f64, &str), rt_ms: f64) -> TrialRecord {
    let mut run = support::some_runs(1).remove(0);
    run.rig = rig.clone().into();
    run.offset.ms = Measured::new(offset.0, 1.0);
    run.offset.from = offset.1.to_owned();
    run.setup.scripted = false;
    run.setup.ambers = 3;
    run.outcome = if rt_ms < 0.0 { Outcome::Red } else { Outcome::Green };
    run.parts = Some(Parts {
        driver_raw: Span::from_ms_f64(200.0 + offset.0 + rt_ms),
        offset: Span::from_ms_f64(offset.0),
        car: Span::from_ms(300),
        interval: Span::from_ms(500),
        early_doubt: Span::ZERO,
        late_doubt: Span::ZERO,
    });
    run
}

#[test]
fn a_runs_doubt_is_that_of_its_two_stamps() {
    let mut run = run(&support::some_rig(), (35.0, "assumed"), 10.0);
    let ms = Span::from_ms;
    let lamp = |i, shown| LampFact { lamp: Lamp::Amber(i), due: ms(500), shown };
    let origin = lastamber::press::Origin::Server;
    let at = [ms(200), ms(200), ms(204)];
    let launch = LaunchFact { at, origin, sources_disagree: false, depth: Inches(0.0) };
    run.seen.change(|seen| {
        seen.lamps =
            vec![lamp(1, Some([ms(0), ms(0), ms(90)])), lamp(2, Some([ms(9), ms(10), ms(12)]))];
        seen.launch = Some(launch);
    });
    let doubt = RunDoubt::of(&run, Some(SLOW_POLL_S)).unwrap();
    // 4²/12 + 3²/12 + 8²/12 ms².
    assert!((doubt.variance_s2() / (MS * MS) - 89.0 / 12.0).abs() < 1e-9);
    run.seen.change(|seen| seen.lamps[1].shown = None);
    assert_eq!(RunDoubt::of(&run, None), None);
}

fn film(id: &str, ms: f64, change: impl FnOnce(&mut RigPrint)) -> FilmLine {
    let mut rig = support::some_rig();
    change(&mut rig);
    FilmLine { rig: rig.into(), offset_ms: ms, n: 25, ..support::some_film(id) }
}

#[test]
fn the_delay_in_force_is_given_or_filmed_on_this_rig_or_assumed() {
    let rig = support::some_rig();
    let none = Films::default().choose(&rig, None);
    assert_eq!((none.offset.ms, none.offset.from.as_str()), (ASSUMED_OFFSET_MS, "assumed"));
    assert_eq!(
        (none.starts_anew(), offset_words(&none.offset)),
        (None, "assumed 35 ± 15 ms".into())
    );

    let films = [film("old", 20.0, |_| {}), film("new", 24.06, |rig| rig.refresh_hz = 61)];
    let filmed = Films::new(&films).choose(&rig, None);
    assert_eq!(filmed.film, Some(("new".to_owned(), 25)));
    assert_eq!(offset_words(&filmed.offset), "filmed 24.1 ± 1.2 ms");
    assert_eq!(filmed.starts_anew(), None);

    let given = Films::new(&films).choose(&rig, Some(Measured::new(0.0, 0.0)));
    assert_eq!(offset_words(&given.offset), "given 0 ± 0 ms");
    assert_eq!(given.film, None);
}

#[test]
fn a_rig_that_changed_starts_anew_and_says_what_changed() {
    let films = [film("keys", 24.0, |_| {}), film("pad", 40.0, |rig| rig.device = "pad".into())];
    let films = Films::new(&films);
    let mut rig = support::some_rig();
    rig.display = "x11 1920x1080".to_owned();
    let choice = films.choose(&rig, None);
    // Compared with the keyboard, which it resembles more than the newer pad.
    let want = "display: x11 1280x720 → x11 1920x1080; offset starts anew (assumed 35 ± 15 ms)";
    assert_eq!(choice.starts_anew().as_deref(), Some(want));
    assert_eq!((choice.offset.ms, choice.film), (ASSUMED_OFFSET_MS, None));
    rig.limb = "right-foot".to_owned();
    let told = films.choose(&rig, None).starts_anew().unwrap();
    assert!(told.starts_with("limb: right-hand → right-foot; display: "), "{told}");
}

#[test]
fn a_film_without_a_usable_delay_is_passed_over() {
    let mut broken = film("broken", f64::NAN, |_| {});
    let mut doubtless = film("doubtless", 20.0, |_| {});
    doubtless.standard_error_ms = f64::INFINITY;
    let films = [film("good", 24.0, |_| {}), broken.clone(), doubtless];
    let choice = Films::new(&films).choose(&support::some_rig(), None);
    assert_eq!(choice.film.map(|(id, _)| id), Some("good".to_owned()));
    broken.offset_ms = 1.0;
    broken.standard_error_ms = -1.0;
    assert_eq!(Films::new(&[broken]).choose(&support::some_rig(), None).film, None);
}

#[test]
fn practice_already_made_is_read_with_todays_delay_of_its_own_rig() {
    let (here, mut elsewhere) = (support::some_rig(), support::some_rig());
    elsewhere.device = "pad".to_owned();
    let films = Films::new(&[film("f", 45.0, |_| {})]);
    let mut void = run(&here, (35.0, "assumed"), 5.0);
    void.outcome = Outcome::Void(lastamber::tree::VoidReason::NoOnset);
    let mut scripted = run(&here, (35.0, "assumed"), 5.0);
    scripted.setup.scripted = true;
    let runs = [
        // Ten milliseconds more delay: this green is red today, the next one is not.
        run(&here, (35.0, "assumed"), 5.0),
        run(&here, (35.0, "assumed"), 15.0),
        // Given too much then: red, and green by the film.
        run(&here, (60.0, "given"), -5.0),
        // Another rig, never filmed: what was assumed or given there stays.
        run(&elsewhere, (35.0, "assumed"), 5.0),
        run(&elsewhere, (60.0, "given"), -5.0),
        // A film of it is not there any more: assumed today, 5 ms less than then.
        run(&elsewhere, (40.0, "filmed"), -3.0),
        void,
        scripted,
    ];
    let today = films.reread(&runs);
    assert_eq!(today.counts, Reread { runs: 6, green_to_red: 1, red_to_green: 2 });
    assert_eq!(today.scripted, Reread { runs: 1, green_to_red: 1, red_to_green: 0 });
    assert_eq!(today.excluded, Reread::default());
}

/// A sample with exactly this mean and SD.
fn exactly(n: usize, want_mean: f64, want_sd: f64, seed: u64) -> Sample {
    let mut random = generator(seed);
    let normal = Normal::new(0.0, 1.0).unwrap();
    let raw = Sample::new((0..n).map(|_| normal.sample(&mut random)).collect()).unwrap();
    let (m, s) = (mean(&raw), sd(&raw).unwrap());
    Sample::new(raw.values().iter().map(|x| want_mean + want_sd * (x - m) / s).collect()).unwrap()
}

fn evidence<'a>(slips_s: &'a Sample, practice_s: &'a Sample) -> Evidence<'a> {
    Evidence { slips_s, practice_s, days_se_s: 0.0, car_doubt_sd_s: 0.0 }
}

/// √(30²/20 + 25²/100) = 7.2 and √(30²/50 + 25²/100) = 4.9 ms: the sum of variances of two means.
#[test]
fn twenty_slips_leave_seven_milliseconds_and_fifty_leave_five() {
    let practice = exactly(100, 0.030, 0.025, 1);
    for (n, want_ms) in [(20, 51.25_f64.sqrt()), (50, 24.25_f64.sqrt())] {
        let slips = exactly(n, 0.060, 0.030, 2);
        let evidence = evidence(&slips, &practice);
        let difference = evidence.difference(0.90).unwrap();
        assert!((difference.standard_error_s / MS - want_ms).abs() < 1e-9);
        assert!((difference.seconds.value - 0.030).abs() < 1e-12);
        // Conjugate: 30 ms shrunk towards 0 by SE²/(SE² + 40²), with the spread of the slips mixed
        // with home's as if that were 5 slips.
        let m = n as f64;
        let spread = (5.0 * 625.0 + (m - 1.0) * 900.0) / (4.0 + m);
        let data = spread / m + 6.25;
        let offset = evidence.offset_s(0.90).unwrap();
        assert!((offset.value / MS - 30.0 * 1600.0 / (1600.0 + data)).abs() < 1e-9);
        let sd = (1600.0 * data / (1600.0 + data)).sqrt();
        assert!((offset.high - offset.value - 1.644_854 * sd * MS).abs() < 1e-8);
        assert_eq!(offset.n, n);
    }
    let rounded = |ms: f64| ms.sqrt().round();
    assert_eq!((rounded(51.25), rounded(24.25)), (7.0, 5.0));
}

/// Welch's degrees of freedom by hand: 6 values of SD 60 and 60 of SD 10 have variances of means 600
/// and 1.667, so (601.667)²/(600²/5 + 1.667²/59) = 5.03; t of 95 % is 2.0150 for 5, 1.9432 for 6 (any
/// table), and t of 5.03 lies a little below the first.
#[test]
fn unequal_spreads_have_the_freedom_of_the_wilder_one() {
    let (slips, practice) = (exactly(6, 0.050, 0.060, 3), exactly(60, 0.020, 0.010, 4));
    let found = evidence(&slips, &practice).difference(0.90).unwrap();
    let t = (found.seconds.high - found.seconds.value) / found.standard_error_s;
    assert!((2.010..2.015).contains(&t), "{t}");
}

#[test]
fn unequal_spreads_keep_the_promise_of_the_interval() {
    let mut random = generator(77);
    let (slip, home) = (Normal::new(0.05, 0.060).unwrap(), Normal::new(0.02, 0.010).unwrap());
    let (rounds, mut held) = (2_000, 0);
    for _ in 0..rounds {
        let slips = Sample::new((0..6).map(|_| slip.sample(&mut random)).collect()).unwrap();
        let practice = Sample::new((0..60).map(|_| home.sample(&mut random)).collect()).unwrap();
        let e = evidence(&slips, &practice).difference(0.90).unwrap().seconds;
        held += usize::from(e.low <= 0.030 && 0.030 <= e.high);
    }
    // 90 % with three standard errors of 0.67 %; one spread for both would hold less than half.
    let share = held as f64 / f64::from(rounds);
    assert!((share - 0.90).abs() < 0.02, "{share}");
}

#[test]
fn one_slip_already_moves_the_offset_and_none_is_too_few() {
    let (one, practice) = (Sample::new(vec![0.1]).unwrap(), exactly(100, 0.0, 0.025, 5));
    let evidence = evidence(&one, &practice);
    assert_eq!(evidence.difference(0.90), Err(StatsError::TooFew { have: 1, need: 2 }));
    let offset = evidence.offset().unwrap();
    // v = 25² + 25²/100: weight 1600/(1600 + 631.25).
    assert!((offset.offset_s.value - 0.1 * 1600.0 / 2231.25).abs() < 1e-9);
    let wider = Evidence { days_se_s: 0.010, car_doubt_sd_s: 0.030, ..evidence };
    assert!(wider.offset().unwrap().offset_s.sd > offset.offset_s.sd);
}

#[test]
fn how_many_slips_it_takes_follows_from_the_spread() {
    let after = |prior_ms: f64, half_ms: f64, slip_ms: f64, home_se_ms: f64| {
        let (half_width_s, slip_sd_s) = (half_ms * MS, slip_ms * MS);
        let (practice_se_s, prior_sd_s) = (home_se_ms * MS, prior_ms * MS);
        Wanted { half_width_s, level: 0.90, slip_sd_s, practice_se_s, prior_sd_s }.slips()
    };
    let wanted = |half_ms, slip_ms, home_se_ms| after(40.0, half_ms, slip_ms, home_se_ms);
    // ±25 ms at 90 % is an SD of 15.2: v ≤ 270.0 ms², less 6.25 of practice; 900/263.8 = 3.4.
    assert_eq!(wanted(25.0, 30.0, 2.5), Ok(Some(4)));
    // ±10 ms is an SD of 6.08: v ≤ 37.84, less 6.25; 900/31.6 = 28.5.
    assert_eq!(wanted(10.0, 30.0, 2.5), Ok(Some(29)));
    // Practice known to ±7 ms alone is more than that.
    assert_eq!(wanted(10.0, 30.0, 7.0), Ok(None));
    assert_eq!(wanted(70.0, 30.0, 2.5), Ok(Some(0)));
    // A car known to ±30 ms widens the prior to 50 and asks for more: ±40 ms is v ≤ 938.2 of 1600 and
    // v ≤ 774.6 of 2500; 900/931.9 = .97, 900/768.4 = 1.17.
    assert_eq!((wanted(40.0, 30.0, 2.5), after(50.0, 40.0, 30.0, 2.5)), (Ok(Some(1)), Ok(Some(2))));
    assert!(wanted(0.0, 30.0, 2.5).is_err() && wanted(10.0, f64::NAN, 2.5).is_err());
    // What is promised is kept: with 29 slips of SD 30 the interval is that narrow, with 28 it is not.
    let half = |m: f64| {
        let v: f64 = 900.0 / m + 6.25;
        1.644_854 * (1600.0 * v / (1600.0 + v)).sqrt()
    };
    assert!(half(29.0) <= 10.0 && half(28.0) > 10.0);
}
