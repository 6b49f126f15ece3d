//! One start of the real program on a virtual server, with everything that watches it.
//!
//! Owns the process, its time-outs and the account of a failure. Refuses to wait without an end and
//! refuses to know what a run is.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex, mpsc};
use std::thread;
use std::time::{Duration, Instant};

use crate::framebuffer::Framebuffer;
use crate::keys::Keyboard;
use crate::sockets::strace;
use crate::trace::{Event, Trace};
use crate::xserver::{Outcome, SharedChild, XServer, stop};

/// The window's size, pixels.
pub const WINDOW: (u32, u32) = (640, 360);
/// From process start to the first frame: a software renderer compiles its pipelines first.
const WINDOW_LIMIT: Duration = Duration::from_secs(60);
/// Between two looks at the trace while nothing is timed.
const GLANCE: Duration = Duration::from_millis(4);

/// How the program is started.
#[derive(Debug, Clone)]
pub struct Start {
    pub data: PathBuf,
    pub trace: PathBuf,
    pub frame_cap_hz: Option<u32>,
    pub sources: Option<&'static str>,
    /// Provoked hitches, `MS:EVERY_S`.
    pub stall: Option<&'static str>,
    /// A sound library's own file that names a device; none: whatever the machine has.
    pub sound: Option<PathBuf>,
    /// Size of the window, px.
    pub size: (u32, u32),
    pub seed: u64,
}

impl Start {
    /// As a driver starts it, in a small window.
    pub fn usual(data: &Path, trace: &Path, seed: u64) -> Self {
        Self {
            data: data.to_owned(),
            trace: trace.to_owned(),
            frame_cap_hz: None,
            sources: None,
            stall: None,
            sound: None,
            size: WINDOW,
            seed,
        }
    }
}

/// The running program, seen and driven from outside.
pub struct Rig {
    pub trace: Trace,
    pub keys: Keyboard,
    pub screen: Framebuffer,
    start: Start,
    process: SharedChild,
    origin: (i32, i32),
}

impl Rig {
    /// Starts the program and waits for its first frame.
    pub fn start(server: &XServer, start: Start) -> Outcome<Self> {
        Self::start_under(server, start, None)
    }

    /// The same, with every socket it makes written to a file by a tracer.
    pub fn start_under(server: &XServer, start: Start, calls: Option<&Path>) -> Outcome<Self> {
        let errors = File::create(start.trace.with_extension("err"))
            .map_err(|e| format!("{}: {e}", start.trace.display()))?;
        let process = spawn(server, &start, calls, errors)?;
        // Until the rig is whole an early return has to stop the process; afterwards `Drop` does.
        let mut rig = Self {
            trace: Trace::follow(&start.trace),
            keys: Keyboard::connect(&server.display()).inspect_err(|_| stop(&process))?,
            screen: Framebuffer::open(&server.framebuffer_path())
                .inspect_err(|_| stop(&process))?,
            start,
            process,
            origin: (0, 0),
        };
        rig.wait_for("the first frame (`window`)", WINDOW_LIMIT, |trace| {
            trace.last(|e| matches!(e, Event::Window).then_some(()))
        })
        .and_then(|()| rig.take_focus())
        .map_err(|e| rig.explain(&e))?;
        Ok(rig)
    }

    /// The window's top left corner on the screen.
    pub fn origin(&self) -> (i32, i32) {
        self.origin
    }

    /// The pixel of the screen at the centre of the driver's `lamp`.
    pub fn place(&self, lamp: &str) -> Outcome<(i32, i32)> {
        let lane = self.trace.you().ok_or("the trace never said `you`")?;
        let rect = self.trace.rect(&lane, lamp);
        let rect = rect.ok_or_else(|| format!("the trace gave no lamp-rect {lane} {lamp}"))?;
        Ok(rect.moved(self.origin).centre())
    }

    /// A handle by which a watchdog or a killer can end the program.
    pub fn process(&self) -> SharedChild {
        Arc::clone(&self.process)
    }

    /// How the program ended, if it has.
    pub fn ended(&self) -> Option<String> {
        let mut child = self.process.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
        match child.try_wait() {
            Ok(None) => None,
            Ok(Some(status)) => Some(status.to_string()),
            Err(e) => Some(format!("unknown end: {e}")),
        }
    }

    /// Gives the program's window the focus, waiting for the window if need be.
    pub fn take_focus(&mut self) -> Outcome<()> {
        let (pid, end) = (self.pid(), Instant::now() + Duration::from_secs(10));
        while self.keys.find_window(pid, self.start.size)?.is_none() {
            if let Some(how) = self.ended() {
                return Err(format!("the program ended ({how}) before its window was found"));
            }
            if Instant::now() > end {
                return Err("no visible window belongs to the program".to_owned());
            }
            thread::sleep(Duration::from_millis(50));
        }
        self.origin = self.keys.window_origin()?;
        self.keys.focus()
    }

