//! Window edges say *what* happened, source facts say *when*; this brings them together.
//!
//! Owns the held state, the matching, the intersection of what everybody says and the health
//! counters. Refuses to make edges up: a fact without a window edge is dropped and counted, an
//! auto-repeat is no edge, and a window edge without a fact keeps its whole drain interval.
//!
//! Facts are matched first in, first out per source, control and direction, but only with a drain
//! interval they fit into; what an edge given out without a fact is still owed is kept apart, so
//! that a late fact is never taken for the next press.

use std::collections::{BTreeSet, VecDeque};

use crate::press::{Control, EdgeKind, Origin, Reading, ServerClock, SourceFact};
use crate::units::{Mark, Span, Stamp};

/// How long a fact waits for its window edge, and a window edge given out for its late fact.
///
/// Chosen, because no window is expected to be deaf for half a second in a run that counts.
pub const FACT_LIFETIME: Span = Span::from_ms(500);

/// An edge as the window tells it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WindowEdge {
    /// Which control moved.
    pub control: Control,
    /// Which way.
    pub edge: EdgeKind,
    /// Whether the window calls it an auto-repeat.
    pub repeat: bool,
    /// The drains of the window's event queue it lies between: the one before and the one that
    /// brought it. The first must be conservative: the window's own connection may receive an event
    /// later than a source does.
    pub drained: (Mark, Mark),
}

/// An edge with its time: what the rest of the program works with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StampedEdge {
    /// Which control moved.
    pub control: Control,
    /// Which way.
    pub edge: EdgeKind,
    /// When, with its doubt.
    pub stamp: Stamp,
    /// The best source that had a say in the stamp.
    pub origin: Origin,
    /// Whether the sources contradicted the window or each other; the stamp is then the widest of
    /// what they said.
    pub sources_disagree: bool,
}

/// Health figures since the matcher was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counters {
    /// Edges given out.
    pub edges: u64,
    /// Of these, edges whose time a source gave.
    pub matched: u64,
    /// Of these, edges with nothing but the drain interval.
    pub framed: u64,
    /// Of these, edges over which sources disagreed (neither matched nor framed).
    pub disagreed: u64,
    /// Repeats and other edges that changed nothing.
    pub ignored: u64,
    /// Facts that never found their window edge.
    pub dropped_facts: u64,
    /// Facts that came after their window edge had been given out without them.
    pub late_facts: u64,
}

/// See the head of the file. Per drain of the window's event queue: hand in the facts received so
/// far, then the window's edges, then call [`Matcher::poll`] once.
#[derive(Debug, Clone)]
pub struct Matcher {
    patience_drains: u32,
    clock: ServerClock,
    active: BTreeSet<Origin>,
    held: BTreeSet<Control>,
    waiting: VecDeque<Waiting>,
    facts: Vec<Fact>,
    owed: Vec<Owed>,
    ready: Vec<StampedEdge>,
    counters: Counters,
}

/// A window edge not given out yet.
#[derive(Debug, Clone, Copy)]
struct Waiting {
    key: Key,
    drain: Stamp,
    polls: u32,
}

/// A decoded fact without a window edge.
#[derive(Debug, Clone, Copy)]
struct Fact {
    source: Origin,
    key: Key,
    stamp: Stamp,
    arrival: Mark,
}

/// An edge that an active source has not confirmed.
#[derive(Debug, Clone, Copy)]
struct Owed {
    source: Origin,
    key: Key,
    drain: Stamp,
}

type Key = (Control, EdgeKind);

impl Default for Matcher {
    /// A matcher with the patience of one further drain and no coarse clock in the server.
    fn default() -> Self {
        Self::new(1, ServerClock::default())
    }
}

impl Matcher {
    /// A matcher that holds an edge for up to `patience_drains` further drains while an active
    /// source has not told of it, and decodes server times with `clock`.
    pub fn new(patience_drains: u32, clock: ServerClock) -> Self {
        Self {
            patience_drains,
            clock,
            active: BTreeSet::new(),
            held: BTreeSet::new(),
            waiting: VecDeque::new(),
            facts: Vec::new(),
            owed: Vec::new(),
            ready: Vec::new(),
            counters: Counters::default(),
        }
    }

