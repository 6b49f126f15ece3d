//! Window edges say *what* happened, source facts say *when*; this brings them together.
//!
//! Owns the held state, the matching, the intersection of what everybody says and the health
//! figures. Refuses to make edges up: a fact without a window edge is dropped and counted, an
//! auto-repeat is no edge, and a window edge without a fact keeps its whole drain interval.
//!
//! # Rules
//!
//! * **Which fact.** First in, first out per source, control and direction, but only with a drain
//!   interval the fact fits into. What an edge given out without a fact is still owed is kept
//!   apart, so that a late fact is never taken for the next press; a fact already half a second old
//!   when it comes is dropped.
//! * **What they say together.** Their intervals and the drain's intersect. Where they have nothing
//!   in common the widest of them is kept and the edge marked.
//! * **Both edges** are treated alike. **Auto-repeat**, flagged or not, is no edge.
//! * **Held since before.** A key whose repeats are seen counts as down and gives no press; its
//!   release is an edge. The release of a control never seen going down is none. A release is
//!   timed although its press was not: sources need not have been armed for the press.
//! * **Two devices, one key.** The window decides, since servers differ: under X.Org the first
//!   release ends it (`dix/exevents.c`, `UpdateDeviceState`), under Wayland the last (libinput's
//!   seat key count). A second press without a release is no edge. Where a source tells of two
//!   releases in a row and the window has not said which counts, the stamp covers both.
//! * **Two devices, one pad control.** It is down while any of them holds it, like switches wired
//!   side by side: the first press and the last release are the edges.
//! * **Order.** Edges given out by one poll are in the order of their best marks, whoever's they
//!   are; those of one control stay in their own order.
//! * **A source that dies.** Once said to be inactive nothing waits for it. Unsaid, every edge
//!   waits its patience and then goes out with its drain interval; it never gets a wrong time.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use crate::press::health::{Part, SourceHealth, Tally};
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
    /// How many devices hold each pad control.
    pad_holders: BTreeMap<Control, u32>,
    waiting: VecDeque<Waiting>,
    facts: Vec<Fact>,
    owed: Vec<Owed>,
    ready: Vec<StampedEdge>,
    counters: Counters,
    tallies: BTreeMap<Origin, Tally>,
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
            pad_holders: BTreeMap::new(),
            waiting: VecDeque::new(),
            facts: Vec::new(),
            owed: Vec::new(),
            ready: Vec::new(),
            counters: Counters::default(),
            tallies: BTreeMap::new(),
        }
    }

    /// The health figures of all sources together.
    pub fn counters(&self) -> Counters {
        Counters {
            late_facts: self.tallies.values().map(|tally| tally.late_facts).sum(),
            dropped_facts: self.tallies.values().map(|tally| tally.dropped_facts).sum(),
            ..self.counters
        }
    }

    /// The health figures of one source.
    pub fn health(&self, source: Origin) -> SourceHealth {
        self.tallies
            .get(&source)
            .map_or_else(|| Tally::default().health(source), |tally| tally.health(source))
    }

    /// What is known of the display server's clock.
    pub fn server_clock(&self) -> &ServerClock {
        &self.clock
    }

    /// Whether the control is down, as far as window and pad edges tell.
    pub fn is_held(&self, control: Control) -> bool {
        self.held.contains(&control) || self.pad_holders.contains_key(&control)
    }

    /// Says whether facts are to be expected from a source: armed and healthy, or not.
    pub fn set_source_active(&mut self, source: Origin, active: bool) {
        if active {
            self.active.insert(source);
        } else {
            self.active.remove(&source);
        }
    }

    /// Takes a question for the display server's time: [`ServerClock::observe_round_trip`].
    pub fn server_round_trip(&mut self, sent: Mark, server_ms: u32, received: Mark) {
        self.clock.observe_round_trip(sent, server_ms, received);
    }

    /// Takes what a source says about a control whose edges the window delivers; what it says about
    /// a control of a pad goes to [`Matcher::pad_edge`].
    pub fn source_fact(&mut self, fact: SourceFact) {
        if fact.control.is_on_pad() {
            return self.pad_edge(fact);
        }
        if let Reading::Server { arrival, server_ms } = fact.reading {
            self.clock.observe(arrival, server_ms);
        }
        let (stamp, arrival) = (fact.stamp(&self.clock), fact.reading.arrival());
        let (source, key) = (fact.source, (fact.control, fact.edge));
        let owed = self.owed.iter().position(|owed| {
            (owed.source, owed.key) == (source, key) && owed.drain.intersect(stamp).is_some()
        });
        if let Some(index) = owed {
            self.owed.remove(index);
            self.tally(source).late_facts += 1;
            return;
        }
        if arrival - stamp.latest() > FACT_LIFETIME {
            self.tally(source).dropped_facts += 1;
            return;
        }
        let same = |f: &&mut Fact| (f.source, f.key.0) == (source, fact.control);
        match self.facts.iter_mut().rfind(same) {
            Some(before) if before.key == key && fact.edge == EdgeKind::Up => {
                let (earliest, latest) = (before.stamp.earliest(), before.stamp.latest());
                before.stamp =
                    Stamp::between(earliest.min(stamp.earliest()), latest.max(stamp.latest()));
                before.arrival = arrival;
            }
            _ => self.facts.push(Fact { source, key, stamp, arrival }),
        }
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

    /// Takes an edge from a device the window knows nothing of: it says what and when at once. The
    /// edges of one device alternate, as the decoders give them, and come by one source only.
    pub fn pad_edge(&mut self, fact: SourceFact) {
        let holders = self.pad_holders.entry(fact.control).or_default();
        let before = *holders;
        *holders = match fact.edge {
            EdgeKind::Down => before.saturating_add(1),
            EdgeKind::Up => before.saturating_sub(1),
        };
        let is_down = *holders > 0;
        if !is_down {
            self.pad_holders.remove(&fact.control);
        }
        if is_down == (before > 0) {
            self.counters.ignored += 1;
            return;
        }
        let stamp = fact.stamp(&self.clock);
        self.counters.edges += 1;
        self.counters.matched += 1;
        self.tally(fact.source).edge(Part::Matched(stamp.width()));
        let SourceFact { source, control, edge, .. } = fact;
        let origin = source;
        self.ready.push(StampedEdge { control, edge, stamp, origin, sources_disagree: false });
    }

    /// Ends a drain at `now`: gives out every edge that is decided, ordered by its best mark. An
    /// edge still waiting for its fact holds back the window edges behind it, not those of pads.
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
        let (kept, expired): (Vec<_>, Vec<_>) = std::mem::take(&mut self.facts)
            .into_iter()
            .partition(|fact| now - fact.arrival <= FACT_LIFETIME);
        self.facts = kept;
        expired.iter().for_each(|fact| self.tally(fact.source).dropped_facts += 1);
        self.owed.retain(|owed| now - owed.drain.latest() <= FACT_LIFETIME);
        in_order(std::mem::take(&mut self.ready))
    }

    /// The window lost the focus: every control counts as up again, and those that were down are
    /// handed back. Nobody let go of them, so no edge is made up; the real release, seen or not, is
    /// none either.
    pub fn release_all(&mut self) -> Vec<Control> {
        let pads = std::mem::take(&mut self.pad_holders).into_keys();
        std::mem::take(&mut self.held).into_iter().chain(pads).collect()
    }

    /// A pad is gone that still held these, which [`super::pad::PadDecoder::forget`] tells: it holds
    /// them no longer, and no edge is made up.
    pub fn release_pad(&mut self, held: &[Control]) {
        for control in held {
            if let Some(holders) = self.pad_holders.get_mut(control) {
                *holders -= 1;
                if *holders == 0 {
                    self.pad_holders.remove(control);
                }
            }
        }
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
                self.tally(source).edge(Part::Silent);
            }
        }
        let (stamp, origin, sources_disagree) = combine(edge.drain, &told);
        self.counters.edges += 1;
        match (sources_disagree, told.is_empty()) {
            (true, _) => self.counters.disagreed += 1,
            (false, true) => self.counters.framed += 1,
            (false, false) => self.counters.matched += 1,
        }
        let matched = Part::Matched(stamp.width());
        let part = if sources_disagree { Part::Disagreed } else { matched };
        told.iter().for_each(|fact| self.tally(fact.source).edge(part));
        if told.is_empty() {
            self.tally(Origin::Frame).edge(matched);
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
        self.tally(taken.source).dropped_facts += (before - self.facts.len()) as u64;
        taken
    }

    fn tally(&mut self, source: Origin) -> &mut Tally {
        self.tallies.entry(source).or_default()
    }
}

/// The edges by their best marks; those of one control keep their own order.
fn in_order(edges: Vec<StampedEdge>) -> Vec<StampedEdge> {
    let mut latest: BTreeMap<Control, Mark> = BTreeMap::new();
    let mut placed: Vec<_> = edges
        .into_iter()
        .map(|edge| {
            let best = edge.stamp.best();
            let place = latest.entry(edge.control).or_insert(best);
            *place = best.max(*place);
            (*place, edge)
        })
        .collect();
    placed.sort_by_key(|(place, _)| *place);
    placed.into_iter().map(|(_, edge)| edge).collect()
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
