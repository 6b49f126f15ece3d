//! One line of the history: its kind, its version, its value.
//!
//! Owns the choice of how a value is read by `kind` and `v`. Refuses lines without an id and lines
//! longer than a reader accepts: better said at once than found out when reading.

use serde::{Deserialize, Serialize};

use super::car_line::CarLine;
use super::envelope::{self, MAX_LINE_BYTES};
use super::error::HistoryError;
use super::exclusion_line::ExclusionLine;
use super::film_line::FilmLine;
use super::forecast_line::ForecastLine;
use super::rig_line::RigLine;
use super::slip_line::SlipLine;
use super::trial_line::TrialLine;
use crate::trial::TrialRecord;

pub(super) const TRIAL: &str = "trial";
pub(super) const TRIAL_VERSION: u64 = 1;
pub(super) const CAR: &str = "car";
const CAR_VERSION: u64 = 1;
pub(super) const RIG: &str = "rig";
const RIG_VERSION: u64 = 1;
pub(super) const FILM: &str = "film";
const FILM_VERSION: u64 = 1;
pub(super) const FORECAST: &str = "forecast";
const FORECAST_VERSION: u64 = 1;
pub(super) const SLIP: &str = "slip";
const SLIP_VERSION: u64 = 1;
const EXCLUSION: &str = "exclusion";
const EXCLUSION_VERSION: u64 = 1;

/// Every kind there is, and its newest version.
pub(super) const KINDS: [(&str, u64); 7] = [
    (TRIAL, TRIAL_VERSION),
    (CAR, CAR_VERSION),
    (RIG, RIG_VERSION),
    (FILM, FILM_VERSION),
    (FORECAST, FORECAST_VERSION),
    (SLIP, SLIP_VERSION),
    (EXCLUSION, EXCLUSION_VERSION),
];

/// Anything the history keeps.
#[derive(Debug, Clone, PartialEq)]
pub enum Line {
    /// A finished run.
    Trial(Box<TrialLine>),
    /// Answers about a car.
    Car(Box<CarLine>),
    /// A self test of the rig.
    Rig(Box<RigLine>),
    /// A constant delay measured by film.
    Film(Box<FilmLine>),
    /// A forecast of launches to come.
    Forecast(Box<ForecastLine>),
    /// A time slip.
    Slip(Box<SlipLine>),
    /// A run left out, or taken in again.
    Exclusion(Box<ExclusionLine>),
}

/// A line ready to be written: its exact bytes, newline included.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SealedLine {
    id: String,
    bytes: Vec<u8>,
}

/// A value that was read by its kind and version.
#[derive(Debug)]
pub(super) enum Decoded {
    Line(Line),
    Newer { kind: String, version: u64 },
}

/// What every value begins with.
#[derive(Deserialize)]
struct Head {
    kind: String,
    v: u64,
}

#[derive(Serialize)]
struct Tagged<'a, T> {
    kind: &'static str,
    v: u64,
    #[serde(flatten)]
    body: &'a T,
}

impl From<TrialRecord> for Line {
    fn from(record: TrialRecord) -> Self {
        Self::Trial(Box::new(record.into()))
    }
}

impl From<TrialLine> for Line {
    fn from(line: TrialLine) -> Self {
        Self::Trial(Box::new(line))
    }
}

impl From<CarLine> for Line {
    fn from(line: CarLine) -> Self {
        Self::Car(Box::new(line))
    }
}

impl From<RigLine> for Line {
    fn from(line: RigLine) -> Self {
        Self::Rig(Box::new(line))
    }
}

impl From<FilmLine> for Line {
    fn from(line: FilmLine) -> Self {
        Self::Film(Box::new(line))
    }
}

impl From<ForecastLine> for Line {
    fn from(line: ForecastLine) -> Self {
        Self::Forecast(Box::new(line))
    }
}

impl From<SlipLine> for Line {
    fn from(line: SlipLine) -> Self {
        Self::Slip(Box::new(line))
    }
}

impl From<ExclusionLine> for Line {
    fn from(line: ExclusionLine) -> Self {
        Self::Exclusion(Box::new(line))
    }
}

