//! Stories through the whole app without a window: the chain of systems, a told clock, an echo for
//! the screen, and a sink that can be held up or made to fail.

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
use lastamber::tree::{AbandonReason, Outcome, VoidReason};
use lastamber::trial::{Drill, Style, TrialRecord};
use lastamber::units::{Mark, Measured, Span};
use std::io::{self, Write};
use std::sync::{Arc, Condvar, Mutex};
use std::time::Duration;

/// What a disk does, told from outside.
#[derive(Default)]
struct Disk {
    written: Mutex<Vec<u8>>,
    held: Mutex<bool>,
    freed: Condvar,
    full: Mutex<bool>,
}

impl Disk {
    fn hold(&self, on: bool) {
        *self.held.lock().unwrap() = on;
        self.freed.notify_all();
    }

    fn fill(&self, on: bool) {
        *self.full.lock().unwrap() = on;
    }

    fn text(&self) -> String {
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

struct Rig {
    app: App,
    now: Mark,
    frame: Span,
    disk: Arc<Disk>,
}

impl Rig {
    fn new(drill: Drill, screen_echo: OnsetFeed) -> Self {
        let disk = Arc::new(Disk::default());
        let writer = Writer::start(Log::resume(DiskSink(Arc::clone(&disk)), true)).unwrap();
        let given = Some(Measured::new(0.0, 0.0));
        let mut session = Session::new("tester".to_owned(), 5, given, true);
        session.drill = drill;
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
        let mut rig = Self { app, now, frame: Span::from_ms(16), disk };
        rig.updates(10);
        rig
    }

    fn tree_only() -> Self {
        Self::new(Drill::TreeOnly, OnsetFeed::Echo(Span::from_ms(10)))
    }

    fn update(&mut self) {
        self.now = self.now + self.frame;
        self.app.insert_resource(Clock::Told(self.now));
        self.app.update();
    }

    fn updates(&mut self, count: usize) {
        (0..count).for_each(|_| self.update());
    }

    fn until(&mut self, what: &str, mut done: impl FnMut(&World) -> bool) {
        for _ in 0..2_000 {
            if done(self.app.world()) {
                return;
            }
            self.update();
        }
        panic!("never: {what}; the prompt is {:?}", self.prompt());
    }

    /// Lets the writer thread work while the told clock stands still between updates.
    fn until_written(&mut self, what: &str, mut done: impl FnMut(&World) -> bool) {
        for _ in 0..400 {
            if done(self.app.world()) {
                return;
            }
            std::thread::sleep(Duration::from_millis(2));
            self.update();
        }
        panic!("never: {what}");
    }

    fn key(&mut self, key_code: KeyCode, state: ButtonState) {
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

    fn tap(&mut self, key: KeyCode) {
        self.key(key, ButtonState::Pressed);
        self.key(key, ButtonState::Released);
    }

    fn prompt(&self) -> Prompt {
        self.app.world().resource::<Prompt>().clone()
    }

    fn verdict(&self) -> Verdict {
        self.app.world().resource::<Verdict>().clone()
    }

    fn record(&self) -> Option<TrialRecord> {
        record_of(self.app.world())
    }

    fn start(&mut self) {
        self.tap(KeyCode::Space);
        self.until("a run", |w| w.resource::<Phase>().live().is_some());
    }

    /// Until the driver's amber of this number was seen on the screen.
    fn until_amber(&mut self, amber: u8) {
        self.until("an amber", |w| {
            let live = w.resource::<Phase>().live();
            live.is_some_and(|l| l.machine.amber_shown(l.you, amber).is_some())
        });
    }
}

fn record_of(world: &World) -> Option<TrialRecord> {
    match &world.resource::<Phase>().live()?.ending {
        Ending::Running => None,
        Ending::Saving { record } | Ending::Told { record, .. } => Some((**record).clone()),
    }
}

fn is_told(world: &World) -> bool {
    matches!(
        world.resource::<Phase>().live().map(|l| &l.ending),
        Some(Ending::Told { seen: Some(_), .. })
    )
}

#[test]
fn nothing_of_the_verdict_is_seen_before_the_run_is_on_disk() {
    let mut rig = Rig::tree_only();
    rig.disk.hold(true);
    rig.start();
    rig.until_amber(2);
    rig.updates(12);
    rig.tap(KeyCode::Space);
    rig.until("an outcome", |w| record_of(w).is_some());
    for _ in 0..60 {
        std::thread::sleep(Duration::from_millis(1));
        rig.update();
        assert_eq!(rig.verdict(), Verdict::default(), "shown while the disk still writes");
    }
    assert_eq!(rig.prompt().text, "Saving");
    rig.disk.hold(false);
    rig.until_written("the verdict", is_told);
    let record = rig.record().unwrap();
    assert!(rig.disk.text().contains(&record.id));
    assert_ne!(rig.verdict(), Verdict::default());
}

#[test]
fn a_failed_save_is_said_and_the_run_is_kept_and_tried_again() {
    let mut rig = Rig::tree_only();
    rig.disk.fill(true);
    rig.start();
    rig.until_amber(2);
    rig.updates(12);
    rig.tap(KeyCode::Space);
    rig.until_written("the verdict", is_told);
    assert!(rig.verdict().notes[0].starts_with("Not saved"), "{:?}", rig.verdict());
    assert_eq!(rig.disk.text(), "");
    rig.disk.fill(false);
    let id = rig.record().unwrap().id;
    // The retry comes by itself after three seconds of the told clock.
    rig.until_written("the run on disk", |w| {
        matches!(
            w.resource::<Phase>().live().map(|l| &l.ending),
            Some(Ending::Told { not_saved: None, .. })
        )
    });
    assert!(rig.disk.text().contains(&id));
    assert!(!rig.verdict().notes[0].starts_with("Not saved"));
}

#[test]
fn the_time_is_the_sum_of_its_parts_and_the_press_lies_in_its_frame() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(2);
    rig.updates(15);
    let before = rig.now;
    rig.tap(KeyCode::Space);
    rig.until_written("the verdict", is_told);
    let record = rig.record().unwrap();
    let parts = record.parts.expect("it was launched after the last amber");
    assert_eq!(parts.rt(), parts.driver() + parts.car - parts.interval);
    assert_eq!(parts.interval, Span::from_ms(500));
    assert_eq!(record.outcome == Outcome::Red, parts.rt() < Span::ZERO);
    let launch = record.launch.unwrap();
    let width = launch.at[2] - launch.at[0];
    assert!(width >= rig.frame, "a frame-bound press is at least a frame wide");
    let phase = rig.app.world().resource::<Phase>();
    let started = phase.live().unwrap().started;
    assert!(started + launch.at[0] <= before + rig.frame && before <= started + launch.at[2]);
}

#[test]
fn pause_before_the_first_amber_stands_the_run_down_and_after_it_counts() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.updates(5);
    rig.tap(KeyCode::Escape);
    assert!(rig.app.world().resource::<Phase>().live().is_none());
    assert_eq!(rig.app.world().resource::<Session>().tally().total(), 0);

    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(0);
    rig.tap(KeyCode::Escape);
    rig.until_written("the record", |w| record_of(w).is_some());
    let outcome = rig.record().unwrap().outcome;
    assert_eq!(outcome, Outcome::Abandoned(AbandonReason::Paused));
    assert_eq!(rig.app.world().resource::<Session>().tally().abandoned, 1);
}

#[test]
fn losing_the_focus_after_the_first_amber_counts_as_abandoned() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(1);
    rig.app
        .world_mut()
        .write_message(WindowFocused { window: Entity::PLACEHOLDER, focused: false });
    rig.until_written("the verdict", is_told);
    let outcome = rig.record().unwrap().outcome;
    assert_eq!(outcome, Outcome::Abandoned(AbandonReason::FocusLost));
    assert!(rig.verdict().parts.is_none());
}

