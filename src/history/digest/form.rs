//! What a digest holds, packed.
//!
//! Owns the order of what stands in one, and that what comes out is what went in. Refuses anything that is
//! not exactly of this form: then there is no digest.

use std::collections::BTreeMap;
use std::io::{self, Read, Write};

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Covered;
use super::frames::{FrameReader, FrameWriter, is_full};
use super::runs::{RunPacker, RunUnpacker};
use crate::history::known::Known;
use crate::history::line::{Decoded, KINDS, decode};
use crate::history::load::{Loaded, Loading};
use crate::trial::packing::{Packer, Unpacker};

/// The form, a new number with every change to it: of what is written here and in [`super::runs`], and of
/// what any line is read as.
const FORM: u64 = 1;
/// The fewest bytes a run takes.
const LEAST_OF_A_RUN: u64 = 32;

/// What a frame holds, its first byte.
mod holds {
    pub const HEAD: u8 = b'h';
    pub const LINE_NUMBERS: u8 = b'n';
    pub const DAMAGED: u8 = b'd';
    pub const LINE: u8 = b'l';
    pub const RUNS: u8 = b'r';
}

/// What stands before the runs.
#[derive(Serialize, Deserialize)]
pub(super) struct Head {
    form: u64,
    /// Another program may read a line otherwise.
    program: String,
    kinds: Vec<(String, u64)>,
    /// Bytes and sum of each block of the history.
    pub blocks: Vec<(u64, u32)>,
    pub lines: u64,
    runs: u64,
    newer: usize,
    repeated: usize,
    damaged: usize,
    youngest: Option<String>,
    known: Vec<KnownOfKind>,
}

/// See [`Known`].
#[derive(Serialize, Deserialize)]
struct KnownOfKind {
    kind: String,
    greatest: String,
    /// How many of the line numbers are of this kind.
    line_numbers: usize,
}

/// Writes what was read of the covered bytes.
pub(super) fn write<W: Write>(to: W, loading: &Loading, covered: &Covered) -> io::Result<W> {
    let mut frames = FrameWriter::new(to);
    let loaded = &loading.loaded;
    write_json(&mut frames, holds::HEAD, &head(loading, covered))?;
    let mut packer = begun(holds::LINE_NUMBERS);
    for (place, line) in loading.known.values().flat_map(Known::lines) {
        packer.number(*place as u64);
        packer.number(*line);
        if is_full(packer.len()) {
            frames.write(packer.as_bytes())?;
            packer = begun(holds::LINE_NUMBERS);
        }
    }
    frames.write(packer.as_bytes())?;
    for damaged in &loaded.damaged {
        write_json(&mut frames, holds::DAMAGED, damaged)?;
    }
    for line in loaded.other_lines() {
        let value = line.to_json().map_err(io::Error::other)?;
        frames.write(&[&[holds::LINE], value.as_bytes()].concat())?;
    }
    let mut runs = RunPacker::default();
    let mut packer = begun(holds::RUNS);
    for run in &loaded.trials {
        runs.pack(run, &mut packer)?;
        if is_full(packer.len()) {
            frames.write(packer.as_bytes())?;
            packer.clear();
            packer.byte(holds::RUNS);
        }
    }
    frames.write(packer.as_bytes())?;
    frames.finish()
}

fn begun(holds: u8) -> Packer {
    let mut packer = Packer::default();
    packer.byte(holds);
    packer
}

fn write_json<W: Write>(
    frames: &mut FrameWriter<W>,
    holds: u8,
    value: &impl Serialize,
) -> io::Result<()> {
    let mut bytes = vec![holds];
    serde_json::to_writer(&mut bytes, value)?;
    frames.write(&bytes)
}

fn head(loading: &Loading, covered: &Covered) -> Head {
    let loaded = &loading.loaded;
    let known = |(kind, known): (&&'static str, &Known)| KnownOfKind {
        kind: (*kind).to_owned(),
        greatest: known.greatest().map(String::from).unwrap_or_default(),
        line_numbers: known.lines().len(),
    };
    Head {
        form: FORM,
        program: env!("CARGO_PKG_VERSION").to_owned(),
        kinds: kinds(),
        blocks: covered.blocks.iter().map(|block| (block.bytes, block.sum)).collect(),
        lines: covered.lines,
        runs: loaded.trials.len() as u64,
        newer: loaded.newer_count,
        repeated: loaded.repeated_count,
        damaged: loaded.damaged_count,
        youngest: loading.youngest.map(|id| id.to_string()),
        known: loading.known.iter().map(known).collect(),
    }
}