    /// The health figures.
    pub fn counters(&self) -> Counters {
        self.counters
    }

    /// What is known of the display server's clock.
    pub fn server_clock(&self) -> &ServerClock {
        &self.clock
    }

    /// Whether the control is down, as far as window and pad edges tell.
    pub fn is_held(&self, control: Control) -> bool {
        self.held.contains(&control)
    }

    /// Says whether facts are to be expected from a source: armed and healthy, or not.
    pub fn set_source_active(&mut self, source: Origin, active: bool) {
        if active {
            self.active.insert(source);
        } else {
            self.active.remove(&source);
        }
    }

    /// Takes what a source says about a control whose edges the window delivers.
    pub fn source_fact(&mut self, fact: SourceFact) {
        if let Reading::Server { arrival, server_ms } = fact.reading {
            self.clock.observe(arrival, server_ms);
        }
        let stamp = fact.stamp(&self.clock);
        let (source, key) = (fact.source, (fact.control, fact.edge));
        let owed = self.owed.iter().position(|owed| {
            (owed.source, owed.key) == (source, key) && owed.drain.intersect(stamp).is_some()
        });
        if let Some(index) = owed {
            self.owed.remove(index);
            self.counters.late_facts += 1;
            return;
        }
        self.facts.push(Fact { source, key, stamp, arrival: fact.reading.arrival() });
    }

    /// Takes an edge from the window's event queue, in the queue's order.
    pub fn window_edge(&mut self, edge: WindowEdge) {
        if !self.moves(edge.control, edge.edge, edge.repeat) {
            return;
        }
        self.waiting.push_back(Waiting {
            key: (edge.control, edge.edge),
            drain: Stamp::between(edge.drained.0, edge.drained.1),
            polls: 0,
        });
    }

    /// Takes an edge from a device the window knows nothing of: it says what and when at once.
    pub fn pad_edge(&mut self, fact: SourceFact) {
        if !self.moves(fact.control, fact.edge, false) {
            return;
        }
        self.counters.edges += 1;
        self.counters.matched += 1;
        self.ready.push(StampedEdge {
            control: fact.control,
            edge: fact.edge,
            stamp: fact.stamp(&self.clock),
            origin: fact.source,
            sources_disagree: false,
        });
    }

    /// Ends a drain at `now`: gives out every edge that is decided. Pad edges come first, window
    /// edges in the order the window gave them.
    pub fn poll(&mut self, now: Mark) -> Vec<StampedEdge> {
        while let Some(front) = self.waiting.front().copied() {
            let patient = front.polls < self.patience_drains;
            if patient && self.active.iter().any(|source| self.fitting(&front, *source).is_none()) {
                break;
            }
            self.waiting.pop_front();
            self.decide(&front);
        }
        self.waiting.iter_mut().for_each(|edge| edge.polls += 1);
        let facts = self.facts.len();
        self.facts.retain(|fact| now - fact.arrival <= FACT_LIFETIME);
        self.counters.dropped_facts += (facts - self.facts.len()) as u64;
        self.owed.retain(|owed| now - owed.drain.latest() <= FACT_LIFETIME);
        std::mem::take(&mut self.ready)
    }

    /// The window lost the focus or a pad its connection: every control counts as up again, and
    /// those that were down are handed back. Nobody let go of them, so no edge is made up; the
    /// real release, seen or not, is none either.
    pub fn release_all(&mut self) -> Vec<Control> {
        std::mem::take(&mut self.held).into_iter().collect()
    }

    /// Updates the held state; whether the control really moved.
    ///
    /// The release of a control never seen going down is no edge: it was pressed elsewhere.
    fn moves(&mut self, control: Control, edge: EdgeKind, repeat: bool) -> bool {
        let changed = match edge {
            EdgeKind::Down => self.held.insert(control),
            EdgeKind::Up => self.held.remove(&control),
        };
        let moved = changed && !repeat;
        if !moved {
            self.counters.ignored += 1;
        }
        moved
    }

