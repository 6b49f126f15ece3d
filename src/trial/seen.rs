//! What was seen and pressed in a run, packed.
//!
//! Owns the bytes a run takes in memory: a long history is mostly lamps. Refuses to lose any of it: what
//! comes out is what was put in, to the nanosecond.

use std::fmt;

use super::packing::{Packer, Unpacker};
use super::spacing::amber_spacing;
use crate::press::Origin;
use crate::tree::{Lamp, Staging};
use crate::units::{Inches, Span};

/// One lamp of the driver's lane, relative to the start of the run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LampFact {
    /// Which lamp.
    pub lamp: Lamp,
    /// When it was due.
    pub due: Span,
    /// When the display lit it: earliest, best, latest.
    pub shown: Option<[Span; 3]>,
}

/// The launch edge, relative to the start of the run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaunchFact {
    /// Earliest, best, latest.
    pub at: [Span; 3],
    /// What gave the time.
    pub origin: Origin,
    /// Two sources contradicted each other; the wider interval was kept.
    pub sources_disagree: bool,
    /// How far the tyre stood past the stage beam.
    pub depth: Inches,
}

/// What was seen and pressed in a run.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SeenFacts {
    /// How the driver rolled in.
    pub staging: Staging,
    /// Lamps due and shown, in order of due mark.
    pub lamps: Vec<LampFact>,
    /// From one amber to the next as they were shown, best marks; none where all light at once, and
    /// none in runs from before it was recorded ([`amber_spacing`] gives it from the lamps).
    pub amber_gaps_shown: Vec<Span>,
    /// From both lanes staged and steady (or armed) to the first amber.
    pub hold: Option<Span>,
    /// Running median of presented frame intervals.
    pub frame_period: Span,
    /// The launch edge, if there was one.
    pub launch: Option<LaunchFact>,
}

/// [`SeenFacts`] in a quarter of their bytes. Two that are equal have the same bytes.
#[derive(Clone, PartialEq, Eq)]
pub struct Seen(Box<[u8]>);

/// What the first byte says, a bit each.
mod flag {
    pub const COURTESY_BROKEN: u8 = 1;
    pub const DEEP: u8 = 2;
    pub const WAY_IN: u8 = 4;
    pub const TOOK: u8 = 8;
    pub const HOLD: u8 = 16;
    pub const LAUNCH: u8 = 32;
    pub const DISAGREE: u8 = 64;
    pub const GAPS_OF_LAMPS: u8 = 128;
}

/// What the byte before a lamp says beside the lamp, a bit each.
mod lamp_flag {
    pub const NEXT_AMBER: u8 = 8;
    pub const SHOWN: u8 = 16;
    pub const DOUBT_AS_BEFORE: u8 = 32;
}

/// What lamps before one let expect of it.
#[derive(Default)]
struct Expected {
    ambers: u8,
    due_ns: i64,
    step_ns: i64,
    doubt_ns: [i64; 2],
}

impl Seen {
    /// All of it.
    pub fn facts(&self) -> SeenFacts {
        let mut from = Unpacker::new(&self.0);
        let flags = from.byte();
        let mut facts = take_head(&mut from, flags);
        facts.lamps = take_lamps(&mut from);
        facts.amber_gaps_shown = match flags & flag::GAPS_OF_LAMPS {
            0 => spans(&mut from),
            _ => amber_spacing(&facts.lamps).gaps,
        };
        facts
    }

    /// How the driver rolled in.
    pub fn staging(&self) -> Staging {
        self.head().staging
    }

    /// Lamps due and shown, in order of due mark.
    pub fn lamps(&self) -> Vec<LampFact> {
        let mut from = Unpacker::new(&self.0);
        let flags = from.byte();
        take_head(&mut from, flags);
        take_lamps(&mut from)
    }

    /// From both lanes staged and steady (or armed) to the first amber.
    pub fn hold(&self) -> Option<Span> {
        self.head().hold
    }

    /// The launch edge, if there was one.
    pub fn launch(&self) -> Option<LaunchFact> {
        self.head().launch
    }

    /// Puts down the same with something of it changed.
    pub fn change(&mut self, change: impl FnOnce(&mut SeenFacts)) {
        let mut facts = self.facts();
        change(&mut facts);
        *self = facts.into();
    }

    /// The bytes, and [`Seen::of_bytes`] makes them the same again.
    pub(crate) fn as_bytes(&self) -> &[u8] {
        &self.0
    }

