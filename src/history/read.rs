//! The history file, line by line, whatever its state.
//!
//! Owns the sorting of bytes into good lines, newer lines and damage. Refuses to guess: a line is
//! good only if its checksum fits, and damage never hides a good line after it.

use std::collections::VecDeque;
use std::fmt;
use std::io::BufRead;

use serde::{Deserialize, Serialize};

use super::chop::{Chopper, Physical};
use super::envelope::{self, Fault, MAX_LINE_BYTES};
use super::error::HistoryError;
use super::line::{Decoded, Line, decode};

/// How much of a damaged line is shown, bytes. Chosen, because it fits beside its place on a line.
const SHOWN_BYTES: usize = 60;

/// What stands at one place of the file.
#[derive(Debug, Clone, PartialEq)]
pub enum Found {
    /// A good line.
    Line {
        /// What it says.
        line: Line,
        /// Line in the file, counted from 1.
        line_number: u64,
        /// Offset of its first byte in the file.
        byte_offset: u64,
        /// The exact value, without the checksum around it.
        raw: String,
    },
    /// A good line of a kind or version this program does not know: left where it is.
    Newer {
        /// Its kind.
        kind: String,
        /// Its version.
        version: u64,
        /// Line in the file, counted from 1.
        line_number: u64,
        /// The exact value, without the checksum around it.
        raw: String,
    },
    /// Set aside.
    Damaged(Damaged),
}

/// Bytes that could not be read as a line. They stay in the file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Damaged {
    /// Line in the file, counted from 1.
    pub line_number: u64,
    /// Offset of the first such byte in the file.
    pub byte_offset: u64,
    /// What is wrong.
    pub why: Why,
    /// How the bytes begin; control characters and what is not UTF-8 are replaced.
    pub text: String,
}

/// What is wrong with a line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum Why {
    /// It ends before it is complete, as when power fails during a write.
    CutShort,
    /// It is longer than a line may be.
    TooLong {
        /// Its length.
        bytes: u64,
    },
    /// It is not UTF-8.
    NotUtf8,
    /// It is not the object a line is.
    NotALine(String),
    /// Its content does not fit its checksum.
    SumDiffers,
    /// The checksum fits, but its content does not read as what its kind and version promise.
    Unreadable(String),
    /// Another line has the same id but says something else; that one, which comes first, stays.
    IdTaken {
        /// The id.
        id: String,
        /// Where the first one stands.
        first_line_number: u64,
    },
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::CutShort => f.write_str("cut short"),
            Self::TooLong { bytes } => write!(f, "{bytes} bytes long, too long for a line"),
            Self::NotUtf8 => f.write_str("not UTF-8"),
            Self::NotALine(why) => write!(f, "not a line of the history: {why}"),
            Self::SumDiffers => f.write_str("altered: its checksum does not fit"),
            Self::Unreadable(why) => write!(f, "cannot be understood: {why}"),
            Self::IdTaken { id, first_line_number } => {
                write!(f, "its id {id} is taken by line {first_line_number}, which differs")
            }
        }
    }
}

impl fmt::Display for Damaged {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {} (byte {}): {}", self.line_number, self.byte_offset, self.why)
    }
}

impl Found {
    /// The same so many lines and bytes further on.
    pub(super) fn moved(mut self, lines: u64, bytes: u64) -> Self {
        match &mut self {
            Self::Line { line_number, byte_offset, .. } => {
                *line_number += lines;
                *byte_offset += bytes;
            }
            Self::Newer { line_number, .. } => *line_number += lines,
            Self::Damaged(damaged) => {
                damaged.line_number += lines;
                damaged.byte_offset += bytes;
            }
        }
        self
    }
}

/// What stands at one place, read the short way where that was possible.
#[derive(Debug)]
pub(super) enum Entry<T> {
    Quick { value: T, line_number: u64, byte_offset: u64 },
    Found(Found),
}

impl<T> Entry<T> {
    /// The same so many lines and bytes further on.
    pub fn moved(self, lines: u64, bytes: u64) -> Self {
        match self {
            Self::Quick { value, line_number, byte_offset } => Self::Quick {
                value,
                line_number: line_number + lines,
                byte_offset: byte_offset + bytes,
            },
            Self::Found(found) => Self::Found(found.moved(lines, bytes)),
        }
    }

