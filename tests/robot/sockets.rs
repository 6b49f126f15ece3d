//! Who the program speaks to: its display server, its sound device, and nobody else.
//!
//! Owns two witnesses of one start with a run in it: every call that makes a socket, by strace(1), and the
//! kernel's tables of network sockets, by proc(5). Refuses to pass without the first where it can be had;
//! where tracing is forbidden it says so and leaves it to the second.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::Duration;

use tempfile::TempDir;

use crate::player::Player;
use crate::rig::{Rig, Start, Watchdog};
use crate::xserver::{Outcome, XServer};

/// Families that stay on this machine (socket(2)): between programs, and from the kernel, which tells of
/// devices that come and go.
const LOCAL: [&str; 3] = ["AF_UNIX", "AF_LOCAL", "AF_NETLINK"];
/// The only thing the kernel is asked over a socket: which devices there are (netlink(7)).
const DEVICE_NEWS: &str = "NETLINK_KOBJECT_UEVENT";
/// The kernel's tables of sockets that reach beyond this machine.
const TABLES: [&str; 8] = ["tcp", "tcp6", "udp", "udp6", "udplite", "raw", "raw6", "packet"];

/// Starts the window under both witnesses, plays a run, and runs the sub-commands under the first.
pub fn listen_to_all() -> Outcome<()> {
    let folder = TempDir::new().map_err(|e| e.to_string())?;
    let traced = can_trace(folder.path());
    if !traced {
        println!("SKIPPED strace: it is not here or may not trace; the kernel's tables alone tell");
    }
    window(folder.path(), traced)?;
    if traced { commands(folder.path()) } else { Ok(()) }
}

fn window(folder: &Path, traced: bool) -> Outcome<()> {
    let server = XServer::start(800, 480)?;
    let data = folder.join("data");
    fs::create_dir(&data).map_err(|e| e.to_string())?;
    let start = Start::usual(&data, &folder.join("trace.txt"), 41);
    let watchdog = Watchdog::after(Duration::from_secs(240));
    watchdog.watch(server.process());
    let calls = folder.join("calls");
    let under = traced.then_some(calls.as_path());
    let mut player = Player::new(Rig::start_under(&server, start, under)?);
    watchdog.watch(player.rig.process());
    let tables = Tables::watch(player.rig.pid());
    let played = player.enter_tree_only().and_then(|()| player.play(210_000_000));
    let seen = tables.seen();
    played.map_err(|e| player.rig.explain(&e))?;
    drop(player);
    if !seen.is_empty() {
        return Err(format!("network sockets of the program: {seen:?}"));
    }
    if traced { judge("the window", &calls, 1) } else { Ok(()) }
}

/// Every sub-command that reads or writes something speaks to nobody at all.
fn commands(folder: &Path) -> Outcome<()> {
    let demo = folder.join("demo");
    let (demo, page) = (demo.display().to_string(), folder.join("page.html").display().to_string());
    let lines: [&[&str]; 5] = [
        &["demo", "--no-window", "--data", &demo],
        &["report", "--data", &demo],
        &["report", "--data", &demo, "--format", "html", "--out", &page],
        &["history", "check", "--data", &demo],
        &["--help"],
    ];
    for (number, line) in lines.iter().enumerate() {
        let calls = folder.join(format!("calls-{number}"));
        let status = strace(&calls)
            .arg(env!("CARGO_BIN_EXE_lastamber"))
            .args(*line)
            .stdout(Stdio::null())
            .status()
            .map_err(|e| e.to_string())?;
        if !status.success() {
            return Err(format!("lastamber {line:?} ended with {status}"));
        }
        judge(&format!("lastamber {}", line.join(" ")), &calls, 0)?;
    }
    Ok(())
}

/// Whether all sockets in the list of calls are local, and there are at least so many.
fn judge(who: &str, calls: &Path, at_least: usize) -> Outcome<()> {
    let text = fs::read_to_string(calls).map_err(|e| format!("{}: {e}", calls.display()))?;
    let made: Vec<&str> = text.lines().filter(|line| line.contains("socket")).collect();
    if made.len() < at_least {
        return Err(format!("{who}: {} sockets seen, the witness is blind", made.len()));
    }
    let kinds: BTreeSet<&str> =
        made.iter().filter_map(|line| line.split_once('(')?.1.split(')').next()).collect();
    println!("{who}: {} sockets, {kinds:?}", made.len());
    let is_local = |kind: &&str| {
        LOCAL.iter().any(|local| kind.starts_with(local))
            && (!kind.starts_with("AF_NETLINK") || kind.contains(DEVICE_NEWS))
    };
    let foreign: Vec<&&str> = kinds.iter().filter(|kind| !is_local(kind)).collect();
    if foreign.is_empty() { Ok(()) } else { Err(format!("{who} made sockets {foreign:?}")) }
}

/// The tracer, writing every call that makes a socket, of all threads and children, to `calls`.
pub fn strace(calls: &Path) -> Command {
    let mut command = Command::new("strace");
    command.args(["-f", "-qq", "-e", "trace=socket,socketpair", "-o"]).arg(calls);
    command
}

fn can_trace(folder: &Path) -> bool {
    let mut tried = strace(&folder.join("tried"));
    let tried = tried.arg("true").stdout(Stdio::null()).stderr(Stdio::null()).status();
    tried.is_ok_and(|status| status.success())
}

/// Looks at the kernel's tables again and again.
struct Tables {
    stop: Arc<AtomicBool>,
    thread: thread::JoinHandle<BTreeSet<String>>,
}

impl Tables {
    fn watch(pid: u32) -> Self {
        let stop = Arc::<AtomicBool>::default();
        let stops = Arc::clone(&stop);
        let thread = thread::spawn(move || {
            let mut seen = BTreeSet::new();
            while !stops.load(Ordering::Relaxed) {
                seen.extend(network_sockets(pid));
                thread::sleep(Duration::from_millis(20));
            }
            seen
        });
        Self { stop, thread }
    }

    fn seen(self) -> BTreeSet<String> {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.join().expect("reading tables does not panic")
    }
}

/// Sockets among the open files of the process that stand in a table of the network.
fn network_sockets(pid: u32) -> Vec<String> {
    let Ok(files) = fs::read_dir(format!("/proc/{pid}/fd")) else { return Vec::new() };
    let own: BTreeSet<String> = files
        .filter_map(|file| {
            let to = fs::read_link(file.ok()?.path()).ok()?;
            Some(to.to_str()?.strip_prefix("socket:[")?.strip_suffix(']')?.to_owned())
        })
        .collect();
    let mut found = Vec::new();
    for table in TABLES {
        let rows = fs::read_to_string(format!("/proc/{pid}/net/{table}")).unwrap_or_default();
        for row in rows.lines().skip(1) {
            if row.split_whitespace().any(|word| own.contains(word)) {
                found.push(format!("{table}: {row}"));
            }
        }
    }
    found
}
