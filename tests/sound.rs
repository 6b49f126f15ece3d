//! The program's own sounds, measured: clean, the same for the same seed, of the pitch they should
//! have, and quickly made.
//!
//! Pitches are found by Fourier sums over the samples, not by what the source says of itself.

use lastamber::sound::{Kind, PEAK, RATES_HZ, Voice, firing_hz, flare_rpm, samples, shift_rpm};
use std::f64::consts::TAU;

const RATE_HZ: u32 = 48_000;

fn made(kind: Kind, voice: &Voice, seed: u64) -> Vec<f32> {
    samples(kind, voice, RATE_HZ, seed).unwrap()
}

fn voices() -> Vec<Voice> {
    [(4, 800.0, 3_000.0), (3, 850.0, 2_500.0), (6, 700.0, 4_500.0), (8, 650.0, 2_200.0)]
        .into_iter()
        .chain([(1, 1_200.0, 6_000.0), (16, 300.0, 12_000.0)])
        .map(|(cylinders, idle, launch)| Voice::new(cylinders, idle, launch).unwrap())
        .collect()
}

/// How strong `f_hz` is in a stretch, per sample; the stretch is faded in and out (Hann), so that a
/// frequency between two sums does not leak into others.
fn strength(stretch: &[f32], f_hz: f64) -> f64 {
    let n = stretch.len() as f64;
    let (mut re, mut im) = (0.0, 0.0);
    // The window and the wave turn on by a fixed angle each sample: a product, no sine.
    let turn = |angle: f64| (angle.cos(), angle.sin());
    let on = |(a, b): (f64, f64), (c, d): (f64, f64)| (a * c - b * d, a * d + b * c);
    let (wave_step, window_step) = (turn(TAU * f_hz / f64::from(RATE_HZ)), turn(TAU / n));
    let (mut wave, mut window) = ((1.0, 0.0), (1.0, 0.0));
    for x in stretch {
        let x = f64::from(*x) * (0.5 - 0.5 * window.0);
        re += x * wave.0;
        im += x * wave.1;
        (wave, window) = (on(wave, wave_step), on(window, window_step));
    }
    2.0 * re.hypot(im) / n
}

/// The strongest frequency from `low_hz` to `high_hz` in steps of `step_hz`.
fn strongest(stretch: &[f32], low_hz: f64, high_hz: f64, step_hz: f64) -> f64 {
    let steps = ((high_hz - low_hz) / step_hz) as usize;
    let tried = (0..=steps).map(|k| low_hz + k as f64 * step_hz);
    let tried = tried.map(|f_hz| (f_hz, strength(stretch, f_hz)));
    tried.max_by(|a, b| a.1.total_cmp(&b.1)).unwrap().0
}

/// Samples from one second to another.
fn seconds(sound: &[f32], from_s: f64, to_s: f64) -> &[f32] {
    let at = |s: f64| (s * f64::from(RATE_HZ)) as usize;
    &sound[at(from_s)..at(to_s)]
}

fn rms(sound: &[f32]) -> f64 {
    (sound.iter().map(|x| f64::from(*x).powi(2)).sum::<f64>() / sound.len() as f64).sqrt()
}

#[test]
fn every_sound_reaches_the_peak_and_has_no_direct_current() {
    for kind in Kind::ALL {
        for voice in voices() {
            let sound = made(kind, &voice, 5);
            assert!(sound.iter().all(|x| x.is_finite()), "{kind:?}");
            assert_eq!(sound.iter().fold(0.0_f32, |peak, x| peak.max(x.abs())), PEAK, "{kind:?}");
            let mean = sound.iter().map(|x| f64::from(*x)).sum::<f64>() / sound.len() as f64;
            assert!(mean.abs() < 1e-6, "{kind:?}: {mean}");
        }
    }
}

