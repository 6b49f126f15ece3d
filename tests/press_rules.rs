//! The rules of matching where more than one device, control or source has a say.
//!
//! Owns the cases the head of the matcher names: two devices, a control held since before, both
//! players at once, three sources, a source that dies. Refuses the plain stories, which
//! `press_matching.rs` has.

use lastamber::press::evdev::{EvdevDevice, InputRecord, Told};
use lastamber::press::{
    ClockBase, Control, EdgeKind, Matcher, Origin, Reading, SourceFact, WindowEdge,
};
use lastamber::units::{Mark, Span, Stamp};

const SPACE: Control = Control::Key(57);
const ENTER: Control = Control::Key(28);
const SOUTH: Control = Control::PadButton(304);
use EdgeKind::{Down, Up};

fn ms(at: i64) -> Mark {
    Mark::from_ns(at * 1_000_000)
}

fn us(at: i64) -> Mark {
    Mark::from_ns(at * 1_000)
}

fn fact(source: Origin, control: Control, edge: EdgeKind, at_us: i64) -> SourceFact {
    let arrival = us(at_us + 150);
    let reading = match source {
        Origin::Server => Reading::Server { arrival, server_ms: (at_us / 1_000) as u32 },
        _ => Reading::Kernel { at: us(at_us), arrival },
    };
    SourceFact { source, control, edge, reading }
}

fn window(control: Control, edge: EdgeKind, from_ms: i64, to_ms: i64) -> WindowEdge {
    WindowEdge { control, edge, repeat: false, drained: (ms(from_ms), ms(to_ms)) }
}

fn matcher(active: &[Origin]) -> Matcher {
    let mut m = Matcher::default();
    active.iter().for_each(|source| m.set_source_active(*source, true));
    m
}

#[test]
fn a_second_keyboards_press_of_a_held_key_is_no_edge_and_takes_nothing_from_the_first() {
    let mut m = matcher(&[Origin::Server]);
    m.source_fact(fact(Origin::Server, SPACE, Down, 1_004_300));
    m.source_fact(fact(Origin::Server, SPACE, Down, 1_011_800));
    m.window_edge(window(SPACE, Down, 1_000, 1_016));
    m.window_edge(window(SPACE, Down, 1_000, 1_016));
    let out = m.poll(ms(1_016));
    assert_eq!((out.len(), out[0].stamp.best()), (1, us(1_004_300)));
    assert_eq!(m.counters().ignored, 1);
    assert!(m.is_held(SPACE));
}

#[test]
fn of_two_keyboards_the_window_says_whose_release_ends_the_hold() {
    // Released at 1,204.3 by one and at 1,251.8 by the other; the window tells of the first, as
    // X.Org does, or of the last, as Wayland does.
    for (told, expected) in [((1_200, 1_216), 1_204_300), ((1_250, 1_266), 1_251_800)] {
        let mut m = matcher(&[Origin::Kernel]);
        m.source_fact(fact(Origin::Kernel, SPACE, Down, 1_004_300));
        m.window_edge(window(SPACE, Down, 1_000, 1_016));
        assert_eq!(m.poll(ms(1_016)).len(), 1);
        let mut out = Vec::new();
        m.source_fact(fact(Origin::Kernel, SPACE, Up, 1_204_300));
        if told.0 == 1_200 {
            m.window_edge(window(SPACE, Up, 1_200, 1_216));
        }
        out.extend(m.poll(ms(1_216)));
        m.source_fact(fact(Origin::Kernel, SPACE, Up, 1_251_800));
        m.window_edge(window(SPACE, Up, 1_250, 1_266));
        out.extend(m.poll(ms(1_266)));
        assert_eq!((out.len(), out[0].sources_disagree), (1, false));
        let stamp = out[0].stamp;
        assert!((stamp.earliest()..=stamp.latest()).contains(&us(expected)), "{stamp:?}");
        assert!(!m.is_held(SPACE));
    }
}

#[test]
fn two_releases_inside_one_drain_leave_a_stamp_that_covers_both() {
    let mut m = matcher(&[Origin::Kernel]);
    m.window_edge(WindowEdge { repeat: true, ..window(SPACE, Down, 1_000, 1_016) });
    m.source_fact(fact(Origin::Kernel, SPACE, Up, 1_204_300));
    m.source_fact(fact(Origin::Kernel, SPACE, Up, 1_209_800));
    m.window_edge(window(SPACE, Up, 1_200, 1_216));
    let out = m.poll(ms(1_216));
    let stamp = out[0].stamp;
    assert_eq!((stamp.earliest(), stamp.latest()), (us(1_204_250), us(1_209_850)));
    assert_eq!((out[0].origin, out[0].sources_disagree), (Origin::Kernel, false));
}