    /// The first fact of `source` that can belong to the edge.
    fn fitting(&self, edge: &Waiting, source: Origin) -> Option<usize> {
        self.facts.iter().position(|fact| {
            (fact.source, fact.key) == (source, edge.key)
                && fact.stamp.intersect(edge.drain).is_some()
        })
    }

    /// The first fact of `source` that says the edge happened before the window can have missed it.
    /// A fact after the drain is never one: it arrived after the drain, so it is of a later press.
    fn too_early(&self, edge: &Waiting, source: Origin) -> Option<usize> {
        self.facts.iter().position(|fact| {
            (fact.source, fact.key) == (source, edge.key)
                && fact.stamp.latest() < edge.drain.earliest()
        })
    }

    /// Gives the edge out with whatever facts there are.
    fn decide(&mut self, edge: &Waiting) {
        let mut told = Vec::new();
        for source in [Origin::Kernel, Origin::Server, Origin::Pad] {
            let index = self.fitting(edge, source).or_else(|| self.too_early(edge, source));
            if let Some(index) = index {
                told.push(self.take_fact(index));
            } else if self.active.contains(&source) {
                self.owed.push(Owed { source, key: edge.key, drain: edge.drain });
            }
        }
        let (stamp, origin, sources_disagree) = combine(edge.drain, &told);
        self.counters.edges += 1;
        match (sources_disagree, told.is_empty()) {
            (true, _) => self.counters.disagreed += 1,
            (false, true) => self.counters.framed += 1,
            (false, false) => self.counters.matched += 1,
        }
        let (control, edge) = edge.key;
        self.ready.push(StampedEdge { control, edge, stamp, origin, sources_disagree });
    }

    /// Removes the fact at `index` and the older ones of its kind, which nothing can match now.
    fn take_fact(&mut self, index: usize) -> Fact {
        let taken = self.facts.remove(index);
        let mut place = 0;
        let before = self.facts.len();
        self.facts.retain(|fact| {
            place += 1;
            place > index || (fact.source, fact.key) != (taken.source, taken.key)
        });
        self.counters.dropped_facts += (before - self.facts.len()) as u64;
        taken
    }
}

/// What the drain interval and the facts, best source first, allow together; where they contradict
/// each other the widest of them. The flag says whether they did.
fn combine(drain: Stamp, told: &[Fact]) -> (Stamp, Origin, bool) {
    let Some(best) = told.first() else {
        return (drain, Origin::Frame, false);
    };
    let rest = told[1..].iter().map(|fact| fact.stamp).chain([drain]);
    let common = rest.into_iter().try_fold(best.stamp, |common, next| common.intersect(next));
    if let Some(stamp) = common {
        return (stamp, best.source, false);
    }
    let mut widest = (drain, Origin::Frame, true);
    for fact in told {
        if fact.stamp.width() > widest.0.width() {
            widest = (fact.stamp, fact.source, true);
        }
    }
    widest
}

#[cfg(test)]
mod tests {
    use super::*;

    const SPACE: Control = Control::Key(57);

    fn ms(ms: i64) -> Mark {
        Mark::from_ns(ms * 1_000_000)
    }

    fn fact(source: Origin, at_ms: i64) -> SourceFact {
        let reading = Reading::Kernel { at: ms(at_ms), arrival: ms(at_ms) + Span::from_us(200) };
        SourceFact { source, control: SPACE, edge: EdgeKind::Down, reading }
    }

    fn down(from_ms: i64, to_ms: i64) -> WindowEdge {
        let drained = (ms(from_ms), ms(to_ms));
        WindowEdge { control: SPACE, edge: EdgeKind::Down, repeat: false, drained }
    }

    #[test]
    fn without_an_active_source_an_edge_is_given_out_at_once_with_its_drain_interval() {
        let mut m = Matcher::default();
        m.window_edge(down(100, 116));
        let out = m.poll(ms(116));
        assert_eq!(out.len(), 1);
        assert_eq!(
            (out[0].stamp, out[0].origin),
            (Stamp::between(ms(100), ms(116)), Origin::Frame)
        );
    }

