//! Every panel opened without a window: nothing panics, every room says something, no label is cut off.
//!
//! Owns a rig that runs the screens' own systems and reads what they would have painted.

use super::panels;
use crate::app::clock::Clock;
use crate::app::data::{DataPath, open_data};
use crate::app::lane::Session;
use crate::app::onset::OnsetFeed;
use crate::app::opening::Opening;
use crate::app::press_sources::pad::PadFact;
use crate::app::presses::Presses;
use crate::app::{Screen, plugin};
use crate::demo::{demo_lines, demo_years};
use crate::history::{DataFolder, Line, Profile, Settings, write_demo};
use crate::press::{Control, EdgeKind, Origin, Reading, SourceFact};
use crate::progress::Progress;
use crate::trial::Drill;
use crate::units::{Mark, Span};
use bevy::input::ButtonState;
use bevy::input::InputPlugin;
use bevy::input::keyboard::{Key, KeyboardInput};
use bevy::prelude::*;
use bevy::state::app::StatesPlugin;
use bevy::window::{WindowCloseRequested, WindowFocused};
use bevy_egui::egui::{self, Rect, Shape};
use bevy_egui::{EguiContext, EguiPrimaryContextPass, EguiUserTextures, PrimaryEguiContext};
use std::path::Path;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Rooms that show what the history says.
const ROOMS: [Screen; 17] = [
    Screen::Menu,
    Screen::Review,
    Screen::Aim,
    Screen::Weeks,
    Screen::Odds,
    Screen::Car,
    Screen::Slips,
    Screen::Visit,
    Screen::Rig,
    Screen::Notice,
    Screen::Help,
    Screen::Night,
    Screen::Held,
    Screen::Sounds,
    Screen::Drivers,
    Screen::Controls,
    Screen::Sight,
];
/// Longest wait for a room to be worked out.
const PATIENCE: Duration = Duration::from_secs(120);

/// Years of a long history.
const YEARS: usize = 3;

/// A text as it was painted.
#[derive(Debug, Clone)]
struct Painted {
    text: String,
    at: Rect,
    clip: Rect,
}

struct Rig {
    app: App,
    now: Mark,
    size: egui::Vec2,
    /// What the last frame painted.
    /// For the next frame alone.
    events: Vec<egui::Event>,
    shapes: Vec<egui::epaint::ClippedShape>,
    _folder: TempDir,
}

impl Rig {
    /// A window of this size in pixels over a folder of these lines.
    fn new(size: (f32, f32), lines: &[Line]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        write_demo(folder.path(), 1, lines).unwrap();
        let now = Mark::from_ns(1_000_000_000);
        let mut app = App::new();
        app.add_plugins((MinimalPlugins, StatesPlugin, InputPlugin))
            .add_message::<WindowFocused>()
            .add_message::<WindowCloseRequested>()
            .init_resource::<EguiUserTextures>()
            .init_schedule(EguiPrimaryContextPass)
            .insert_resource(Clock::Told(now))
            .insert_resource(OnsetFeed::Echo(Span::from_ms(10)))
            .insert_resource(Presses::frame_only())
            .insert_resource(Session::new("Demo driver".to_owned(), 5, None, false))
            .insert_resource(DataPath::from(folder.path().to_owned()))
            .add_plugins((plugin, panels))
            .insert_state(Screen::Menu);
        open_data(folder.path()).unwrap().put_in(app.world_mut());
        let mut rig = Self {
            app,
            now,
            size: egui::vec2(size.0, size.1),
            events: Vec::new(),
            shapes: Vec::new(),
            _folder: folder,
        };
        rig.frame();
        rig
    }