#[test]
fn two_pads_hold_a_control_like_switches_wired_side_by_side() {
    let mut m = matcher(&[]);
    let edges = [(Down, 100_000), (Down, 140_000), (Up, 180_000), (Up, 230_000)];
    let mut out = Vec::new();
    for (edge, at_us) in edges {
        m.pad_edge(fact(Origin::Pad, SOUTH, edge, at_us));
        out.extend(m.poll(us(at_us + 16_000)));
        assert_eq!(m.is_held(SOUTH), at_us < 230_000);
    }
    let told: Vec<_> = out.iter().map(|e| (e.edge, e.stamp.best())).collect();
    assert_eq!(told, [(Down, us(100_000)), (Up, us(230_000))]);
    let counters = m.counters();
    assert_eq!((counters.edges, counters.matched, counters.ignored), (2, 2, 2));
}

#[test]
fn a_pad_that_is_gone_holds_nothing_and_its_loss_is_no_release() {
    let mut m = matcher(&[]);
    m.pad_edge(fact(Origin::Pad, SOUTH, Down, 100_000));
    m.pad_edge(fact(Origin::Pad, SOUTH, Down, 140_000));
    m.release_pad(&[SOUTH]);
    assert!(m.is_held(SOUTH), "the other pad still holds it");
    m.release_pad(&[SOUTH]);
    assert!(!m.is_held(SOUTH));
    m.release_pad(&[SOUTH, SPACE]);
    m.pad_edge(fact(Origin::Pad, SOUTH, Up, 180_000));
    let out = m.poll(ms(200));
    assert_eq!((out.len(), out[0].edge), (1, Down));
}

#[test]
fn a_control_held_since_before_staging_is_timed_when_it_is_let_go() {
    let mut m = matcher(&[]);
    m.window_edge(window(SPACE, Down, 1_000, 1_016));
    assert_eq!(m.poll(ms(1_016))[0].origin, Origin::Frame);
    m.set_source_active(Origin::Server, true);
    for drain in 0..60 {
        let from = 1_500 + drain * 17;
        m.window_edge(WindowEdge { repeat: true, ..window(SPACE, Down, from, from + 17) });
        assert!(m.poll(ms(from + 17)).is_empty(), "repeats while staged are no edges");
    }
    m.source_fact(fact(Origin::Server, SPACE, Up, 2_604_300));
    m.window_edge(window(SPACE, Up, 2_600, 2_617));
    let out = m.poll(ms(2_617));
    assert_eq!((out[0].edge, out[0].origin), (Up, Origin::Server));
    assert_eq!(out[0].stamp.best(), us(2_604_300));
    assert_eq!(m.counters().dropped_facts, 0);
}

/// A held key's records: down, after 250 ms a repeat every 33 ms (the kernel's usual rates), up.
fn held_key(down_us: i64, up_us: i64) -> Vec<InputRecord> {
    let repeats = (0..).map(|i| down_us + 250_000 + i * 33_000).take_while(|at| *at < up_us);
    let values = [(down_us, 1)].into_iter().chain(repeats.map(|at| (at, 2))).chain([(up_us, 0)]);
    let record = |(at, value)| InputRecord {
        sec: at / 1_000_000,
        usec: at % 1_000_000,
        kind: 1,
        code: 57,
        value,
    };
    values.map(record).collect()
}

#[test]
fn a_key_the_kernel_repeats_thirty_times_a_second_is_one_press_and_one_release() {
    let mut device = EvdevDevice::new([], us(0));
    let mut m = matcher(&[Origin::Kernel]);
    let mut out = Vec::new();
    for record in held_key(1_004_300, 3_009_700) {
        let at = record.at();
        if let Told::Edge(fact) = device.read(record, at + Span::from_us(90)) {
            m.source_fact(fact);
        }
        let edge = if record.value == 0 { Up } else { Down };
        let drained = (at - Span::from_ms(12), at + Span::from_ms(5));
        m.window_edge(WindowEdge { control: SPACE, edge, repeat: record.value == 2, drained });
        out.extend(m.poll(drained.1));
    }
    let told: Vec<_> = out.iter().map(|e| (e.edge, e.stamp.best(), e.origin)).collect();
    let kernel = Origin::Kernel;
    assert_eq!(told, [(Down, us(1_004_300), kernel), (Up, us(3_009_700), kernel)]);
    assert!(m.counters().ignored > 50, "there were repeats: {:?}", m.counters());
}

