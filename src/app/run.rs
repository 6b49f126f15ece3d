//! Opens the window.
//!
//! Owns the engine's plugins and the step from options to resources. Refuses everything the
//! headless plugin can do.

use super::data::DataPath;
use super::lane::{self, Session};
use super::onset::{self, Frames, Pace, ServerWords, x11_words};
use super::opening::{AT_ONCE, Opening};
use super::presses::Presses;
use super::rig::Rig;
use super::screens::{self, LockedOut};
use super::sounds::Sounds;
use super::trace_file::TraceFile;
use super::{Screen, calm, clock, probe, theme};
use crate::cli::{Sources, Stall, WindowArgs};
use crate::history::default_path;
use crate::trial::display_words;
use crate::units::{Mark, Measured, Span};
use bevy::log::LogPlugin;
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::render::pipelined_rendering::PipelinedRenderingPlugin;
use bevy::window::{Monitor, PresentMode, WindowResolution};
use bevy::winit::WinitSettings;
use std::num::NonZero;
use std::process::ExitCode;

#[derive(Resource, Debug, Clone, Copy)]
struct Stalls(Stall);

/// Opens the start line and stays until it is closed.
pub fn run(args: &WindowArgs) -> ExitCode {
    match prepare(args) {
        Ok(mut app) => match app.run() {
            AppExit::Success => ExitCode::SUCCESS,
            AppExit::Error(code) => ExitCode::from(code.get().min(99)),
        },
        Err(message) => {
            eprintln!("lastamber: {message}");
            ExitCode::from(2)
        }
    }
}

fn prepare(args: &WindowArgs) -> Result<App, String> {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    if !set("DISPLAY") && !set("WAYLAND_DISPLAY") {
        return Err("there is no display here (neither DISPLAY nor WAYLAND_DISPLAY is set).\n\
                    Start it from a desktop session."
            .to_owned());
    }
    probe::probe(on_wayland())?;
    let path = match &args.data {
        Some(path) => path.clone(),
        None => default_path().map_err(|error| error.to_string())?,
    };
    let trace = match &args.trace {
        Some(file) => TraceFile::create(file).map_err(|error| {
            format!("the trace can't be written to {}: {error}", file.display())
        })?,
        None => TraceFile::default(),
    };
    let mut app = App::new();
    app.set_error_handler(bevy::ecs::error::error);
    add_engine(&mut app, args);
    app.insert_resource(trace)
        .insert_resource(DataPath::from(path.clone()))
        .insert_resource(session(args))
        .insert_resource(Pace { cap: args.frame_cap.map(|hz| Span::from_secs_f64(1.0 / hz)) })
        .insert_resource(presses(args.sources))
        .insert_resource(Sounds::playing());
    app.add_plugins((
        super::plugin,
        theme::plugin,
        screens::plugin,
        lane::window_plugin,
        calm::plugin,
    ));
    onset::render_plugin(&mut app);
    let mut opening = Opening::at_start(&path);
    match opening.answer_within(AT_ONCE) {
        Some(Ok(opened)) => {
            let screen = if opened.garage.asked() { Screen::Lane } else { Screen::Notice };
            opened.put_in(app.world_mut());
            app.insert_state(screen);
        }
        Some(Err(error)) => {
            eprintln!("lastamber: {error}");
            app.insert_resource(LockedOut(error.to_string())).insert_state(Screen::Locked);
        }
        // The window comes up meanwhile.
        None => drop(app.insert_resource(opening).insert_state(Screen::Opening)),
    }
    if let Some(stall) = args.stall {
        app.insert_resource(Stalls(stall)).add_systems(Update, provoke_stall);
    }
    app.add_systems(Update, (trace_window, name_display, onset::follow_window));
    if on_wayland() {
        let reason = "a native Wayland session tells only the window itself when frames are shown";
        app.insert_resource(ServerWords::none(reason.to_owned()));
    } else {
        app.add_systems(First, x11_words::listen_once);
    }
    Ok(app)
}

/// The press sources asked for, as far as they run here.
fn presses(sources: Sources) -> Presses {
    let best = || {
        if on_wayland() {
            Presses::pads_only(
                "a native Wayland session gives keys to the window alone; \
                 start with WAYLAND_DISPLAY= (empty) to go through XWayland",
            )
        } else {
            Presses::with_sources()
        }
    };
    match sources {
        Sources::Auto => best(),
        Sources::Kernel => best().and_kernel(),
        Sources::None => Presses::frame_only(),
    }
}

/// Whether the window library will open a native Wayland window.
fn on_wayland() -> bool {
    std::env::var_os("WAYLAND_DISPLAY").is_some_and(|name| !name.is_empty())
}

fn add_engine(app: &mut App, args: &WindowArgs) {
    let window = Window {
        title: "Last Amber".to_owned(),
        name: Some("lastamber".to_owned()),
        resolution: WindowResolution::new(args.size.width, args.size.height),
        // Fifo lights a lamp on the display's grid; one frame of latency, not two.
        present_mode: PresentMode::Fifo,
        desired_maximum_frame_latency: NonZero::new(1),
        ..default()
    };
    let engine = DefaultPlugins
        .set(WindowPlugin {
            primary_window: Some(window),
            // A run that counts is saved first.
            close_when_requested: false,
            ..default()
        })
        .set(RenderPlugin { synchronous_pipeline_compilation: true, ..default() })
        .set(LogPlugin { filter: "warn,lastamber=info".to_owned(), ..default() })
        // One thread less between a decision and its light.
        .disable::<PipelinedRenderingPlugin>();
    app.add_plugins(engine).insert_resource(ClearColor(theme::color(theme::palette::PANEL)));
    app.insert_resource(WinitSettings::continuous());
}

fn session(args: &WindowArgs) -> Session {
    let given = args.offset_ms.map(|given| Measured::new(given.mean, given.sd));
    let seed = args.seed.unwrap_or_else(|| clock::now().ns().unsigned_abs());
    Session::new(args.driver.clone(), seed, given, args.is_scripted())
}

fn provoke_stall(stalls: Res<Stalls>, mut last: Local<Option<Mark>>) {
    let (length, every) = (Span::from_ms(stalls.0.ms.into()), i64::from(stalls.0.every_s));
    let now = clock::now();
    let due = *last.get_or_insert(now) + Span::from_ms(every * 1000);
    if now >= due {
        *last = Some(now);
        clock::sleep_until(now + length);
    }
}

fn trace_window(
    frames: Res<Frames>,
    windows: Query<&Window>,
    mut told: Local<Option<(u32, u32)>>,
    mut trace: ResMut<TraceFile>,
) {
    let Ok(window) = windows.single() else { return };
    let size = (window.physical_width(), window.physical_height());
    if frames.any() && *told != Some(size) {
        *told = Some(size);
        trace.event(format_args!("window {}x{}", size.0, size.1));
    }
}

/// Says which display the rig has; a display that says nothing of its size has the window's.
fn name_display(
    windows: Query<&Window, Changed<Window>>,
    monitors: Query<&Monitor>,
    mut rig: ResMut<Rig>,
) {
    let Ok(window) = windows.single() else { return };
    let size = (window.physical_width(), window.physical_height());
    let screens = monitors.iter().map(|m| (m.physical_width, m.physical_height));
    let screen = screens.max().filter(|(w, h)| *w > 0 && *h > 0).unwrap_or(size);
    let server = if on_wayland() { "wayland" } else { "x11" };
    rig.display = display_words(server, screen, size.0 >= screen.0 && size.1 >= screen.1);
}
