//! A time slip as it stands on disk.
//!
//! Owns the shape of the `slip` line, version 1, and which slips are in force: a correction is a new
//! line that names the one it replaces. Refuses opinions about a slip, and a line of which a cell
//! cannot be read: half a slip is none.

use std::collections::HashMap;

use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::{Map, Value};

use crate::slips::{Cell, Shape, Slip};

/// A slip with its place in the history.
///
/// On disk the slip is an object of what it says, each under the name of its [`Cell`], the unit last
/// (`{"date":"2026-05-01","rt_s":0.045,"60_s":1.963,"red":true}`): numbers as printed on the slip.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SlipLine {
    /// Unique for all machines and times, ordered by time.
    pub id: String,
    /// Wall time of saving, ISO 8601 with zone.
    pub saved_at: String,
    /// Id of the line it replaces.
    #[serde(default)]
    pub corrects: Option<String>,
    /// The line it replaces was no slip at all: nothing stands in its place.
    #[serde(default)]
    pub withdrawn: bool,
    /// What the slip says.
    #[serde(serialize_with = "write_slip", deserialize_with = "read_slip")]
    pub slip: Slip,
}

/// The slips in force, in the order they were first saved: every correction in place of what it
/// corrects, the withdrawn ones left out. A correction of a line that is not there stands for itself.
pub fn slips_in_force(lines: &[SlipLine]) -> Vec<&SlipLine> {
    // The place of every id, those of corrections included.
    let mut places: HashMap<&str, usize> = HashMap::new();
    let mut in_force: Vec<&SlipLine> = Vec::new();
    for line in lines {
        let corrected = line.corrects.as_deref().and_then(|id| places.get(id)).copied();
        let place = corrected.unwrap_or(in_force.len());
        match in_force.get_mut(place) {
            Some(before) => *before = line,
            None => in_force.push(line),
        }
        places.insert(&line.id, place);
    }
    in_force.retain(|line| !line.withdrawn);
    in_force
}

/// What a slip says, each under the name of its cell; what it does not say is left out.
pub fn slip_object(slip: &Slip) -> Map<String, Value> {
    let said = |cell: Cell| {
        let text = cell.get(slip);
        let value = match cell.shape() {
            _ if text.is_empty() => return None,
            Shape::Number => text.parse().map(|number: f64| Value::from(number)).ok()?,
            Shape::YesNo => Value::from(text == "yes"),
            Shape::Words => Value::from(text),
        };
        Some((cell.name(), value))
    };
    Cell::all().filter_map(said).collect()
}

fn write_slip<S: Serializer>(slip: &Slip, to: S) -> Result<S::Ok, S::Error> {
    slip_object(slip).serialize(to)
}

fn read_slip<'de, D: Deserializer<'de>>(from: D) -> Result<Slip, D::Error> {
    let object = Map::deserialize(from)?;
    let text = |value: &Value| match value {
        Value::String(text) => Some(text.clone()),
        Value::Bool(yes) => Some(if *yes { "yes" } else { "no" }.to_owned()),
        // Without an exponent, as slips are written.
        Value::Number(number) => number.as_f64().map(|number| number.to_string()),
        Value::Null | Value::Array(_) | Value::Object(_) => None,
    };
    // A cell of a later version is left out.
    let cells =
        object.iter().filter_map(|(name, value)| Some((Cell::of_title(name)?, text(value)?)));
    let cells: Vec<(Cell, String)> = cells.collect();
    let cells = cells.iter().map(|(cell, text)| (*cell, text.as_str()));
    Slip::of_cells(&Slip::default(), cells).map_err(D::Error::custom)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(id: &str, corrects: Option<&str>, withdrawn: bool) -> SlipLine {
        SlipLine {
            id: id.to_owned(),
            saved_at: String::new(),
            corrects: corrects.map(str::to_owned),
            withdrawn,
            slip: Slip::default(),
        }
    }

    fn in_force(lines: &[SlipLine]) -> Vec<&str> {
        slips_in_force(lines).into_iter().map(|line| line.id.as_str()).collect()
    }

    #[test]
    fn a_correction_stands_in_the_place_of_what_it_corrects() {
        let lines = [
            line("a", None, false),
            line("b", None, false),
            line("c", Some("a"), false),
            // A correction of a correction.
            line("d", Some("c"), false),
            line("e", Some("b"), true),
            line("f", Some("gone"), false),
        ];
        assert_eq!(in_force(&lines[..2]), ["a", "b"]);
        assert_eq!(in_force(&lines[..3]), ["c", "b"]);
        assert_eq!(in_force(&lines), ["d", "f"]);
    }

    #[test]
    fn a_slip_reads_on_disk_as_it_was_printed() {
        let own = crate::slips::read_column("-.0123 1.963 - - - - 13.464 105.04").unwrap();
        let slip = Slip { own, ..Slip::default() };
        let text = serde_json::to_string(&SlipLine { slip, ..line("a", None, false) }).unwrap();
        for part in ["\"rt_s\":-0.0123", "\"60_s\":1.963", "\"1320_mph\":105.04"] {
            assert!(text.contains(part), "{text}");
        }
        let back: SlipLine = serde_json::from_str(&text).unwrap();
        assert_eq!(back.slip.own.rt.unwrap().to_string(), "-.0123");
    }

    #[test]
    fn a_cell_that_cannot_be_read_is_no_slip_and_an_unknown_one_is_left_out() {
        let read = |slip: &str| {
            let text = format!("{{\"id\":\"a\",\"saved_at\":\"\",\"slip\":{slip}}}");
            serde_json::from_str::<SlipLine>(&text).map_err(|e| e.to_string())
        };
        assert!(read("{\"rt_s\":\"soon\"}").unwrap_err().contains("rt_s: `soon`"));
        assert!(read("{\"rt_s\":0.1,\"moon\":\"full\"}").is_ok());
    }
}
