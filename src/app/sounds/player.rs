//! The thread that plays.
//!
//! Owns the sound device, the samples made for it and what is playing. A device that is missing or goes
//! away is said in a sentence and changes nothing else. Refuses to decide what is heard, and to be
//! waited for.

use super::Heard;
use crate::app::clock;
use crate::sound::{Kind, Levels, Voice, samples};
use crate::units::{Mark, Span};
use kira::sound::static_sound::{StaticSoundData, StaticSoundHandle, StaticSoundSettings};
use kira::{AudioManager, AudioManagerSettings, Decibels, DefaultBackend, Frame, Tween};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

/// Samples a second of what is made; the library brings them to the device's own.
const RATE_HZ: u32 = 48_000;
/// The engine's cylinders are drawn from this.
const SEED: u64 = 1;
/// Loops come and go in this time: no click.
const FADE: Duration = Duration::from_millis(60);

/// A device on which nothing was heard for so long is given back: it can sleep, and so can the processor.
/// Longer than any sound that is played once. Chosen.
const REST: Duration = Duration::from_secs(10);
/// A device is not looked for more often: the sound library complains every time. Chosen.
const LOOK_AGAIN: Span = Span::from_ms(60_000);
/// What there is to say while all is well.
const PLAYED: &str = "Sound is played on the usual device.";

/// What the thread is told.
enum Cue {
    Levels(Levels),
    Heard(Heard),
    Once(Kind),
}

/// The thread's other end.
#[derive(Debug)]
pub struct Player {
    to: Sender<Cue>,
    state: Arc<Mutex<String>>,
    plays: Arc<AtomicBool>,
}

impl Player {
    /// Starts the thread; `None` where the system gives none.
    pub fn start() -> Option<Self> {
        let (to, cues) = channel();
        let state = Arc::new(Mutex::new(
            "Sound is played on the usual device, if there is one.".to_owned(),
        ));
        let plays = Arc::new(AtomicBool::new(false));
        let (said, has) = (state.clone(), plays.clone());
        let thread = thread::Builder::new().name("sound".to_owned());
        thread.spawn(move || play(&cues, &said, &has)).ok()?;
        Some(Self { to, state, plays })
    }

    /// Whether there is a device at present and all that is played is on its way to it.
    pub fn plays(&self) -> bool {
        self.plays.load(Ordering::Relaxed)
    }

    /// How it is doing.
    pub fn state(&self) -> String {
        self.state.lock().map(|state| state.clone()).unwrap_or_default()
    }

    /// Sets how loud each sound is.
    pub fn levels(&self, levels: Levels) {
        self.tell(Cue::Levels(levels));
    }

    /// Sets what is heard round and round.
    pub fn heard(&self, heard: Heard) {
        self.tell(Cue::Heard(heard));
    }

    /// Plays a sound once.
    pub fn once(&self, kind: Kind) {
        self.tell(Cue::Once(kind));
    }

    fn tell(&self, cue: Cue) {
        // A thread that is gone is missed by nobody.
        let _ = self.to.send(cue);
    }
}

/// What the thread has.
struct Stage {
    /// The device, while there is something to be heard.
    device: Option<AudioManager<DefaultBackend>>,
    /// When it was looked for in vain.
    missed: Option<Mark>,
    made: Vec<(Kind, StaticSoundData)>,
    levels: Levels,
    heard: Heard,
    engine: Option<StaticSoundHandle>,
    crowd: Option<StaticSoundHandle>,
}

fn play(cues: &Receiver<Cue>, state: &Mutex<String>, plays: &AtomicBool) {
    let say = |words: String| {
        if let Ok(mut state) = state.lock() {
            *state = words;
        }
    };
    let made = Kind::ALL.into_iter().filter_map(|kind| Some((kind, data(kind)?))).collect();
    let mut stage = Stage {
        device: None,
        missed: None,
        made,
        levels: Levels::default(),
        heard: Heard::default(),
        engine: None,
        crowd: None,
    };
    loop {
        let cue = if stage.device.is_some() && stage.is_silent() {
            cues.recv_timeout(REST)
        } else {
            cues.recv().map_err(RecvTimeoutError::from)
        };
        match cue {
            Ok(cue) => match stage.take(cue) {
                Ok(()) if stage.device.is_some() => say(PLAYED.to_owned()),
                Ok(()) => {}
                Err(why) => say(why),
            },
            Err(RecvTimeoutError::Timeout) => stage.close(),
            Err(RecvTimeoutError::Disconnected) => return,
        }
        plays.store(stage.device.is_some(), Ordering::Relaxed);
    }
}

fn data(kind: Kind) -> Option<StaticSoundData> {
    let mono = samples(kind, &Voice::default(), RATE_HZ, SEED).ok()?;
    let frames: Vec<Frame> = mono.into_iter().map(Frame::from_mono).collect();
    let settings = StaticSoundSettings::default();
    let settings = if kind.is_loop() { settings.loop_region(..) } else { settings };
    Some(StaticSoundData { sample_rate: RATE_HZ, frames: frames.into(), settings, slice: None })
}

