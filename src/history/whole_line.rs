//! One line on its way to other programs and other machines.
//!
//! Owns that it is the same bytes it was read as, in as little memory as they need. Refuses to know where it
//! goes.

use std::borrow::Cow;
use std::cmp::Ordering;
use std::hash::{Hash, Hasher};

use serde::Deserialize;

use super::envelope::MAX_VALUE_BYTES;
use super::line::{Decoded, Line, TRIAL, decode};
use super::quick::QuickRuns;
use crate::trial::TrialRecord;

/// One line: its exact value and what orders it.
#[derive(Debug, Clone)]
pub struct WholeLine(Kept);

#[derive(Debug, Clone)]
enum Kept {
    /// A run that is written again just as it was read: a sixth of the bytes of its text.
    Run(Box<TrialRecord>),
    /// Any other line.
    Text(Box<Value>),
}

#[derive(Debug, Clone)]
struct Value {
    id: Box<str>,
    kind: Box<str>,
    json: Box<str>,
}

impl WholeLine {
    /// A value as it stands in an export; the error says why it is no line of a history.
    pub(super) fn of_json(json: &str, quick: &mut QuickRuns) -> Result<Self, String> {
        // The blanks of JSON: around a value they are no part of it, and its checksum is without them.
        let json = json.trim_matches([' ', '\t', '\n', '\r']);
        if json.contains('\n') {
            return Err("it runs over several rows".to_owned());
        }
        if json.len() > MAX_VALUE_BYTES {
            return Err(format!("{} bytes long, too long for a line", json.len()));
        }
        if let Some(run) = Self::of_run(json, quick) {
            return Ok(run);
        }
        Ok(match decode(json)? {
            Decoded::Line(line) => Self::of_line(&line, json),
            Decoded::Newer { kind, .. } => Self::of_newer(&kind, json),
        })
    }

    /// A run that is read the short way.
    pub(super) fn of_run(json: &str, quick: &mut QuickRuns) -> Option<Self> {
        let run = quick.read(json)?;
        if json_of(&run) == json {
            return Some(Self(Kept::Run(Box::new(run))));
        }
        Some(Self::new(&run.id.to_string(), TRIAL, json))
    }

    pub(super) fn of_line(line: &Line, json: &str) -> Self {
        Self::new(line.id(), line.kind(), json)
    }

    /// A line this program does not know: its id may be missing, no text, or there twice.
    pub(super) fn of_newer(kind: &str, json: &str) -> Self {
        #[derive(Deserialize)]
        struct Head {
            id: String,
        }
        let id = serde_json::from_str(json).map_or_else(|_| String::new(), |Head { id }| id);
        Self::new(&id, kind, json)
    }

    fn new(id: &str, kind: &str, json: &str) -> Self {
        Self(Kept::Text(Box::new(Value { id: id.into(), kind: kind.into(), json: json.into() })))
    }

    /// Its id; empty where a line this program does not know has none.
    pub fn id(&self) -> Cow<'_, str> {
        match &self.0 {
            Kept::Run(run) => run.id.to_string().into(),
            Kept::Text(value) => (*value.id).into(),
        }
    }

    /// Its kind.
    pub fn kind(&self) -> &str {
        match &self.0 {
            Kept::Run(_) => TRIAL,
            Kept::Text(value) => &value.kind,
        }
    }

    /// Its value, byte for byte.
    pub fn json(&self) -> Cow<'_, str> {
        match &self.0 {
            Kept::Run(run) => json_of(run).into(),
            Kept::Text(value) => (*value.json).into(),
        }
    }

    pub(super) fn is_nameless(&self) -> bool {
        matches!(&self.0, Kept::Text(value) if value.id.is_empty())
    }

    /// Whether both are lines of one id.
    pub(super) fn is_named_like(&self, other: &Self) -> bool {
        !self.is_nameless() && self.in_order(other) == Ordering::Equal
    }

    /// The order by id, then by kind.
    pub(super) fn in_order(&self, other: &Self) -> Ordering {
        match (&self.0, &other.0) {
            (Kept::Run(one), Kept::Run(two)) => one.id.cmp(&two.id),
            _ => (self.id(), self.kind()).cmp(&(other.id(), other.kind())),
        }
    }

    /// The line as this program understands it; `None` for a newer one.
    pub fn understood(&self) -> Option<Line> {
        match &self.0 {
            Kept::Run(run) => Some(Line::from((**run).clone())),
            Kept::Text(value) => match decode(&value.json) {
                Ok(Decoded::Line(line)) => Some(line),
                _ => None,
            },
        }
    }
}

/// The value of a run as this program writes it; nothing, which is no value, if it could not.
fn json_of(run: &TrialRecord) -> String {
    Line::from(run.clone()).to_json().unwrap_or_default()
}

impl PartialEq for WholeLine {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for WholeLine {}

impl PartialOrd for WholeLine {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for WholeLine {
    fn cmp(&self, other: &Self) -> Ordering {
        self.in_order(other).then_with(|| self.json().cmp(&other.json()))
    }
}

impl Hash for WholeLine {
    fn hash<H: Hasher>(&self, state: &mut H) {
        (self.id(), self.kind(), self.json()).hash(state);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::demo_lines;

    #[test]
    fn a_line_is_the_bytes_it_was_read_as_however_it_is_kept() {
        let quick = &mut QuickRuns::default();
        let mut packed = 0;
        for line in demo_lines(3).unwrap().into_iter().take(120) {
            let json = line.to_json().unwrap();
            // As this program writes it, with a field more, with blanks, with a number written otherwise.
            let later = json.replacen("\"v\":1,", "\"v\":1,\"later\":[1,  2],", 1);
            let blank = json.replacen("\"v\":1,", "\"v\": 1,", 1);
            let number = json.replacen(":35.0", ":3.5e1", 1);
            for text in [json, later, blank, number] {
                let whole = WholeLine::of_json(&text, quick).unwrap();
                assert_eq!((&*whole.id(), whole.kind()), (line.id(), line.kind()));
                assert_eq!(whole.json(), text);
                assert_eq!(whole.understood().unwrap(), line);
                packed += usize::from(matches!(whole.0, Kept::Run(_)));
            }
        }
        assert!(packed > 100, "{packed}");
    }

    #[test]
    fn lines_are_ordered_by_id_and_kind_and_equal_to_the_byte() {
        let quick = &mut QuickRuns::default();
        let lines = demo_lines(3).unwrap();
        let runs = lines.iter().filter(|line| matches!(line, Line::Trial(_))).take(2);
        let runs: Vec<String> = runs.map(|line| line.to_json().unwrap()).collect();
        let later = runs[0].replacen("\"v\":1,", "\"v\":1,\"later\":0,", 1);
        let mut of = |json: &str| WholeLine::of_json(json, quick).unwrap();
        let (one, two, later) = (of(&runs[0]), of(&runs[1]), of(&later));
        let nameless = of(r#"{"kind":"engine","v":3}"#);
        assert!(one < two && two > later && nameless < one && nameless.is_nameless());
        assert!(one == one.clone() && one != later && one.is_named_like(&later));
        assert!(!one.is_named_like(&two) && !nameless.is_named_like(&nameless));
    }
}
