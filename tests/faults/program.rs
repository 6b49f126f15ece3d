//! The real program, asked from outside, as itself or by way of a tool that provokes a fault.
//!
//! Owns running it, what it said, and saying what is skipped. Refuses to judge.

use std::io::{self, Write};
use std::path::Path;
use std::process::{Command, Output, Stdio};

pub const PROGRAM: &str = env!("CARGO_BIN_EXE_lastamber");

/// How it ended and what it said.
#[derive(Debug)]
pub struct Told {
    pub code: Option<i32>,
    pub out: String,
    pub error: String,
}

impl From<Output> for Told {
    fn from(output: Output) -> Self {
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("it speaks UTF-8");
        Self { code: output.status.code(), out: text(output.stdout), error: text(output.stderr) }
    }
}

impl Told {
    /// It worked; what it said.
    #[track_caller]
    pub fn well(self) -> String {
        assert_eq!((self.code, self.error.as_str()), (Some(0), ""), "{}", self.out);
        self.out
    }

    /// It gave up with exactly these words.
    #[track_caller]
    pub fn gave_up(&self, words: &str) {
        assert_eq!((self.error.trim_end(), self.code), (words, Some(1)));
        assert_eq!(self.out, "", "standard output stays empty");
        assert!(self.error.lines().count() <= 2, "one or two lines");
    }
}

pub fn command(tool: &[&str]) -> Command {
    let mut command = match tool.split_first() {
        None => Command::new(PROGRAM),
        Some((first, rest)) => {
            let mut command = Command::new(first);
            command.args(rest).arg(PROGRAM);
            command
        }
    };
    command.env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY").env_remove("XDG_DATA_HOME");
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

/// The program as itself.
pub fn ask(words: &[&str]) -> Told {
    ask_by(&[], words)
}

/// The program, started by a tool: `ask_by(&["prlimit", "--fsize=4096"], …)`.
pub fn ask_by(tool: &[&str], words: &[&str]) -> Told {
    command(tool).args(words).output().expect("it can be started").into()
}

/// Whether a tool can be started and does what it is asked for.
pub fn can(words: &[&str]) -> bool {
    let mut command = Command::new(words[0]);
    let quiet = command.args(&words[1..]).stdout(Stdio::null()).stderr(Stdio::null());
    quiet.status().is_ok_and(|status| status.success())
}

/// Says on standard error, past the test runner's capture, that something is not tested here.
pub fn skipped(what: &str) {
    let _ = writeln!(io::stderr(), "SKIPPED: {what}");
}

pub fn text(path: &Path) -> &str {
    path.to_str().expect("names of temporary folders are UTF-8")
}

/// A table of slips that differ, from number `from` on.
pub fn slip_table(from: usize, slips: usize) -> String {
    let mut table = "date,driver,rt,et,mph\n".to_owned();
    for i in from..from + slips {
        let et = 12.0 + 0.001 * i as f64;
        let (rt, mph) = (0.001 * (i % 400) as f64, i % 100);
        table.push_str(&format!("2026-05-01,Demo driver,{rt:.3},{et:.3},100.{mph:02}\n"));
    }
    table
}

/// `LASTAMBER_LONG=1` asks for the long runs.
pub fn is_long() -> bool {
    std::env::var("LASTAMBER_LONG").is_ok_and(|value| value == "1")
}
