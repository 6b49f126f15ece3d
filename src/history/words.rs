//! The words of the record as they stand on disk, and numbers JSON has no sign for.
//!
//! Owns the kebab-case spelling of every enum a line can hold. Each is tied to the core type by
//! the compiler: a word added there does not build here until it has a spelling. Refuses meaning.

use serde::{Deserialize, Serialize};

use crate::press::Origin;
use crate::tree::{AbandonReason, Lamp, Lane, Outcome, VoidReason};
use crate::trial::{AimFrom, AimOf, Drill, Style};

#[derive(Serialize, Deserialize)]
#[serde(remote = "Style", rename_all = "kebab-case")]
pub(super) enum StyleWord {
    React,
    TimeIt,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "Drill", rename_all = "kebab-case")]
pub(super) enum DrillWord {
    RollUp,
    TreeOnly,
    ReactOrTime,
    GuessTest,
    OtherLaneFirst,
    HoldAnAim,
    TrackNight,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "AimOf", rename_all = "kebab-case")]
pub(super) enum AimOfWord {
    DriverPart,
    Light,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "AimFrom", rename_all = "kebab-case")]
pub(super) enum AimFromWord {
    Chosen,
    Advised,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "Lane", rename_all = "kebab-case")]
pub(super) enum LaneWord {
    Left,
    Right,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "Origin", rename_all = "kebab-case")]
pub(super) enum OriginWord {
    Kernel,
    Server,
    Pad,
    Frame,
}

/// `"stage"`, or `{"amber":0}` for the top amber.
#[derive(Serialize, Deserialize)]
#[serde(remote = "Lamp", rename_all = "kebab-case")]
pub(super) enum LampWord {
    PreStage,
    Stage,
    Amber(u8),
    Green,
    Red,
}

/// `"green"`, or `{"void":{"lamp-late":{"lamp":{"amber":2},"late_ns":21000000}}}`.
#[derive(Serialize, Deserialize)]
#[serde(remote = "Outcome", rename_all = "kebab-case")]
pub(super) enum OutcomeWord {
    Green,
    Red,
    LeftBeforeTree,
    TimedOut,
    Lapse,
    Stayed,
    Guessed { after_due_ns: i64 },
    Abandoned(#[serde(with = "AbandonWord")] AbandonReason),
    Void(#[serde(with = "VoidWord")] VoidReason),
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "AbandonReason", rename_all = "kebab-case")]
pub(super) enum AbandonWord {
    Paused,
    FocusLost,
    Closed,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "VoidReason", rename_all = "kebab-case")]
pub(super) enum VoidWord {
    NoOnset,
    LampLate {
        #[serde(with = "LampWord")]
        lamp: Lamp,
        late_ns: i64,
    },
    LampHidden {
        #[serde(with = "LampWord")]
        lamp: Lamp,
    },
    ControlLost,
}

/// A number as JSON writes it; what JSON has no sign for as the word `nan`, `inf` or `-inf`, so
/// that a run with a broken number in it is still stored whole.
#[derive(Serialize, Deserialize)]
#[serde(untagged)]
enum NumberOrWord {
    Number(f64),
    Word(String),
}

impl NumberOrWord {
    fn of(value: f64) -> Self {
        if value.is_finite() {
            Self::Number(value)
        } else if value.is_nan() {
            Self::Word("nan".to_owned())
        } else {
            Self::Word(if value > 0.0 { "inf" } else { "-inf" }.to_owned())
        }
    }

    fn value(self) -> Result<f64, String> {
        match self {
            Self::Number(value) => Ok(value),
            Self::Word(word) => match word.as_str() {
                "nan" => Ok(f64::NAN),
                "inf" => Ok(f64::INFINITY),
                "-inf" => Ok(f64::NEG_INFINITY),
                _ => Err(format!("{word:?} is not a number")),
            },
        }
    }
}

/// For `#[serde(with = "number")]`: a number that comes back exactly, whatever it is.
pub(super) mod number {
    use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

    use super::NumberOrWord;

    pub(in crate::history) fn serialize<S: Serializer>(
        value: &f64,
        to: S,
    ) -> Result<S::Ok, S::Error> {
        NumberOrWord::of(*value).serialize(to)
    }

    pub(in crate::history) fn deserialize<'de, D: Deserializer<'de>>(
        from: D,
    ) -> Result<f64, D::Error> {
        NumberOrWord::deserialize(from)?.value().map_err(D::Error::custom)
    }
}

/// The same for a number that may be missing.
pub(super) mod maybe_number {
    use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

    use super::NumberOrWord;

    pub(in crate::history) fn serialize<S: Serializer>(
        value: &Option<f64>,
        to: S,
    ) -> Result<S::Ok, S::Error> {
        value.map(NumberOrWord::of).serialize(to)
    }

    pub(in crate::history) fn deserialize<'de, D: Deserializer<'de>>(
        from: D,
    ) -> Result<Option<f64>, D::Error> {
        Option::<NumberOrWord>::deserialize(from)?
            .map(NumberOrWord::value)
            .transpose()
            .map_err(D::Error::custom)
    }
}

/// The same for a list of them.
pub(super) mod numbers {
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    use super::NumberOrWord;

    pub(in crate::history) fn serialize<S: Serializer>(
        values: &[f64],
        to: S,
    ) -> Result<S::Ok, S::Error> {
        to.collect_seq(values.iter().copied().map(NumberOrWord::of))
    }

    pub(in crate::history) fn deserialize<'de, D: Deserializer<'de>>(
        from: D,
    ) -> Result<Vec<f64>, D::Error> {
        let words = Vec::<NumberOrWord>::deserialize(from)?;
        words.into_iter().map(|word| word.value().map_err(D::Error::custom)).collect()
    }
}
