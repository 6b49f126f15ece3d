//! Columns of a CSV file, or of standard input.
//!
//! Owns reading and the words for what is wrong with a file: which file, which line, which column,
//! and what to do. Refuses to repair: a cell that is no time stops the reading.

use std::fmt;
use std::fs::File;
use std::io::{self, ErrorKind, Read};
use std::path::Path;

/// Nothing beyond this is taken for a time, in any unit; chosen, because thirty years is enough.
const LARGEST: f64 = 1e9;

/// A longer line is none of a table of times, and must not fill the memory. Chosen.
const LONGEST_LINE: usize = 1 << 20;

/// Columns of a CSV file that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct Columns<T = f64> {
    /// The column of numbers.
    pub numbers: Vec<T>,
    /// The columns of words beside it, one per name asked for.
    pub words: Vec<Vec<String>>,
}

/// What is wrong with a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableError(String);

impl fmt::Display for TableError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for TableError {}

/// How a file is called in messages.
pub fn name_of(path: &Path) -> String {
    if path == Path::new("-") { "standard input".to_owned() } else { path.display().to_string() }
}

/// What went wrong with a file, and what to do where that is known.
pub fn with_cure(error: &io::Error) -> String {
    let cure = match error.kind() {
        ErrorKind::NotFound => "; check its name and the folder it is in",
        ErrorKind::IsADirectory => "; that is a folder, name a file in it",
        ErrorKind::NotADirectory => "; what stands before the last / is no folder, check the name",
        ErrorKind::PermissionDenied => "; give yourself leave to read it, or name a copy",
        _ => "",
    };
    format!("{error}{cure}")
}

/// Reads a column of finite numbers, and beside it columns of words if asked for, from a CSV file with
/// a header line; `-` is standard input.
///
/// # Errors
/// As [`read_columns_from`], and a file that cannot be opened.
pub fn read_columns(path: &Path, numbers: &str, words: &[&str]) -> Result<Columns, TableError> {
    read_columns_from_any(path, &mut io::stdin().lock(), numbers, words)
}

/// The same with standard input handed in.
///
/// # Errors
/// As [`read_columns`].
pub fn read_columns_from_any(
    path: &Path,
    stdin: &mut dyn Read,
    numbers: &str,
    words: &[&str],
) -> Result<Columns, TableError> {
    from_any(path, stdin, |source| read_columns_from(path, source, numbers, words))
}

/// The same where a cell of the column of numbers may be empty.
///
/// # Errors
/// As [`read_columns`].
pub fn read_columns_with_blanks(
    path: &Path,
    stdin: &mut dyn Read,
    numbers: &str,
    words: &[&str],
) -> Result<Columns<Option<f64>>, TableError> {
    from_any(path, stdin, |source| columns(path, source, numbers, words, number_or_blank))
}

fn from_any<T>(
    path: &Path,
    stdin: &mut dyn Read,
    read: impl FnOnce(&mut dyn Read) -> Result<T, TableError>,
) -> Result<T, TableError> {
    if path == Path::new("-") {
        return read(stdin);
    }
    let mut file = File::open(path).map_err(|e| {
        TableError(format!("{}: cannot be opened: {}", name_of(path), with_cure(&e)))
    })?;
    read(&mut file)
}

/// The same from an open source; `path` only names it in messages.
///
/// # Errors
/// [`TableError`] for a source that cannot be read, has no header, no such column or no line below
/// the header, or a cell that is no number within ±1e9.
pub fn read_columns_from(
    path: &Path,
    source: &mut dyn Read,
    numbers: &str,
    words: &[&str],
) -> Result<Columns, TableError> {
    columns(path, source, numbers, words, number)
}

fn columns<T>(
    path: &Path,
    source: &mut dyn Read,
    numbers: &str,
    words: &[&str],
    cell_of: fn(&Path, u64, &str, Option<&[u8]>) -> Result<T, TableError>,
) -> Result<Columns<T>, TableError> {
    let mut columns = Columns { numbers: Vec::new(), words: vec![Vec::new(); words.len()] };
    let (mut number_place, mut word_places) = (0, Vec::new());
    read(path, source, &mut |header, line, cells| {
        let Some(cells) = cells else {
            number_place = place_of(path, header, numbers)?;
            let places = words.iter().map(|words| place_of(path, header, words));
            word_places = places.collect::<Result<Vec<_>, _>>()?;
            return Ok(());
        };
        columns.numbers.push(cell_of(path, line, numbers, cells.get(number_place))?);
        for (column, place) in columns.words.iter_mut().zip(&word_places) {
            column.push(text(cells.get(*place).unwrap_or_default()));
        }
        Ok(())
    })?;
    if columns.numbers.is_empty() {
        let name = name_of(path);
        return Err(TableError(format!("{name}: no line below the header; add at least one")));
    }
    Ok(columns)
}

