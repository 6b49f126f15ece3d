//! The words of the record as they stand on disk, and numbers JSON has no sign for.
//!
//! Owns the kebab-case spelling of every enum a line can hold. Each is tied to the core type by
//! the compiler: a word added there does not build here until it has a spelling. Refuses meaning.

use serde::de::{Error, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

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
struct NumberOrWord(f64);

impl Serialize for NumberOrWord {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        match self.0 {
            value if value.is_finite() => to.serialize_f64(value),
            value if value.is_nan() => to.serialize_str("nan"),
            value => to.serialize_str(if value > 0.0 { "inf" } else { "-inf" }),
        }
    }
}

impl<'de> Deserialize<'de> for NumberOrWord {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_any(NumberVisitor).map(Self)
    }
}

struct NumberVisitor;

impl Visitor<'_> for NumberVisitor {
    type Value = f64;

    fn expecting(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("a number, or `nan`, `inf`, `-inf`")
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<f64, E> {
        Ok(value)
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<f64, E> {
        Ok(value as f64)
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<f64, E> {
        Ok(value as f64)
    }

    fn visit_str<E: Error>(self, word: &str) -> Result<f64, E> {
        match word {
            "nan" => Ok(f64::NAN),
            "inf" => Ok(f64::INFINITY),
            "-inf" => Ok(f64::NEG_INFINITY),
            _ => Err(E::custom(format!("{word:?} is not a number"))),
        }
    }
}

/// For `#[serde(with = "number")]`: a number that comes back exactly, whatever it is.
pub(super) mod number {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use super::NumberOrWord;

    pub(in crate::history) fn serialize<S: Serializer>(
        value: &f64,
        to: S,
    ) -> Result<S::Ok, S::Error> {
        NumberOrWord(*value).serialize(to)
    }

    pub(in crate::history) fn deserialize<'de, D: Deserializer<'de>>(
        from: D,
    ) -> Result<f64, D::Error> {
        NumberOrWord::deserialize(from).map(|number| number.0)
    }
}

/// The same for a number that may be missing.
pub(super) mod maybe_number {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use super::NumberOrWord;

    pub(in crate::history) fn serialize<S: Serializer>(
        value: &Option<f64>,
        to: S,
    ) -> Result<S::Ok, S::Error> {
        value.map(NumberOrWord).serialize(to)
    }

    pub(in crate::history) fn deserialize<'de, D: Deserializer<'de>>(
        from: D,
    ) -> Result<Option<f64>, D::Error> {
        Ok(Option::<NumberOrWord>::deserialize(from)?.map(|number| number.0))
    }
}

/// The same for a list of them.
pub(super) mod numbers {
    use serde::{Deserialize, Deserializer, Serializer};

    use super::NumberOrWord;

    pub(in crate::history) fn serialize<S: Serializer>(
        values: &[f64],
        to: S,
    ) -> Result<S::Ok, S::Error> {
        to.collect_seq(values.iter().copied().map(NumberOrWord))
    }

    pub(in crate::history) fn deserialize<'de, D: Deserializer<'de>>(
        from: D,
    ) -> Result<Vec<f64>, D::Error> {
        let words = Vec::<NumberOrWord>::deserialize(from)?;
        Ok(words.into_iter().map(|number| number.0).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_read_whether_it_is_written_whole_or_not_and_the_three_words() {
        for (text, value) in
            [("-3", -3.0), ("3", 3.0), ("-2.5", -2.5), ("\"-inf\"", f64::NEG_INFINITY)]
        {
            let NumberOrWord(read) = serde_json::from_str(text).unwrap();
            assert_eq!(read, value, "{text}");
        }
        let NumberOrWord(read) = serde_json::from_str("\"nan\"").unwrap();
        assert!(read.is_nan());
        assert!(serde_json::from_str::<NumberOrWord>("\"7\"").is_err());
        let wrong =
            serde_json::from_str::<NumberOrWord>("true").map(|number| number.0).unwrap_err();
        assert!(wrong.to_string().contains("expected a number, or `nan`"), "{wrong}");
    }
}
