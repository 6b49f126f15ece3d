//! How loud each sound is wished.
//!
//! Owns a level for every kind and what a level is as a factor of the samples. Refuses keeping them
//! and the sliders.

use super::Kind;

/// Loudness grows as this power of the sound pressure: L = k·I^0.3 with I ∝ p² (Stevens 1955, "The
/// measurement of loudness", J. Acoust. Soc. Am. 27:815); .6 again with the pressure made to grow as
/// the 1.67th power of time (Science 1966, 154:1036).
const LOUDNESS_POWER: f64 = 0.6;

/// The level of every sound, 0 (silent) to 1 (as loud as it was made).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Levels([f64; Kind::ALL.len()]);

impl Default for Levels {
    /// Idle .5, launch rpm .6, launch .7, tyre .5, crowd .3. Chosen: the sounds are all made to the
    /// same peak, and at the line the car is louder than the people, leaving louder than waiting.
    fn default() -> Self {
        Self([0.5, 0.6, 0.7, 0.5, 0.3])
    }
}

impl Levels {
    /// Nothing is heard.
    pub const SILENT: Self = Self([0.0; Kind::ALL.len()]);

    /// The level of one sound, 0..=1.
    pub fn of(&self, kind: Kind) -> f64 {
        self.0[kind as usize]
    }

    /// The factor of one sound's samples, 0..=1.
    pub fn amplitude_of(&self, kind: Kind) -> f32 {
        amplitude(self.of(kind))
    }

    /// Wishes another level. What lies outside 0..=1 becomes the nearer end, what is no number 0.
    pub fn set(&mut self, kind: Kind, level: f64) {
        self.0[kind as usize] = within(level);
    }
}

/// The factor of the samples for a level of 0..=1 (the nearer end outside, 0 for what is no number):
/// a = level^(1/0.6), so that half the level sounds half as loud. Half is −10.03 dB: the sone's rule,
/// twice as loud every 10 dB, gives −10.
pub fn amplitude(level: f64) -> f32 {
    within(level).powf(1.0 / LOUDNESS_POWER) as f32
}

fn within(level: f64) -> f64 {
    if level.is_nan() { 0.0 } else { level.clamp(0.0, 1.0) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_the_level_sounds_half_as_loud() {
        // Stevens 1955: a loudness ratio of 2:1 is produced by stimuli that differ by 10 dB.
        for level in [1.0, 0.5, 0.24] {
            let down_db = 20.0 * f64::from(amplitude(level / 2.0) / amplitude(level)).log10();
            assert!((down_db + 10.0).abs() < 0.05, "{level}: {down_db} dB");
        }
        assert_eq!((amplitude(0.0), amplitude(1.0)), (0.0, 1.0));
    }

    #[test]
    fn a_level_is_kept_for_every_kind_apart_and_within_its_limits() {
        let mut levels = Levels::default();
        for (place, kind) in Kind::ALL.into_iter().enumerate() {
            levels.set(kind, 0.1 * place as f64);
        }
        for (place, kind) in Kind::ALL.into_iter().enumerate() {
            assert_eq!(levels.of(kind), 0.1 * place as f64);
        }
        for (wished, kept) in [(-1.0, 0.0), (7.0, 1.0), (f64::NAN, 0.0), (f64::INFINITY, 1.0)] {
            levels.set(Kind::Crowd, wished);
            assert_eq!(levels.of(Kind::Crowd), kept);
            assert_eq!(amplitude(wished), kept as f32);
        }
        assert!(Kind::ALL.iter().all(|kind| Levels::SILENT.amplitude_of(*kind) == 0.0));
    }
}
