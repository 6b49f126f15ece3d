//! A plot in letters.
//!
//! Owns the grid of a terminal plot: dots of lines and points, `|` of intervals, limits as dashes.
//! Refuses what letters cannot show: bands, stripes and rugs are left to the other forms.

use super::page::ticks::round_ticks;
use super::page::{LayerKind, Plot};
use super::safe_text::tame;
use super::text::{WIDTH, wrapped};

/// Lines of the grid.
const ROWS: usize = 12;
/// Letters for the numbers of the upward axis.
const MARGIN: usize = 12;
const COLUMNS: usize = WIDTH - MARGIN - 1;

struct Grid {
    cells: Vec<[char; COLUMNS]>,
    x: (f64, f64),
    y: (f64, f64),
}

/// The plot with its title and axes; only the title where nothing of it can be drawn.
pub(super) fn plot_text(plot: &Plot) -> Vec<String> {
    let mut lines = wrapped(&plot.title, "", "");
    let [x, y] = plot.range();
    let mut grid = Grid { cells: vec![[' '; COLUMNS]; ROWS], x, y };
    for layer in &plot.layers {
        grid.draw(&layer.kind);
    }
    if grid.cells.iter().flatten().all(|cell| *cell == ' ') {
        return lines;
    }
    let ticks = round_ticks(y.0, y.1, plot.y.form.per_unit(), 4);
    for (row, cells) in grid.cells.iter().enumerate() {
        let tick = ticks.iter().find(|tick| grid.row(**tick) == Some(row));
        let number = tick.map(|tick| tame(&plot.y.form.words(*tick))).unwrap_or_default();
        let cells: String = cells.iter().collect();
        lines.push(format!("{number:>MARGIN$}|{}", cells.trim_end()));
    }
    let mut foot = [' '; COLUMNS];
    for tick in round_ticks(x.0, x.1, plot.x.form.per_unit(), 4) {
        let words: Vec<char> = tame(&plot.x.form.words(tick)).chars().collect();
        let Some(at) = grid.column(tick) else { continue };
        let from = at.saturating_sub(words.len() / 2).min(COLUMNS.saturating_sub(words.len()));
        // A number never runs into the one before it.
        let free = from == 0 || foot[from - 1] == ' ';
        if free && foot[from..].iter().take(words.len()).all(|cell| *cell == ' ') {
            foot[from..].iter_mut().zip(words).for_each(|(cell, letter)| *cell = letter);
        }
    }
    lines.push(format!("{:>MARGIN$}+{}", "", "-".repeat(COLUMNS)));
    let foot: String = foot.iter().collect();
    lines.push(format!("{:>MARGIN$} {}", "", foot.trim_end()));
    let named = [("up", &plot.y.label), ("across", &plot.x.label)];
    let named = named.iter().filter(|(_, label)| !label.is_empty());
    let axes: Vec<String> = named.map(|(way, label)| format!("{way}: {}", tame(label))).collect();
    let axes = axes.join("; ");
    lines.extend(wrapped(&axes, &" ".repeat(MARGIN + 1), &" ".repeat(MARGIN + 1)));
    lines
}

impl Grid {
    fn column(&self, x: f64) -> Option<usize> {
        place(x, self.x, COLUMNS)
    }

    /// From the top.
    fn row(&self, y: f64) -> Option<usize> {
        Some(ROWS - 1 - place(y, self.y, ROWS)?)
    }

    fn put(&mut self, x: f64, y: f64, letter: char) {
        if let (Some(column), Some(row)) = (self.column(x), self.row(y)) {
            self.cells[row][column] = letter;
        }
    }

    fn draw(&mut self, kind: &LayerKind) {
        match kind {
            LayerKind::Points(at) => at.iter().for_each(|[x, y]| self.put(*x, *y, 'o')),
            LayerKind::Line(at) => self.line(at, '*'),
            LayerKind::Dashed(at) => self.line(at, '.'),
            LayerKind::Whiskers(at) => {
                for [x, y, low, high] in at {
                    self.upright(*x, *low, *high, '|');
                    self.put(*x, *y, 'o');
                }
            }
            LayerKind::Columns(at) => {
                for [from, to, height] in at {
                    self.upright(0.5 * (from + to), 0.0, *height, '#');
                }
            }
            LayerKind::Level(y) => {
                let (low, high) = self.x;
                self.line(&[[low, *y], [high, *y]], '-');
            }
            LayerKind::Upright(x) => self.upright(*x, self.y.0, self.y.1, ':'),
            LayerKind::Band(_) | LayerKind::Rug(_) | LayerKind::Stripe(..) => {}
        }
    }

    fn upright(&mut self, x: f64, low: f64, high: f64, letter: char) {
        let clamp = |y: f64| self.row(y.clamp(self.y.0, self.y.1));
        if let (Some(column), Some(foot), Some(top)) = (self.column(x), clamp(low), clamp(high)) {
            for row in top..=foot {
                self.cells[row][column] = letter;
            }
        }
    }

    fn line(&mut self, at: &[[f64; 2]], letter: char) {
        for pair in at.windows(2) {
            let ([ax, ay], [bx, by]) = (pair[0], pair[1]);
            for step in 0..=2 * COLUMNS {
                let share = step as f64 / (2 * COLUMNS) as f64;
                self.put(ax + share * (bx - ax), ay + share * (by - ay), letter);
            }
        }
    }
}

/// The cell a value falls into; none outside and for what is no number.
fn place(value: f64, (low, high): (f64, f64), cells: usize) -> Option<usize> {
    let share = (value - low) / (high - low);
    (0.0..=1.0).contains(&share).then(|| ((share * cells as f64) as usize).min(cells - 1))
}

#[cfg(test)]
mod tests {
    use super::super::page::{Axis, Form, Hue};
    use super::*;

    #[test]
    fn points_and_limits_are_drawn_where_they_lie() {
        let axis = |label: &str| Axis::new(label, Form::Plain(0));
        let plot = Plot::new("Two", axis("day"), axis("ms"))
            .with("", Hue::Muted, LayerKind::Level(10.0))
            .with("", Hue::Text, LayerKind::Points(vec![[0.0, 0.0], [10.0, 10.0]]))
            .with("", Hue::Risk, LayerKind::Points(vec![[f64::NAN, 1.0]]));
        let lines = plot_text(&plot);
        assert!(lines[1].ends_with("---o") && lines[1].contains("10|"), "{lines:#?}");
        assert!(lines[ROWS].contains("0|o"), "{lines:#?}");
        assert!(lines.iter().all(|line| line.chars().count() <= WIDTH), "{lines:#?}");
    }

    #[test]
    fn a_plot_of_nothing_is_its_title() {
        let axis = || Axis::new("", Form::Day);
        assert_eq!(plot_text(&Plot::new("Nothing", axis(), axis())), ["Nothing"]);
    }
}
