//! A four-stroke engine: held at a speed, and leaving.
//!
//! Owns its pulses, one a firing, and how its speed runs through the first gear. No real engine's
//! recording lies behind it: shapes and shares are chosen to sound like one, its frequencies follow
//! from speed and cylinders. Refuses gear ratios and what the car does: `car::pass` computes that.

use super::biquad::{Biquad, FLAT_Q};
use super::finish::{self, along};
use super::noise;
use super::voice::{Voice, firing_hz};
use crate::seed::Generator;
use rand::RngExt;
use std::f64::consts::TAU;

/// How long a held engine's loop is, about, s. Chosen: long enough that its unevenness is not heard
/// to come round.
const HELD_S: f64 = 3.0;
/// How long leaving is heard, s.
const LAUNCH_S: f64 = 2.6;
/// Part of the time between two firings in which the exhaust pushes. Chosen: so short that the second
/// and third multiple of the firing frequency are heard on small loudspeakers, so long that the firing
/// frequency itself stays the strongest.
const PUSH: f64 = 0.36;
/// How far a cylinder's pushes are from the others', and a push from its cylinder's own, at most.
const UNLIKE_CYLINDERS: f64 = 0.10;
const UNLIKE_PUSHES: f64 = 0.06;
/// What hisses in the pipe: its middle, Hz, its Q, its share beside a push of 1.
const HISS: (f64, f64, f64) = (1_200.0, 0.5, 0.35);
/// Above this the muffler swallows, Hz, or above this multiple of the firing frequency.
const MUFFLER: (f64, f64) = (900.0, 3.0);
/// A shift comes at this speed, rpm, or at this multiple of the launch's, whichever is more. Chosen.
const SHIFT: (f64, f64) = (5_500.0, 1.25);
/// When the clutch has taken hold, when the gear is through, when the next one is in, s. Chosen: a
/// street car is about two seconds in its first gear.
const TAKES_HOLD_S: f64 = 0.25;
const GEAR_S: f64 = 1.9;
const SHIFTED_S: f64 = 2.1;
/// What is left of the speed when the clutch takes hold, and after the shift.
const PULLED_DOWN: f64 = 0.88;
const SHIFTED_DOWN: f64 = 0.65;
/// How strong it is heard along the way, (s, share): it lifts for the shift and drives away.
const LEAVING: [(f64, f64); 8] = [
    (0.0, 0.0),
    (0.02, 0.8),
    (TAKES_HOLD_S, 1.0),
    (GEAR_S, 1.0),
    (GEAR_S + 0.05, 0.35),
    (SHIFTED_S, 0.35),
    (SHIFTED_S + 0.06, 0.9),
    (LAUNCH_S - 0.01, 0.0),
];

/// How hard each cylinder pushes, about 1.
pub(super) fn cylinders(voice: &Voice, random: &mut Generator) -> Vec<f64> {
    let unlike = |_| 1.0 + random.random_range(-UNLIKE_CYLINDERS..UNLIKE_CYLINDERS);
    (0..voice.cylinders()).map(unlike).collect()
}

/// The engine at one speed: a loop of whole cycles, all cylinders in turn. The speed is off by at
/// most half a sample in [`HELD_S`].
pub(super) fn held(cylinders: &[f64], rpm: f64, rate: f64, random: &mut Generator) -> Vec<f32> {
    let cycle_s = 120.0 / rpm;
    let cycles = (HELD_S / cycle_s).round().max(1.0);
    let n = (cycles * cycle_s * rate).round() as usize;
    let per_sample = cycles * cylinders.len() as f64 / n as f64;
    let mut hiss = noise::white(n, random);
    Biquad::band_pass(HISS.0, HISS.1, rate).round(&mut hiss);
    let pushes = pushes(cylinders, (0..n).map(|i| i as f64 * per_sample), random);
    let mut sound = exhaust(pushes, &hiss);
    muffler(per_sample * rate, rate).round(&mut sound);
    finish::round(sound)
}

/// The engine as the car leaves, once.
pub(super) fn launch(
    cylinders: &[f64],
    voice: &Voice,
    rate: f64,
    random: &mut Generator,
) -> Vec<f32> {
    let n = (LAUNCH_S * rate).round() as usize;
    let mut hiss = noise::white(n, random);
    Biquad::band_pass(HISS.0, HISS.1, rate).once(&mut hiss);
    let mut turned = 0.0;
    let turns = (0..n).map(|i| {
        let here = turned;
        turned += firing_hz(flare_rpm(voice, i as f64 / rate), voice.cylinders()) / rate;
        here
    });
    let pushes = pushes(cylinders, turns, random);
    let mut sound = exhaust(pushes, &hiss);
    let fastest_hz = firing_hz(shift_rpm(voice), voice.cylinders());
    muffler(fastest_hz, rate).once(&mut sound);
    finish::once(sound, rate, |s| along(&LEAVING, s))
}

/// Where the engine is shifted as it leaves, rpm.
pub fn shift_rpm(voice: &Voice) -> f64 {
    SHIFT.0.max(SHIFT.1 * voice.launch_rpm())
}

/// The engine's speed, rpm, so long after the launch, s: down as the clutch takes hold, evenly up
/// through the gear, down by the shift, and up again.
pub fn flare_rpm(voice: &Voice, at_s: f64) -> f64 {
    let (launch, shift) = (voice.launch_rpm(), shift_rpm(voice));
    let shifted = SHIFTED_DOWN * shift;
    let up_again = 0.15 * shift;
    let points = [
        (0.0, launch),
        (TAKES_HOLD_S, PULLED_DOWN * launch),
        (GEAR_S, shift),
        (SHIFTED_S, shifted),
        (LAUNCH_S, shifted + up_again),
    ];
    along(&points, at_s)
}

/// Push by push: `turns` counts firings, its fraction is how far the next one is. A push is a raised
/// cosine, its own mean taken off.
fn pushes(cylinders: &[f64], turns: impl Iterator<Item = f64>, random: &mut Generator) -> Vec<f64> {
    let (mut firing, mut strength) = (usize::MAX, 0.0);
    let push = |turn: f64| {
        let whole = turn.floor();
        if whole as usize != firing {
            firing = whole as usize;
            let unlike = random.random_range(-UNLIKE_PUSHES..UNLIKE_PUSHES);
            strength = cylinders[firing % cylinders.len()] * (1.0 + unlike);
        }
        let within = (turn - whole) / PUSH;
        let pressure = if within < 1.0 { 0.5 - 0.5 * (TAU * within).cos() } else { 0.0 };
        strength * pressure
    };
    turns.map(push).collect()
}

/// Pushes and, while they last, hiss.
fn exhaust(pushes: Vec<f64>, hiss: &[f64]) -> Vec<f64> {
    let at_rest = 0.5 * PUSH;
    let heard = |(push, hiss): (f64, &f64)| push - at_rest + HISS.2 * hiss * (0.2 + push);
    pushes.into_iter().zip(hiss).map(heard).collect()
}

fn muffler(firing_hz: f64, rate: f64) -> Biquad {
    Biquad::low_pass(MUFFLER.0.max(MUFFLER.1 * firing_hz), FLAT_Q, rate)
}