#[test]
fn a_launch_edge_seen_before_the_pause_still_counts() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(2);
    rig.updates(6);
    // Both in one update: the window tells of the key first.
    rig.app
        .world_mut()
        .write_message(WindowFocused { window: Entity::PLACEHOLDER, focused: false });
    rig.key(KeyCode::Space, ButtonState::Pressed);
    rig.until_written("the verdict", is_told);
    assert!(matches!(rig.record().unwrap().outcome, Outcome::Red | Outcome::Green));
}

#[test]
fn a_screen_that_never_confirms_the_last_amber_voids_the_run() {
    let mut rig = Rig::new(Drill::TreeOnly, OnsetFeed::Silent);
    rig.start();
    rig.until_written("the record", |w| record_of(w).is_some());
    assert_eq!(rig.record().unwrap().outcome, Outcome::Void(VoidReason::NoOnset));
}

#[test]
fn a_hitch_that_delays_the_last_amber_voids_the_run() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(1);
    rig.updates(26);
    // The amber is due 500 ms after the one before; the program stands still over that mark.
    rig.frame = Span::from_ms(200);
    rig.update();
    rig.frame = Span::from_ms(16);
    rig.until_written("the record", |w| record_of(w).is_some());
    let outcome = rig.record().unwrap().outcome;
    assert!(matches!(outcome, Outcome::Void(_)), "{outcome:?}");
}