    /// Of bytes that were [`Seen::as_bytes`]; any others are something, whatever it is.
    pub(crate) fn of_bytes(bytes: &[u8]) -> Self {
        Self(bytes.into())
    }

    fn head(&self) -> SeenFacts {
        let mut from = Unpacker::new(&self.0);
        let flags = from.byte();
        take_head(&mut from, flags)
    }
}

impl From<SeenFacts> for Seen {
    fn from(facts: SeenFacts) -> Self {
        let mut to = Packer::default();
        let gaps_of_lamps = amber_spacing(&facts.lamps).gaps == facts.amber_gaps_shown;
        put_head(&mut to, &facts, gaps_of_lamps);
        put_lamps(&mut to, &facts.lamps);
        if !gaps_of_lamps {
            to.number(facts.amber_gaps_shown.len() as u64);
            facts.amber_gaps_shown.iter().for_each(|gap| to.signed(gap.ns()));
        }
        Self(to.as_bytes().into())
    }
}

impl From<Seen> for SeenFacts {
    fn from(seen: Seen) -> Self {
        seen.facts()
    }
}

impl fmt::Debug for Seen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.facts().fmt(f)
    }
}

fn put_head(to: &mut Packer, facts: &SeenFacts, gaps_of_lamps: bool) {
    let staging = &facts.staging;
    let way_in = [staging.sent_back, staging.rolled_through];
    let flags = [
        (flag::COURTESY_BROKEN, staging.courtesy_broken),
        (flag::DEEP, staging.deep),
        (flag::WAY_IN, way_in != [0, 0]),
        (flag::TOOK, staging.took.is_some()),
        (flag::HOLD, facts.hold.is_some()),
        (flag::LAUNCH, facts.launch.is_some()),
        (flag::DISAGREE, facts.launch.is_some_and(|launch| launch.sources_disagree)),
        (flag::GAPS_OF_LAMPS, gaps_of_lamps),
    ];
    to.byte(flags.into_iter().filter(|(_, is)| *is).fold(0, |byte, (flag, _)| byte | flag));
    if way_in != [0, 0] {
        to.bytes(&way_in);
    }
    for span in [staging.took, facts.hold].into_iter().flatten() {
        to.signed(span.ns());
    }
    to.signed(facts.frame_period.ns());
    if let Some(launch) = facts.launch {
        let [earliest, best, latest] = launch.at.map(Span::ns);
        to.signed(best);
        doubt_ns([earliest, best, latest]).into_iter().for_each(|ns| to.signed(ns));
        to.bytes(&launch.depth.0.to_bits().to_le_bytes());
        to.byte(match launch.origin {
            Origin::Kernel => 0,
            Origin::Server => 1,
            Origin::Pad => 2,
            Origin::Frame => 3,
        });
    }
}

fn take_head(from: &mut Unpacker, flags: u8) -> SeenFacts {
    let is = |flag: u8| flags & flag != 0;
    let way_in = if is(flag::WAY_IN) { from.array() } else { [0, 0] };
    let took = is(flag::TOOK).then(|| Span::from_ns(from.signed()));
    let hold = is(flag::HOLD).then(|| Span::from_ns(from.signed()));
    let frame_period = Span::from_ns(from.signed());
    let launch = is(flag::LAUNCH).then(|| {
        let best = from.signed();
        LaunchFact {
            at: around(best, [from.signed(), from.signed()]),
            depth: Inches(f64::from_bits(u64::from_le_bytes(from.array()))),
            origin: match from.byte() {
                0 => Origin::Kernel,
                1 => Origin::Server,
                2 => Origin::Pad,
                _ => Origin::Frame,
            },
            sources_disagree: is(flag::DISAGREE),
        }
    });
    let staging = Staging {
        took,
        courtesy_broken: is(flag::COURTESY_BROKEN),
        sent_back: way_in[0],
        rolled_through: way_in[1],
        deep: is(flag::DEEP),
    };
    SeenFacts { staging, hold, frame_period, launch, ..SeenFacts::default() }
}