    /// Waits until `pick` finds what it wants in the trace, at most `limit`.
    pub fn wait_for<T>(
        &mut self,
        what: &str,
        limit: Duration,
        pick: impl Fn(&Trace) -> Option<T>,
    ) -> Outcome<T> {
        let end = Instant::now() + limit;
        loop {
            // Asked before reading, so that the last words of an ended program are still read.
            let ended = self.ended();
            self.trace.poll()?;
            if let Some(found) = pick(&self.trace) {
                return Ok(found);
            }
            if let Some(how) = ended {
                return Err(format!("waiting for {what}: the program ended ({how})"));
            }
            if Instant::now() > end {
                return Err(format!("waiting for {what}: nothing within {limit:?}"));
            }
            thread::sleep(GLANCE);
        }
    }

    /// The failure `what` with the last trace lines, the program's last errors and a screenshot.
    pub fn explain(&self, what: &str) -> String {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let n = COUNT.fetch_add(1, Ordering::Relaxed);
        let kept = std::env::temp_dir().join(format!("lastamber-robot-{}-{n}", std::process::id()));
        let errors = fs::read_to_string(self.start.trace.with_extension("err")).unwrap_or_default();
        let mut tail: Vec<&str> = errors.lines().rev().take(20).collect();
        tail.reverse();
        let shot = fs::create_dir_all(&kept)
            .map_err(|e| e.to_string())
            .and_then(|()| self.screen.write_ppm(&kept.join("screen.ppm")));
        let _ = fs::copy(&self.start.trace, kept.join("trace.txt"));
        let _ = fs::write(kept.join("errors.txt"), &errors);
        let _ = fs::copy(self.start.data.join("history.jsonl"), kept.join("history.jsonl"));
        let shot = shot.err().map(|e| format!(" (no screenshot: {e})")).unwrap_or_default();
        format!(
            "{what}\nprogram: {}\nstarted as: {:?}\nkept in: {}{shot}\nlast trace lines:\n{}\nlast errors:\n{}\n",
            self.ended().unwrap_or_else(|| "running".to_owned()),
            self.start,
            kept.display(),
            self.trace.tail(30),
            tail.join("\n")
        )
    }

    /// The program's process number.
    pub fn pid(&self) -> u32 {
        self.process.lock().unwrap_or_else(|poisoned| poisoned.into_inner()).id()
    }
}

impl Drop for Rig {
    fn drop(&mut self) {
        stop(&self.process);
    }
}

/// Ends processes when a test as a whole takes too long, so that whatever waits on them fails.
pub struct Watchdog {
    watched: Arc<Mutex<Vec<SharedChild>>>,
    _alive: mpsc::Sender<()>,
}

impl Watchdog {
    /// A watchdog that bites after `limit` unless it is dropped before.
    pub fn after(limit: Duration) -> Self {
        let watched: Arc<Mutex<Vec<SharedChild>>> = Arc::default();
        let prey = Arc::clone(&watched);
        let (alive, hears) = mpsc::channel::<()>();
        thread::spawn(move || {
            if hears.recv_timeout(limit) == Err(mpsc::RecvTimeoutError::Timeout) {
                println!("watchdog: the test took longer than {limit:?}; its processes are ended");
                let prey = prey.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
                prey.iter().for_each(stop);
            }
        });
        Self { watched, _alive: alive }
    }

    /// Adds a process to end.
    pub fn watch(&self, process: SharedChild) {
        self.watched.lock().unwrap_or_else(|poisoned| poisoned.into_inner()).push(process);
    }
}

fn spawn(
    server: &XServer,
    start: &Start,
    calls: Option<&Path>,
    errors: File,
) -> Outcome<SharedChild> {
    let program = Path::new(env!("CARGO_BIN_EXE_lastamber"));
    let mut command = calls.map_or_else(|| Command::new(program), strace);
    if calls.is_some() {
        // Traced as the grandchild, the program itself is the child that is watched and ended.
        command.arg("-D").arg(program);
    }
    command
        .arg("--data")
        .arg(&start.data)
        .args(["--driver", "robot", "--size"])
        .arg(format!("{}x{}", start.size.0, start.size.1))
        .args(["--offset-ms", "0,0", "--seed", &start.seed.to_string(), "--trace"])
        .arg(&start.trace);
    if let Some(hz) = start.frame_cap_hz {
        command.args(["--frame-cap", &hz.to_string()]);
    }
    if let Some(sources) = start.sources {
        command.args(["--sources", sources]);
    }
    if let Some(stall) = start.stall {
        command.args(["--stall", stall]);
    }
    if let Some(file) = &start.sound {
        command.env("ALSA_CONFIG_PATH", file);
    }
    command
        .env("DISPLAY", server.display())
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .stdin(Stdio::null())
        .stdout(errors.try_clone().map_err(|e| e.to_string())?)
        .stderr(errors)
        .spawn()
        .map(|child| Arc::new(Mutex::new(child)))
        .map_err(|e| format!("the program cannot be started: {e}"))
}
