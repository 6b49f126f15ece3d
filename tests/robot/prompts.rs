//! Doing what the prompt says: a newcomer's only rule.
//!
//! Owns which prompt was answered and which key is still held for it. Refuses every key the prompt
//! in force does not name.

use std::thread;
use std::time::{Duration, Instant};

use crate::keys::Keyboard;
use crate::rig::Rig;
use crate::trace::Press;
use crate::xserver::Outcome;

/// How long a tapped key stays down: as a person taps.
pub const TAP: Duration = Duration::from_millis(80);
/// From reading a prompt to answering it.
const PAUSE: Duration = Duration::from_millis(400);
/// After a tap that changed nothing, a person tries again.
const AGAIN: Duration = Duration::from_secs(3);

/// Answers prompts one after the other.
pub struct Follower {
    seen: Option<usize>,
    since: Instant,
    last_tap: Option<Instant>,
    taps: u32,
    held: Option<String>,
}

impl Follower {
    /// Has seen no prompt yet.
    pub fn new() -> Self {
        Self { seen: None, since: Instant::now(), last_tap: None, taps: 0, held: None }
    }

    /// Does what the prompt in force names, once: holds, lets go, or taps after a person's pause.
    /// A tap that changes nothing is repeated every 3 s, three times at most. The caller reads the
    /// trace before.
    pub fn step(&mut self, rig: &Rig) -> Outcome<()> {
        let Some((at, press)) = rig.trace.prompt().map(|(i, p)| (i, p.clone())) else {
            return Ok(());
        };
        if self.seen != Some(at) {
            self.seen = Some(at);
            self.since = Instant::now();
            (self.last_tap, self.taps) = (None, 0);
        }
        let wanted = if let Press::Hold(key) = &press { Some(key.clone()) } else { None };
        if self.held != wanted {
            if let Some(key) = self.held.take() {
                rig.keys.up(&key)?;
            }
            if let Some(key) = wanted {
                rig.keys.down(&key)?;
                self.held = Some(key);
            }
        }
        if let Press::Tap(key) = &press {
            let first = self.taps == 0 && self.since.elapsed() > PAUSE;
            let waited = self.last_tap.is_some_and(|t| t.elapsed() > AGAIN);
            if first || (waited && self.taps < 4) {
                tap(&rig.keys, key)?;
                self.taps += 1;
                self.last_tap = Some(Instant::now());
            }
        }
        Ok(())
    }

    /// Releases a key that is still held for an earlier prompt.
    pub fn let_go(&mut self, rig: &Rig) -> Outcome<()> {
        self.held.take().map_or(Ok(()), |key| rig.keys.up(&key).map(|_| ()))
    }
}

/// Presses and releases `key` as a person does.
pub fn tap(keys: &Keyboard, key: &str) -> Outcome<()> {
    keys.down(key)?;
    thread::sleep(TAP);
    keys.up(key).map(|_| ())
}
