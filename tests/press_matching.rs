//! Stories of presses on their way through the matcher, and what holds for all of them.

use lastamber::press::{
    Control, EdgeKind, Matcher, Origin, Reading, ServerClock, SourceFact, StampedEdge, WindowEdge,
};
use lastamber::seed::{self, Generator};
use lastamber::units::{Mark, Span, Stamp};
use rand::RngExt;

const SPACE: Control = Control::Key(57);
const ARROW: Control = Control::Key(103);

fn us(us: i64) -> Mark {
    Mark::from_ns(us * 1_000)
}

fn ms(at: i64) -> Mark {
    us(at * 1_000)
}

/// What the display server's listener sends for an edge at `at_us`, received `delay_us` later.
fn server(control: Control, edge: EdgeKind, at_us: i64, delay_us: i64) -> SourceFact {
    let reading =
        Reading::Server { arrival: us(at_us + delay_us), server_ms: (at_us / 1_000) as u32 };
    SourceFact { source: Origin::Server, control, edge, reading }
}

fn kernel(control: Control, edge: EdgeKind, at_us: i64) -> SourceFact {
    let reading = Reading::Kernel { at: us(at_us), arrival: us(at_us + 80) };
    SourceFact { source: Origin::Kernel, control, edge, reading }
}

fn window(control: Control, edge: EdgeKind, drained: (Mark, Mark)) -> WindowEdge {
    WindowEdge { control, edge, repeat: false, drained }
}

fn matcher(active: &[Origin]) -> Matcher {
    let mut m = Matcher::default();
    active.iter().for_each(|source| m.set_source_active(*source, true));
    m
}

#[test]
fn a_key_repeating_thirty_times_a_second_is_one_edge_whether_flagged_or_not() {
    for flagged in [true, false] {
        let mut m = matcher(&[Origin::Server]);
        m.source_fact(server(SPACE, EdgeKind::Down, 1_005_300, 170));
        let mut given = Vec::new();
        for drain in 0..60 {
            let drained = (us(1_000_000 + drain * 16_667), us(1_016_667 + drain * 16_667));
            if drain == 0 || (drain >= 30 && drain % 2 == 0) {
                let repeat = flagged && drain > 0;
                m.window_edge(WindowEdge { repeat, ..window(SPACE, EdgeKind::Down, drained) });
            }
            given.extend(m.poll(drained.1));
        }
        assert_eq!(given.len(), 1);
        assert_eq!(given[0].origin, Origin::Server);
        assert_eq!(m.counters().ignored, 15);
    }
}

#[test]
fn two_sources_that_agree_narrow_each_other() {
    let mut m = matcher(&[Origin::Kernel, Origin::Server]);
    // The server's millisecond begins at 1,005.000 and the kernel says 1,004.980 ± 0.050.
    m.source_fact(server(SPACE, EdgeKind::Down, 1_005_010, 170));
    m.source_fact(kernel(SPACE, EdgeKind::Down, 1_004_980));
    m.window_edge(window(SPACE, EdgeKind::Down, (ms(1_000), ms(1_016))));
    let out = m.poll(ms(1_016));
    assert_eq!((out[0].origin, out[0].sources_disagree), (Origin::Kernel, false));
    assert_eq!((out[0].stamp.earliest(), out[0].stamp.latest()), (ms(1_005), us(1_005_030)));
}

#[test]
fn two_sources_that_disagree_leave_the_drain_interval_and_say_so() {
    let mut m = matcher(&[Origin::Kernel, Origin::Server]);
    m.source_fact(server(SPACE, EdgeKind::Down, 1_005_010, 170));
    m.source_fact(kernel(SPACE, EdgeKind::Down, 1_009_000));
    let drained = (ms(1_000), ms(1_016));
    m.window_edge(window(SPACE, EdgeKind::Down, drained));
    let out = m.poll(ms(1_016));
    assert_eq!((out[0].origin, out[0].sources_disagree), (Origin::Frame, true));
    assert_eq!(out[0].stamp, Stamp::between(drained.0, drained.1));
    assert_eq!(m.counters().disagreed, 1);
}