#[test]
fn the_launch_control_means_next_only_after_the_verdict_has_stood() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(2);
    rig.updates(12);
    rig.tap(KeyCode::Space);
    rig.until_written("the verdict", is_told);
    let first = rig.record().unwrap().id;
    rig.tap(KeyCode::Space);
    assert_eq!(rig.record().map(|r| r.id), Some(first), "too early: it still stands");
    rig.updates(26);
    rig.tap(KeyCode::Space);
    rig.until("the next run", |w| w.resource::<Phase>().live().is_some_and(|l| l.is_running()));
}

#[test]
fn a_run_begins_only_once_the_launch_control_is_up() {
    let mut rig = Rig::tree_only();
    rig.key(KeyCode::Space, ButtonState::Pressed);
    rig.updates(40);
    assert!(rig.app.world().resource::<Phase>().live().is_none());
    rig.key(KeyCode::Space, ButtonState::Released);
    rig.update();
    assert!(rig.app.world().resource::<Phase>().live().is_some());
}

#[test]
fn from_staged_to_launch_the_prompt_stands_still() {
    let mut rig = Rig::new(Drill::RollUp, OnsetFeed::Echo(Span::from_ms(10)));
    rig.start();
    let mut creeping = false;
    let mut words = Vec::new();
    for _ in 0..3_000 {
        let prompt = rig.prompt();
        let creep = prompt.key == Some("ArrowUp");
        if creep != creeping {
            let state = if creep { ButtonState::Pressed } else { ButtonState::Released };
            rig.key(KeyCode::ArrowUp, state);
            creeping = creep;
        }
        let world = rig.app.world();
        let Some(live) = world.resource::<Phase>().live() else { break };
        if live.machine.is_steady(live.you) {
            words.push(prompt.text);
        }
        if live.machine.green_due(live.you).is_some() {
            rig.tap(KeyCode::Space);
            break;
        }
        rig.update();
    }
    rig.until_written("the verdict", is_told);
    words.dedup();
    assert_eq!(words, ["Wait for the last amber"]);
    let record = rig.record().unwrap();
    assert!(record.staging.took.is_some() && record.hold.is_some());
    assert!(matches!(record.outcome, Outcome::Red | Outcome::Green), "{:?}", record.outcome);
}

#[test]
fn a_lapse_is_counted() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until("the end", |w| record_of(w).is_some());
    rig.until_written("the verdict", is_told);
    assert_eq!(rig.record().unwrap().outcome, Outcome::Lapse);
    assert_eq!(rig.app.world().resource::<Session>().tally().lapse, 1);
}

