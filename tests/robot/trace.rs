//! The program's own account of a run: its trace file, followed while it grows.
//!
//! Owns the grammar of the trace and what is in force now (the prompt, the lamp rectangles, the
//! lane). Refuses to guess: a line it knows by name but cannot read is an error.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use crate::framebuffer::Rect;
use crate::xserver::Outcome;

/// What a lane's screen shows at the end of a run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verdict {
    pub id: String,
    pub outcome: String,
    /// The numbers, when there is a reaction time.
    pub parts: Option<Parts>,
}

/// The parts of a reaction time, nanoseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Parts {
    pub rt_ns: i64,
    pub driver_ns: i64,
    pub car_ns: i64,
    pub interval_ns: i64,
    /// How much earlier than `driver_ns` the driver part may be.
    pub early_ns: i64,
    /// How much later than `driver_ns` the driver part may be.
    pub late_ns: i64,
}

/// The one thing to press now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Press {
    Nothing,
    Tap(String),
    Hold(String),
}

/// One event of the trace. Events the robot has no use for are `Other`.
#[derive(Debug, Clone, PartialEq)]
pub enum Event {
    Window,
    LampRect {
        lane: String,
        lamp: String,
        rect: Rect,
    },
    You(String),
    Prompt(Press),
    Screen(String),
    Drill(String),
    Run,
    Armed,
    Due {
        lane: String,
        lamp: String,
        due_ns: i64,
    },
    /// `decided_ns`: when the update that drew it began.
    Shown {
        lane: String,
        lamp: String,
        best_ns: i64,
        decided_ns: i64,
    },
    /// `drained_ns`: when the update that took the press out of the window's queue began.
    Launch {
        drained_ns: i64,
    },
    /// A stamped edge of a bound control.
    Edge(StampedEdge),
    /// The raw source began or ceased to listen; events it has received so far.
    Listening {
        on: bool,
        heard: u64,
    },
    Saved(String),
    VerdictShown(Verdict),
    FrameRate(f64),
    /// Sounds are played on a device.
    SoundDevice,
    Other,
}

/// A press or a release as the program stamped it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StampedEdge {
    pub control: String,
    pub down: bool,
    pub earliest_ns: i64,
    pub latest_ns: i64,
    pub origin: String,
}

/// One line: when, what, and the words themselves.
#[derive(Debug, Clone)]
pub struct Line {
    pub at_ns: i64,
    pub event: Event,
    pub text: String,
}

/// A trace file that is being followed.
pub struct Trace {
    path: PathBuf,
    file: Option<File>,
    partial: Vec<u8>,
    lines: Vec<Line>,
    rects: BTreeMap<(String, String), Rect>,
}

impl Trace {
    /// Follows the file at `path`, which need not exist yet.
    pub fn follow(path: &Path) -> Self {
        Self {
            path: path.to_owned(),
            file: None,
            partial: Vec::new(),
            lines: Vec::new(),
            rects: BTreeMap::new(),
        }
    }

    /// All lines so far.
    pub fn lines(&self) -> &[Line] {
        &self.lines
    }

    /// The events from line number `from` on.
    pub fn events_from(&self, from: usize) -> impl Iterator<Item = &Event> {
        self.lines.iter().skip(from).map(|line| &line.event)
    }

    /// The prompt in force and the number of its line.
    pub fn prompt(&self) -> Option<(usize, &Press)> {
        self.lines.iter().enumerate().rev().find_map(|(i, line)| match &line.event {
            Event::Prompt(press) => Some((i, press)),
            _ => None,
        })
    }

    /// The last value of a kind of event.
    pub fn last<T>(&self, pick: impl Fn(&Event) -> Option<T>) -> Option<T> {
        self.lines.iter().rev().find_map(|line| pick(&line.event))
    }

    /// Where a lamp is inside the window.
    pub fn rect(&self, lane: &str, lamp: &str) -> Option<Rect> {
        self.rects.get(&(lane.to_owned(), lamp.to_owned())).copied()
    }

    /// The driver's lane.
    pub fn you(&self) -> Option<String> {
        self.last(|e| if let Event::You(lane) = e { Some(lane.clone()) } else { None })
    }

    /// Reads what was added since; an unfinished last line waits for its end.
    pub fn poll(&mut self) -> Outcome<()> {
        if self.file.is_none() {
            match File::open(&self.path) {
                Ok(file) => self.file = Some(file),
                Err(_) => return Ok(()),
            }
        }
        let file = self.file.as_mut().expect("opened just above");
        file.read_to_end(&mut self.partial).map_err(|e| format!("{}: {e}", self.path.display()))?;
        while let Some(end) = self.partial.iter().position(|b| *b == b'\n') {
            let rest = self.partial.split_off(end + 1);
            let whole = std::mem::replace(&mut self.partial, rest);
            let text = String::from_utf8_lossy(&whole[..end]).into_owned();
            let line =
                parse_line(&text).ok_or_else(|| format!("trace line not understood: {text:?}"))?;
            if let Event::LampRect { lane, lamp, rect } = &line.event {
                self.rects.insert((lane.clone(), lamp.clone()), *rect);
            }
            self.lines.push(line);
        }
        Ok(())
    }