#[test]
fn a_source_that_contradicts_the_window_leaves_the_wider_of_both() {
    for (drain_us, expected) in [(8_000, Origin::Server), (40_000, Origin::Frame)] {
        let mut m = matcher(&[Origin::Server]);
        // A counter from another clock: the arrival alone counts, 20 ms wide, ending at 1,000.
        let reading = Reading::Arrival { arrival: ms(1_000), lag: Span::from_ms(20) };
        let fact = server(SPACE, EdgeKind::Down, 0, 0);
        m.source_fact(SourceFact { reading, ..fact });
        m.window_edge(window(SPACE, EdgeKind::Down, (us(1_000_001), us(1_000_001 + drain_us))));
        assert!(m.poll(ms(1_050)).is_empty(), "the right fact may still come");
        let out = m.poll(ms(1_066));
        assert_eq!((out[0].origin, out[0].sources_disagree), (expected, true));
        assert_eq!(out[0].stamp.width(), Span::from_us(drain_us.max(20_000)));
    }
}

#[test]
fn a_fact_that_is_late_by_one_drain_still_gives_the_time() {
    let mut m = matcher(&[Origin::Server]);
    m.window_edge(window(SPACE, EdgeKind::Down, (ms(1_000), ms(1_016))));
    assert!(m.poll(ms(1_016)).is_empty());
    m.source_fact(server(SPACE, EdgeKind::Down, 1_015_800, 4_000));
    let out = m.poll(ms(1_033));
    assert_eq!((out[0].origin, out[0].sources_disagree), (Origin::Server, false));
    assert_eq!(out[0].stamp.latest(), ms(1_016), "the drain cuts the server's millisecond");
}

#[test]
fn two_controls_at_once_keep_their_own_times_and_the_windows_order() {
    let mut m = matcher(&[Origin::Server]);
    m.source_fact(server(ARROW, EdgeKind::Down, 1_003_200, 150));
    m.source_fact(server(SPACE, EdgeKind::Down, 1_009_700, 150));
    let drained = (ms(1_000), ms(1_016));
    m.window_edge(window(ARROW, EdgeKind::Down, drained));
    m.window_edge(window(SPACE, EdgeKind::Down, drained));
    let out = m.poll(ms(1_016));
    let told: Vec<_> = out.iter().map(|e| (e.control, e.stamp.best())).collect();
    assert_eq!(told, [(ARROW, us(1_003_200)), (SPACE, us(1_009_700))]);
}

#[test]
fn a_control_held_since_before_gives_no_edge_until_it_was_let_go_and_pressed_again() {
    let mut m = matcher(&[]);
    let drained = (ms(1_000), ms(1_016));
    m.window_edge(WindowEdge { repeat: true, ..window(SPACE, EdgeKind::Down, drained) });
    assert!(m.poll(ms(1_016)).is_empty());
    assert!(m.is_held(SPACE), "its repeats tell that it is down");
    m.window_edge(window(ARROW, EdgeKind::Up, drained));
    assert!(m.poll(ms(1_016)).is_empty(), "a release of what was never pressed here");
    m.window_edge(window(SPACE, EdgeKind::Up, drained));
    m.window_edge(window(SPACE, EdgeKind::Down, drained));
    let edges: Vec<_> = m.poll(ms(1_016)).iter().map(|e| e.edge).collect();
    assert_eq!(edges, [EdgeKind::Up, EdgeKind::Down]);
}

#[test]
fn both_edges_of_two_quick_taps_in_one_drain_are_stamped_alike() {
    let mut m = matcher(&[Origin::Server]);
    let taps = [1_002_500, 1_005_500, 1_009_500, 1_013_500];
    let kinds = [EdgeKind::Down, EdgeKind::Up, EdgeKind::Down, EdgeKind::Up];
    for (at_us, kind) in taps.into_iter().zip(kinds) {
        m.source_fact(server(SPACE, kind, at_us, 150));
        m.window_edge(window(SPACE, kind, (ms(1_000), ms(1_016))));
    }
    let out = m.poll(ms(1_016));
    let told: Vec<_> = out.iter().map(|e| (e.edge, e.stamp.best())).collect();
    let expected: Vec<_> = kinds.into_iter().zip(taps.map(us)).collect();
    assert_eq!(told, expected);
    assert_eq!((m.counters().matched, m.counters().dropped_facts), (4, 0));
}