#[test]
fn the_step_across_a_loops_seam_is_no_larger_than_elsewhere() {
    for kind in Kind::ALL.into_iter().filter(|kind| kind.is_loop()) {
        for voice in voices() {
            for seed in 0..4 {
                let sound = made(kind, &voice, seed);
                let steps = sound.windows(2).map(|pair| (pair[1] - pair[0]).abs());
                let largest = steps.fold(0.0_f32, f32::max);
                let seam = (sound[0] - sound[sound.len() - 1]).abs();
                assert!(seam <= largest, "{kind:?} {voice:?}: {seam}, elsewhere {largest}");
                // Nor is its change of step, which a filter begun anew would give away.
                let bend = |a: f32, b: f32, c: f32| (a - 2.0 * b + c).abs();
                let bends = sound.windows(3).map(|three| bend(three[0], three[1], three[2]));
                let largest = bends.fold(0.0_f32, f32::max);
                let [first, second] = [sound[0], sound[1]];
                let [last, before] = [sound[sound.len() - 1], sound[sound.len() - 2]];
                let seam = bend(before, last, first).max(bend(last, first, second));
                assert!(seam <= largest, "{kind:?} {voice:?}: {seam}, elsewhere {largest}");
            }
        }
    }
}

#[test]
fn sounds_that_are_played_once_begin_and_end_in_silence() {
    for kind in Kind::ALL.into_iter().filter(|kind| !kind.is_loop()) {
        let sound = made(kind, &Voice::default(), 3);
        assert_eq!((sound[0], sound[sound.len() - 1]), (0.0, 0.0), "{kind:?}");
        let last_ms = &sound[sound.len() - 240..];
        assert!(last_ms.iter().all(|x| x.abs() < 0.02 * PEAK), "{kind:?}");
    }
}

#[test]
fn the_same_seed_gives_the_same_samples_and_another_seed_others() {
    for kind in Kind::ALL {
        let voice = Voice::default();
        assert_eq!(made(kind, &voice, 1), made(kind, &voice, 1), "{kind:?}");
        assert_ne!(made(kind, &voice, 1), made(kind, &voice, 2), "{kind:?}");
    }
}

#[test]
fn a_held_engines_strongest_partial_is_its_firing_frequency() {
    for voice in voices() {
        let held = [(Kind::Idle, voice.idle_rpm()), (Kind::LaunchRpm, voice.launch_rpm())];
        for (kind, rpm) in held {
            let sound = made(kind, &voice, 11);
            let due_hz = firing_hz(rpm, voice.cylinders());
            // 32 firings, so that a line is 1/16 of the firing frequency wide; sums every half of that.
            let firings = (32.0 / due_hz * f64::from(RATE_HZ)) as usize;
            let stretch = &sound[..sound.len().min(firings)];
            let step_hz = due_hz / 64.0;
            let found_hz = strongest(stretch, due_hz / 8.0, 5.0 * due_hz, step_hz);
            assert!((found_hz - due_hz).abs() <= step_hz, "{kind:?}: {found_hz} for {due_hz} Hz");
        }
    }
}

#[test]
fn a_loop_holds_whole_firing_cycles_to_within_half_a_sample() {
    for voice in voices() {
        let held = [(Kind::Idle, voice.idle_rpm()), (Kind::LaunchRpm, voice.launch_rpm())];
        for (kind, rpm) in held {
            let cycle = 120.0 / rpm * f64::from(RATE_HZ);
            let n = made(kind, &voice, 1).len() as f64;
            let cycles = n / cycle;
            assert!((cycles - cycles.round()).abs() * cycle <= 0.5 + 1e-6, "{cycles} cycles");
        }
    }
}

#[test]
fn a_leaving_engine_follows_its_rpm_through_the_gear_and_the_shift() {
    for (cylinders, launch) in [(4, 3_000.0), (8, 2_200.0), (6, 4_500.0)] {
        let voice = Voice::new(cylinders, 700.0, launch).unwrap();
        let sound = made(Kind::Launch, &voice, 7);
        for middle_s in [0.6, 1.0, 1.4, 1.8, 2.3] {
            let stretch = seconds(&sound, middle_s - 0.06, middle_s + 0.06);
            let due_hz = firing_hz(flare_rpm(&voice, middle_s), cylinders);
            let found_hz = strongest(stretch, 0.3 * due_hz, 4.0 * due_hz, 1.0);
            assert!((found_hz - due_hz).abs() < 6.0, "{middle_s} s: {found_hz} for {due_hz} Hz");
        }
        assert_eq!(flare_rpm(&voice, 0.0), launch);
        assert_eq!(flare_rpm(&voice, 1.9), shift_rpm(&voice));
        assert!((2.0..=3.0).contains(&(sound.len() as f64 / f64::from(RATE_HZ))));
    }
}

