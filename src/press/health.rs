//! How well a source has been doing: plain figures and one line in words.
//!
//! Owns the count of a source's edges and the widths of their stamps. Refuses advice and drawing.

use std::collections::VecDeque;

use crate::press::Origin;
use crate::units::Span;

/// Widths the median is taken of: chosen, more than an evening's presses need not be kept.
const WIDTHS: usize = 500;

/// The health figures of one source since the matcher was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SourceHealth {
    /// Which source.
    pub source: Origin,
    /// Edges given out while facts were to be expected from it, or with a fact of it; for
    /// [`Origin::Frame`] those that nothing else timed.
    pub edges: u64,
    /// Of these, edges whose time it gave or helped to give.
    pub matched: u64,
    /// Of these, edges over which it and the window or another source contradicted each other.
    pub disagreed: u64,
    /// Its facts that came after their edge had been given out without them.
    pub late_facts: u64,
    /// Its facts that never found an edge.
    pub dropped_facts: u64,
    /// The median width of the latest 500 stamps it had a say in; `None` before the first.
    pub median_width: Option<Span>,
    /// The widest stamp it had a say in; `None` before the first.
    pub widest: Option<Span>,
}

impl SourceHealth {
    /// The share of the edges that it timed, 0 to 1; `None` before the first edge.
    pub fn matched_share(&self) -> Option<f64> {
        (self.edges > 0).then(|| self.matched as f64 / self.edges as f64)
    }

    /// One plain line: `412 presses and releases, 410 timed by their own listener, widest ±1.0 ms`.
    pub fn sentence(&self) -> String {
        if self.edges == 0 {
            return "no press or release yet".to_owned();
        }
        let edges = match self.edges {
            1 => "1 press or release".to_owned(),
            edges => format!("{edges} presses and releases"),
        };
        let timed = match (self.source, self.matched == self.edges) {
            (Origin::Frame, _) => "timed by the frame alone".to_owned(),
            (_, true) => "all timed by their own listener".to_owned(),
            (_, false) => format!("{} timed by their own listener", self.matched),
        };
        let widest = self.widest.map_or_else(String::new, |width| {
            format!(", widest ±{:.1} ms", width.as_ms_f64() / 2.0)
        });
        let contradicted = match self.disagreed {
            0 => String::new(),
            disagreed => format!(", {disagreed} contradicted"),
        };
        format!("{edges}, {timed}{widest}{contradicted}")
    }
}

/// What an edge was to a source.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    /// It had a say in the stamp, which is this wide.
    Matched(Span),
    /// It contradicted.
    Disagreed,
    /// It said nothing, though it was expected to.
    Silent,
}

/// The running count behind [`SourceHealth`].
#[derive(Debug, Clone, Default)]
pub(super) struct Tally {
    edges: u64,
    matched: u64,
    disagreed: u64,
    pub(super) late_facts: u64,
    pub(super) dropped_facts: u64,
    widths: VecDeque<Span>,
    widest: Option<Span>,
}

impl Tally {
    /// Counts an edge.
    pub(super) fn edge(&mut self, part: Part) {
        self.edges += 1;
        match part {
            Part::Silent => {}
            Part::Disagreed => self.disagreed += 1,
            Part::Matched(width) => {
                self.matched += 1;
                if self.widths.len() == WIDTHS {
                    self.widths.pop_front();
                }
                self.widths.push_back(width);
                self.widest = self.widest.max(Some(width));
            }
        }
    }

    /// The figures.
    pub(super) fn health(&self, source: Origin) -> SourceHealth {
        let mut widths: Vec<Span> = self.widths.iter().copied().collect();
        widths.sort_unstable();
        SourceHealth {
            source,
            edges: self.edges,
            matched: self.matched,
            disagreed: self.disagreed,
            late_facts: self.late_facts,
            dropped_facts: self.dropped_facts,
            median_width: widths.get(widths.len() / 2).copied(),
            widest: self.widest,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tally(matched: u64, silent: u64, disagreed: u64) -> Tally {
        let mut tally = Tally::default();
        (0..matched).for_each(|i| tally.edge(Part::Matched(Span::from_us(1_000 + i as i64))));
        (0..silent).for_each(|_| tally.edge(Part::Silent));
        (0..disagreed).for_each(|_| tally.edge(Part::Disagreed));
        tally
    }

    #[test]
    fn the_line_says_how_many_were_timed_and_how_well() {
        let line = |tally: Tally, source| tally.health(source).sentence();
        assert_eq!(
            line(tally(410, 2, 0), Origin::Server),
            "412 presses and releases, 410 timed by their own listener, widest ±0.7 ms"
        );
        assert_eq!(
            line(tally(1, 0, 2), Origin::Kernel),
            "3 presses and releases, 1 timed by their own listener, widest ±0.5 ms, 2 contradicted"
        );
        assert_eq!(
            line(tally(1, 0, 0), Origin::Pad),
            "1 press or release, all timed by their own listener, widest ±0.5 ms"
        );
        assert_eq!(
            line(tally(2, 0, 0), Origin::Frame),
            "2 presses and releases, timed by the frame alone, widest ±0.5 ms"
        );
        assert_eq!(line(tally(0, 0, 0), Origin::Server), "no press or release yet");
    }

    #[test]
    fn the_median_is_of_the_latest_and_the_widest_of_all() {
        let mut tally = Tally::default();
        tally.edge(Part::Matched(Span::from_ms(90)));
        (0..WIDTHS).for_each(|_| tally.edge(Part::Matched(Span::from_ms(1))));
        let health = tally.health(Origin::Server);
        assert_eq!(health.median_width, Some(Span::from_ms(1)));
        assert_eq!(health.widest, Some(Span::from_ms(90)));
        assert_eq!(health.matched_share(), Some(1.0));
        assert_eq!(Tally::default().health(Origin::Server).matched_share(), None);
    }

    #[test]
    fn the_median_width_is_the_middle_one_whatever_their_order() {
        let mut tally = Tally::default();
        for width_ms in [9, 1, 5, 7, 3] {
            tally.edge(Part::Matched(Span::from_ms(width_ms)));
        }
        assert_eq!(tally.health(Origin::Pad).median_width, Some(Span::from_ms(5)));
    }
}