fn put_lamps(to: &mut Packer, lamps: &[LampFact]) {
    to.number(lamps.len() as u64);
    let mut expected = Expected::default();
    for fact in lamps {
        let (kind, amber) = match fact.lamp {
            Lamp::PreStage => (0, None),
            Lamp::Stage => (1, None),
            Lamp::Green => (2, None),
            Lamp::Red => (3, None),
            Lamp::Amber(i) => (4, Some(i)),
        };
        let shown = fact.shown.map(|shown| shown.map(Span::ns));
        let doubt = shown.map(doubt_ns);
        let is_next = amber == Some(expected.ambers);
        let as_before = doubt == Some(expected.doubt_ns);
        to.byte(
            kind | (u8::from(is_next) * lamp_flag::NEXT_AMBER)
                | (u8::from(shown.is_some()) * lamp_flag::SHOWN)
                | (u8::from(as_before) * lamp_flag::DOUBT_AS_BEFORE),
        );
        if let Some(i) = amber.filter(|_| !is_next) {
            to.byte(i);
        }
        to.signed(expected.off(fact.due.ns()));
        if let (Some([_, best, _]), Some(doubt)) = (shown, doubt) {
            to.signed(best.wrapping_sub(fact.due.ns()));
            if !as_before {
                doubt.into_iter().for_each(|ns| to.signed(ns));
            }
        }
        expected.learn(amber, fact.due.ns(), doubt);
    }
}

fn take_lamps(from: &mut Unpacker) -> Vec<LampFact> {
    let count = from.number();
    let mut lamps = Vec::new();
    let mut expected = Expected::default();
    for _ in 0..count {
        let flags = from.byte();
        if from.is_spent() {
            break;
        }
        let is = |flag: u8| flags & flag != 0;
        let amber = (flags & 7 == 4).then(|| match is(lamp_flag::NEXT_AMBER) {
            true => expected.ambers,
            false => from.byte(),
        });
        let lamp = match (amber, flags & 7) {
            (Some(i), _) => Lamp::Amber(i),
            (None, 0) => Lamp::PreStage,
            (None, 1) => Lamp::Stage,
            (None, 2) => Lamp::Green,
            (None, _) => Lamp::Red,
        };
        // What is off its expectation by its own expectation back is zero off.
        let due = from.signed().wrapping_sub(expected.off(0));
        let shown = is(lamp_flag::SHOWN).then(|| {
            let best = due.wrapping_add(from.signed());
            let as_before = is(lamp_flag::DOUBT_AS_BEFORE);
            let doubt = if as_before { expected.doubt_ns } else { [from.signed(), from.signed()] };
            (best, doubt)
        });
        expected.learn(amber, due, shown.map(|(_, doubt)| doubt));
        let shown = shown.map(|(best, doubt)| around(best, doubt));
        lamps.push(LampFact { lamp, due: Span::from_ns(due), shown });
    }
    lamps.shrink_to_fit();
    lamps
}

impl Expected {
    /// How far a due mark is off one that comes as long after the last as that came after its own last.
    fn off(&self, due_ns: i64) -> i64 {
        due_ns.wrapping_sub(self.due_ns).wrapping_sub(self.step_ns)
    }

    fn learn(&mut self, amber: Option<u8>, due_ns: i64, doubt: Option<[i64; 2]>) {
        self.ambers = amber.map_or(self.ambers, |i| i.wrapping_add(1));
        // The first one is no step.
        self.step_ns = if self.due_ns == 0 { 0 } else { due_ns.wrapping_sub(self.due_ns) };
        self.due_ns = due_ns;
        self.doubt_ns = doubt.unwrap_or(self.doubt_ns);
    }
}

fn spans(from: &mut Unpacker) -> Vec<Span> {
    let count = from.number();
    let one = |_| Some(Span::from_ns(from.signed())).filter(|_| !from.is_spent());
    (0..count).map_while(one).collect()
}

/// How far earliest and latest are from the best mark.
fn doubt_ns([earliest, best, latest]: [i64; 3]) -> [i64; 2] {
    [best.wrapping_sub(earliest), latest.wrapping_sub(best)]
}

