//! The film procedure: arithmetic by hand, and what its readings are worth by simulation.

#[path = "history_support/mod.rs"]
mod support;

use lastamber::history::{Line, load};
use lastamber::seed::generator;
use lastamber::stats::film::{
    Film, FilmError, LEAST_PRESSES, PRESSES_TO_FILM, READING_BIAS_FRAMES, frame_counts,
};
use lastamber::stats::{Caveat, StatsError};
use rand::RngExt;
use rand_distr::{Distribution, Normal};

const FPS: f64 = 240.0;
const FRAME_MS: f64 = 1000.0 / FPS;

/// How an eye reads the two ends off a film.
#[derive(Clone, Copy)]
enum Ends {
    /// Both to whole frames: the usual way.
    Whole,
    /// Both to half frames, by how bright the first frame is.
    Half,
    /// One to a whole frame, the other exactly.
    OneWhole,
}

/// Counts of one press at a random phase of the camera: the first frame that shows the light less
/// the first that shows the key.
fn count(random: &mut impl rand::Rng, film_ms: f64, ends: Ends) -> f64 {
    let key: f64 = random.random();
    let light = key + film_ms / FRAME_MS;
    match ends {
        Ends::Whole => light.ceil() - key.ceil(),
        Ends::Half => ((2.0 * light).ceil() - (2.0 * key).ceil()) / 2.0,
        Ends::OneWhole => (light.ceil() - 0.5) - key,
    }
}

/// A film of `presses` presses: the program's own time is anything from 8 to 25 ms (a frame and the
/// wait for it), K + D is `delay` anew for each press.
fn film(
    random: &mut impl rand::Rng,
    presses: usize,
    ends: Ends,
    mut delay: impl FnMut(&mut dyn rand::Rng) -> f64,
) -> Film {
    let own: Vec<f64> = (0..presses).map(|_| 8.0 + 17.0 * random.random::<f64>()).collect();
    let frames = own.iter().map(|own| {
        let film_ms = own + delay(random);
        count(random, film_ms, ends)
    });
    let frames = frames.collect();
    Film::new(FPS, frames, own).unwrap()
}

/// Root mean square error of the delay over many films.
fn rms_error_ms(presses: usize, ends: Ends) -> f64 {
    let mut random = generator(240);
    let rounds = 4_000;
    let squares: f64 = (0..rounds)
        .map(|_| {
            let truth = 10.0 + 50.0 * random.random::<f64>();
            let film = film(&mut random, presses, ends, |_| truth);
            (film.offset(0.90).unwrap().offset_ms.value - truth).powi(2)
        })
        .sum();
    (squares / f64::from(rounds)).sqrt()
}

/// Twenty-five readings at random phases leave about ±0.25 ms: 4.17 ms/√12/√25 = 0.24 if only one end
/// is cut to frames. Both ends are (JCGM 100:2008, 4.3.7 twice): 4.17 ms/√6/√25 = 0.34; read to half
/// frames 0.17.
#[test]
fn twenty_five_readings_leave_a_quarter_to_a_third_of_a_millisecond() {
    for (ends, want) in [
        (Ends::OneWhole, FRAME_MS / 12f64.sqrt() / 5.0),
        (Ends::Whole, FRAME_MS / 6f64.sqrt() / 5.0),
        (Ends::Half, FRAME_MS / 24f64.sqrt() / 5.0),
    ] {
        let got = rms_error_ms(PRESSES_TO_FILM, ends);
        // 4,000 films know an RMS to 1.1 %; four of these.
        assert!((got / want - 1.0).abs() < 0.045, "{got} for {want}");
    }
}

#[test]
fn the_stated_interval_holds_the_truth_as_often_as_it_says() {
    let mut random = generator(25);
    let (rounds, mut held) = (2_000, 0);
    let bias = Normal::new(0.0, READING_BIAS_FRAMES * FRAME_MS).unwrap();
    for _ in 0..rounds {
        // A device that looks at its keys every 8 ms, and an eye with its own way of reading.
        let (fixed, eye) = (30.0, bias.sample(&mut random));
        let truth = fixed + 4.0;
        let film = film(&mut random, PRESSES_TO_FILM, Ends::Whole, |r| {
            fixed + 8.0 * r.random::<f64>() + eye
        });
        let delay = film.offset(0.90).unwrap().offset_ms;
        held += usize::from(delay.low <= truth && truth <= delay.high);
    }
    let share = held as f64 / f64::from(rounds);
    assert!((0.88..0.95).contains(&share), "{share}");
}

fn ten(frames: &str) -> Film {
    Film::new(FPS, frame_counts(frames).unwrap(), vec![15.0; 10]).unwrap()
}

#[test]
fn ten_presses_by_hand() {
    // Frames 9 and 11 in turn: 10 frames are 41.667 ms, less 15 of the program's own.
    let found = ten("9 11 9 11 9 11 9 11 9 11").offset(0.90).unwrap();
    assert!((found.offset_ms.value - 26.666_667).abs() < 1e-6);
    // SD of ±1 frame in turn, divisor 9: √(10/9) frames. SE² = s²/10 + (T/4)².
    let s = FRAME_MS * (10.0_f64 / 9.0).sqrt();
    assert!((found.spread_ms.value - s).abs() < 1e-9);
    let se = (s * s / 10.0 + FRAME_MS * FRAME_MS / 16.0).sqrt();
    assert!((found.standard_error_ms - se).abs() < 1e-9);
    // Student's t for 9 degrees of freedom, 95 %: 1.8331 (any table).
    assert!((found.offset_ms.high - found.offset_ms.value - 1.8331 * se).abs() < 1e-3);
    assert_eq!(found.measured_ms().sd, se);
    assert_eq!(found.caveats, [Caveat::FewPresses { n: 10 }]);
}

