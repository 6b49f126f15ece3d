//! Streams of device events, read from `tests/data/press`, and garbage, through the decoders.
//!
//! Owns the reading of those files and the check of every decoded edge against what the file says
//! happened. Refuses matching with window edges.

use std::collections::BTreeMap;
use std::fs;
use std::time::{Duration, SystemTime};

use lastamber::press::analog::{AnalogAxis, Threshold, Travel};
use lastamber::press::evdev::{EvdevDevice, InputRecord, Told};
use lastamber::press::keys::key_named;
use lastamber::press::pad::{PadDating, PadDecoder, PadEvent};
use lastamber::press::pad_time::ClockPair;
use lastamber::press::{Control, EdgeKind, Reading, ServerClock, SourceFact};
use lastamber::units::{Mark, Span, Stamp};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

/// An edge a file tells of: its device, what moved, when; and whether it is known to lie there or
/// was found after a loss.
#[derive(Debug, Clone, PartialEq)]
struct Happened {
    device: String,
    edge: EdgeKind,
    control: Control,
    at: Mark,
    found: bool,
}

/// The words of a file's lines, and what it says happened.
fn read_file(name: &str) -> (Vec<Vec<String>>, Vec<Happened>) {
    let path = format!("{}/tests/data/press/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = fs::read_to_string(path).unwrap();
    let (mut lines, mut happened) = (Vec::new(), Vec::new());
    for line in text.lines().filter(|line| !line.starts_with('#')) {
        let words: Vec<String> = line.split(' ').map(str::to_owned).collect();
        match words[0].as_str() {
            mark @ ("=" | "~") => happened.push(Happened {
                device: words[1].clone(),
                edge: if words[2] == "down" { EdgeKind::Down } else { EdgeKind::Up },
                control: key_named(&words[3]).unwrap(),
                at: Mark::from_ns(micros(&words[4]) * 1_000),
                found: mark == "~",
            }),
            _ => lines.push(words),
        }
    }
    (lines, happened)
}

/// `seconds.micros` in microseconds.
fn micros(text: &str) -> i64 {
    let (sec, usec) = text.split_once('.').unwrap_or((text, "000000"));
    sec.parse::<i64>().unwrap() * 1_000_000 + usec.parse::<i64>().unwrap()
}

/// Plays a file of kernel records, each received `delay` after it happened.
fn play(name: &str, delay: Span, axis: Option<(u16, AnalogAxis)>) -> Vec<(String, SourceFact)> {
    let mut devices: BTreeMap<String, EvdevDevice> = BTreeMap::new();
    let (mut facts, mut lost) = (Vec::new(), 0);
    for words in read_file(name).0 {
        if words[0] == "state" {
            let down: Vec<u16> = words[3..].iter().map(|code| code.parse().unwrap()).collect();
            let at = Mark::from_ns(micros(&words[2]) * 1_000);
            let device = devices.get_mut(&words[1]).unwrap();
            facts.extend(device.restate(&down, &[], at).into_iter().map(|f| (words[1].clone(), f)));
            lost -= 1;
            continue;
        }
        let us = micros(&words[1]);
        let record = InputRecord {
            sec: us / 1_000_000,
            usec: us % 1_000_000,
            kind: words[2].parse().unwrap(),
            code: words[3].parse().unwrap(),
            value: words[4].parse().unwrap(),
        };
        let device = devices.entry(words[0].clone()).or_insert_with(|| {
            let mut device = EvdevDevice::new([], Mark::from_ns(0));
            axis.iter().for_each(|(code, axis)| device.follow_axis(*code, axis.clone()));
            device
        });
        match device.read(record, record.at() + delay) {
            Told::Nothing => {}
            Told::Edge(fact) => facts.push((words[0].clone(), fact)),
            Told::StateLost => lost += 1,
        }
    }
    assert_eq!(lost, 0, "every loss is followed by a reading of the state");
    facts
}

fn stamp(fact: &SourceFact) -> Stamp {
    fact.stamp(&ServerClock::default())
}

/// Whether the decoded edges are those that happened, each inside its stamp.
fn assert_happened(facts: &[(String, SourceFact)], happened: &[Happened]) {
    let sorted = |mut rows: Vec<(String, Control, EdgeKind, Mark)>| {
        rows.sort_by_key(|row| (row.0.clone(), row.1, row.3));
        rows
    };
    let told = facts.iter().map(|(d, f)| (d.clone(), f.control, f.edge, stamp(f).best()));
    let truth = happened.iter().map(|h| (h.device.clone(), h.control, h.edge, h.at));
    let what = |rows: &[(String, Control, EdgeKind, Mark)]| {
        rows.iter().map(|r| (r.0.clone(), r.1, r.2)).collect::<Vec<_>>()
    };
    assert_eq!(what(&sorted(told.collect())), what(&sorted(truth.collect())));
    for h in happened {
        let inside = facts.iter().any(|(device, f)| {
            let s = stamp(f);
            (device, f.control, f.edge) == (&h.device, h.control, h.edge)
                && (s.earliest()..=s.latest()).contains(&h.at)
        });
        assert!(inside, "{h:?} lies in no stamp of {facts:?}");
    }
}

#[test]
fn keys_buttons_and_two_devices_give_every_edge_at_the_kernels_own_time() {
    for name in ["keyboard_repeat.txt", "button_box.txt", "two_keyboards.txt"] {
        for delay_us in [60, 9_000] {
            let facts = play(name, Span::from_us(delay_us), None);
            let happened = read_file(name).1;
            assert_happened(&facts, &happened);
            for ((_, fact), truth) in facts.iter().zip(&happened) {
                let arrival = truth.at + Span::from_us(delay_us);
                assert_eq!(fact.reading, Reading::Kernel { at: truth.at, arrival }, "{name}");
            }
        }
    }
}

#[test]
fn a_pedals_crossings_lie_inside_their_stamps_and_near_the_best_mark() {
    let travel = Travel::of_axis(0, 1_023, true).unwrap();
    for period in [None, Some(Span::from_ms(8))] {
        let axis = AnalogAxis::new(travel, Threshold::default(), period);
        let facts = play("pedal.txt", Span::from_us(80), Some((5, axis)));
        let happened = read_file("pedal.txt").1;
        assert_happened(&facts, &happened);
        for ((_, fact), truth) in facts.iter().zip(&happened) {
            let s = stamp(fact);
            assert!(s.width() <= Span::from_us(8_250), "{fact:?}");
            // A straight line stands for a smooth travel: 2 ms is far above its error here.
            assert!((s.best() - truth.at).abs() <= Span::from_ms(2), "{fact:?} {truth:?}");
        }
    }
}

#[test]
fn after_an_overflow_what_was_missed_is_found_with_an_interval_that_holds_it() {
    let facts = play("overflow.txt", Span::from_us(80), None);
    let happened = read_file("overflow.txt").1;
    assert_happened(&facts, &happened);
    let known = Mark::from_ns((micros("1.385831") - 50) * 1_000);
    for h in happened.iter().filter(|h| h.found) {
        let (_, fact) = facts
            .iter()
            .find(|(_, f)| (f.control, f.edge) == (h.control, h.edge))
            .expect("it was told");
        let arrival = Mark::from_ns(micros("1.733604") * 1_000);
        assert_eq!(fact.reading, Reading::Arrival { arrival, lag: arrival - known }, "{h:?}");
    }
}

/// A mark of ours is the wall's microsecond after 1,700,000,000 s.
const WALL_ZERO_US: i64 = 1_700_000_000_000_000;

#[test]
fn two_pads_and_a_trigger_give_their_edges_as_they_happened() {
    let mut decoder = PadDecoder::new(PadDating::Kernel, Mark::from_ns(0));
    let (lines, happened) = read_file("pads.txt");
    let mut facts = Vec::new();
    for words in lines {
        let arrival_us = micros(&words[2]);
        let wall = |us: i64| SystemTime::UNIX_EPOCH + Duration::from_micros(us as u64);
        let arrival = Mark::from_ns((arrival_us - WALL_ZERO_US) * 1_000);
        let clocks = ClockPair { before: arrival, wall: wall(arrival_us), after: arrival };
        let value: f32 = words[5].parse().unwrap();
        let event = match words[3].as_str() {
            "pressed" => PadEvent::Pressed,
            "released" => PadEvent::Released,
            "button" => PadEvent::ButtonValue(value),
            _ => PadEvent::AxisValue(value),
        };
        let (pad, code) = (words[0].parse().unwrap(), words[4].parse().unwrap());
        let dated = (wall(micros(&words[1])), arrival);
        let fact = decoder.read(pad, event, code, dated, &clocks);
        facts.extend(fact.map(|fact| (words[0].clone(), fact)));
    }
    let zero = Span::from_us(WALL_ZERO_US);
    let happened: Vec<_> =
        happened.into_iter().map(|h| Happened { at: h.at - zero, ..h }).collect();
    assert_happened(&facts, &happened);
    for ((_, fact), h) in facts.iter().zip(&happened) {
        let (s, trigger) = (stamp(fact), matches!(h.control, Control::PadAxis(_)));
        if trigger {
            assert!((s.best() - h.at).abs() <= Span::from_ms(2), "{fact:?}");
        } else if !h.found {
            assert_eq!((s.best(), s.width() <= Span::from_us(100)), (h.at, true), "{fact:?}");
        }
    }
}

/// What a garbage stream may do to a device.
#[derive(Debug, Clone)]
enum Garbage {
    Record(InputRecord, i64),
    Restate(Vec<u16>, i32, i64),
}

fn record() -> impl Strategy<Value = InputRecord> {
    let kind = prop_oneof![4 => Just(1_u16), 2 => Just(3), 2 => Just(0), 1 => any::<u16>()];
    let code = prop_oneof![6 => 0..4_u16, 2 => 304..306_u16, 1 => any::<u16>()];
    let value = prop_oneof![4 => 0..3_i32, 2 => 0..1_024, 1 => any::<i32>()];
    let sec = prop_oneof![6 => 0..3_i64, 1 => any::<i64>()];
    let usec = prop_oneof![6 => 0..1_000_000_i64, 1 => any::<i64>()];
    (sec, usec, kind, code, value).prop_map(|(sec, usec, kind, code, value)| InputRecord {
        sec,
        usec,
        kind,
        code,
        value,
    })
}

fn garbage() -> impl Strategy<Value = Vec<Garbage>> {
    let arrival = prop_oneof![6 => 0..3_000_000_000_i64, 1 => any::<i64>()];
    let restate = (prop::collection::vec(0..4_u16, 0..3), any::<i32>(), arrival.clone());
    let one = prop_oneof![
        8 => (record(), arrival).prop_map(|(record, at)| Garbage::Record(record, at)),
        1 => restate.prop_map(|(down, value, at)| Garbage::Restate(down, value, at)),
    ];
    prop::collection::vec(one, 0..200)
}

/// Whether the edges of every control alternate, down first, in stamps that are in order and end
/// with the arrival.
fn assert_alternate(facts: &[SourceFact]) {
    let mut down: BTreeMap<Control, bool> = BTreeMap::new();
    for fact in facts {
        let (s, is_down) = (stamp(fact), fact.edge == EdgeKind::Down);
        assert!(s.earliest() <= s.best() && s.best() <= s.latest());
        assert!(s.latest() <= fact.reading.arrival());
        let was = down.insert(fact.control, is_down).unwrap_or(false);
        assert_ne!(was, is_down, "{fact:?}");
    }
}

fn seeded(cases: u32) -> ProptestConfig {
    let rng_seed = RngSeed::Fixed(57_304);
    ProptestConfig { cases, rng_seed, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(seeded(400))]

    #[test]
    fn no_garbage_makes_a_device_panic_or_its_edges_not_alternate(stream in garbage()) {
        let travel = Travel::of_axis(0, 1_023, false).unwrap();
        let mut device = EvdevDevice::new([], Mark::from_ns(0));
        device.follow_axis(1, AnalogAxis::new(travel, Threshold::default(), None));
        let mut facts = Vec::new();
        for piece in stream {
            match piece {
                Garbage::Record(record, at) => match device.read(record, Mark::from_ns(at)) {
                    Told::Edge(fact) => facts.push(fact),
                    Told::Nothing | Told::StateLost => {}
                },
                Garbage::Restate(down, value, at) => {
                    facts.extend(device.restate(&down, &[(1, value)], Mark::from_ns(at)));
                }
            }
        }
        assert_alternate(&facts);
    }

    #[test]
    fn no_garbage_makes_the_pads_panic_or_their_edges_not_alternate(
        stream in prop::collection::vec(
            (0..4_u8, prop_oneof![Just(65_840_u32), Just(196_613), any::<u32>()],
             prop_oneof![4 => 0.0..1.0_f32, 1 => any::<f32>()],
             prop_oneof![1 => Just(0_u64), 4 => 1_000_000..4_000_000_u64, 1 => any::<u32>().prop_map(u64::from)],
             prop_oneof![6 => 0..3_000_000_000_i64, 1 => any::<i64>()]),
            0..200),
        polled in any::<bool>(),
    ) {
        let dating = if polled { PadDating::Polled(Span::from_ms(10)) } else { PadDating::Kernel };
        let mut decoder = PadDecoder::new(dating, Mark::from_ns(0));
        decoder.follow_axis(9, AnalogAxis::new(Travel::SHARE, Threshold::default(), None));
        let mut facts = Vec::new();
        for (event, code, value, wall_us, arrival_ns) in stream {
            let event = match event {
                0 => PadEvent::Pressed,
                1 => PadEvent::Released,
                2 => PadEvent::ButtonValue(value),
                _ => PadEvent::AxisValue(value),
            };
            let (wall, arrival) = (Duration::from_micros(wall_us), Mark::from_ns(arrival_ns));
            let time = SystemTime::UNIX_EPOCH + wall;
            let read = time + Duration::from_micros(arrival_ns.unsigned_abs() % 4_000);
            let clocks = ClockPair { before: arrival, wall: read, after: arrival };
            facts.extend(decoder.read(0, event, code, (time, arrival), &clocks));
        }
        assert_alternate(&facts);
    }
}
