//! A virtual X server of our own: started on a free display, stopped when dropped.
//!
//! Owns the server process, its frame buffer folder and the files it leaves behind. Refuses to use
//! any display it did not start itself.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

use tempfile::TempDir;

/// What a harness step gives back: the failure is a sentence for the person reading the test.
pub type Outcome<T> = Result<T, String>;

/// How long the server may take to say which display it took.
const START_LIMIT: Duration = Duration::from_secs(20);

/// A process that a watchdog may end as well as its owner.
pub type SharedChild = Arc<Mutex<Child>>;

/// Ends `child` and collects it. An already ended child is not an error.
pub fn stop(child: &SharedChild) {
    let mut child = child.lock().unwrap_or_else(|poisoned| poisoned.into_inner());
    let _ = child.kill();
    let _ = child.wait();
}

/// A running Xvfb with one screen, 24 bits deep.
pub struct XServer {
    child: SharedChild,
    number: u32,
    folder: TempDir,
}

impl XServer {
    /// Starts a server with a screen of `width` × `height` pixels.
    pub fn start(width: u16, height: u16) -> Outcome<Self> {
        let folder = memory_folder()?;
        let mut child = Command::new("Xvfb")
            .args(["-noreset", "-nolisten", "tcp", "-displayfd", "1", "-fbdir"])
            .arg(folder.path())
            .args(["-screen", "0", &format!("{width}x{height}x24")])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .map_err(|e| format!("Xvfb cannot be started ({e}): install the package xvfb"))?;
        let stdout = child.stdout.take().expect("stdout was asked for as a pipe");
        let mut server = Self { child: Arc::new(Mutex::new(child)), number: 0, folder };
        // Dropping `server` on an early return stops the child.
        let (said, hears) = mpsc::channel();
        thread::spawn(move || {
            let mut line = String::new();
            let _ = BufReader::new(stdout).read_line(&mut line);
            let _ = said.send(line);
        });
        let line = hears
            .recv_timeout(START_LIMIT)
            .map_err(|_| format!("Xvfb did not name its display within {START_LIMIT:?}"))?;
        server.number = line
            .trim()
            .parse()
            .map_err(|_| format!("Xvfb ended without naming a display (it wrote {line:?})"))?;
        Ok(server)
    }

    /// The display's name for `DISPLAY`, such as `:7`.
    pub fn display(&self) -> String {
        format!(":{}", self.number)
    }

    /// The file that mirrors the screen, in the X window dump format.
    pub fn framebuffer_path(&self) -> PathBuf {
        self.folder.path().join("Xvfb_screen0")
    }

    /// The server's process number.
    pub fn id(&self) -> u32 {
        self.child.lock().unwrap_or_else(|poisoned| poisoned.into_inner()).id()
    }

    /// A handle by which a watchdog can end the server.
    pub fn process(&self) -> SharedChild {
        Arc::clone(&self.child)
    }
}

impl Drop for XServer {
    fn drop(&mut self) {
        let id = self.id();
        stop(&self.child);
        // A killed server leaves its lock and its socket; remove them only if they are its own.
        let lock = PathBuf::from(format!("/tmp/.X{}-lock", self.number));
        let ours = fs::read_to_string(&lock).is_ok_and(|text| text.trim() == id.to_string());
        if ours {
            let _ = fs::remove_file(format!("/tmp/.X11-unix/X{}", self.number));
            let _ = fs::remove_file(lock);
        }
    }
}

/// A folder in memory where there is one: the mirror file is then never written to a disk.
fn memory_folder() -> Outcome<TempDir> {
    let builder = || {
        let mut builder = tempfile::Builder::new();
        builder.prefix("lastamber-screen-");
        builder
    };
    builder()
        .tempdir_in(Path::new("/dev/shm"))
        .or_else(|_| builder().tempdir())
        .map_err(|e| format!("no folder for the frame buffer: {e}"))
}