fn kinds() -> Vec<(String, u64)> {
    KINDS.iter().map(|(kind, version)| ((*kind).to_owned(), *version)).collect()
}

/// The head alone: what bytes a digest of this program covers.
pub(super) fn read_head<R: Read>(frames: &mut FrameReader<R>) -> Option<Head> {
    let [holds::HEAD, json @ ..] = frames.next().ok()? else { return None };
    let head: Head = serde_json::from_slice(json).ok()?;
    let is_ours = head.form == FORM && head.program == env!("CARGO_PKG_VERSION");
    (is_ours && head.kinds == kinds()).then_some(head)
}

/// What stands behind the head, of a file of so many bytes; `go_on` is asked once a frame.
pub(super) fn read<R: Read>(
    frames: &mut FrameReader<R>,
    head: Head,
    length: u64,
    go_on: impl Fn() -> bool,
) -> Option<Loading> {
    let mut loaded = Loaded {
        newer_count: head.newer,
        repeated_count: head.repeated,
        damaged_count: head.damaged,
        ..Loaded::default()
    };
    loaded.trials.reserve_exact(usize::try_from(room(head.runs, length)).ok()?);
    let (mut line_numbers, mut runs) = (Vec::new(), RunUnpacker::default());
    loop {
        let frame = frames.next().ok().filter(|_| go_on())?;
        let Some((holds, bytes)) = frame.split_first() else { break };
        let mut from = Unpacker::new(bytes);
        match *holds {
            holds::LINE_NUMBERS => {
                while !bytes.is_empty() && !from.is_done() {
                    line_numbers.push((usize::try_from(from.number()).ok()?, from.number()));
                    if from.is_spent() {
                        return None;
                    }
                }
            }
            holds::DAMAGED => loaded.damaged.push(serde_json::from_slice(bytes).ok()?),
            holds::LINE => match decode(std::str::from_utf8(bytes).ok()?).ok()? {
                Decoded::Line(line) => loaded.keep(line),
                Decoded::Newer { .. } => return None,
            },
            holds::RUNS => {
                while !from.is_done() {
                    loaded.trials.push(runs.unpack(&mut from)?);
                }
            }
            _ => return None,
        }
    }
    let is_whole = loaded.trials.len() as u64 == head.runs;
    let known = known(&head.known, &loaded, line_numbers)?;
    let youngest = head.youngest.map(|id| id.parse::<Uuid>()).transpose().ok()?;
    is_whole.then_some(Loading { loaded, youngest, known })
}

/// Room for so many runs: no number in a file makes more than the file itself, of so many bytes, can fill.
fn room(runs: u64, length: u64) -> u64 {
    runs.min(length / LEAST_OF_A_RUN)
}

/// What is known of the ids of every kind.
fn known(
    told: &[KnownOfKind],
    loaded: &Loaded,
    line_numbers: Vec<(usize, u64)>,
) -> Option<BTreeMap<&'static str, Known>> {
    let mut rest = &line_numbers[..];
    let mut all = BTreeMap::new();
    for told in told {
        let (kind, _) = KINDS.iter().find(|(kind, _)| *kind == told.kind)?;
        let (own, others) = rest.split_at_checked(told.line_numbers)?;
        let greatest = told.greatest.as_str().into();
        let known = Known::restored(loaded.count_of(kind), own.to_vec(), Some(greatest));
        all.insert(*kind, known);
        rest = others;
    }
    rest.is_empty().then_some(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_digest_that_promises_more_runs_than_it_can_hold_makes_no_room_for_them() {
        assert_eq!(room(u64::MAX, 1_000 * LEAST_OF_A_RUN + 1), 1_000);
        assert_eq!(room(3, 1_000 * LEAST_OF_A_RUN), 3);
    }
}
