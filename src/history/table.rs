//! The CSV export: a row for every line, for spreadsheets.
//!
//! Owns the columns, units in their heads. RFC 4180: commas, quotes doubled, CR LF. The last column is
//! the whole line, and the only one an import reads; so nothing is lost. Refuses to let a name be a
//! formula: a cell that a spreadsheet would compute begins with an apostrophe.

use super::error::HistoryError;
use super::line::Line;
use super::trial_line::TrialLine;
use super::whole_line::WholeLine;
use crate::progress::Progress;
use crate::trial::{AimOf, TrialRecord};
use std::io::Write;

/// Heads of the columns.
const HEADS: [&str; 24] = [
    "kind",
    "id",
    "time (ISO 8601 with zone)",
    "demo",
    "driver",
    "car",
    "tree",
    "style",
    "drill",
    "outcome",
    "driver part as recorded (ms)",
    "delay in force (ms)",
    "car part (ms)",
    "interval (ms)",
    "light (s)",
    "depth (in)",
    "scripted",
    "reason",
    "aim: driver part (ms)",
    "aim: light (s)",
    "aim from",
    "pause planned (s)",
    "pause made (s)",
    LINE_HEAD,
];
/// The column an import reads.
const LINE_HEAD: &str = "line (JSON)";
const DEMO: usize = 3;

/// Writes all lines as a table.
pub(super) fn write_rows(
    lines: &[WholeLine],
    demo: bool,
    out: impl Write,
    progress: &Progress,
) -> Result<(), HistoryError> {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
    let failed = |error: csv::Error| HistoryError::Write { path: None, source: error.into() };
    writer.write_record(HEADS).map_err(failed)?;
    for line in lines {
        progress.advance(1)?;
        let mut cells = cells_of(line);
        cells[DEMO] = if demo { "yes" } else { "no" }.to_owned();
        writer.write_record(&cells).map_err(failed)?;
    }
    writer.flush().map_err(|source| HistoryError::Write { path: None, source })
}

fn cells_of(line: &WholeLine) -> Vec<String> {
    let mut cells = vec![String::new(); HEADS.len()];
    cells[0] = tame(line.kind());
    cells[1] = tame(&line.id());
    match line.understood() {
        Some(Line::Trial(trial)) => trial_cells(*trial, &mut cells),
        Some(Line::Car(car)) => (cells[2], cells[5]) = (tame(&car.saved_at), tame(&car.name)),
        Some(Line::Rig(rig)) => cells[2] = tame(&rig.saved_at),
        Some(Line::Film(film)) => cells[2] = tame(&film.saved_at),
        Some(Line::Forecast(forecast)) => {
            cells[2] = tame(&forecast.saved_at);
            cells[5] = tame(&forecast.car);
        }
        Some(Line::Slip(slip)) => {
            cells[2] = tame(&slip.saved_at);
            cells[4] = tame(&slip.slip.driver);
            cells[5] = tame(&slip.slip.car);
            cells[14] = slip.slip.rt().map(|rt| rt.to_string()).unwrap_or_default();
        }
        Some(Line::Exclusion(exclusion)) => {
            cells[2] = tame(&exclusion.saved_at);
            cells[17] = tame(&exclusion.reason);
        }
        None => {}
    }
    cells[HEADS.len() - 1] = line.json().into_owned();
    cells
}