    /// One update and one pass of the panels: what was painted.
    fn frame(&mut self) -> Vec<Painted> {
        self.now = self.now + Span::from_ms(16);
        self.app.insert_resource(Clock::Told(self.now));
        self.app.update();
        let world = self.app.world_mut();
        let mut contexts = world.query_filtered::<&mut EguiContext, With<PrimaryEguiContext>>();
        let ctx = contexts.single_mut(world).unwrap().get_mut().clone();
        let rect = Rect::from_min_size(egui::Pos2::ZERO, self.size / ctx.zoom_factor());
        let events = std::mem::take(&mut self.events);
        ctx.begin_pass(egui::RawInput { screen_rect: Some(rect), events, ..Default::default() });
        let world = self.app.world_mut();
        world.run_schedule(EguiPrimaryContextPass);
        let output = ctx.end_pass();
        let mut painted = Vec::new();
        for shape in &output.shapes {
            read_texts(&shape.shape, shape.clip_rect, &mut painted);
        }
        self.shapes = output.shapes;
        painted
    }

    /// What an update, a pass and its triangles take.
    fn frame_cost(&mut self) -> Duration {
        let began = Instant::now();
        self.frame();
        let world = self.app.world_mut();
        let mut contexts = world.query_filtered::<&mut EguiContext, With<PrimaryEguiContext>>();
        let ctx = contexts.single_mut(world).unwrap().get_mut().clone();
        let shapes = std::mem::take(&mut self.shapes);
        let triangles = ctx.tessellate(shapes, ctx.pixels_per_point());
        assert!(!triangles.is_empty());
        began.elapsed()
    }