/// Called with the header once (no cells), then with every line.
type Visit<'a> =
    &'a mut dyn FnMut(&[String], u64, Option<&csv::ByteRecord>) -> Result<(), TableError>;

fn read(path: &Path, source: &mut dyn Read, visit: Visit) -> Result<(), TableError> {
    let name = name_of(path);
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .buffer_capacity(1 << 16)
        .from_reader(ShortLines { source, line: 1, length: 0 });
    let mut cells = csv::ByteRecord::new();
    let mut header = None;
    loop {
        let more = reader.read_byte_record(&mut cells);
        if !more.map_err(|e| TableError(format!("{name}: cannot be read: {}", why(e))))? {
            break;
        }
        let line = cells.position().map_or(0, csv::Position::line);
        match &header {
            None => {
                no_text(cells.as_slice()).map_or(Ok(()), |said| {
                    Err(TableError(format!("{name}, line {line}: {said}")))
                })?;
                let names: Vec<String> = cells.iter().map(text).collect();
                visit(&names, line, None)?;
                header = Some(names);
            }
            // A line of another length was torn or shifted: its cells may stand under wrong names.
            Some(names) if names.len() != cells.len() => {
                let (have, need) = (cells.len(), names.len());
                return Err(TableError(format!(
                    "{name}, line {line}: {have} cells where the header has {need}; mend or remove the line"
                )));
            }
            Some(names) => visit(names, line, Some(&cells))?,
        }
    }
    if header.is_none() {
        let cure = "it needs a header line with column names and a value a line";
        return Err(TableError(format!("{name}: is empty; {cure}")));
    }
    Ok(())
}

/// Why the reading of cells broke off.
fn why(error: csv::Error) -> String {
    match error.into_kind() {
        csv::ErrorKind::Io(error) => with_cure(&error),
        other => format!("{other:?}"),
    }
}

/// What a header is that no table of text has.
fn no_text(header: &[u8]) -> Option<&'static str> {
    match header {
        [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..] => {
            Some("this is UTF-16; save it as UTF-8 or plain CSV")
        }
        _ if header.contains(&0) => Some("this is no text; save the table as CSV"),
        _ => None,
    }
}

/// A source whose lines have an end: one that is too long breaks the reading off.
struct ShortLines<'a> {
    source: &'a mut dyn Read,
    line: u64,
    length: usize,
}

impl Read for ShortLines<'_> {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        let read = self.source.read(to)?;
        for piece in to[..read].split_inclusive(|byte| matches!(byte, b'\n' | b'\r')) {
            self.length += piece.len();
            if self.length > LONGEST_LINE {
                let (line, most) = (self.line, LONGEST_LINE);
                return Err(io::Error::other(format!(
                    "line {line} is longer than {most} bytes; this is no table of times"
                )));
            }
            if piece.ends_with(b"\n") || piece.ends_with(b"\r") {
                self.line += u64::from(piece.ends_with(b"\n"));
                self.length = 0;
            }
        }
        Ok(read)
    }
}

/// A cell as text, without a byte-order mark and blanks at the ends.
fn text(cell: &[u8]) -> String {
    let cell = cell.strip_prefix("\u{feff}".as_bytes()).unwrap_or(cell);
    String::from_utf8_lossy(cell).trim().to_owned()
}

/// Text from a file as a message may show it: on one line, and not too much of it.
fn quoted(text: &str) -> String {
    let shown: String = text.chars().take(30).flat_map(char::escape_debug).collect();
    let more = if text.chars().count() > 30 { "…" } else { "" };
    format!("`{shown}{more}`")
}

/// Where the column is.
fn place_of(path: &Path, header: &[String], column: &str) -> Result<usize, TableError> {
    let name = name_of(path);
    let mut found = header.iter().enumerate().filter(|(_, title)| *title == column);
    match (found.next(), found.next()) {
        (Some((place, _)), None) => Ok(place),
        (Some(_), Some(_)) => Err(TableError(format!(
            "{name}, line 1: two columns are called `{column}`; rename one of them"
        ))),
        (None, _) if header.iter().all(|title| title.parse::<f64>().is_ok()) => {
            Err(TableError(format!(
                "{name}, line 1: no header; put a line with the column's name `{column}` on top"
            )))
        }
        (None, _) => {
            let few: Vec<String> = header.iter().take(12).map(|title| quoted(title)).collect();
            let more = if header.len() > few.len() { ", …" } else { "" };
            Err(TableError(format!(
                "{name}, line 1: no column `{column}`; choose from {}{more}",
                few.join(", ")
            )))
        }
    }
}