    #[test]
    fn a_fact_that_is_there_decides_in_the_same_drain() {
        let mut m = Matcher::default();
        m.set_source_active(Origin::Kernel, true);
        m.source_fact(fact(Origin::Kernel, 107));
        m.window_edge(down(100, 116));
        let out = m.poll(ms(116));
        assert_eq!((out[0].stamp.best(), out[0].origin), (ms(107), Origin::Kernel));
        assert_eq!(m.counters().matched, 1);
    }

    #[test]
    fn a_stale_fact_does_not_stand_in_the_way_of_the_right_one() {
        let mut m = Matcher::default();
        m.source_fact(fact(Origin::Server, 20));
        m.source_fact(fact(Origin::Server, 110));
        m.window_edge(down(100, 116));
        let out = m.poll(ms(116));
        assert_eq!((out[0].stamp.best(), out[0].sources_disagree), (ms(110), false));
        assert_eq!(m.counters().dropped_facts, 1);
    }

    #[test]
    fn a_fact_of_a_later_press_is_left_to_it() {
        let mut m = Matcher::default();
        m.source_fact(fact(Origin::Server, 130));
        m.window_edge(down(100, 116));
        assert_eq!(m.poll(ms(133))[0].origin, Origin::Frame);
        m.window_edge(WindowEdge { edge: EdgeKind::Up, ..down(116, 133) });
        m.window_edge(down(116, 133));
        let out = m.poll(ms(133));
        assert_eq!((out[1].origin, out[1].stamp.best()), (Origin::Server, ms(130)));
    }

    #[test]
    fn a_fact_that_comes_after_its_edge_was_given_out_is_not_taken_for_the_next_press() {
        let mut m = Matcher::default();
        m.set_source_active(Origin::Kernel, true);
        m.window_edge(down(100, 116));
        assert!(m.poll(ms(116)).is_empty());
        assert_eq!(m.poll(ms(133))[0].origin, Origin::Frame);
        m.source_fact(fact(Origin::Kernel, 110));
        assert_eq!(m.counters().late_facts, 1);
        m.window_edge(WindowEdge { edge: EdgeKind::Up, ..down(150, 166) });
        m.poll(ms(166));
        m.poll(ms(183));
        m.source_fact(fact(Origin::Kernel, 190));
        m.window_edge(down(183, 200));
        assert!(!m.poll(ms(200))[0].sources_disagree);
    }

    #[test]
    fn a_fact_without_a_window_edge_is_dropped_after_half_a_second() {
        let mut m = Matcher::default();
        m.source_fact(fact(Origin::Kernel, 100));
        assert!(m.poll(ms(600)).is_empty());
        assert_eq!(m.counters().dropped_facts, 0);
        assert!(m.poll(ms(601)).is_empty());
        assert_eq!(m.counters().dropped_facts, 1);
    }

    #[test]
    fn losing_the_focus_makes_up_no_release() {
        let mut m = Matcher::default();
        m.window_edge(down(100, 116));
        m.poll(ms(116));
        assert_eq!(m.release_all(), [SPACE]);
        m.window_edge(WindowEdge { edge: EdgeKind::Up, ..down(200, 216) });
        assert!(m.poll(ms(216)).is_empty());
        assert!(!m.is_held(SPACE));
    }

    #[test]
    fn a_pad_edge_is_given_out_straight() {
        let mut m = Matcher::default();
        m.set_source_active(Origin::Kernel, true);
        let pad = SourceFact { control: Control::PadButton(304), ..fact(Origin::Pad, 100) };
        m.pad_edge(pad);
        m.pad_edge(pad);
        let out = m.poll(ms(110));
        assert_eq!(out.len(), 1, "a second down without an up is none");
        assert_eq!((out[0].origin, out[0].stamp.best()), (Origin::Pad, ms(100)));
    }
}