    /// Enters a room and waits until it is worked out.
    fn enter(&mut self, screen: Screen) -> Vec<Painted> {
        self.app.world_mut().resource_mut::<NextState<Screen>>().set(screen);
        let began = Instant::now();
        self.frame();
        loop {
            self.frame();
            let painted = self.frame();
            let waits = |p: &Painted| {
                p.text.starts_with("Working it out")
                    || p.text.contains("being worked out")
                    || p.text.starts_with("Being worked out")
            };
            if !painted.iter().any(waits) {
                return painted;
            }
            assert!(began.elapsed() < PATIENCE, "{screen:?} is still being worked out");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    fn press(&mut self, key_code: KeyCode, logical_key: Key, text: Option<&str>) -> Vec<Painted> {
        for state in [ButtonState::Pressed, ButtonState::Released] {
            self.app.world_mut().write_message(KeyboardInput {
                key_code,
                logical_key: logical_key.clone(),
                state,
                text: text.map(Into::into).filter(|_| state == ButtonState::Pressed),
                repeat: false,
                window: Entity::PLACEHOLDER,
            });
            self.frame();
        }
        self.frame()
    }
}

fn read_texts(shape: &Shape, clip: Rect, painted: &mut Vec<Painted>) {
    match shape {
        Shape::Text(text) => painted.push(Painted {
            text: text.galley.text().to_owned(),
            at: text.visual_bounding_rect(),
            clip,
        }),
        Shape::Vec(shapes) => shapes.iter().for_each(|shape| read_texts(shape, clip, painted)),
        _ => {}
    }
}

/// Texts in sight whose ends cannot be read.
fn cut_off(painted: &[Painted]) -> Vec<String> {
    let seen = painted.iter().filter(|p| p.at.intersects(p.clip));
    let cut =
        seen.filter(|p| p.at.left() < p.clip.left() - 1.0 || p.at.right() > p.clip.right() + 1.0);
    cut.map(|p| format!("{:?} {:?} in {:?}", p.text, p.at, p.clip)).collect()
}

#[test]
fn a_label_too_wide_for_its_room_is_found() {
    let ctx = egui::Context::default();
    let rect = Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(300.0, 200.0));
    let painted = |words: &str| {
        let input = egui::RawInput { screen_rect: Some(rect), ..Default::default() };
        let mut painted = Vec::new();
        ctx.begin_pass(input);
        super::ui::page(&ctx, "test", |page| {
            page.add(
                egui::Label::new(super::ui::words(words, 17.0, crate::app::theme::Ink::Text))
                    .extend(),
            );
        });
        for shape in ctx.end_pass().shapes {
            read_texts(&shape.shape, shape.clip_rect, &mut painted);
        }
        painted
    };
    assert_eq!(cut_off(&painted("short")), Vec::<String>::new());
    assert_eq!(cut_off(&painted(&"far too wide for this ".repeat(5))).len(), 1);
}

/// About so many made-up runs and what goes with them: six weeks, or as many years as it takes.
fn lines(runs: usize) -> Vec<Line> {
    let mut left = runs;
    let mut kept = match runs {
        0..=480 => demo_lines(1),
        _ => demo_years(YEARS, 1, &Progress::default()),
    }
    .unwrap();
    kept.retain(|line| match line {
        Line::Trial(_) => {
            left = left.saturating_sub(1);
            left > 0
        }
        _ => runs > 0,
    });
    kept
}

fn every_room(runs: usize, size: (f32, f32), scale: f64) {
    let mut rig = Rig::new(size, &lines(runs));
    {
        let mut in_force = rig.app.world_mut().resource_mut::<crate::app::settings::InForce>();
        in_force.settings.text_scale = Some(scale);
    }
    for screen in ROOMS {
        let painted = rig.enter(screen);
        let words: usize = painted.iter().map(|p| p.text.len()).sum();
        assert!(words > 100, "{screen:?} with {runs} runs says {words} letters");
        let cut = cut_off(&painted);
        assert!(cut.is_empty(), "{screen:?}, {runs} runs, {size:?} at {scale}: {cut:#?}");
    }
}

#[test]
fn every_room_opens_on_an_empty_history() {
    every_room(0, (1280.0, 720.0), 1.0);
}

#[test]
fn every_room_opens_on_ten_runs() {
    every_room(10, (1280.0, 720.0), 1.0);
}

#[test]
fn every_room_opens_on_six_weeks_at_any_size() {
    every_room(300, (1024.0, 640.0), 1.0);
    every_room(300, (1280.0, 720.0), 2.0);
    every_room(300, (2560.0, 1440.0), 2.5);
}

#[test]
fn the_screen_over_a_long_reading_says_how_far_it_is_and_lets_go() {
    let cases = [((1024.0, 640.0), 1.0), ((1280.0, 720.0), 2.0), ((2560.0, 1440.0), 2.5)];
    for (size, scale) in cases {
        let path =
            Path::new("share/lastamber/drivers/somebody-with-a-folder-whose-name-goes-on-and-on");
        let another =
            Profile { name: "The driver with the longest name".to_owned(), path: path.to_owned() };
        for (whose, back_to) in [(None, Screen::Opening), (Some(another), Screen::Drivers)] {
            let mut rig = Rig::new(size, &[]);
            let mut in_force = rig.app.world_mut().resource_mut::<crate::app::settings::InForce>();
            in_force.settings.text_scale = Some(scale);
            let opening = Opening::stuck_at((481_000_000, 1_900_000_000), path, whose);
            rig.app.insert_resource(opening);
            let painted = rig.enter(Screen::Opening);
            assert!(painted.iter().any(|p| p.text == "25 % of 1900 MB"), "{painted:#?}");
            assert_eq!(cut_off(&painted), Vec::<String>::new(), "{size:?} at {scale}");
            rig.press(KeyCode::Escape, Key::Escape, None);
            assert_eq!(**rig.app.world().resource::<State<Screen>>(), back_to);
            assert!(!rig.app.world().contains_resource::<Opening>(), "given up");
        }
    }
}

#[test]
fn runs_of_a_session_are_listed_seen_again_and_left_out() {
    let mut rig = Rig::new((1280.0, 720.0), &lines(300));
    rig.enter(Screen::Review);
    let says = |painted: &[Painted], words: &str| painted.iter().any(|p| p.text.contains(words));
    let letter = |rig: &mut Rig, key: KeyCode, text: &str| {
        rig.press(key, Key::Character(text.into()), Some(text))
    };
    let painted = letter(&mut rig, KeyCode::KeyR, "r");
    assert!(says(&painted, "The runs of this session"), "{painted:#?}");
    rig.press(KeyCode::ArrowDown, Key::ArrowDown, None);
    let painted = rig.press(KeyCode::Enter, Key::Enter, None);
    assert!(says(&painted, "Home: from the start"), "{painted:#?}");
    assert_eq!(cut_off(&painted), Vec::<String>::new());
    rig.press(KeyCode::Escape, Key::Escape, None);
    let painted = letter(&mut rig, KeyCode::KeyX, "x");
    assert!(says(&painted, "Leave this run out?"));
    let painted = rig.press(KeyCode::Enter, Key::Enter, None);
    assert!(says(&painted, "reason"), "not without a reason: {painted:#?}");
    for letter in ["c", "a", "t"] {
        rig.press(KeyCode::KeyC, Key::Character(letter.into()), Some(letter));
    }
    rig.press(KeyCode::Enter, Key::Enter, None);
    let began = Instant::now();
    while !says(&rig.frame(), "left out: cat") {
        assert!(began.elapsed() < PATIENCE);
        std::thread::sleep(Duration::from_millis(5));
    }
    letter(&mut rig, KeyCode::KeyX, "x");
    let began = Instant::now();
    while says(&rig.frame(), "left out: cat") {
        assert!(began.elapsed() < PATIENCE);
        std::thread::sleep(Duration::from_millis(5));
    }
}

#[test]
fn a_new_driver_has_rooms_of_its_own_from_the_first_look_on() {
    let mut rig = Rig::new((1280.0, 720.0), &lines(300));
    let says = |painted: &[Painted], words: &str| painted.iter().any(|p| p.text.contains(words));
    assert!(says(&rig.enter(Screen::Weeks), "Steadier?"));
    rig.enter(Screen::Drivers);
    for letter in ["n", "T", "w", "o"] {
        rig.press(KeyCode::KeyN, Key::Character(letter.into()), Some(letter));
    }
    let painted = rig.press(KeyCode::Enter, Key::Enter, None);
    assert!(says(&painted, "Two"), "{painted:#?}");
    rig.press(KeyCode::Enter, Key::Enter, None);
    let world = rig.app.world();
    assert_eq!(world.resource::<Session>().driver, "Two");
    assert!(world.resource::<DataPath>().path.ends_with("drivers/two"));
    let painted = rig.enter(Screen::Weeks);
    assert!(!says(&painted, "Steadier?"), "{painted:#?}");
    // Who sat there before drives again, with every run.
    rig.enter(Screen::Drivers);
    rig.press(KeyCode::Enter, Key::Enter, None);
    assert!(says(&rig.enter(Screen::Weeks), "Steadier?"));
}

#[test]
fn a_folder_in_use_is_opened_by_enter_once_it_is_free_and_its_settings_are_in_force() {
    let mut rig = Rig::new((1280.0, 720.0), &[]);
    let other = tempfile::tempdir().unwrap();
    let mut settings = Settings::default();
    settings.drill = Some("guess-test".to_owned());
    settings.save(other.path()).unwrap();
    let holder = DataFolder::open(other.path()).unwrap();
    rig.app.insert_resource(DataPath::from(other.path().to_owned()));
    rig.enter(Screen::Locked);
    let painted = rig.press(KeyCode::Enter, Key::Enter, None);
    assert_eq!(**rig.app.world().resource::<State<Screen>>(), Screen::Locked);
    assert!(painted.iter().any(|p| p.text.contains("in use by another Last Amber")), "not said");
    drop(holder);
    rig.press(KeyCode::Enter, Key::Enter, None);
    assert_eq!(**rig.app.world().resource::<State<Screen>>(), Screen::Notice);
    assert_eq!(rig.app.world().resource::<Session>().drill(), Drill::GuessTest);
}

#[test]
fn plots_are_gone_to_by_tab_and_give_their_numbers_to_the_clipboard() {
    let mut rig = Rig::new((1280.0, 720.0), &lines(300));
    rig.enter(Screen::Weeks);
    let says = |painted: &[Painted]| painted.iter().any(|p| p.text.contains("clipboard"));
    let copy = |rig: &mut Rig, frames: usize| {
        rig.events.push(egui::Event::Copy);
        (0..frames).any(|_| {
            std::thread::sleep(Duration::from_millis(5));
            says(&rig.frame())
        })
    };
    assert!(!copy(&mut rig, 20), "no plot is gone to yet");
    rig.events.push(egui::Event::Key {
        key: egui::Key::Tab,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers: egui::Modifiers::NONE,
    });
    (0..3).for_each(|_| drop(rig.frame()));
    // With a clipboard or without one, what became of it is said.
    assert!(copy(&mut rig, 2_000), "its numbers are copied");
}

#[test]
fn a_pad_leads_through_the_rooms() {
    let mut rig = Rig::new((1280.0, 720.0), &lines(300));
    let touch = |rig: &mut Rig, code: u16| {
        for edge in [EdgeKind::Down, EdgeKind::Up] {
            let (control, now) = (Control::PadButton(code), rig.now);
            let reading = Reading::Arrival { arrival: now, lag: Span::ZERO };
            let fact = SourceFact { source: Origin::Pad, control, edge, reading };
            rig.app.world().resource::<Presses>().tell_of_pad(PadFact::Edge(fact));
        }
        // The lane has no panels: nothing is painted there.
        for _ in 0..4 {
            rig.now = rig.now + Span::from_ms(16);
            rig.app.insert_resource(Clock::Told(rig.now));
            rig.app.update();
        }
    };
    let screen = |rig: &Rig| *rig.app.world().resource::<State<Screen>>().get();
    rig.enter(Screen::Car);
    touch(&mut rig, 0x137);
    assert_eq!(screen(&rig), Screen::Slips);
    touch(&mut rig, 0x136);
    touch(&mut rig, 0x136);
    assert_eq!(screen(&rig), Screen::Odds);
    touch(&mut rig, 0x131);
    assert_eq!(screen(&rig), Screen::Lane, "the right button leads back");
    touch(&mut rig, 0x13b);
    assert_eq!(screen(&rig), Screen::Menu, "start pauses");
    touch(&mut rig, 0x130);
    assert_eq!(screen(&rig), Screen::Lane, "the lower button takes what is chosen");
}

#[test]
fn what_the_keys_go_to_comes_into_sight_at_any_text_size() {
    let mut rig = Rig::new((1280.0, 720.0), &lines(300));
    let mut in_force = rig.app.world_mut().resource_mut::<crate::app::settings::InForce>();
    in_force.settings.text_scale = Some(2.0);
    rig.enter(Screen::Review);
    rig.press(KeyCode::KeyR, Key::Character("r".into()), Some("r"));
    let in_sight = |painted: &[Painted], words: &str| {
        painted.iter().any(|p| p.text.starts_with(words) && p.clip.contains_rect(p.at))
    };
    for number in 2..=8 {
        rig.press(KeyCode::ArrowDown, Key::ArrowDown, None);
        // A scroll takes some frames.
        let painted = (0..60).map(|_| rig.frame()).last().unwrap();
        assert!(in_sight(&painted, &format!("Run {number} ")), "{number}: {painted:#?}");
    }
    assert!(!in_sight(&rig.frame(), "Run 1 "), "the list is longer than the room for it");
}

/// What a frame of each room costs the processor, panel systems and tessellation together. Prints a
/// table; `LASTAMBER_FRAMES` is the number of runs (with `--release` for figures to be told).
#[test]
fn what_a_frame_of_each_room_costs() {
    let asked = std::env::var("LASTAMBER_FRAMES").ok().and_then(|runs| runs.parse().ok());
    let runs: usize = asked.unwrap_or(10);
    let lines = lines(runs);
    let held = lines.iter().filter(|line| matches!(line, Line::Trial(_))).count();
    let began = Instant::now();
    let mut rig = Rig::new((1280.0, 720.0), &lines);
    println!("{held} runs written, read and in a window after {} ms", began.elapsed().as_millis());
    println!("room, worked out after, median and worst frame of 50:");
    for screen in ROOMS {
        let began = Instant::now();
        rig.enter(screen);
        let opened = began.elapsed();
        let mut frames: Vec<Duration> = (0..50).map(|_| rig.frame_cost()).collect();
        frames.sort();
        println!(
            "{:<8} {:>6} ms   {:>6.2} ms {:>6.2} ms",
            format!("{screen:?}"),
            opened.as_millis(),
            1000.0 * frames[25].as_secs_f64(),
            1000.0 * frames[49].as_secs_f64()
        );
        assert!(!rig.frame().is_empty());
    }
}