#[test]
fn both_players_in_one_drain_come_in_the_order_of_their_stamps() {
    let players = [(SPACE, 1_009_700), (ENTER, 1_003_200)];
    for order in [[0, 1], [1, 0]] {
        let mut m = matcher(&[Origin::Kernel]);
        for i in order {
            let (control, at_us) = players[i];
            m.source_fact(fact(Origin::Kernel, control, Down, at_us));
            m.window_edge(window(control, Down, 1_000, 1_016));
        }
        m.pad_edge(fact(Origin::Pad, SOUTH, Down, 1_006_500));
        let told: Vec<_> = m.poll(ms(1_016)).iter().map(|e| e.control).collect();
        assert_eq!(told, [ENTER, SOUTH, SPACE], "whoever the window named first");
    }
}

#[test]
fn one_controls_own_edges_are_never_turned_round() {
    let mut m = matcher(&[]);
    // The press is timed late in the drain; its release has the drain alone, its middle earlier.
    m.source_fact(fact(Origin::Kernel, SPACE, Down, 1_014_000));
    m.window_edge(window(SPACE, Down, 1_000, 1_016));
    m.window_edge(window(SPACE, Up, 1_000, 1_016));
    m.pad_edge(fact(Origin::Pad, SOUTH, Down, 1_010_000));
    let told: Vec<_> = m.poll(ms(1_016)).iter().map(|e| (e.control, e.edge)).collect();
    assert_eq!(told, [(SOUTH, Down), (SPACE, Down), (SPACE, Up)]);
}

#[test]
fn kernel_server_and_frame_together_leave_what_all_three_allow() {
    let mut m = matcher(&[Origin::Kernel, Origin::Server]);
    m.source_fact(fact(Origin::Server, SPACE, Down, 1_005_020));
    m.source_fact(fact(Origin::Kernel, SPACE, Down, 1_004_980));
    let drained = (ms(990), us(1_005_010));
    m.window_edge(WindowEdge { control: SPACE, edge: Down, repeat: false, drained });
    let out = m.poll(ms(1_006));
    // Kernel 1,004.930 to 1,005.030, server from 1,005.000, frame to 1,005.010.
    assert_eq!((out[0].stamp.earliest(), out[0].stamp.latest()), (ms(1_005), us(1_005_010)));
    assert_eq!((out[0].origin, out[0].sources_disagree), (Origin::Kernel, false));
    for source in [Origin::Kernel, Origin::Server] {
        let health = m.health(source);
        assert_eq!((health.edges, health.matched), (1, 1));
        assert_eq!(health.widest, Some(Span::from_us(10)));
    }
    assert_eq!(m.health(Origin::Frame).edges, 0);
}

#[test]
fn of_three_that_disagree_the_widest_is_kept_and_marked() {
    let mut m = matcher(&[Origin::Kernel, Origin::Server]);
    m.source_fact(fact(Origin::Server, SPACE, Down, 1_005_020));
    m.source_fact(fact(Origin::Kernel, SPACE, Down, 1_009_000));
    m.window_edge(window(SPACE, Down, 1_000, 1_016));
    let out = m.poll(ms(1_016));
    assert_eq!(out[0].stamp, Stamp::between(ms(1_000), ms(1_016)));
    assert!(out[0].sources_disagree);
    for source in [Origin::Kernel, Origin::Server] {
        let health = m.health(source);
        assert_eq!((health.edges, health.matched, health.disagreed), (1, 0, 1));
    }
}

#[test]
fn a_source_that_dies_in_a_run_costs_sharpness_and_nothing_else() {
    // Dead after the fifth of ten taps; the program notices at once, or never.
    for noticed in [true, false] {
        let mut m = matcher(&[Origin::Server]);
        let mut out = Vec::new();
        for tap in 0..10 {
            let from = 1_000 + tap * 100;
            for (edge, offset) in [(Down, 0), (Up, 50)] {
                let at = from + offset;
                if tap < 5 {
                    m.source_fact(fact(Origin::Server, SPACE, edge, at * 1_000 + 4_300));
                } else if noticed {
                    m.set_source_active(Origin::Server, false);
                }
                m.window_edge(window(SPACE, edge, at, at + 16));
                let now = m.poll(ms(at + 16));
                assert_eq!(now.len(), usize::from(tap < 5 || noticed));
                out.extend(now);
                out.extend(m.poll(ms(at + 32)));
            }
        }
        assert_eq!(out.len(), 20, "none lost, none made up");
        for (i, edge) in out.iter().enumerate() {
            let at = ms(1_000 + i as i64 * 50) + Span::from_us(4_300);
            assert!((edge.stamp.earliest()..=edge.stamp.latest()).contains(&at));
            let expected = if i < 10 { Origin::Server } else { Origin::Frame };
            assert_eq!((edge.origin, edge.sources_disagree), (expected, false));
        }
        let health = m.health(Origin::Server);
        assert_eq!((health.matched, health.edges), (10, if noticed { 10 } else { 20 }));
        assert_eq!(m.health(Origin::Frame).edges, 10);
    }
}

