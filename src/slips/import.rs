//! Tables of slips: fifteen seasons in, line by line, and out again.
//!
//! Owns cutting a table into slips and the report on every line. Refuses to guess: a line whose cell
//! does not belong there is refused with its cell, and all others are taken. Nothing accepted is
//! lost: every line of the table is in the report, and an accepted one carries its slip.

use super::cells::{Cell, InLane};
use super::{Question, Slip, SlipsError, check, error::shown};

/// What a table held.
#[derive(Debug, Clone, PartialEq)]
pub struct ImportReport {
    /// The titles and what each was taken for; `None` was left aside.
    pub columns: Vec<(String, Option<Cell>)>,
    /// Every line below the header that is not blank.
    pub lines: Vec<ImportLine>,
    /// The bytes were not UTF-8 and were read as Latin-1.
    pub read_as_latin1: bool,
}

/// One line of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct ImportLine {
    /// Its line in the file, from 1.
    pub line: u64,
    /// What became of it.
    pub outcome: ImportOutcome,
}

/// What became of a line.
#[derive(Debug, Clone, PartialEq)]
pub enum ImportOutcome {
    /// Taken; questions do not stand in its way.
    Accepted {
        /// The slip.
        slip: Box<Slip>,
        /// What does not go together on it.
        questions: Vec<Question>,
    },
    /// Not taken.
    Refused(SlipsError),
}

impl ImportReport {
    /// The slips taken, in order.
    pub fn accepted(&self) -> impl Iterator<Item = &Slip> {
        self.lines.iter().filter_map(|line| match &line.outcome {
            ImportOutcome::Accepted { slip, .. } => Some(slip.as_ref()),
            ImportOutcome::Refused(_) => None,
        })
    }
}

/// A longer table is none of a person's slips, and must not fill the memory. Chosen: thirty lifetimes.
const MOST_LINES: usize = 100_000;
/// Chosen: a slip has about fifty facts.
const MOST_COLUMNS: usize = 1000;

/// Reads a table of slips: a header line that names the columns, then a slip a line. Cells are
/// separated by commas, semicolons or tabs, whichever the header has most of. `usual` fills what a
/// line leaves open (driver, car, track, length, scale, …).
///
/// # Errors
/// [`SlipsError::Empty`], [`SlipsError::NoColumn`], [`SlipsError::TwoColumns`] or
/// [`SlipsError::Table`] when the table as a whole cannot be read. What is wrong with one line is in
/// the report.
pub fn read_table(bytes: &[u8], usual: &Slip) -> Result<ImportReport, SlipsError> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    if bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff") {
        let why = "this is UTF-16; save it as UTF-8 or plain CSV".to_owned();
        return Err(SlipsError::Table { line: 1, why });
    }
    let (text, read_as_latin1) = match std::str::from_utf8(bytes) {
        Ok(text) => (text.to_owned(), false),
        Err(_) => (bytes.iter().map(|byte| char::from(*byte)).collect(), true),
    };
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter(&text))
        .from_reader(text.as_bytes());
    let mut columns: Option<Vec<(String, Option<Cell>)>> = None;
    let mut lines = Vec::new();
    let mut record = csv::StringRecord::new();
    let mut place = LineCounter::new(&text);
    loop {
        let line = place.line_at(reader.position().byte());
        let more = reader.read_record(&mut record);
        if !more.map_err(|e| SlipsError::Table { line, why: e.to_string() })? {
            break;
        }
        if record.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        if lines.len() == MOST_LINES {
            let why =
                format!("more than {MOST_LINES} slips are no book of one driver; split the table");
            return Err(SlipsError::Table { line, why });
        }
        match &columns {
            None if record.len() > MOST_COLUMNS => {
                let why = format!("more than {MOST_COLUMNS} columns are no table of slips");
                return Err(SlipsError::Table { line, why });
            }
            None => columns = Some(header(&record)?),
            Some(columns) => {
                lines.push(ImportLine { line, outcome: read_line(&record, columns, usual) })
            }
        }
    }
    let columns = columns.ok_or(SlipsError::Empty)?;
    Ok(ImportReport { columns, lines, read_as_latin1 })
}

/// Lines of the file as an editor counts them: the reader counts neither blank lines nor carriage
/// returns.
struct LineCounter<'a> {
    bytes: &'a [u8],
    at: usize,
    line: u64,
}

impl<'a> LineCounter<'a> {
    fn new(text: &'a str) -> Self {
        Self { bytes: text.as_bytes(), at: 0, line: 1 }
    }