impl Stage {
    fn take(&mut self, cue: Cue) -> Result<(), String> {
        match cue {
            Cue::Levels(levels) => {
                self.levels = levels;
                let fade = fade();
                if let (Some(handle), Some(kind)) = (&mut self.engine, self.heard.engine) {
                    handle.set_volume(volume(levels, kind), fade);
                }
                if let Some(handle) = &mut self.crowd {
                    handle.set_volume(volume(levels, Kind::Crowd), fade);
                }
            }
            Cue::Heard(heard) => {
                let before = std::mem::replace(&mut self.heard, heard);
                if heard.engine != before.engine {
                    stop(&mut self.engine);
                }
                if heard.crowd != before.crowd {
                    stop(&mut self.crowd);
                }
            }
            Cue::Once(kind) => {
                if let Some(mut handle) = self.sound(kind)? {
                    // Trying out a loop hears it once through.
                    handle.set_loop_region(None::<kira::sound::Region>);
                }
            }
        }
        self.go_round()
    }

    /// Starts what is to be heard round and round and is not yet.
    fn go_round(&mut self) -> Result<(), String> {
        let loud = |kind: &Kind| self.levels.amplitude_of(*kind) > 0.0;
        let engine = self.heard.engine.filter(|kind| self.engine.is_none() && loud(kind));
        let crowd =
            (self.heard.crowd && self.crowd.is_none() && loud(&Kind::Crowd)).then_some(Kind::Crowd);
        if let Some(kind) = engine {
            self.engine = self.sound(kind)?;
        }
        if let Some(kind) = crowd {
            self.crowd = self.sound(kind)?;
        }
        Ok(())
    }

    /// Starts a sound; none where there is no device to start it on.
    fn sound(&mut self, kind: Kind) -> Result<Option<StaticSoundHandle>, String> {
        let made = self.made.iter().find(|(of, _)| *of == kind);
        let (_, data) = made.ok_or("A sound's samples could not be made.")?;
        let data = data.volume(volume(self.levels, kind)).fade_in_tween(fade());
        let Some(device) = self.device()? else { return Ok(None) };
        let handle = device.play(data).map_err(|why| format!("A sound can't be played: {why}"))?;
        Ok(Some(handle))
    }

    /// The device, looked for where there is none: one that was plugged in meanwhile is found, but not
    /// with every sound.
    fn device(&mut self) -> Result<Option<&mut AudioManager<DefaultBackend>>, String> {
        if self.device.is_none() && self.missed.is_none_or(|at| clock::now() - at > LOOK_AGAIN) {
            match AudioManager::new(AudioManagerSettings::default()) {
                Ok(device) => (self.device, self.missed) = (Some(device), None),
                Err(error) => {
                    self.missed = Some(clock::now());
                    return Err(format!(
                        "No sound device ({error}): everything else works without one."
                    ));
                }
            }
        }
        Ok(self.device.as_mut())
    }

    /// Nothing is meant to be heard, or nothing can be.
    fn is_silent(&self) -> bool {
        let loud = |kind| self.levels.amplitude_of(kind) > 0.0;
        !(self.heard.engine.is_some_and(loud) || (self.heard.crowd && loud(Kind::Crowd)))
    }

    /// Gives the device back; the next sound asks for it again.
    fn close(&mut self) {
        (self.engine, self.crowd, self.device) = (None, None, None);
    }
}

fn stop(handle: &mut Option<StaticSoundHandle>) {
    if let Some(mut handle) = handle.take() {
        handle.stop(fade());
    }
}

fn fade() -> Tween {
    Tween { duration: FADE, ..Tween::default() }
}

/// A level as the library wants it.
fn volume(levels: Levels, kind: Kind) -> Decibels {
    match levels.amplitude_of(kind) {
        0.0 => Decibels::SILENCE,
        amplitude => Decibels((20.0 * amplitude.log10()).max(Decibels::SILENCE.0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_in_decibels_is_its_amplitude() {
        let mut levels = Levels::SILENT;
        assert_eq!(volume(levels, Kind::Idle), Decibels::SILENCE);
        levels.set(Kind::Idle, 1.0);
        assert_eq!(volume(levels, Kind::Idle), Decibels(0.0));
        levels.set(Kind::Idle, 0.5);
        // Half as loud: ten decibels less.
        assert!((volume(levels, Kind::Idle).0 + 10.03).abs() < 0.01);
    }

    #[test]
    fn loops_go_round_and_launches_do_not() {
        for kind in Kind::ALL {
            let data = data(kind).expect("samples can be made at this rate");
            assert_eq!(data.settings.loop_region.is_some(), kind.is_loop(), "{kind:?}");
            assert!(data.num_frames() > 1_000);
        }
    }
}
