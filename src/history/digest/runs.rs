//! Runs, packed one behind the other.
//!
//! Owns that what many runs say alike stands once, before the first that says it. Refuses a run that is not
//! exactly of this form.

use std::collections::HashMap;
use std::io;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::history::trial_line::{CarFactsLine, OffsetLine, RigPrintLine, SetupLine};
use crate::history::words::OutcomeWord;
use crate::tree::{Outcome, Parts};
use crate::trial::packing::{Packer, Unpacker};
use crate::trial::{
    Began, CarFacts, Circumstances, CommonSetup, Id, OffsetInForce, Pause, RigPrint, Seen,
    SetupFacts, Shared, Text, TrialRecord,
};
use crate::units::Span;

/// What the first byte of a run says, a bit each.
mod flag {
    pub const AMBER_SPACING_OFF: u8 = 1;
    pub const COLOUR_IN_DOUBT: u8 = 2;
    pub const HITCH: u8 = 4;
    pub const LAMP_CORRECTED: u8 = 8;
    pub const PARTS: u8 = 16;
    pub const PAUSE: u8 = 32;
    pub const UUID: u8 = 64;
}

/// Outcomes that need no more than a byte: their place and one.
const PLAIN: [Outcome; 6] = [
    Outcome::Green,
    Outcome::Red,
    Outcome::LeftBeforeTree,
    Outcome::TimedOut,
    Outcome::Lapse,
    Outcome::Stayed,
];

/// Packs runs, remembering what was said.
#[derive(Debug, Default)]
pub(super) struct RunPacker {
    zones: HashMap<String, u64>,
    with: Said<Circumstances>,
    setups: Said<CommonSetup>,
}

/// Unpacks runs, remembering what was said.
#[derive(Debug, Default)]
pub(super) struct RunUnpacker {
    zones: Vec<Text>,
    with: Vec<Shared<Circumstances>>,
    setups: Vec<Shared<CommonSetup>>,
}

/// Groups of facts by their number, as they are in memory and as they are written.
#[derive(Debug)]
struct Said<T> {
    by_place: HashMap<*const T, u64>,
    by_text: HashMap<String, u64>,
}

/// [`Circumstances`] as a line says them.
#[derive(Serialize, Deserialize)]
struct CircumstancesLine {
    program: String,
    driver: String,
    car: CarFactsLine,
    rig: RigPrintLine,
    offset: OffsetLine,
    onset_grade: String,
}