/// One simulated edge: when it happened, when the listener and the window's connection got it.
struct Simulated {
    edge: EdgeKind,
    at: Mark,
    fact: SourceFact,
    in_window: Mark,
}

/// Taps of one key 60–400 ms apart. Deliveries take 0.05–0.3 ms; one in `hitches` takes up to 11 ms
/// more, the worst measured on a saturated machine.
fn simulate(rng: &mut Generator, count: usize, hitches: u32, coarse: bool) -> Vec<Simulated> {
    let mut at_ns = 10_000_000_000_i64;
    let delivery = |rng: &mut Generator| {
        let hitch = rng.random_range(0..hitches) == 0;
        let more = if hitch { rng.random_range(0..11_000_000) } else { 0 };
        Span::from_ns(rng.random_range(50_000..300_000) + more)
    };
    let edges = [EdgeKind::Down, EdgeKind::Up].into_iter().cycle().take(count);
    edges
        .map(|edge| {
            at_ns += rng.random_range(60_000_000..400_000_000_i64);
            let at = Mark::from_ns(at_ns);
            let read_ns = if coarse { at_ns - rng.random_range(0..1_000_000) } else { at_ns };
            let arrival = at + delivery(rng);
            let reading = Reading::Server { arrival, server_ms: (read_ns / 1_000_000) as u32 };
            let fact = SourceFact { source: Origin::Server, control: SPACE, edge, reading };
            Simulated { edge, at, fact, in_window: at + delivery(rng) }
        })
        .collect()
}

/// Plays the edges through a window drained every `frame`; each result with its truth and drain.
fn play(m: &mut Matcher, edges: &[Simulated], frame: Span) -> Vec<(StampedEdge, Mark, Stamp)> {
    // The window's connection may be 12 ms behind, so the drain before is moved back by that.
    let conservative = Span::from_ms(12);
    let (mut told, mut seen) = (0, 0);
    let (mut given, mut drains) = (Vec::new(), Vec::new());
    let mut drain = Mark::from_ns(10_000_000_000);
    while given.len() < edges.len() {
        let before = drain;
        drain = drain + frame;
        while told < edges.len() && edges[told].fact.reading.arrival() <= drain {
            m.source_fact(edges[told].fact);
            told += 1;
        }
        while seen < edges.len() && edges[seen].in_window <= drain {
            let drained = (before - conservative, drain);
            drains.push(Stamp::between(drained.0, drained.1));
            m.window_edge(window(SPACE, edges[seen].edge, drained));
            seen += 1;
        }
        given.extend(m.poll(drain));
    }
    given.into_iter().zip(edges).zip(drains).map(|((g, e), d)| (g, e.at, d)).collect()
}

#[test]
fn the_truth_lies_inside_every_stamp_whatever_the_deliveries() {
    for (seed, frame_us, coarse) in [(11, 16_667, false), (12, 6_944, false), (13, 50_000, true)] {
        let mut rng = seed::generator(seed);
        let edges = simulate(&mut rng, 2_000, 20, coarse);
        let clock = ServerClock::new(if coarse { Span::from_ms(1) } else { Span::ZERO });
        let mut m = Matcher::new(2, clock);
        m.set_source_active(Origin::Server, true);
        let played = play(&mut m, &edges, Span::from_us(frame_us));
        for (index, (given, truth, drain)) in played.into_iter().enumerate() {
            let stamp = given.stamp;
            assert!((stamp.earliest()..=stamp.latest()).contains(&truth), "{given:?} {truth:?}");
            assert_eq!(drain.intersect(stamp).map(|s| s.width()), Some(stamp.width()));
            assert_eq!((given.origin, given.sources_disagree), (Origin::Server, false));
            // The first few are needed to learn that the server's counter runs on our clock; until
            // then a late arrival leaves only itself.
            if index >= 8 {
                assert!(stamp.width() <= Span::from_ms(if coarse { 2 } else { 1 }));
            }
        }
        let counters = m.counters();
        assert_eq!((counters.matched, counters.dropped_facts, counters.late_facts), (2_000, 0, 0));
    }
}