#[test]
fn what_a_revived_source_still_had_to_tell_is_not_taken_for_a_later_press() {
    let mut m = matcher(&[Origin::Kernel]);
    m.window_edge(window(SPACE, Down, 1_000, 1_016));
    m.poll(ms(1_016));
    assert_eq!(m.poll(ms(1_033))[0].origin, Origin::Frame);
    m.window_edge(window(SPACE, Up, 1_100, 1_116));
    m.poll(ms(1_116));
    m.poll(ms(1_133));
    // Three seconds later it delivers the old press, and nothing of the window's new one.
    m.poll(ms(4_000));
    let at = us(1_004_300);
    let reading = Reading::Kernel { at, arrival: ms(4_010) };
    m.source_fact(SourceFact { reading, ..fact(Origin::Kernel, SPACE, Down, 0) });
    m.window_edge(window(SPACE, Down, 4_000, 4_016));
    m.poll(ms(4_016));
    let out = m.poll(ms(4_033));
    assert_eq!((out[0].origin, out[0].sources_disagree), (Origin::Frame, false));
    assert_eq!(m.health(Origin::Kernel).dropped_facts, 1);
}

#[test]
fn a_pads_edge_from_the_kernel_needs_no_window() {
    let mut m = matcher(&[Origin::Kernel]);
    m.source_fact(fact(Origin::Kernel, SOUTH, Down, 1_004_300));
    let out = m.poll(ms(1_016));
    assert_eq!((out[0].control, out[0].origin), (SOUTH, Origin::Kernel));
}

#[test]
fn a_fact_half_a_second_old_is_taken_and_an_older_one_is_dropped() {
    // By the kernel's time, which lies .05 ms around it.
    for (late_ns, dropped) in [(0, 0), (1, 1)] {
        let mut m = matcher(&[Origin::Kernel]);
        let at = us(1_004_300);
        let arrival = at + Span::from_us(50) + Span::from_ms(500) + Span::from_ns(late_ns);
        let reading = Reading::Kernel { at, arrival };
        m.source_fact(SourceFact { source: Origin::Kernel, control: SPACE, edge: Down, reading });
        assert_eq!(m.counters().dropped_facts, dropped, "{late_ns}");
    }
}

#[test]
fn of_two_words_equally_wide_that_contradict_the_window_keeps_its_own() {
    let mut m = matcher(&[Origin::Pad]);
    let between = Stamp::between(ms(900), ms(916));
    let reading = Reading::Crossing { between, arrival: ms(916) };
    m.source_fact(SourceFact { source: Origin::Pad, control: SPACE, edge: Down, reading });
    m.window_edge(window(SPACE, Down, 1_000, 1_016));
    assert_eq!(m.poll(ms(1_016)), [], "a better fact may still come");
    let edge = m.poll(ms(1_032))[0];
    assert_eq!((edge.origin, edge.sources_disagree), (Origin::Frame, true));
    assert_eq!((m.counters().edges, m.counters().disagreed), (1, 1));
    assert_eq!((edge.stamp.earliest(), edge.stamp.latest()), (ms(1_000), ms(1_016)));
}

#[test]
fn questions_for_the_servers_time_reach_its_clock() {
    let mut m = matcher(&[Origin::Server]);
    for i in 0..5 {
        let sent = ms(1_000 + 10 * i);
        m.server_round_trip(sent, (1_000 + 10 * i) as u32, sent + Span::from_us(200));
    }
    assert_eq!(m.server_clock().base(), ClockBase::Holds);
    m.server_round_trip(ms(1_100), 9, ms(1_101));
    assert_eq!(m.server_clock().base(), ClockBase::Holds, "one odd answer decides nothing");
}