#[derive(Serialize, Deserialize)]
struct OutcomeLine(#[serde(with = "OutcomeWord")] Outcome);

impl RunPacker {
    /// Packs one run. Written out field by field, so that one that is added does not build until it has a
    /// place here.
    pub fn pack(&mut self, run: &TrialRecord, to: &mut Packer) -> io::Result<()> {
        let TrialRecord {
            id,
            began,
            with,
            setup: SetupFacts { common, seed, pause },
            seen,
            amber_spacing_off,
            outcome,
            parts,
            colour_in_doubt,
            hitch,
            lamp_corrected,
        } = run;
        let flags = [
            (flag::AMBER_SPACING_OFF, *amber_spacing_off),
            (flag::COLOUR_IN_DOUBT, *colour_in_doubt),
            (flag::HITCH, *hitch),
            (flag::LAMP_CORRECTED, *lamp_corrected),
            (flag::PARTS, parts.is_some()),
            (flag::PAUSE, pause.is_some()),
            (flag::UUID, id.uuid().is_some()),
        ];
        to.byte(flags.into_iter().filter(|(_, is)| *is).fold(0, |byte, (flag, _)| byte | flag));
        match id.uuid() {
            Some(uuid) => to.bytes(uuid.as_bytes()),
            None => to.block(String::from(id).as_bytes()),
        }
        let ((second, nanosecond), zone) = began.parts();
        to.number(second.into());
        to.number(nanosecond.into());
        pack_text(&mut self.zones, zone, to);
        self.with.pack(with, to, |with| serde_json::to_string(&CircumstancesLine::from(with)))?;
        self.setups.pack(common, to, |common| {
            let facts = SetupFacts { common: Shared::from(common), seed: 0, pause: None };
            serde_json::to_string(&SetupLine::from(facts))
        })?;
        to.bytes(&seed.to_le_bytes());
        if let Some(Pause { planned, waited }) = pause {
            [planned, waited].into_iter().for_each(|span| to.signed(span.ns()));
        }
        match PLAIN.iter().position(|plain| plain == outcome) {
            Some(place) => to.byte(place as u8 + 1),
            None => {
                to.byte(0);
                to.block(&serde_json::to_vec(&OutcomeLine(*outcome))?);
            }
        }
        if let Some(parts) = parts {
            let Parts { driver_raw, offset, car, interval, early_doubt, late_doubt } = parts;
            for span in [driver_raw, offset, car, interval, early_doubt, late_doubt] {
                to.signed(span.ns());
            }
        }
        to.block(seen.as_bytes());
        Ok(())
    }
}

impl RunUnpacker {
    /// The next run; `None` if there is none of this form.
    pub fn unpack(&mut self, from: &mut Unpacker) -> Option<TrialRecord> {
        let flags = from.byte();
        let is = |flag: u8| flags & flag != 0;
        let id = match is(flag::UUID) {
            true => Id::from(Uuid::from_bytes(from.array())),
            false => Id::from(text(from.block())?),
        };
        let second = u32::try_from(from.number()).ok()?;
        let nanosecond = u32::try_from(from.number()).ok()?;
        let zone = unpack_said(&mut self.zones, from, |told| Some(text(told)?.into()))?;
        let with = unpack_said(&mut self.with, from, |told| {
            let line: CircumstancesLine = serde_json::from_slice(told).ok()?;
            Some(Circumstances::from(line).into())
        })?;
        let common = unpack_said(&mut self.setups, from, |told| {
            let line: SetupLine = serde_json::from_slice(told).ok()?;
            Some(SetupFacts::from(line).common)
        })?;
        let seed = u64::from_le_bytes(from.array());
        let mut span = || Span::from_ns(from.signed());
        let pause = is(flag::PAUSE).then(|| Pause { planned: span(), waited: span() });
        let outcome = match from.byte().checked_sub(1) {
            Some(place) => *PLAIN.get(usize::from(place))?,
            None => serde_json::from_slice::<OutcomeLine>(from.block()).ok()?.0,
        };
        let mut span = || Span::from_ns(from.signed());
        let parts = is(flag::PARTS).then(|| Parts {
            driver_raw: span(),
            offset: span(),
            car: span(),
            interval: span(),
            early_doubt: span(),
            late_doubt: span(),
        });
        let seen = Seen::of_bytes(from.block());
        (!from.is_spent()).then(|| TrialRecord {
            id,
            began: Began::of_parts((second, nanosecond), zone),
            with,
            setup: SetupFacts { common, seed, pause },
            seen,
            amber_spacing_off: is(flag::AMBER_SPACING_OFF),
            outcome,
            parts,
            colour_in_doubt: is(flag::COLOUR_IN_DOUBT),
            hitch: is(flag::HITCH),
            lamp_corrected: is(flag::LAMP_CORRECTED),
        })
    }
}

impl<T> Default for Said<T> {
    fn default() -> Self {
        Self { by_place: HashMap::new(), by_text: HashMap::new() }
    }
}

impl<T: Clone> Said<T> {
    /// The number of a group, and where it is new, what it says.
    fn pack(
        &mut self,
        group: &Shared<T>,
        to: &mut Packer,
        write: impl FnOnce(T) -> serde_json::Result<String>,
    ) -> io::Result<()> {
        // The runs are held while they are packed, so no other group gets its place in memory.
        if let Some(number) = self.by_place.get(&group.place()) {
            to.number(*number);
            return Ok(());
        }
        let number = pack_text(&mut self.by_text, &write((**group).clone())?, to);
        self.by_place.insert(group.place(), number);
        Ok(())
    }
}

/// Packs the number of a text, which is also the answer; zero and the text itself where it is new.
fn pack_text(known: &mut HashMap<String, u64>, text: &str, to: &mut Packer) -> u64 {
    if let Some(number) = known.get(text) {
        to.number(*number);
        return *number;
    }
    let number = known.len() as u64 + 1;
    known.insert(text.to_owned(), number);
    to.number(0);
    to.block(text.as_bytes());
    number
}

/// What a number stands for, or of a new text, what `read` makes of it.
fn unpack_said<T: Clone>(
    known: &mut Vec<T>,
    from: &mut Unpacker,
    read: impl FnOnce(&[u8]) -> Option<T>,
) -> Option<T> {
    let number = usize::try_from(from.number()).ok()?;
    if let Some(place) = number.checked_sub(1) {
        return known.get(place).cloned();
    }
    let value = read(from.block())?;
    known.push(value.clone());
    Some(value)
}

fn text(bytes: &[u8]) -> Option<&str> {
    std::str::from_utf8(bytes).ok()
}

impl From<Circumstances> for CircumstancesLine {
    fn from(facts: Circumstances) -> Self {
        let Circumstances { program, driver, car, rig, offset, onset_grade } = facts;
        Self {
            program: program.into(),
            driver: driver.into(),
            car: car.into_inner().into(),
            rig: rig.into_inner().into(),
            offset: offset.into_inner().into(),
            onset_grade: onset_grade.into(),
        }
    }
}

impl From<CircumstancesLine> for Circumstances {
    fn from(line: CircumstancesLine) -> Self {
        Self {
            program: line.program.into(),
            driver: line.driver.into(),
            car: CarFacts::from(line.car).into(),
            rig: RigPrint::from(line.rig).into(),
            offset: OffsetInForce::from(line.offset).into(),
            onset_grade: line.onset_grade.into(),
        }
    }
}
