//! Sounds made of filtered noise: tyres and people.
//!
//! Owns their bands and how they rise and fall, all chosen by ear's reach and not from a recording:
//! a slipping tyre rushes about 1 kHz and squeals a little below, speech has its strength from 250 to
//! 1,100 Hz and its syllables at 4 a second. Refuses engines.

use super::biquad::{Biquad, FLAT_Q};
use super::finish::{self, along};
use crate::seed::Generator;
use rand::RngExt;
use std::f64::consts::{PI, TAU};

/// How long a tyre slips, s.
const TYRE_S: f64 = 1.2;
/// The rush of slipping rubber: its middle, Hz, and its Q.
const RUSH: (f64, f64) = (1_100.0, 0.8);
/// The squeal: where it begins and ends, Hz, its share at first, and after how many seconds a third
/// of it is left.
const SQUEAL_HZ: (f64, f64) = (920.0, 780.0);
const SQUEAL: f64 = 0.8;
const SQUEAL_LASTS_S: f64 = 0.22;
/// How strong it is heard, (s, share).
const SLIPPING: [(f64, f64); 5] =
    [(0.0, 0.0), (0.03, 1.0), (0.35, 0.8), (0.8, 0.25), (TYRE_S - 0.01, 0.0)];

/// How long the murmur lasts before it comes round, s.
const CROWD_S: f64 = 8.0;
/// Voices: middle of a band, Hz, its Q, its share.
const VOICES: [(f64, f64, f64); 3] = [(260.0, 0.9, 1.0), (520.0, 0.9, 0.8), (1_100.0, 1.2, 0.3)];
/// Syllables a second, and how far they lift a voice.
const SYLLABLES_HZ: f64 = 4.0;
const LIFT: f64 = 0.5;
/// What is left of the murmur in the hush, and when it is over, (s from the nearer end, share).
const HUSH: [(f64, f64); 2] = [(0.5, 0.1), (2.0, 1.0)];

/// `n` samples, each as likely as any other from −1 to 1.
pub(super) fn white(n: usize, random: &mut Generator) -> Vec<f64> {
    (0..n).map(|_| random.random_range(-1.0..1.0)).collect()
}

/// Tyres that slip as the car leaves, once.
pub(super) fn tyre(rate: f64, random: &mut Generator) -> Vec<f32> {
    let n = (TYRE_S * rate).round() as usize;
    let mut sound = white(n, random);
    Biquad::band_pass(RUSH.0, RUSH.1, rate).once(&mut sound);
    let mut turn = random.random_range(0.0..TAU);
    let per_sample = TAU / rate;
    for (i, x) in sound.iter_mut().enumerate() {
        let s = i as f64 / rate;
        *x += SQUEAL * (-s / SQUEAL_LASTS_S).exp() * turn.sin();
        turn += per_sample * along(&[(0.0, SQUEAL_HZ.0), (TYRE_S, SQUEAL_HZ.1)], s);
    }
    finish::once(sound, rate, |s| along(&SLIPPING, s))
}

/// People talking, and once in a round nearly silent: the hush lies about the seam.
pub(super) fn crowd(rate: f64, random: &mut Generator) -> Vec<f32> {
    let n = (CROWD_S * rate).round() as usize;
    let mut sound = vec![0.0; n];
    for (f0_hz, q, share) in VOICES {
        let mut voice = white(n, random);
        Biquad::band_pass(f0_hz, q, rate).round(&mut voice);
        let syllables = syllables(n, rate, random);
        for (i, x) in sound.iter_mut().enumerate() {
            *x += share * voice[i] * syllables[i];
        }
    }
    for (i, x) in sound.iter_mut().enumerate() {
        let s = i as f64 / rate;
        let share = along(&HUSH, s.min(CROWD_S - s));
        *x *= share;
    }
    finish::round(sound)
}

/// How a voice rises and falls, about 1, never below 0: noise slower than [`SYLLABLES_HZ`], drawn at
/// 64 values a second and joined by half waves.
fn syllables(n: usize, rate: f64, random: &mut Generator) -> Vec<f64> {
    const DRAWN_HZ: f64 = 64.0;
    let mut slow = white((n as f64 / rate * DRAWN_HZ).round() as usize, random);
    Biquad::low_pass(SYLLABLES_HZ, FLAT_Q, DRAWN_HZ).round(&mut slow);
    let spread = (slow.iter().map(|x| x * x).sum::<f64>() / slow.len() as f64).sqrt();
    let lifted = |i: usize| (1.0 + LIFT * slow[i % slow.len()] / spread).max(0.0);
    let joined = |i: usize| {
        let at = i as f64 * slow.len() as f64 / n as f64;
        let (before, part) = (at as usize, at.fract());
        let weight = 0.5 - 0.5 * (PI * part).cos();
        lifted(before) * (1.0 - weight) + lifted(before + 1) * weight
    };
    (0..n).map(joined).collect()
}