#[test]
fn a_window_closed_after_the_launch_edge_waits_until_the_run_is_on_disk() {
    let mut rig = Rig::tree_only();
    rig.disk.hold(true);
    rig.start();
    rig.until_amber(2);
    rig.updates(6);
    rig.key(KeyCode::Space, ButtonState::Pressed);
    rig.app.world_mut().write_message(WindowCloseRequested { window: Entity::PLACEHOLDER });
    for _ in 0..80 {
        rig.update();
        assert!(rig.app.should_exit().is_none(), "left before the run was on disk");
    }
    let id = rig.record().expect("it counts").id;
    rig.disk.hold(false);
    for _ in 0..200 {
        std::thread::sleep(Duration::from_millis(2));
        rig.update();
        if rig.app.should_exit().is_some() {
            assert!(rig.disk.text().contains(&id));
            return;
        }
    }
    panic!("it never left");
}

#[test]
fn pausing_after_the_launch_edge_neither_hides_nor_spoils_the_run() {
    let mut rig = Rig::tree_only();
    rig.start();
    rig.until_amber(2);
    rig.updates(6);
    rig.key(KeyCode::Space, ButtonState::Pressed);
    rig.tap(KeyCode::Escape);
    rig.until_written("the verdict", is_told);
    assert!(matches!(rig.record().unwrap().outcome, Outcome::Red | Outcome::Green));
    assert_eq!(*rig.app.world().resource::<State<Screen>>().get(), Screen::Lane);
}

/// Plays runs of a drill, leaving after the last amber where it comes and staying where it does not,
/// and gives their records.
fn play(rig: &mut Rig, runs: usize) -> Vec<TrialRecord> {
    let mut records = Vec::new();
    for _ in 0..runs {
        rig.start();
        rig.until_amber(1);
        let mut pressed = false;
        for _ in 0..400 {
            let world = rig.app.world();
            if record_of(world).is_some() {
                break;
            }
            let live = world.resource::<Phase>().live().unwrap();
            if !pressed && live.machine.amber_shown(live.you, 2).is_some() {
                rig.updates(12);
                rig.tap(KeyCode::Space);
                pressed = true;
            } else {
                rig.update();
            }
        }
        rig.until_written("the verdict", is_told);
        records.push(rig.record().unwrap());
        rig.updates(40);
    }
    records
}

#[test]
fn staying_is_right_where_the_guess_test_withholds_the_last_amber() {
    let mut rig = Rig::new(Drill::GuessTest, OnsetFeed::Echo(Span::from_ms(10)));
    let records = play(&mut rig, 20);
    let (blank, lit): (Vec<_>, Vec<_>) = records.iter().partition(|record| record.setup.blank);
    assert!(!blank.is_empty() && lit.len() > blank.len(), "{} blank", blank.len());
    assert!(blank.iter().all(|record| record.outcome == Outcome::Stayed && record.parts.is_none()));
    assert!(lit.iter().all(|record| record.parts.is_some()));
    assert!(records.iter().all(|record| record.setup.style == Style::React));
}

#[test]
fn the_other_lanes_tree_begins_first_and_the_own_one_is_what_counts() {
    let mut rig = Rig::new(Drill::OtherLaneFirst, OnsetFeed::Echo(Span::from_ms(10)));
    rig.start();
    rig.until_amber(2);
    let live = rig.app.world().resource::<Phase>().live().unwrap();
    let [own, other] = [live.you, live.you.other()].map(|lane| live.machine.amber_due(lane, 0));
    assert!(own.unwrap() - other.unwrap() >= Span::from_ms(400));
    rig.updates(12);
    rig.tap(KeyCode::Space);
    rig.until_written("the verdict", is_told);
    assert!(rig.record().unwrap().parts.is_some());
}

#[test]
fn styles_take_turns_by_tens_and_are_declared_before_the_run() {
    let mut rig = Rig::new(Drill::ReactOrTime, OnsetFeed::Echo(Span::from_ms(10)));
    assert!(rig.prompt().text.starts_with("Next ten: react"), "{:?}", rig.prompt());
    let records = play(&mut rig, 10);
    assert!(records.iter().all(|record| record.setup.style == Style::React));
    assert!(rig.prompt().text.starts_with("Next ten: time it"), "{:?}", rig.prompt());
    let next = play(&mut rig, 1);
    assert_eq!(next[0].setup.style, Style::TimeIt);
}