#[test]
fn a_tyres_squeal_dies_away_before_its_rush() {
    for seed in 0..5 {
        let sound = made(Kind::Tyre, &Voice::default(), seed);
        // The squeal's share: the strongest frequency beside all of the stretch.
        let tone = |from_s: f64| {
            let stretch = seconds(&sound, from_s, from_s + 0.06);
            strength(stretch, strongest(stretch, 600.0, 1_100.0, 4.0)) / rms(stretch)
        };
        assert!(tone(0.05) > 2.0 * tone(0.85), "{} {}", tone(0.05), tone(0.85));
        assert!(rms(seconds(&sound, 0.05, 0.15)) > 4.0 * rms(seconds(&sound, 1.0, 1.1)));
    }
}

#[test]
fn the_crowd_murmurs_low_and_is_hushed_once_in_a_round() {
    let sound = made(Kind::Crowd, &Voice::default(), 2);
    let whole_s = sound.len() as f64 / f64::from(RATE_HZ);
    let hushed = rms(seconds(&sound, 0.0, 0.4)).max(rms(seconds(&sound, whole_s - 0.4, whole_s)));
    for from_s in [2.0, 3.0, 4.0, 5.0] {
        let murmur = rms(seconds(&sound, from_s, from_s + 1.0));
        assert!(murmur > 5.0 * hushed, "{from_s} s: {murmur}, hushed {hushed}");
    }
    // Most of it is where voices are: its strength about 260 Hz against that about 4 kHz.
    let about = |middle_hz: f64| -> f64 {
        let stretch = seconds(&sound, 3.0, 3.5);
        (-20..=20).map(|k| strength(stretch, middle_hz + 4.0 * f64::from(k)).powi(2)).sum()
    };
    assert!(about(260.0) > 100.0 * about(4_000.0));
}

#[test]
fn sounds_are_made_at_any_usual_rate_and_refused_at_none() {
    for rate_hz in [8_000, 44_100, 96_000] {
        for kind in Kind::ALL {
            let voice = Voice::default();
            let sound = samples(kind, &voice, rate_hz, 1).unwrap();
            let as_usual = made(kind, &voice, 1).len() as f64 / f64::from(RATE_HZ);
            assert!((sound.len() as f64 / f64::from(rate_hz) - as_usual).abs() < 1e-3);
        }
    }
    for rate_hz in [0, RATES_HZ.0 - 1, RATES_HZ.1 + 1, u32::MAX] {
        let refused = samples(Kind::Idle, &Voice::default(), rate_hz, 1).unwrap_err().to_string();
        assert!(refused.contains(&rate_hz.to_string()) && refused.contains("8000 to 192000"));
    }
}

#[test]
fn three_seconds_of_any_sound_take_less_than_a_tenth_of_a_second_to_make() {
    // Processor time of this thread, so that what else the machine does is not counted.
    let now = || {
        let time = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
        time.tv_sec as f64 + time.tv_nsec as f64 / 1e9
    };
    for kind in Kind::ALL {
        let took_s = (0..3).map(|seed| {
            let begun = now();
            let n = made(kind, &Voice::default(), seed).len();
            (now() - begun) * 3.0 * f64::from(RATE_HZ) / n as f64
        });
        let took_s = took_s.fold(f64::INFINITY, f64::min);
        if std::env::var_os("LASTAMBER_SAY").is_some() {
            println!("{}: {:.1} ms for 3 s", kind.name(), 1e3 * took_s);
        }
        assert!(took_s < 0.1, "{kind:?}: {took_s} s");
    }
}
