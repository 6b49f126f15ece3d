//! The whole app without a window: a told clock, an echo for the screen, and a sink that can be held
//! up or made to fail.

use bevy::input::keyboard::{Key, KeyboardInput};
use bevy::input::{ButtonState, InputPlugin};
use bevy::prelude::*;
use bevy::state::app::StatesPlugin;
use bevy::window::{WindowCloseRequested, WindowFocused};
use lastamber::app::clock::Clock;
use lastamber::app::history_store::Store;
use lastamber::app::lane::{Ending, Phase, Prompt, Session, Verdict};
use lastamber::app::onset::OnsetFeed;
use lastamber::app::presses::Presses;
use lastamber::app::{Screen, plugin};
use lastamber::history::{Log, Sink, Writer};
use lastamber::trial::{Drill, TrialRecord};
use lastamber::units::{Mark, Measured, Span};
use std::io::{self, Write};
use std::sync::{Arc, Condvar, Mutex};
use std::time::Duration;

/// What a disk does, told from outside.
#[derive(Default)]
pub struct Disk {
    written: Mutex<Vec<u8>>,
    held: Mutex<bool>,
    freed: Condvar,
    full: Mutex<bool>,
}

impl Disk {
    pub fn hold(&self, on: bool) {
        *self.held.lock().unwrap() = on;
        self.freed.notify_all();
    }

    pub fn fill(&self, on: bool) {
        *self.full.lock().unwrap() = on;
    }

    pub fn text(&self) -> String {
        String::from_utf8(self.written.lock().unwrap().clone()).unwrap()
    }
}

struct DiskSink(Arc<Disk>);

impl Write for DiskSink {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if *self.0.full.lock().unwrap() {
            return Err(io::Error::new(io::ErrorKind::StorageFull, "no space left"));
        }
        self.0.written.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Sink for DiskSink {
    fn sync(&mut self) -> io::Result<()> {
        let mut held = self.0.held.lock().unwrap();
        while *held {
            held = self.0.freed.wait(held).unwrap();
        }
        Ok(())
    }
}

pub struct Rig {
    pub app: App,
    pub now: Mark,
    pub frame: Span,
    pub disk: Arc<Disk>,
}

impl Rig {
    pub fn new(drill: Drill, screen_echo: OnsetFeed) -> Self {
        let disk = Arc::new(Disk::default());
        let writer = Writer::start(Log::resume(DiskSink(Arc::clone(&disk)), true)).unwrap();
        let rig = Self::writing_to(writer, drill, screen_echo);
        Self { disk, ..rig }
    }

    /// The same over another writer; nothing comes to the rig's own disk.
    pub fn writing_to(writer: Writer, drill: Drill, screen_echo: OnsetFeed) -> Self {
        let given = Some(Measured::new(0.0, 0.0));
        let mut session = Session::new("tester".to_owned(), 5, given, true);
        session.set_drill(drill);
        let now = Mark::from_ns(1_000_000_000);
        let mut app = App::new();
        app.add_plugins((MinimalPlugins, StatesPlugin, InputPlugin))
            .add_message::<WindowFocused>()
            .add_message::<WindowCloseRequested>()
            .insert_resource(Clock::Told(now))
            .insert_resource(screen_echo)
            .insert_resource(Presses::frame_only())
            .insert_resource(session)
            .insert_resource(Store::new(writer))
            .add_plugins(plugin)
            .insert_state(Screen::Lane);
        let mut rig = Self { app, now, frame: Span::from_ms(16), disk: Arc::default() };
        rig.updates(10);
        if drill == Drill::RollUp {
            // The guide of a first run has tests of its own.
            rig.tap(KeyCode::KeyG);
        }
        rig
    }

    /// A first run, the guide still on.
    pub fn guided(screen_echo: OnsetFeed) -> Self {
        let mut rig = Self::new(Drill::TrackNight, screen_echo);
        rig.app.world_mut().resource_mut::<Session>().set_drill(Drill::RollUp);
        rig.update();
        rig
    }

    pub fn tree_only() -> Self {
        Self::new(Drill::TreeOnly, OnsetFeed::Echo(Span::from_ms(10)))
    }

    pub fn update(&mut self) {
        self.now = self.now + self.frame;
        self.app.insert_resource(Clock::Told(self.now));
        self.app.update();
    }

    pub fn updates(&mut self, count: usize) {
        (0..count).for_each(|_| self.update());
    }

    pub fn until(&mut self, what: &str, mut done: impl FnMut(&World) -> bool) {
        for _ in 0..2_000 {
            if done(self.app.world()) {
                return;
            }
            self.update();
        }
        panic!("never: {what}; the prompt is {:?}", self.prompt());
    }

    /// Lets the writer thread work while the told clock stands still between updates.
    pub fn until_written(&mut self, what: &str, mut done: impl FnMut(&World) -> bool) {
        for _ in 0..400 {
            if done(self.app.world()) {
                return;
            }
            std::thread::sleep(Duration::from_millis(2));
            self.update();
        }
        panic!("never: {what}");
    }

    pub fn key(&mut self, key_code: KeyCode, state: ButtonState) {
        self.app.world_mut().write_message(KeyboardInput {
            key_code,
            logical_key: Key::Unidentified(bevy::input::keyboard::NativeKey::Unidentified),
            state,
            text: None,
            repeat: false,
            window: Entity::PLACEHOLDER,
        });
        self.update();
    }

    pub fn tap(&mut self, key: KeyCode) {
        self.key(key, ButtonState::Pressed);
        self.key(key, ButtonState::Released);
    }

    pub fn prompt(&self) -> Prompt {
        self.app.world().resource::<Prompt>().clone()
    }

    pub fn verdict(&self) -> Verdict {
        self.app.world().resource::<Verdict>().clone()
    }

    pub fn record(&self) -> Option<TrialRecord> {
        record_of(self.app.world())
    }

    pub fn start(&mut self) {
        self.tap(KeyCode::Space);
        self.until("a run", |w| w.resource::<Phase>().live().is_some());
    }

    /// Until the driver's amber of this number was seen on the screen.
    pub fn until_amber(&mut self, amber: u8) {
        self.until("an amber", |w| {
            let live = w.resource::<Phase>().live();
            live.is_some_and(|l| l.machine.amber_shown(l.you, amber).is_some())
        });
    }
}

pub fn record_of(world: &World) -> Option<TrialRecord> {
    match &world.resource::<Phase>().live()?.ending {
        Ending::Running => None,
        Ending::Saving { record, .. } | Ending::Told { record, .. } => Some((**record).clone()),
    }
}

pub fn is_told(world: &World) -> bool {
    matches!(
        world.resource::<Phase>().live().map(|l| &l.ending),
        Some(Ending::Told { seen: Some(_), .. })
    )
}
