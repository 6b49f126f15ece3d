//! The program's own sounds, computed: engine, launch, tyre, crowd.
//!
//! Owns their samples (mono, 32-bit float, at any usual rate), how loud each is wished and what that
//! is as a factor. Pure: the same kind, voice, rate and seed give the same samples. Refuses playing
//! them, devices, and when: that is the window's.
//!
//! The lamps make no sound, and none is offered here. At the track they light in silence; whoever
//! practises with a tone at the last amber trains the ear, which answers about 40 ms sooner than the
//! eye (common practice, no single source), and leaves late where no tone comes.

mod biquad;
mod engine;
mod error;
mod finish;
mod levels;
mod noise;
mod voice;

pub use biquad::Biquad;
pub use engine::{flare_rpm, shift_rpm};
pub use error::SoundError;
pub use levels::{Levels, amplitude};
pub use voice::{Voice, firing_hz};

use crate::seed::generator;

/// No sample is larger than this. Chosen: a sound that is resampled, or added to another one played
/// softly, still finds room.
pub const PEAK: f32 = 0.9;
/// The least and the most samples a second.
pub const RATES_HZ: (u32, u32) = (8_000, 192_000);

/// A sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// The engine idles. A loop of whole firing cycles.
    Idle,
    /// The engine is held at its launch rpm. A loop of whole firing cycles.
    LaunchRpm,
    /// The car leaves: from launch rpm through a gear, once.
    Launch,
    /// The driven tyres slip as it leaves, once.
    Tyre,
    /// People talk beside the track, and fall silent once in a round. A loop.
    Crowd,
}

impl Kind {
    /// All, in the order of a start.
    pub const ALL: [Self; 5] = [Self::Idle, Self::LaunchRpm, Self::Launch, Self::Tyre, Self::Crowd];

    /// What it is kept under.
    pub fn name(self) -> &'static str {
        match self {
            Self::Idle => "idle",
            Self::LaunchRpm => "launch rpm",
            Self::Launch => "launch",
            Self::Tyre => "tyre",
            Self::Crowd => "crowd",
        }
    }

    /// Its line on a page of settings.
    pub fn label(self) -> &'static str {
        match self {
            Self::Idle => "Engine idling",
            Self::LaunchRpm => "Engine held for the launch",
            Self::Launch => "Engine leaving",
            Self::Tyre => "Tyres slipping",
            Self::Crowd => "Crowd",
        }
    }

    /// Whether it is played round and round; the others once.
    pub fn is_loop(self) -> bool {
        matches!(self, Self::Idle | Self::LaunchRpm | Self::Crowd)
    }

    /// Keeps one kind's luck apart from another's.
    fn stream(self) -> u64 {
        match self {
            Self::Idle => 1,
            Self::LaunchRpm => 2,
            Self::Launch => 3,
            Self::Tyre => 4,
            Self::Crowd => 5,
        }
    }
}

/// The samples of a sound: mono, none beyond ± [`PEAK`], their mean 0. A loop's last sample is
/// followed by its first as by any other; the others begin and end in silence.
///
/// An engine's cylinders are drawn once from `seed`, so that idle, launch rpm and launch are of the
/// same engine.
///
/// # Errors
/// [`SoundError::Rate`] for a rate outside [`RATES_HZ`].
pub fn samples(kind: Kind, voice: &Voice, rate_hz: u32, seed: u64) -> Result<Vec<f32>, SoundError> {
    let (low, high) = RATES_HZ;
    if !(low..=high).contains(&rate_hz) {
        return Err(SoundError::Rate { got: rate_hz, low, high });
    }
    let rate = f64::from(rate_hz);
    let random = &mut generator(crate::seed::seed_of_run(seed, kind.stream()));
    let cylinders = || engine::cylinders(voice, &mut generator(seed));
    Ok(match kind {
        Kind::Idle => engine::held(&cylinders(), voice.idle_rpm(), rate, random),
        Kind::LaunchRpm => engine::held(&cylinders(), voice.launch_rpm(), rate, random),
        Kind::Launch => engine::launch(&cylinders(), voice, rate, random),
        Kind::Tyre => noise::tyre(rate, random),
        Kind::Crowd => noise::crowd(rate, random),
    })
}