    /// The line of the first byte at or after `byte` that ends no line; `byte` never goes back.
    fn line_at(&mut self, byte: u64) -> u64 {
        let byte = usize::try_from(byte).unwrap_or(usize::MAX);
        while let Some(here) = self.bytes.get(self.at)
            && (self.at < byte || matches!(here, b'\r' | b'\n'))
        {
            let second_half = *here == b'\n' && self.at > 0 && self.bytes[self.at - 1] == b'\r';
            self.line += u64::from(matches!(here, b'\r' | b'\n') && !second_half);
            self.at += 1;
        }
        self.line
    }
}

/// Writes slips as a table that [`read_table`] reads back to the same slips.
pub fn write_table<'a>(slips: impl IntoIterator<Item = &'a Slip>) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing to memory does not fail.
    let mut record = |cells: Vec<String>| drop(writer.write_record(&cells));
    record(Cell::all().map(Cell::name).collect());
    for slip in slips {
        record(Cell::all().map(|cell| cell.get(slip)).collect());
    }
    let bytes = writer.into_inner().unwrap_or_default();
    String::from_utf8_lossy(&bytes).into_owned()
}

/// The separator the first line that is not blank has most of.
fn delimiter(text: &str) -> u8 {
    let first = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    let count = |separator: u8| first.bytes().filter(|byte| *byte == separator).count();
    [b',', b';', b'\t'].into_iter().rev().max_by_key(|separator| count(*separator)).unwrap_or(b',')
}

/// What each title is taken for. A slip prints two speeds under the same title: the one behind a
/// distance is the speed there.
fn header(record: &csv::StringRecord) -> Result<Vec<(String, Option<Cell>)>, SlipsError> {
    let mut columns: Vec<(String, Option<Cell>)> = Vec::with_capacity(record.len());
    for title in record {
        let before = columns.last().and_then(|(_, cell)| *cell);
        let cell = Cell::of_title(title).map(|cell| match (cell, before) {
            (Cell::Own(InLane::Mph), Some(Cell::Own(InLane::T660))) => Cell::Own(InLane::Mph660),
            (Cell::Own(InLane::Mph), Some(Cell::Own(InLane::T1320))) => Cell::Own(InLane::Mph1320),
            (Cell::Other(InLane::Mph), Some(Cell::Other(InLane::T660))) => {
                Cell::Other(InLane::Mph660)
            }
            (Cell::Other(InLane::Mph), Some(Cell::Other(InLane::T1320))) => {
                Cell::Other(InLane::Mph1320)
            }
            (cell, _) => cell,
        });
        columns.push((shown(title.trim()), cell));
    }
    for (second, (_, cell)) in columns.iter().enumerate() {
        let first = columns[..second].iter().position(|(_, c)| c.is_some() && c == cell);
        if let Some(first) = first {
            let what = "the same thing";
            return Err(SlipsError::TwoColumns { what, first: first + 1, second: second + 1 });
        }
    }
    let of_a_slip = |cell: &Option<Cell>| matches!(cell, Some(Cell::Own(_)));
    if !columns.iter().any(|(_, cell)| of_a_slip(cell)) {
        return Err(SlipsError::NoColumn);
    }
    Ok(columns)
}

fn read_line(
    record: &csv::StringRecord,
    columns: &[(String, Option<Cell>)],
    usual: &Slip,
) -> ImportOutcome {
    match slip_of(record, columns, usual) {
        Ok(slip) => {
            let questions = check(&slip);
            ImportOutcome::Accepted { slip: Box::new(slip), questions }
        }
        Err(error) => ImportOutcome::Refused(error),
    }
}

fn slip_of(
    record: &csv::StringRecord,
    columns: &[(String, Option<Cell>)],
    usual: &Slip,
) -> Result<Slip, SlipsError> {
    if let Some(extra) = record.iter().skip(columns.len()).find(|cell| !cell.trim().is_empty()) {
        let field = format!("column {}", columns.len() + 1);
        let belongs = "under any title; is a comma a decimal comma here?";
        return Err(SlipsError::figure(&field, extra, belongs));
    }
    let cells = columns.iter().zip(record).filter(|(_, text)| !missing(text));
    Slip::of_cells(usual, cells.filter_map(|((_, cell), text)| Some(((*cell)?, text))))
}

/// Whether a cell stands for "nothing".
fn missing(text: &str) -> bool {
    matches!(text.trim().to_lowercase().as_str(), "" | "-" | "–" | "—" | "n/a" | "na")
}
