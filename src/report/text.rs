//! A report for a terminal: sentences, tables, small pictures of letters.
//!
//! Owns wrapping and columns. Refuses colour, and whatever steers a terminal.

use super::document::{DEMO_WORDS, Document};
use super::page::{Block, Page, Table};
use super::safe_text::tame;
use super::text_plot::plot_text;
use super::words::bar_words;

/// Letters in a line. Chosen: the width of a terminal nobody has widened.
pub(super) const WIDTH: usize = 80;

/// The whole report.
pub fn text(document: &Document) -> String {
    let mut lines = Vec::new();
    if document.demo {
        lines.push(DEMO_WORDS.to_owned());
    }
    lines.push(tame(&document.title));
    for about in &document.about {
        lines.extend(wrapped(about, "", ""));
    }
    for (name, page) in &document.pages {
        let name = tame(name);
        lines.extend([String::new(), name.clone(), "=".repeat(name.chars().count())]);
        lines.push(page_text(page));
    }
    lines.join("\n")
}

/// One page.
pub fn page_text(page: &Page) -> String {
    let mut lines = wrapped(&page.headline, "", "");
    for block in &page.blocks {
        lines.push(String::new());
        match block {
            Block::Heading(text) => {
                let text = tame(text);
                lines.extend([text.clone(), "-".repeat(text.chars().count())]);
            }
            Block::Text(text) => lines.extend(wrapped(text, "", "")),
            Block::Note(text) => lines.extend(wrapped(text, "  ", "  ")),
            Block::Caution(text) => lines.extend(wrapped(text, "! ", "  ")),
            Block::Points(points) => {
                lines.extend(points.iter().flat_map(|point| wrapped(point, "- ", "  ")));
            }
            Block::Table(table) | Block::Paper(table) => lines.extend(table_text(table)),
            Block::Plot(plot) => lines.extend(plot_text(plot)),
            Block::TimeBar(bar) => lines.push(bar_words(bar)),
            Block::Ticks(ticks) => lines.extend(ticks.iter().flat_map(|tick| {
                wrapped(&tick.text, if tick.done { "[x] " } else { "[ ] " }, "    ")
            })),
        }
    }
    lines.join("\n")
}

/// Text in lines that fit; a word longer than a line stays whole.
pub(super) fn wrapped(text: &str, first: &str, further: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = first.to_owned();
    let mut empty = true;
    for word in tame(text).split_whitespace() {
        if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            lines.push(std::mem::replace(&mut line, further.to_owned()));
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    lines.push(line);
    lines
}

/// The first column to the left, the others to the right.
fn table_text(table: &Table) -> Vec<String> {
    let rows: Vec<Vec<String>> = std::iter::once(&table.columns)
        .chain(&table.rows)
        .map(|row| row.iter().map(|cell| tame(cell).replace('\n', " ")).collect())
        .collect();
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row: &Vec<String>| row.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..table.columns.len()).map(width).collect();
    let line = |row: &Vec<String>| {
        let cells = row.iter().zip(&widths).enumerate();
        let cells = cells.map(|(i, (cell, width))| match i {
            0 => format!("{cell:<width$}"),
            _ => format!("{cell:>width$}"),
        });
        cells.collect::<Vec<_>>().join("  ").trim_end().to_owned()
    };
    let title = (!table.title.is_empty()).then(|| tame(&table.title));
    title.into_iter().chain(rows.iter().map(line)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_and_lines_fit() {
        let mut table = Table::new("Runs", &["", "median", "n"]);
        table.push(["day one", ".032", "40"]);
        table.push(["two", "-.005", "7"]);
        let lines = table_text(&table);
        let wanted = ["Runs", "         median   n", "day one    .032  40", "two       -.005   7"];
        assert_eq!(lines, wanted);
        let long = "word ".repeat(60);
        assert!(wrapped(&long, "! ", "  ").iter().all(|line| line.chars().count() <= WIDTH));
    }

    #[test]
    fn nothing_in_a_name_reaches_the_terminal_as_a_command() {
        let mut page = Page::new("\u{1b}[31mred");
        page.note("\u{7}").caution("\r\u{9b}2J");
        let mut table = Table::new("\u{1b}", &["\u{1b}", "\u{8}"]);
        table.push(["\u{1b}[2J", "\t"]);
        page.push(Block::Table(table));
        let pages = vec![("\u{1b}]0;x\u{7}".to_owned(), page)];
        let title = "\u{1b}c".to_owned();
        let out = text(&Document { title, about: vec!["\u{1b}".to_owned()], demo: true, pages });
        assert!(out.chars().all(|c| !c.is_control() || c == '\n'), "{out:?}");
        assert!(out.starts_with(DEMO_WORDS));
    }
}