fn around(best: i64, [early, late]: [i64; 2]) -> [Span; 3] {
    [best.wrapping_sub(early), best, best.wrapping_add(late)].map(Span::from_ns)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn any_span() -> impl Strategy<Value = Span> {
        let usual = -9_000_000_000..9_000_000_000_i64;
        prop_oneof![usual, any::<i64>(), Just(0), Just(i64::MIN)].prop_map(Span::from_ns)
    }

    fn any_three() -> impl Strategy<Value = [Span; 3]> {
        [any_span(), any_span(), any_span()]
    }

    fn any_lamp() -> impl Strategy<Value = LampFact> {
        let lamp = prop_oneof![
            Just(Lamp::PreStage),
            Just(Lamp::Stage),
            any::<u8>().prop_map(Lamp::Amber),
            (0_u8..3).prop_map(Lamp::Amber),
            Just(Lamp::Green),
            Just(Lamp::Red),
        ];
        let shown = prop::option::of(any_three());
        (lamp, any_span(), shown).prop_map(|(lamp, due, shown)| LampFact { lamp, due, shown })
    }

    fn any_launch() -> impl Strategy<Value = LaunchFact> {
        let origin =
            prop::sample::select(vec![Origin::Kernel, Origin::Server, Origin::Pad, Origin::Frame]);
        (any_three(), origin, any::<bool>(), any::<f64>().prop_map(Inches)).prop_map(
            |(at, origin, sources_disagree, depth)| LaunchFact {
                at,
                origin,
                sources_disagree,
                depth,
            },
        )
    }

    fn any_facts() -> impl Strategy<Value = SeenFacts> {
        let staging = (prop::option::of(any_span()), any::<[bool; 2]>(), any::<[u8; 2]>());
        let staging = staging.prop_map(|(took, [courtesy_broken, deep], [back, through])| {
            Staging { took, courtesy_broken, sent_back: back, rolled_through: through, deep }
        });
        let lamps = prop::collection::vec(any_lamp(), 0..8);
        let gaps = prop::option::of(prop::collection::vec(any_span(), 0..4));
        let launch = prop::option::of(any_launch());
        (staging, lamps, gaps, prop::option::of(any_span()), any_span(), launch).prop_map(
            |(staging, lamps, gaps, hold, frame_period, launch)| SeenFacts {
                staging,
                amber_gaps_shown: gaps.unwrap_or_else(|| amber_spacing(&lamps).gaps),
                lamps,
                hold,
                frame_period,
                launch,
            },
        )
    }

    proptest! {
        #[test]
        fn whatever_was_seen_comes_back(facts in any_facts()) {
            let seen = Seen::from(facts.clone());
            // As words, because a depth that is no number never equals itself.
            prop_assert_eq!(format!("{:?}", seen.facts()), format!("{facts:?}"));
            prop_assert_eq!(seen.staging(), facts.staging);
            prop_assert_eq!(seen.lamps(), facts.lamps);
            prop_assert_eq!(seen.hold(), facts.hold);
            prop_assert_eq!(format!("{:?}", seen.launch()), format!("{:?}", facts.launch));
            prop_assert_eq!(Seen::of_bytes(seen.as_bytes()), seen);
        }

        #[test]
        fn bytes_of_any_kind_are_read_without_end_or_panic(
            bytes in prop::collection::vec(any::<u8>(), 0..80),
        ) {
            prop_assert!(Seen::of_bytes(&bytes).facts().lamps.len() <= bytes.len());
        }
    }

    #[test]
    fn a_run_of_three_ambers_takes_a_hundred_bytes_at_most() {
        let ms = Span::from_ms;
        let lamp = |(lamp, due): (Lamp, i64)| {
            let best = ms(due) + Span::from_us(3_217 + 7 * due);
            let shown = [best - Span::from_us(700), best, best + Span::from_us(711)];
            LampFact { lamp, due: ms(due), shown: Some(shown) }
        };
        let due = [Lamp::Amber(0), Lamp::Amber(1), Lamp::Amber(2), Lamp::Green];
        let lamps: Vec<_> = due.into_iter().zip([6000, 6500, 7000, 7503]).map(lamp).collect();
        let seen = Seen::from(SeenFacts {
            staging: Staging { took: Some(ms(3210)), ..Staging::default() },
            amber_gaps_shown: amber_spacing(&lamps).gaps,
            lamps,
            hold: Some(ms(1011)),
            frame_period: Span::from_us(16_666),
            launch: Some(LaunchFact {
                at: [7_145_000_100, 7_145_400_000, 7_145_900_200].map(Span::from_ns),
                origin: Origin::Server,
                sources_disagree: false,
                depth: Inches(1.02),
            }),
        });
        assert!(seen.as_bytes().len() <= 100, "{}", seen.as_bytes().len());
        assert_eq!(seen.facts().amber_gaps_shown.len(), 2);
    }
}
