//! An export read row by row, so that its text and its lines are not in memory at once.
//!
//! Owns the JSON export as this program writes it: a head, a line of the history in every row, an end.
//! Refuses everything else without a word: another program may have laid the same JSON out otherwise, and
//! what is wrong with one that is none is said by who reads it as a whole.

use std::io::{self, BufRead, Read};

use super::envelope::MAX_LINE_BYTES;
use super::error::HistoryError;
use super::exchange::{EXPORT_FORMAT, EXPORT_VERSION, WholeHistory};
use super::quick::QuickRuns;
use super::whole_line::WholeLine;
use crate::progress::Progress;

impl WholeHistory {
    /// Reads a JSON export as this program writes it and says whether it is of a demo, telling how many
    /// bytes are read; `None` for a file that is laid out otherwise or is no export.
    ///
    /// # Errors
    /// [`HistoryError::Read`], [`HistoryError::Cancelled`].
    pub fn of_export_rows(
        from: impl BufRead,
        progress: &Progress,
    ) -> Result<Option<(Self, bool)>, HistoryError> {
        let mut rows = Rows { from, row: Vec::new(), at_byte: 0 };
        let Some(demo) = rows.next()?.and_then(demo_of_head) else { return Ok(None) };
        let (mut lines, mut quick) = (Vec::new(), QuickRuns::default());
        loop {
            let Some(row) = rows.next()? else { return Ok(None) };
            let (json, is_last) = match row.strip_suffix(',') {
                Some(json) => (json, false),
                None => (row, true),
            };
            let Ok(line) = WholeLine::of_json(json, &mut quick) else { return Ok(None) };
            lines.push(line);
            progress.reach(rows.at_byte)?;
            if is_last {
                break;
            }
        }
        let is_whole = rows.next()? == Some("]}") && rows.next()?.is_none();
        Ok(is_whole.then(|| (Self::of_lines(lines), demo)))
    }
}

/// Whether the lines below a head are of a demo.
fn demo_of_head(head: &str) -> Option<bool> {
    let (format, version) = (EXPORT_FORMAT, EXPORT_VERSION);
    let is_of = |demo: &bool| {
        let of =
            format!("{{\"format\":\"{format}\",\"version\":{version},\"demo\":{demo},\"lines\":[");
        head == of
    };
    [true, false].into_iter().find(is_of)
}

/// Rows of a text, one in memory at a time.
struct Rows<R> {
    from: R,
    row: Vec<u8>,
    at_byte: u64,
}

impl<R: BufRead> Rows<R> {
    /// The next row without its newline; `None` at the end, for a row longer than a line of a history may
    /// be, one that no newline ends, and one that is not UTF-8.
    fn next(&mut self) -> Result<Option<&str>, HistoryError> {
        self.row.clear();
        let at_byte = self.at_byte;
        let failed = |source: io::Error| HistoryError::Read { path: None, at_byte, source };
        let mut held = self.from.by_ref().take(MAX_LINE_BYTES as u64 + 2);
        self.at_byte += held.read_until(b'\n', &mut self.row).map_err(failed)? as u64;
        let ended = self.row.pop_if(|last| *last == b'\n').is_some();
        Ok(std::str::from_utf8(&self.row).ok().filter(|_| ended))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::demo::demo_lines;

    fn export() -> (WholeHistory, String) {
        let lines = demo_lines(1).unwrap();
        let sealed = lines.iter().take(90).flat_map(|line| line.seal().unwrap().into_bytes());
        let history = WholeHistory::read(&sealed.collect::<Vec<u8>>()[..]).unwrap();
        let export = history.to_json(true);
        (history, export)
    }

    fn rows(text: &[u8]) -> Option<(WholeHistory, bool)> {
        WholeHistory::of_export_rows(text, &Progress::default()).unwrap()
    }

    #[test]
    fn an_export_is_read_by_rows_as_it_is_as_a_whole() {
        let (history, export) = export();
        assert_eq!(rows(export.as_bytes()), Some((history.clone(), true)));
        assert_eq!(rows(history.to_json(false).as_bytes()), Some((history, false)));
    }

    #[test]
    fn whatever_is_altered_is_read_the_same_or_left_to_who_reads_it_as_a_whole() {
        let (_, export) = export();
        let bytes = export.as_bytes();
        let mut taken = 0;
        for i in (0..bytes.len()).step_by(37).chain(bytes.len() - 40..bytes.len()).chain(0..90) {
            let cut = bytes[..i].to_vec();
            let mut other = bytes.to_vec();
            other[i] ^= 4;
            let doubled = [&bytes[..i], &bytes[i.saturating_sub(1)..]].concat();
            let broken = [&bytes[..i], b"\n", &bytes[i..]].concat();
            for altered in [cut, other, doubled, broken] {
                if let Some(read) = rows(&altered) {
                    assert_eq!(read, WholeHistory::of_export(&altered).unwrap(), "{i}");
                    taken += 1;
                }
            }
        }
        assert!(taken > 100, "{taken}");
    }

    #[test]
    fn laid_out_otherwise_it_is_left() {
        let (history, export) = export();
        let as_csv = history.to_csv(true);
        let none = WholeHistory::default().to_json(false);
        let others = [
            export.replace("\",\"version\":1", "\", \"version\":1"),
            export.replace('\n', "\r\n"),
            export.replace('\n', ""),
            format!("{export}\n"),
            export.trim_end().to_owned(),
            as_csv,
            none,
            String::new(),
        ];
        for other in others {
            assert_eq!(rows(other.as_bytes()), None, "{}", &other[..other.len().min(90)]);
        }
    }

    #[test]
    fn the_wish_to_end_is_heard() {
        let (_, export) = export();
        let progress = Progress::default();
        progress.cancel();
        let read = WholeHistory::of_export_rows(export.as_bytes(), &progress);
        assert!(matches!(read, Err(HistoryError::Cancelled(_))));
    }
}