    /// The same without the exact value, for those who keep many and only want what it says.
    pub fn without_raw(mut self) -> Self {
        if let Self::Found(Found::Line { raw, .. } | Found::Newer { raw, .. }) = &mut self {
            *raw = String::new();
        }
        self
    }
}

/// Reads a history as it streams in, holding one line at a time.
#[derive(Debug)]
pub struct Reader<R> {
    chopper: Chopper<R>,
    ready: VecDeque<Found>,
    torn_tail: bool,
}

impl<R: BufRead> Reader<R> {
    /// A reader over the bytes of a history file.
    pub fn new(from: R) -> Self {
        Self { chopper: Chopper::new(from), ready: VecDeque::new(), torn_tail: false }
    }

    /// Whether the bytes read so far end in a line that was never completed. Settled at the end.
    pub fn torn_tail(&self) -> bool {
        self.torn_tail
    }

    /// Physical lines read so far.
    pub(super) fn lines(&self) -> u64 {
        self.chopper.lines()
    }

    /// Bytes read so far.
    pub fn offset(&self) -> u64 {
        self.chopper.offset()
    }

    /// What stands next; `None` at the end.
    ///
    /// # Errors
    /// [`HistoryError::Read`] if the reader underneath fails. Damage is no error.
    pub fn next_found(&mut self) -> Result<Option<Found>, HistoryError> {
        while self.ready.is_empty() {
            match self.next_physical()? {
                Some(line) => self.sort_line(line),
                None => return Ok(None),
            }
        }
        Ok(self.ready.pop_front())
    }

    /// The same, but a line that is sealed as this program does it is first shown to `quick`, which need
    /// not take it.
    ///
    /// # Errors
    /// As [`Reader::next_found`].
    pub(super) fn next_entry<T>(
        &mut self,
        quick: impl FnOnce(&str) -> Option<T>,
    ) -> Result<Option<Entry<T>>, HistoryError> {
        if self.ready.is_empty() {
            let Some(line) = self.next_physical()? else { return Ok(None) };
            if let Some(value) = envelope::open_own(self.chopper.bytes()).and_then(quick) {
                let (line_number, byte_offset) = (line.number, line.offset);
                return Ok(Some(Entry::Quick { value, line_number, byte_offset }));
            }
            self.sort_line(line);
        }
        Ok(self.next_found()?.map(Entry::Found))
    }

    fn next_physical(&mut self) -> Result<Option<Physical>, HistoryError> {
        let line = self.chopper.next_line();
        let at_byte = self.chopper.offset();
        line.map_err(|source| HistoryError::Read { path: None, at_byte, source })
    }

    /// Sorts one physical line into what it holds.
    fn sort_line(&mut self, line: Physical) {
        let bytes = self.chopper.bytes();
        let at = |start: usize| (line.number, line.offset + start as u64);
        if bytes.iter().all(u8::is_ascii_whitespace) && line.length <= MAX_LINE_BYTES as u64 {
            return;
        }
        if line.length >= MAX_LINE_BYTES as u64 {
            let why = Why::TooLong { bytes: line.length };
            self.ready.push_back(set_aside(at(0), bytes, why));
            self.torn_tail = !line.ended;
            return;
        }
        let fault = match envelope::open(bytes) {
            Ok(value) => {
                self.ready.push_back(understand(at(0), bytes, value));
                return;
            }
            Err(fault) => fault,
        };
        // Not one line: there may still be whole ones inside, before or after what is broken.
        let mut rest = 0;
        while let Some((range, value)) = envelope::find(&bytes[rest..]) {
            let (start, end) = (rest + range.start, rest + range.end);
            self.ready.extend(leftover(at(rest), &bytes[rest..start]));
            self.ready.push_back(understand(at(start), &bytes[start..end], value));
            rest = end;
        }
        if rest == 0 {
            self.ready.push_back(set_aside(at(0), bytes, why(fault)));
            self.torn_tail = !line.ended;
        } else if let Some(damage) = leftover(at(rest), &bytes[rest..]) {
            self.ready.push_back(damage);
            self.torn_tail = !line.ended;
        }
    }
}