#[test]
fn a_server_on_the_coarse_clock_taken_for_a_fine_one_would_be_caught_by_the_truth() {
    let mut rng = seed::generator(14);
    let edges = simulate(&mut rng, 500, 20, true);
    let mut m = matcher(&[Origin::Server]);
    let outside = play(&mut m, &edges, Span::from_us(16_667))
        .iter()
        .filter(|(given, truth, _)| given.stamp.latest() < *truth)
        .count();
    assert!(outside > 100, "only {outside}: the simulation would not notice a wrong tick");
}

#[test]
fn a_source_whose_facts_get_lost_never_gives_a_wrong_time() {
    let mut rng = seed::generator(15);
    let mut edges = simulate(&mut rng, 2_000, 20, false);
    let mut lost = 0;
    for edge in &mut edges {
        if rng.random_range(0..4) == 0 {
            // Facts of another control instead of the lost ones: nobody will ask for them.
            edge.fact.control = ARROW;
            lost += 1;
        }
    }
    let mut m = matcher(&[Origin::Server]);
    for (given, truth, drain) in play(&mut m, &edges, Span::from_us(16_667)) {
        assert!((given.stamp.earliest()..=given.stamp.latest()).contains(&truth));
        assert!(!given.sources_disagree);
        assert!(given.origin != Origin::Frame || given.stamp == drain);
    }
    let counters = m.counters();
    assert_eq!((counters.framed, counters.matched), (lost, 2_000 - lost));
}

fn kernel_fact(source: Origin, at_ms: i64) -> SourceFact {
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
    assert_eq!((out[0].stamp, out[0].origin), (Stamp::between(ms(100), ms(116)), Origin::Frame));
}

#[test]
fn a_fact_that_is_there_decides_in_the_same_drain() {
    let mut m = Matcher::default();
    m.set_source_active(Origin::Kernel, true);
    m.source_fact(kernel_fact(Origin::Kernel, 107));
    m.window_edge(down(100, 116));
    let out = m.poll(ms(116));
    assert_eq!((out[0].stamp.best(), out[0].origin), (ms(107), Origin::Kernel));
    assert_eq!(m.counters().matched, 1);
}

#[test]
fn a_stale_fact_does_not_stand_in_the_way_of_the_right_one() {
    let mut m = Matcher::default();
    m.source_fact(kernel_fact(Origin::Server, 20));
    m.source_fact(kernel_fact(Origin::Server, 110));
    m.window_edge(down(100, 116));
    let out = m.poll(ms(116));
    assert_eq!((out[0].stamp.best(), out[0].sources_disagree), (ms(110), false));
    assert_eq!(m.counters().dropped_facts, 1);
}

#[test]
fn a_fact_of_a_later_press_is_left_to_it() {
    let mut m = Matcher::default();
    m.source_fact(kernel_fact(Origin::Server, 130));
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
    m.source_fact(kernel_fact(Origin::Kernel, 110));
    assert_eq!(m.counters().late_facts, 1);
    m.window_edge(WindowEdge { edge: EdgeKind::Up, ..down(150, 166) });
    m.poll(ms(166));
    m.poll(ms(183));
    m.source_fact(kernel_fact(Origin::Kernel, 190));
    m.window_edge(down(183, 200));
    assert!(!m.poll(ms(200))[0].sources_disagree);
}

#[test]
fn a_fact_without_a_window_edge_is_dropped_after_half_a_second() {
    let mut m = Matcher::default();
    m.source_fact(kernel_fact(Origin::Kernel, 100));
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
    let pad = SourceFact { control: Control::PadButton(304), ..kernel_fact(Origin::Pad, 100) };
    m.pad_edge(pad);
    m.pad_edge(pad);
    let out = m.poll(ms(110));
    assert_eq!(out.len(), 1, "a second down without an up is none");
    assert_eq!((out[0].origin, out[0].stamp.best()), (Origin::Pad, ms(100)));
}