fn trial_cells(trial: TrialLine, cells: &mut [String]) {
    // As the words stand on disk.
    let told = serde_json::to_value(&trial).unwrap_or_default();
    let word = |value: &serde_json::Value| match value {
        serde_json::Value::String(word) => word.clone(),
        serde_json::Value::Object(object) => object.keys().next().cloned().unwrap_or_default(),
        _ => String::new(),
    };
    cells[7] = word(&told["setup"]["style"]);
    cells[8] = word(&told["setup"]["drill"]);
    cells[9] = word(&told["outcome"]);
    let run = TrialRecord::from(trial);
    cells[2] = tame(&run.began.to_string());
    cells[4] = tame(&run.driver);
    cells[5] = tame(&run.car.name);
    cells[6] = tame(&run.setup.tree);
    cells[16] = if run.setup.scripted { "yes" } else { "no" }.to_owned();
    if let Some(parts) = run.parts {
        let ms = |span: crate::units::Span| format!("{:.3}", span.as_ms_f64());
        cells[10] = ms(parts.driver_raw);
        cells[11] = ms(parts.offset);
        cells[12] = ms(parts.car);
        cells[13] = ms(parts.interval);
        let thousandths = parts.rt().floor_thousandths();
        cells[14] = format!("{:.3}", thousandths as f64 / 1000.0);
    }
    if let Some(aim) = run.setup.aim {
        match aim.of {
            AimOf::DriverPart => cells[18] = format!("{:.3}", aim.at.as_ms_f64()),
            AimOf::Light => cells[19] = format!("{:.4}", aim.at.as_secs_f64()),
        }
        cells[20] = word(&told["setup"]["aim"]["from"]);
    }
    if let Some(pause) = run.setup.pause {
        cells[21] = format!("{:.1}", pause.planned.as_secs_f64());
        cells[22] = format!("{:.1}", pause.waited.as_secs_f64());
    }
    if let Some(launch) = run.seen.launch() {
        cells[15] = format!("{:.2}", launch.depth.0);
    }
}

/// Text that no spreadsheet computes.
fn tame(text: &str) -> String {
    match text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        true => format!("'{text}"),
        false => text.to_owned(),
    }
}

/// A row of a table that is taken back.
pub(super) struct Row<'a> {
    /// Line of the file it begins on, from 1.
    pub line: u64,
    /// Byte of the file it begins at.
    pub byte: u64,
    /// The line of the history in it.
    pub json: &'a str,
}