#[test]
fn readings_that_are_all_the_same_are_not_taken_as_exact() {
    let found = ten("9 9 9 9 9 9 9 9 9 9").offset(0.90).unwrap();
    let se = FRAME_MS * (1.0 / 60.0 + 1.0 / 16.0_f64).sqrt();
    assert!((found.standard_error_ms - se).abs() < 1e-9);
    assert_eq!(found.spread_ms.value, 0.0);
}

#[test]
fn a_far_reading_is_asked_about_and_left_out_only_when_told() {
    let mut film =
        Film::new(FPS, frame_counts("9 10 9 10 9 10 9 10 9 10 90").unwrap(), vec![15.0; 11])
            .unwrap();
    let far = film.far_readings();
    assert_eq!((far.len(), far[0].position, far[0].frames), (1, 11, 90.0));
    let with = film.offset(0.90).unwrap();
    assert!(with.offset_ms.value > 55.0 && with.offset_ms.n == 11);
    assert!(with.caveats.contains(&Caveat::FarReadings { count: 1 }));

    film.set_aside(11, true).unwrap();
    let without = film.offset(0.90).unwrap();
    assert!((without.offset_ms.value - (9.5 * FRAME_MS - 15.0)).abs() < 1e-9);
    let aside = Caveat::SetAside { left_out: 1, of: 11 };
    assert_eq!(without.caveats, [Caveat::FewPresses { n: 10 }, aside]);
    film.set_aside(11, false).unwrap();
    assert_eq!(film.offset(0.90), Ok(with));
    let wrong = film.set_aside(12, true);
    assert_eq!(wrong, Err(FilmError::NoSuchPress { position: 12, presses: 11 }));
}

#[test]
fn honest_scatter_of_a_slow_keyboard_is_not_asked_about() {
    let mut random = generator(8);
    for _ in 0..200 {
        let film =
            film(&mut random, PRESSES_TO_FILM, Ends::Whole, |r| 30.0 + 8.0 * r.random::<f64>());
        assert_eq!(film.far_readings(), []);
    }
}

#[test]
fn how_far_is_far_grows_with_the_scatter() {
    // Frames from their median: 0 1 2 2 3 4 5 5 7 11 29, whose own median is 4: far is 3 · 1.4826 · 4,
    // about 17.8 frames.
    let frames = frame_counts("34 36 37 39 40 41 43 44 46 52 70").unwrap();
    let far = Film::new(FPS, frames, vec![15.0; 11]).unwrap().far_readings();
    assert_eq!(far.iter().map(|far| far.position).collect::<Vec<usize>>(), [11]);
    assert!((far[0].off_ms - 29.0 * FRAME_MS).abs() < 1e-9);
}

#[test]
fn too_few_presses_have_no_delay() {
    let nine = Film::new(FPS, vec![9.0; 9], vec![15.0; 9]).unwrap();
    let too_few = StatsError::TooFew { have: 9, need: LEAST_PRESSES };
    assert_eq!(nine.offset(0.90), Err(FilmError::Stats(too_few.clone())));
    let mut ten = ten("9 9 9 9 9 9 9 9 9 9");
    ten.set_aside(3, true).unwrap();
    assert_eq!(ten.offset(0.90), Err(FilmError::Stats(too_few)));
}

#[test]
fn what_cannot_be_filmed_is_named() {
    let says =
        |fps, frames: Vec<f64>, own: Vec<f64>| Film::new(fps, frames, own).unwrap_err().to_string();
    assert!(says(0.0, vec![], vec![]).contains("20 to 2000"));
    assert!(says(f64::NAN, vec![], vec![]).contains("NaN frames a second"));
    assert_eq!(
        says(FPS, vec![9.0; 26], vec![15.0; 25]),
        "26 counts for 25 presses; enter one for each, in order"
    );
    assert!(says(FPS, vec![9.0, -1.0], vec![15.0; 2]).starts_with("reading 2: -1 frames"));
    assert!(says(FPS, vec![9.0], vec![f64::NAN]).starts_with("press 1: "));
}

#[test]
fn a_delay_no_rig_has_is_doubted() {
    // The frames of a film that was counted at 240 a second but shot at 960.
    let film = Film::new(FPS, vec![70.0; 10], vec![15.0; 10]).unwrap();
    assert!(film.offset(0.90).unwrap().caveats.contains(&Caveat::DelayUnlikely));
    let film = Film::new(960.0, vec![9.0; 10], vec![15.0; 10]).unwrap();
    assert!(film.offset(0.90).unwrap().caveats.contains(&Caveat::DelayUnlikely));
}

#[test]
fn the_line_keeps_what_was_counted_and_what_came_out() {
    let mut film = Film::new(FPS, vec![9.0; 12], vec![15.0; 12]).unwrap();
    film.set_aside(2, true).unwrap();
    let found = film.offset(0.90).unwrap();
    let line = film.line(&found, support::some_rig(), "f1".into(), "then".into());
    assert_eq!((line.fps, line.n, &line.left_out), (FPS, 11, &vec![2]));
    assert_eq!((line.frames.len(), line.own_ms.len()), (12, 12));
    assert_eq!(line.offset_ms, found.measured_ms().value);
    assert_eq!(line.standard_error_ms, found.measured_ms().sd);
    let loaded = load(Line::from(line.clone()).seal().unwrap().bytes()).unwrap();
    assert_eq!(loaded.films, [line]);
}