impl<R: BufRead> Iterator for Reader<R> {
    type Item = Result<Found, HistoryError>;

    fn next(&mut self) -> Option<Self::Item> {
        self.next_found().transpose()
    }
}

/// A value whose checksum fits, as what it says it is.
fn understand(at: (u64, u64), bytes: &[u8], value: &str) -> Found {
    let (line_number, byte_offset) = at;
    match decode(value) {
        Ok(Decoded::Line(line)) => {
            Found::Line { line, line_number, byte_offset, raw: value.to_owned() }
        }
        Ok(Decoded::Newer { kind, version }) => {
            Found::Newer { kind, version, line_number, raw: value.to_owned() }
        }
        Err(why) => set_aside(at, bytes, Why::Unreadable(why)),
    }
}

/// Bytes beside a whole line, unless they are blank.
fn leftover(at: (u64, u64), bytes: &[u8]) -> Option<Found> {
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return None;
    }
    let fault = envelope::open(bytes).err().unwrap_or(Fault::SumDiffers);
    Some(set_aside(at, bytes, why(fault)))
}

fn set_aside((line_number, byte_offset): (u64, u64), bytes: &[u8], why: Why) -> Found {
    Found::Damaged(Damaged { line_number, byte_offset, why, text: shown(bytes) })
}

fn why(fault: Fault) -> Why {
    match fault {
        Fault::CutShort => Why::CutShort,
        Fault::NotUtf8 => Why::NotUtf8,
        Fault::NotALine(reason) => Why::NotALine(reason),
        Fault::SumDiffers => Why::SumDiffers,
    }
}

/// The beginning of some bytes, safe to print on a terminal.
fn shown(bytes: &[u8]) -> String {
    String::from_utf8_lossy(&bytes[..bytes.len().min(SHOWN_BYTES)])
        .chars()
        .map(|c| if c.is_control() { char::REPLACEMENT_CHARACTER } else { c })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::{CarLine, envelope};
    use super::*;

    #[test]
    fn what_was_found_in_a_part_is_so_much_further_on_in_the_whole() {
        let car =
            Line::from(CarLine { id: "c".to_owned(), ..CarLine::default() }).to_json().unwrap();
        let newer = r#"{"kind":"weather","v":1,"id":"w"}"#;
        let bytes = [&envelope::seal(&car)[..], &envelope::seal(newer), b"x\n"].concat();
        let mut reader = Reader::new(&bytes[..]);
        let mut places = Vec::new();
        while let Some(found) = reader.next_found().unwrap() {
            places.push(match found.moved(10, 1_000) {
                Found::Line { line_number, byte_offset, .. } => (line_number, byte_offset),
                Found::Newer { line_number, .. } => (line_number, 0),
                Found::Damaged(damaged) => (damaged.line_number, damaged.byte_offset),
            });
        }
        let before = bytes.len() as u64 - 2;
        assert_eq!(places, [(11, 1_000), (12, 0), (13, 1_000 + before)]);
        let quick = Entry::Quick { value: (), line_number: 2, byte_offset: 3 };
        let Entry::Quick { line_number, byte_offset, .. } = quick.moved(10, 1_000) else {
            panic!("it is read the short way still")
        };
        assert_eq!((line_number, byte_offset), (12, 1_003));
    }

    #[test]
    fn what_is_left_behind_a_whole_line_is_a_torn_tail_only_if_no_newline_ends_it() {
        let car =
            Line::from(CarLine { id: "c".to_owned(), ..CarLine::default() }).to_json().unwrap();
        let mut bytes = envelope::seal(&car);
        bytes.truncate(bytes.len() - 1);
        bytes.extend(b"{\"sum\":");
        for (end, torn) in [("", true), ("\n", false)] {
            let bytes = [&bytes[..], end.as_bytes()].concat();
            let mut reader = Reader::new(&bytes[..]);
            let found: Vec<Found> = reader.by_ref().map(Result::unwrap).collect();
            assert!(matches!(found[..], [Found::Line { .. }, Found::Damaged(_)]), "{found:?}");
            assert_eq!(reader.torn_tail(), torn);
        }
    }
}