impl Line {
    /// The id of the line.
    pub fn id(&self) -> &str {
        match self {
            Self::Trial(line) => &line.id,
            Self::Car(line) => &line.id,
            Self::Rig(line) => &line.id,
            Self::Film(line) => &line.id,
            Self::Forecast(line) => &line.id,
            Self::Slip(line) => &line.id,
            Self::Exclusion(line) => &line.id,
        }
    }

    /// The word for its kind.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Trial(_) => TRIAL,
            Self::Car(_) => CAR,
            Self::Rig(_) => RIG,
            Self::Film(_) => FILM,
            Self::Forecast(_) => FORECAST,
            Self::Slip(_) => SLIP,
            Self::Exclusion(_) => EXCLUSION,
        }
    }

    /// The value as one line of JSON with `kind` and `v`, without the checksum around it.
    ///
    /// # Errors
    /// [`HistoryError::Encode`] if the value has no JSON form; no line of this version is such.
    pub fn to_json(&self) -> Result<String, HistoryError> {
        match self {
            Self::Trial(line) => self.tagged(TRIAL_VERSION, line.as_ref()),
            Self::Car(line) => self.tagged(CAR_VERSION, line.as_ref()),
            Self::Rig(line) => self.tagged(RIG_VERSION, line.as_ref()),
            Self::Film(line) => self.tagged(FILM_VERSION, line.as_ref()),
            Self::Forecast(line) => self.tagged(FORECAST_VERSION, line.as_ref()),
            Self::Slip(line) => self.tagged(SLIP_VERSION, line.as_ref()),
            Self::Exclusion(line) => self.tagged(EXCLUSION_VERSION, line.as_ref()),
        }
    }

    fn tagged<T: Serialize>(&self, v: u64, body: &T) -> Result<String, HistoryError> {
        let value = serde_json::to_string(&Tagged { kind: self.kind(), v, body });
        value.map_err(|source| HistoryError::Encode { id: self.id().to_owned(), source })
    }

    /// The line as it goes to disk.
    ///
    /// # Errors
    /// [`HistoryError::NoId`], [`HistoryError::TooLong`], [`HistoryError::Encode`]: nothing that
    /// trying again would cure.
    pub fn seal(&self) -> Result<SealedLine, HistoryError> {
        if self.id().is_empty() {
            return Err(HistoryError::NoId);
        }
        let bytes = envelope::seal(&self.to_json()?);
        if bytes.len() > MAX_LINE_BYTES {
            return Err(HistoryError::TooLong { id: self.id().to_owned(), bytes: bytes.len() });
        }
        Ok(SealedLine { id: self.id().to_owned(), bytes })
    }
}

impl SealedLine {
    /// The id of the line.
    pub fn id(&self) -> &str {
        &self.id
    }

    /// The exact bytes, newline included.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// The same, taken out.
    pub fn into_bytes(self) -> Vec<u8> {
        self.bytes
    }
}

/// Reads a value whose checksum fits; the error says in words why it is no line of ours.
pub(super) fn decode(value: &str) -> Result<Decoded, String> {
    let head: Head = serde_json::from_str(value).map_err(|error| error.to_string())?;
    let newest = KINDS.iter().find(|(kind, _)| *kind == head.kind);
    if newest.is_none_or(|(_, newest)| head.v > *newest) {
        return Ok(Decoded::Newer { kind: head.kind, version: head.v });
    }
    if head.v == 0 {
        return Err(format!("there never was a version 0 of {}", head.kind));
    }
    let line = match head.kind.as_str() {
        TRIAL => serde_json::from_str(value).map(Line::Trial),
        CAR => serde_json::from_str(value).map(Line::Car),
        RIG => serde_json::from_str(value).map(Line::Rig),
        FILM => serde_json::from_str(value).map(Line::Film),
        SLIP => serde_json::from_str(value).map(Line::Slip),
        EXCLUSION => serde_json::from_str(value).map(Line::Exclusion),
        _ => serde_json::from_str(value).map(Line::Forecast),
    };
    let line =
        line.map_err(|error| format!("not a {} of version {}: {error}", head.kind, head.v))?;
    if line.id().is_empty() { Err("it has no id".to_owned()) } else { Ok(Decoded::Line(line)) }
}
