//! Columns of a CSV file.
//!
//! Owns finding and reading them, and saying which row is wrong. Refuses units.

use super::{RiskArgs, RiskError};
use std::collections::HashMap;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// What was read.
pub(super) struct Columns {
    pub values: Vec<f64>,
    /// A number for each day, in order of appearance.
    pub days: Option<Vec<u32>>,
}

/// Reads the column of times and, if asked for, the column of days.
pub(super) fn read(args: &RiskArgs, stdin: &mut dyn Read) -> Result<Columns, RiskError> {
    if args.file == Path::new("-") {
        return parse(args, "standard input", stdin);
    }
    let name = args.file.display().to_string();
    match File::open(&args.file) {
        Ok(mut file) => parse(args, &name, &mut file),
        Err(error) => Err(RiskError::Unreadable { file: name, error }),
    }
}

fn parse(args: &RiskArgs, file: &str, input: &mut dyn Read) -> Result<Columns, RiskError> {
    let malformed = |what: String| RiskError::Malformed { file: file.to_owned(), what };
    let csv_error = |error: csv::Error| match error.into_kind() {
        csv::ErrorKind::Io(error) => RiskError::Unreadable { file: file.to_owned(), error },
        csv::ErrorKind::UnequalLengths { pos, expected_len, len } => {
            let line = pos.map_or(0, |p| p.line());
            malformed(format!("line {line} has {len} cells, the header {expected_len}"))
        }
        other => malformed(format!("not a CSV file: {other:?}")),
    };
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(input);
    let headers = reader.headers().map_err(csv_error)?.clone();
    let place = |name: &str| {
        let names: Vec<&str> = headers.iter().map(|h| h.trim_start_matches('\u{feff}')).collect();
        let found = names.iter().position(|n| *n == name);
        found.ok_or_else(|| {
            malformed(format!("no column `{name}`; there are: {}", shown(&names.join(", "))))
        })
    };
    let column = place(&args.column)?;
    let day = args.day.as_deref().map(place).transpose()?;
    let (mut values, mut days) = (Vec::new(), Vec::new());
    let mut known: HashMap<Vec<u8>, u32> = HashMap::new();
    let mut record = csv::ByteRecord::new();
    while reader.read_byte_record(&mut record).map_err(csv_error)? {
        let line = || record.position().map_or(0, csv::Position::line);
        let cell = record.get(column).unwrap_or_default();
        let value = std::str::from_utf8(cell).ok().and_then(|text| text.parse::<f64>().ok());
        match value {
            Some(value) if value.is_finite() => values.push(value),
            _ => {
                let text = String::from_utf8_lossy(cell);
                let text = shown(&text);
                return Err(malformed(format!(
                    "line {}, column `{}`: `{text}` is not a finite number; mend or remove the row",
                    line(),
                    args.column
                )));
            }
        }
        if let Some(day) = day {
            let cell = record.get(day).unwrap_or_default();
            let next = known.len() as u32;
            days.push(match known.get(cell) {
                Some(id) => *id,
                None => *known.entry(cell.to_vec()).or_insert(next),
            });
        }
    }
    if values.is_empty() {
        return Err(malformed(format!("column `{}` has no values below its header", args.column)));
    }
    Ok(Columns { values, days: day.map(|_| days) })
}

/// Text short enough for one line.
fn shown(text: &str) -> String {
    let clean = text.replace(|c: char| c.is_control(), " ");
    let mut chars = clean.chars();
    let start: String = chars.by_ref().take(60).collect();
    if chars.next().is_some() { start + "…" } else { start }
}