/// Hands out every row of a table and says whether it is of a demo.
pub(super) fn each_row(
    text: &str,
    take: &mut dyn FnMut(Row) -> Result<(), HistoryError>,
) -> Result<bool, HistoryError> {
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(text.as_bytes());
    let fault =
        |line: u64, why: String| HistoryError::Import { place: format!("line {line}"), why };
    let heads = reader.headers().map_err(|e| fault(1, e.to_string()))?.clone();
    let Some(column) = heads.iter().position(|head| head == LINE_HEAD) else {
        let why = format!(
            "no column `{LINE_HEAD}`: only a table this program exported can be taken back"
        );
        return Err(fault(1, why));
    };
    let demo_column = heads.iter().position(|head| head == HEADS[DEMO]);
    let (mut record, mut demo) = (csv::StringRecord::new(), false);
    loop {
        let more = reader.read_record(&mut record);
        let place = |at: Option<&csv::Position>| at.map_or((0, 0), |at| (at.line(), at.byte()));
        if !more.map_err(|e| fault(place(e.position()).0, e.to_string()))? {
            return Ok(demo);
        }
        let (line, byte) = place(record.position());
        let Some(json) = record.get(column) else {
            return Err(fault(line, format!("cut short: it has no `{LINE_HEAD}`")));
        };
        match demo_column.and_then(|i| record.get(i)) {
            Some("yes") => demo = true,
            Some("no") | None => {}
            Some(_) => {
                let why = format!("column `{}` says neither yes nor no", HEADS[DEMO]);
                return Err(fault(line, why));
            }
        }
        take(Row { line, byte, json })?;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::demo_lines;
    use crate::tree::{Lamp, Outcome, Parts, VoidReason};
    use crate::trial::{Aim, AimFrom, Drill, Pause, Style};
    use crate::units::Span;

    /// The row of a line, by the heads of its cells; empty ones are left out.
    fn row_of(line: Line) -> Vec<(&'static str, String)> {
        let mut out = Vec::new();
        let whole = WholeLine::of_line(&line, &line.to_json().unwrap());
        write_rows(&[whole], true, &mut out, &Progress::default()).unwrap();
        let mut rows = csv::ReaderBuilder::new().has_headers(false).from_reader(&out[..]);
        let row = rows.records().nth(1).unwrap().unwrap();
        let cells = HEADS.into_iter().zip(row.iter().map(str::to_owned));
        cells.filter(|(head, cell)| !cell.is_empty() && *head != LINE_HEAD).collect()
    }

    #[test]
    fn a_run_fills_its_cells() {
        let demo = demo_lines(3).unwrap();
        let run = demo.into_iter().find_map(|line| match line {
            Line::Trial(line) if line.parts.is_some() => Some(TrialRecord::from(*line)),
            _ => None,
        });
        let mut run = run.unwrap();
        let ms = Span::from_ms_f64;
        run.id = "0198-x".into();
        run.began = "2026-05-01T10:00:00+02:00[Europe/Oslo]".into();
        run.driver = "=cmd".into();
        run.car.name = "Coupe".into();
        run.setup.tree = "full".into();
        run.setup.style = Style::TimeIt;
        run.setup.drill = Drill::HoldAnAim;
        run.setup.scripted = true;
        run.setup.aim = Some(Aim { of: AimOf::Light, at: ms(20.0), from: AimFrom::Chosen });
        run.setup.pause = Some(Pause { planned: ms(200_000.0), waited: ms(201_300.0) });
        run.outcome = Outcome::Void(VoidReason::LampHidden { lamp: Lamp::Green });
        run.parts = Some(Parts {
            driver_raw: ms(500.25),
            offset: ms(35.0),
            car: ms(280.5),
            interval: ms(500.0),
            early_doubt: ms(0.5),
            late_doubt: ms(0.5),
        });
        let depth = run.seen.launch().unwrap().depth;
        let row = row_of(run.clone().into());
        let expected = [
            ("kind", "trial"),
            ("id", "0198-x"),
            ("time (ISO 8601 with zone)", "2026-05-01T10:00:00+02:00[Europe/Oslo]"),
            ("demo", "yes"),
            ("driver", "'=cmd"),
            ("car", "Coupe"),
            ("tree", "full"),
            ("style", "time-it"),
            ("drill", "hold-an-aim"),
            ("outcome", "void"),
            ("driver part as recorded (ms)", "500.250"),
            ("delay in force (ms)", "35.000"),
            ("car part (ms)", "280.500"),
            ("interval (ms)", "500.000"),
            // 500.25 - 35 + 280.5 - 500, thousandths that are full.
            ("light (s)", "0.245"),
            ("depth (in)", &format!("{:.2}", depth.0)),
            ("scripted", "yes"),
            ("aim: light (s)", "0.0200"),
            ("aim from", "chosen"),
            ("pause planned (s)", "200.0"),
            ("pause made (s)", "201.3"),
        ];
        let row: Vec<_> = row.iter().map(|(head, cell)| (*head, cell.as_str())).collect();
        assert_eq!(row, expected);
        run.outcome = Outcome::Lapse;
        run.setup.aim = Some(Aim { of: AimOf::DriverPart, at: ms(245.5), from: AimFrom::Advised });
        let row = row_of(run.into());
        let cell = |head: &str| row.iter().find(|(h, _)| *h == head).map(|(_, cell)| cell.as_str());
        assert_eq!((cell("outcome"), cell("aim from")), (Some("lapse"), Some("advised")));
        assert_eq!(
            (cell("aim: driver part (ms)"), cell("aim: light (s)")),
            (Some("245.500"), None)
        );
    }

    #[test]
    fn no_name_becomes_a_formula() {
        assert_eq!(tame("=1+1"), "'=1+1");
        assert_eq!(tame("@x"), "'@x");
        assert_eq!(tame("Coupe - red"), "Coupe - red");
    }
}