    /// The last `n` lines as text, lamp rectangles left out.
    pub fn tail(&self, n: usize) -> String {
        let told = |line: &&Line| !matches!(line.event, Event::LampRect { .. });
        let mut texts: Vec<&str> =
            self.lines.iter().rev().filter(told).take(n).map(|line| line.text.as_str()).collect();
        texts.reverse();
        texts.join("\n")
    }
}

fn parse_line(text: &str) -> Option<Line> {
    let (at, rest) = text.split_once(' ').unwrap_or((text, ""));
    let words: Vec<&str> = rest.split_whitespace().collect();
    Some(Line { at_ns: at.parse().ok()?, event: parse_event(&words)?, text: text.to_owned() })
}

fn parse_event(words: &[&str]) -> Option<Event> {
    let number = |i: usize| -> Option<i64> { words.get(i)?.parse().ok() };
    let word = |i: usize| -> Option<String> { words.get(i).map(|w| (*w).to_owned()) };
    Some(match *words.first()? {
        "window" => {
            let (width, height) = words.get(1)?.split_once('x')?;
            let (_, _): (u32, u32) = (width.parse().ok()?, height.parse().ok()?);
            Event::Window
        }
        "lamp-rect" => {
            let sides: Vec<i32> =
                words.get(3)?.split(',').map(|s| s.parse().ok()).collect::<Option<_>>()?;
            let [x, y, width, height] = sides.try_into().ok()?;
            Event::LampRect { lane: word(1)?, lamp: word(2)?, rect: Rect { x, y, width, height } }
        }
        "you" => Event::You(word(1)?),
        "prompt" => Event::Prompt(match *words.get(1)? {
            "-" => Press::Nothing,
            key => match key.strip_prefix('+') {
                Some(held) => Press::Hold(held.to_owned()),
                None => Press::Tap(key.to_owned()),
            },
        }),
        "screen" => Event::Screen(word(1)?),
        "drill" => Event::Drill(word(1)?),
        "run" => {
            let (_, _) = (number(1)?, word(2)?);
            Event::Run
        }
        "armed" => Event::Armed,
        "due" => Event::Due { lane: word(1)?, lamp: word(2)?, due_ns: number(3)? },
        "shown" => {
            let (_, best_ns, _) = (number(3)?, number(4)?, number(5)?);
            Event::Shown { lane: word(1)?, lamp: word(2)?, best_ns, decided_ns: number(6)? }
        }
        "launch" => {
            let (_, _, _) = (number(1)?, number(2)?, number(3)?);
            Event::Launch { drained_ns: number(4)? }
        }
        "edge" => Event::Edge(StampedEdge {
            control: word(1)?,
            down: *words.get(2)? == "down",
            earliest_ns: number(3)?,
            latest_ns: number(5)?,
            origin: word(6)?,
        }),
        "listening" => {
            let heard = u64::try_from(number(2)?).ok()?;
            Event::Listening { on: *words.get(1)? == "yes", heard }
        }
        "saved" => Event::Saved(word(1)?),
        "verdict" => parse_verdict(words)?,
        "frame-rate" => Event::FrameRate(words.get(1)?.parse().ok()?),
        "sound-device" => Event::SoundDevice,
        _ => Event::Other,
    })
}

fn parse_verdict(words: &[&str]) -> Option<Event> {
    if words.get(1) != Some(&"shown") {
        return Some(Event::Other);
    }
    let field = |name: &str| -> Option<i64> {
        words.iter().find_map(|w| w.strip_prefix(name)?.strip_prefix('=')?.parse().ok())
    };
    let has_parts = words.iter().any(|w| w.contains('='));
    let parts = if has_parts {
        Some(Parts {
            rt_ns: field("rt_ns")?,
            driver_ns: field("driver_ns")?,
            car_ns: field("car_ns")?,
            interval_ns: field("interval_ns")?,
            early_ns: field("early_ns")?,
            late_ns: field("late_ns")?,
        })
    } else {
        None
    };
    Some(Event::VerdictShown(Verdict {
        id: (*words.get(2)?).to_owned(),
        outcome: (*words.get(3)?).to_owned(),
        parts,
    }))
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use super::*;

    #[test]
    fn a_line_counts_once_it_is_whole() {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        let mut trace = Trace::follow(file.path());
        file.write_all(b"5 you right\n6 prompt +Arr").unwrap();
        trace.poll().unwrap();
        assert_eq!((trace.you().as_deref(), trace.prompt()), (Some("right"), None));
        file.write_all(b"owUp Creep\n7 prompt - Wait\n8 verdict shown A void\n").unwrap();
        trace.poll().unwrap();
        assert_eq!(trace.lines()[1].event, Event::Prompt(Press::Hold("ArrowUp".into())));
        assert_eq!(trace.prompt(), Some((2, &Press::Nothing)));
        let verdict = Verdict { id: "A".into(), outcome: "void".into(), parts: None };
        assert_eq!(trace.lines()[3].event, Event::VerdictShown(verdict));
    }

    #[test]
    fn a_known_line_that_cannot_be_read_is_an_error() {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        file.write_all(b"9 verdict shown A red rt_ns=1\n").unwrap();
        assert!(Trace::follow(file.path()).poll().unwrap_err().contains("rt_ns=1"));
    }
}