/// The number in a cell that may be empty.
fn number_or_blank(
    path: &Path,
    line: u64,
    column: &str,
    cell: Option<&[u8]>,
) -> Result<Option<f64>, TableError> {
    match cell {
        Some(cell) if text(cell).is_empty() => Ok(None),
        cell => number(path, line, column, cell).map(Some),
    }
}

/// The number in a cell.
fn number(path: &Path, line: u64, column: &str, cell: Option<&[u8]>) -> Result<f64, TableError> {
    let wrong = |what: String| {
        let name = name_of(path);
        TableError(format!("{name}, line {line}, column `{column}`: {what}"))
    };
    let Some(cell) = cell else {
        return Err(wrong("no cell; write a number or remove the line".to_owned()));
    };
    let parsed = std::str::from_utf8(cell).ok().and_then(|word| word.trim().parse::<f64>().ok());
    match parsed {
        Some(value) if value.abs() <= LARGEST => Ok(value),
        Some(value) if value.is_finite() => {
            Err(wrong(format!("{value:e} is no time; write one within ±{LARGEST:e}")))
        }
        _ => {
            let word = quoted(&text(cell));
            Err(wrong(format!("{word} is no number; write one like 0.512 or remove the line")))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    fn file(text: &[u8]) -> tempfile::NamedTempFile {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        file.write_all(text).unwrap();
        file
    }

    fn column(text: &[u8]) -> Result<Vec<f64>, String> {
        let file = file(text);
        let columns = read_columns(file.path(), "rt", &[]);
        columns.map(|columns| columns.numbers).map_err(|e| e.to_string())
    }

    #[test]
    fn a_column_is_found_by_its_name() {
        assert_eq!(column(b"day,rt\n1, 0.2\n2,0.3\n").unwrap(), [0.2, 0.3]);
        assert_eq!(column("\u{feff}rt\r\n-0.01\r\n".as_bytes()).unwrap(), [-0.01]);
    }

    #[test]
    fn what_is_wrong_is_named_with_its_place() {
        assert!(column(b"").unwrap_err().contains("is empty"));
        assert!(column(b"rt\n").unwrap_err().contains("no line below the header"));
        assert!(column(b"0.2\n0.3\n").unwrap_err().contains("no header"));
        assert!(column(b"a,b\n1,2\n").unwrap_err().contains("choose from `a`, `b`"));
        assert!(column(b"rt,rt\n1,2\n").unwrap_err().contains("two columns"));
        let torn = column(b"a,rt\n1,0.2\n1\n").unwrap_err();
        assert!(torn.contains("line 3: 1 cells where the header has 2"), "{torn}");
        for wrong in ["abc", "NaN", "inf", "", "\u{fffd}"] {
            let error = column(format!("rt,x\n0.2,1\n{wrong},1\n").as_bytes()).unwrap_err();
            assert!(
                error.contains("line 3, column `rt`") && error.contains("no number"),
                "{error}"
            );
        }
        assert!(column(b"rt\n1e308\n").unwrap_err().contains("1e308 is no time"));
    }

    #[test]
    fn what_is_no_text_is_named_with_the_cure() {
        for utf16 in [b"\xff\xfer\0t\0\n\x000\0\n\0".as_slice(), b"\xfe\xff\0r\0t"] {
            assert!(column(utf16).unwrap_err().ends_with("save it as UTF-8 or plain CSV"));
        }
        let error = column(b"PK\x03\x04\0\0rt\n1\n").unwrap_err();
        assert!(error.ends_with("line 1: this is no text; save the table as CSV"), "{error}");
    }

    #[test]
    fn a_message_stays_on_one_line_whatever_the_file_holds() {
        let error = column(b"\"a\nb\",\x1b[31mc\n1,2\n").unwrap_err();
        assert!(error.lines().count() == 1 && !error.contains('\u{1b}'), "{error}");
        let long = "x".repeat(5_000);
        assert!(column(format!("{long},y\n1,2\n").as_bytes()).unwrap_err().len() < 200);
    }

    #[test]
    fn words_stand_beside_their_numbers() {
        let file = file(b"day,rt\nMonday,0.2\nTuesday,0.3\n");
        let columns = read_columns(file.path(), "rt", &["day"]).unwrap();
        assert_eq!(columns.numbers, [0.2, 0.3]);
        assert_eq!(columns.words, [["Monday", "Tuesday"]]);
        assert!(read_columns(file.path(), "rt", &["hour"]).is_err());
    }
}
