//! What holds for every start, tried on many drawn ones.
//!
//! Owns the machine's invariants: independence of polling, the identity of the reaction time, the
//! order of lamps, crossings as roots, and bearing any input. Refuses single stories. All draws
//! are seeded: every run tries the same starts.

#[allow(dead_code, reason = "the stories use the rest of the rig")]
#[path = "stories/support.rs"]
mod support;

use lastamber::beams::{BeamState, Handling, Pedal, Roll};
use lastamber::rules::{Extra, Procedure, TreeKind};
use lastamber::tree::*;
use lastamber::units::{Inches, Mark, Span, Stamp};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{RngSeed, TestRunner};
use support::*;

/// Long enough for the longest of the drawn starts.
const RUN: Span = Span::from_ms(14_000);

fn seeded(cases: u32) -> ProptestConfig {
    let rng_seed = RngSeed::Fixed(20_031);
    ProptestConfig { cases, rng_seed, failure_persistence: None, ..ProptestConfig::default() }
}

/// A drawn start with everything its people will do, at fixed marks.
#[derive(Debug, Clone)]
struct Drawn {
    setup: StartSetup,
    script: Vec<(Mark, Input)>,
}

/// A screen whose lag follows from the due mark alone: up to 20 ms.
fn uneven_screen(_: Lane, _: Lamp, due: Mark) -> Option<Mark> {
    Some(due + Span::from_ns(due.ns().rem_euclid(20_000_000)))
}

fn lane_setup() -> impl Strategy<Value = Option<LaneSetup>> {
    let temper = prop::sample::select(Temper::ALL.to_vec());
    prop_oneof![
        1 => Just(None),
        4 => (0.0..6.0_f64).prop_map(|depth| {
            Some(LaneSetup { entry: Entry::Staged { depth: Inches(depth) }, ..staged() })
        }),
        2 => Just(Some(rolling())),
        3 => (temper, 0..500_u64).prop_map(|(temper, seed)| Some(other(temper, seed))),
    ]
}

fn kind() -> impl Strategy<Value = TreeKind> {
    let free = TreeKind::free(5, ms(300), ms(450)).unwrap();
    prop_oneof![
        3 => Just(TreeKind::full()),
        2 => Just(TreeKind::pro()),
        1 => Just(TreeKind::pro_500()),
        1 => Just(free)
    ]
}

fn lane() -> impl Strategy<Value = Lane> {
    prop_oneof![Just(Lane::Left), Just(Lane::Right)]
}

fn pedal() -> impl Strategy<Value = Pedal> {
    prop_oneof![Just(Pedal::Creep), Just(Pedal::Brake), Just(Pedal::Back)]
}

prop_compose! {
    fn start_setup()(
        lanes in (lane_setup(), lane_setup()),
        late in prop_oneof![2 => Just(None), 1 => lane().prop_map(Some)],
        by_ms in 1..2_500_i64,
        offset_ms in prop_oneof![Just(0_i64), Just(35)],
        kind in kind(),
        blank in prop::bool::weighted(0.12),
        seed in any::<u64>(),
    ) -> StartSetup {
        let extra = Extra::Uniform { from: ms(0), to: ms(200) };
        let procedure = Procedure::free(ms(600), ms(900), extra, Some(ms(3_000))).unwrap();
        let mut setup = StartSetup { kind, procedure, blank, seed, ..start(lanes.0, lanes.1) };
        if setup.lanes.iter().all(Option::is_none) {
            setup.lanes[0] = Some(staged());
        }
        for (i, l) in setup.lanes.iter_mut().enumerate() {
            let Some(l) = l else { continue };
            if l.driver.is_none() {
                l.offset = ms(offset_ms);
            }
            if late.is_some_and(|late| late.index() == i) {
                l.tree_delay = ms(by_ms);
            }
        }
        setup
    }
}

prop_compose! {
    /// Launches are drawn around the last amber a first, untouched run shows.
    fn drawn()(
        setup in start_setup(),
        thinks_ms in 100..2_500_i64,
        launches in prop::array::uniform2(prop::option::weighted(0.85, -2_400_000..2_600_000_i64)),
        second in prop::bool::weighted(0.2),
        pedals in prop::collection::vec((0..6_000_000_i64, lane(), pedal(), any::<bool>()), 0..4),
        stirs in prop::bool::weighted(0.6),
        breaks in prop::option::weighted(0.2, lane()),
    ) -> Drawn {
        let mut rig = Rig::with_screen(setup.clone(), uneven_screen);
        for lane in Lane::BOTH {
            let rolls = |l: &LaneSetup| matches!(l.entry, Entry::Rolling { .. });
            if setup.lane(lane).is_some_and(|l| l.driver.is_none() && rolls(l)) {
                rig.rolls_in(lane, ms(thinks_ms));
            }
        }
        rig.run_in_steps(START + RUN, || ms(16));
        let mut script = rig.script.clone();
        for lane in Lane::BOTH {
            let is_person = setup.lane(lane).is_some_and(|l| l.driver.is_none());
            let last = setup.kind.last_amber();
            let shown = rig.machine.amber_shown(lane, last).map_or(START + ms(4_000), Stamp::best);
            let Some(after_us) = launches[lane.index()].filter(|_| is_person) else { continue };
            let at = shown + Span::from_us(after_us);
            if breaks == Some(lane) {
                script.push((at, Input::BreakOff(lane)));
                continue;
            }
            script.push((at, Input::Launch(lane, Stamp::around(at, ms(2)))));
            if second {
                script.push((at + ms(40), Input::Launch(lane, Stamp::exact(at + ms(40)))));
                script.push((at + ms(60), Input::BreakOff(lane)));
            }
        }
        for (us, lane, pedal, down) in pedals.into_iter().filter(|_| stirs) {
            script.push((START + Span::from_us(us), Input::Pedal(lane, pedal, down)));
        }
        script.sort_by_key(|(at, _)| *at);
        Drawn { setup, script }
    }
}

impl Drawn {
    fn rig(&self) -> Rig {
        let mut rig = Rig::with_screen(self.setup.clone(), uneven_screen);
        for (at, input) in &self.script {
            rig.at(*at, *input);
        }
        rig
    }

    fn trace(&self, step: impl FnMut() -> Span) -> Vec<TraceLine> {
        let mut rig = self.rig();
        rig.run_in_steps(START + RUN, step);
        rig.machine.trace()
    }
}

/// The lamps a reader of the trace would say are lit.
fn lamps_by_trace(rig: &Rig, trace: &[TraceLine], lane: Lane, now: Mark) -> LampSet {
    let setup = rig.machine.setup();
    let all_at_once = setup.kind.all_at_once();
    // On a blank run the last amber but one goes out on time; only nothing comes after it.
    let withheld = rig.machine.amber_due(lane, setup.kind.last_amber()).filter(|_| setup.blank);
    let mut lit = LampSet::default();
    let mut dark = false;
    for line in trace.iter().filter(|line| line.at <= now && line.event.lane() == Some(lane)) {
        match line.event {
            TreeEvent::Beams { state, .. } => {
                lit.pre_stage = state.lights_pre_stage();
                lit.stage = state.lights_stage();
            }
            TreeEvent::LampDue { lamp: Lamp::Amber(i), .. } => {
                if !all_at_once {
                    lit.ambers = [false; 5];
                }
                lit.ambers[usize::from(i)] = true;
            }
            TreeEvent::LampDue { lamp: Lamp::Green, .. } => lit.green = true,
            TreeEvent::LampDue { lamp: Lamp::Red, .. } => lit.red = true,
            TreeEvent::Settled { outcome, .. } => {
                dark |=
                    matches!(outcome, Outcome::TimedOut | Outcome::Abandoned(_) | Outcome::Void(_));
            }
            _ => {}
        }
    }
    lit.green &= !lit.red;
    if dark || lit.red || lit.green || withheld.is_some_and(|due| due <= now) {
        lit.ambers = [false; 5];
    }
    lit
}

#[test]
fn the_drawn_starts_end_in_every_way_a_start_can() {
    let mut runner = TestRunner::new(seeded(1));
    let mut seen = [0; 9];
    for _ in 0..300 {
        let drawn = drawn().new_tree(&mut runner).expect("nothing is filtered out").current();
        for line in drawn.trace(|| ms(16)) {
            let place = match line.event {
                TreeEvent::Settled { outcome, .. } => match outcome {
                    Outcome::Green => 0,
                    Outcome::Red => 1,
                    Outcome::LeftBeforeTree => 2,
                    Outcome::TimedOut => 3,
                    Outcome::Lapse => 4,
                    Outcome::Stayed | Outcome::Guessed { .. } => 5,
                    Outcome::Abandoned(_) => 6,
                    Outcome::Void(why) => panic!("this screen is never late: {why:?}"),
                },
                TreeEvent::SentBack { .. } => 7,
                TreeEvent::FoulLoses { .. } => 8,
                _ => continue,
            };
            seen[place] += 1;
        }
    }
    assert!(seen.iter().all(|n| *n >= 5), "{seen:?}");
}

proptest! {
    #![proptest_config(seeded(300))]

    #[test]
    fn the_same_inputs_give_the_same_trace_under_any_polling(
        drawn in drawn(),
        steps in prop::collection::vec(1_i64..400_000, 1..40),
        hitch_at in 0..200_usize,
    ) {
        let fine = drawn.trace(|| ms(1));
        prop_assert_eq!(&fine, &drawn.trace(|| Span::from_us(16_667)), "16.7 ms");
        prop_assert_eq!(&fine, &drawn.trace(|| ms(50)), "50 ms");
        let mut i = 0;
        let random = drawn.trace(|| {
            i += 1;
            Span::from_us(steps[i % steps.len()].min(250_000))
        });
        prop_assert_eq!(&fine, &random, "random steps");
        let mut polls = 0;
        let hitch = drawn.trace(|| {
            polls += 1;
            if polls % 200 == hitch_at { ms(250) } else { ms(16) }
        });
        prop_assert_eq!(&fine, &hitch, "a hitch of 250 ms");
    }

    #[test]
    fn lamps_agree_with_the_trace_and_never_show_green_and_red_together(drawn in drawn()) {
        let mut rig = drawn.rig();
        let frame = Span::from_us(16_667);
        while rig.now < START + RUN {
            let (now, next) = (rig.now, rig.now + frame);
            let ahead = Lane::BOTH.map(|lane| rig.machine.lamps(lane, now, next));
            rig.run_in_steps(next, || frame);
            let trace = rig.machine.trace();
            for lane in Lane::BOTH {
                let lit = rig.machine.lamps(lane, next, next);
                prop_assert_eq!(lit, lamps_by_trace(&rig, &trace, lane, next));
                prop_assert!(!(lit.green && lit.red));
                let upset = trace.iter().any(|line| {
                    let dark = matches!(line.event, TreeEvent::LampDue { lamp: Lamp::Red, .. });
                    let ends = matches!(line.event, TreeEvent::Settled { .. });
                    let news = matches!(line.event, TreeEvent::Armed { .. } | TreeEvent::Launch { .. });
                    line.at > now && line.at <= next && (dark || ends || news)
                });
                let told = ahead[lane.index()];
                if !upset {
                    prop_assert_eq!((told.ambers, told.green), (lit.ambers, lit.green), "drawn ahead");
                }
            }
        }
    }

    #[test]
    fn lamps_are_due_in_their_order(drawn in drawn()) {
        let trace = drawn.trace(|| ms(16));
        for lane in Lane::BOTH {
            let due: Vec<(Mark, Lamp)> = trace.iter().filter_map(|line| match line.event {
                TreeEvent::LampDue { lane: l, lamp } if l == lane => Some((line.at, lamp)),
                _ => None,
            }).collect();
            let ambers: Vec<_> = due.iter().filter_map(|(at, lamp)| match lamp {
                Lamp::Amber(i) => Some((*at, *i)),
                _ => None,
            }).collect();
            for (place, (_, i)) in ambers.iter().enumerate() {
                prop_assert_eq!(place, usize::from(*i), "each amber once, from the top");
            }
            prop_assert!(ambers.is_sorted_by_key(|(at, _)| *at));
            let (first, last) = (ambers.first(), ambers.last());
            let armed = trace.iter().rev().find_map(|line| match line.event {
                TreeEvent::Armed { first_amber } => Some(first_amber),
                _ => None,
            });
            prop_assert!(first.is_none_or(|(at, _)| armed.is_some_and(|a| *at >= a)));
            let at = |lamp| due.iter().filter(|(_, l)| *l == lamp).map(|(at, _)| *at).collect::<Vec<_>>();
            let (greens, reds) = (at(Lamp::Green), at(Lamp::Red));
            prop_assert!(greens.len() <= 1 && reds.len() <= 1 && greens.len() + reds.len() <= 1);
            if let Some(green) = greens.first() {
                prop_assert_eq!(ambers.len(), usize::from(drawn.setup.kind.ambers()));
                prop_assert!(last.is_some_and(|(at, _)| at < green));
            }
            // A red of a launch edge under the tree waits for the last amber, its reference.
            let timed = trace.iter().any(|line| matches!(line.event,
                TreeEvent::Settled { lane: l, outcome: Outcome::Red } if l == lane));
            let launched = trace.iter().any(|line| matches!(line.event,
                TreeEvent::Launch { lane: l, .. } if l == lane));
            if let (Some(red), true, true) = (reds.first(), timed, launched) {
                prop_assert!(last.is_some_and(|(at, _)| at <= red));
            }
        }
    }
}

proptest! {
    #![proptest_config(seeded(600))]

    #[test]
    fn the_reaction_time_is_the_sum_of_its_parts_to_the_nanosecond(
        kind in kind(),
        offset_ns in -5_000_000..80_000_000_i64,
        depth in 0.0..6.0_f64,
        rt_ns in prop_oneof![-400_000_000..900_000_000_i64, -3..4_i64],
        doubt in (0..3_000_000_i64, 0..3_000_000_i64),
    ) {
        let lane = Lane::Left;
        let entry = Entry::Staged { depth: Inches(depth) };
        let you = LaneSetup { offset: Span::from_ns(offset_ns), entry, ..staged() };
        let car = car_part(&you, Inches(depth));
        let setup = StartSetup { kind: kind.clone(), ..start(Some(you), None) };
        let mut rig = Rig::with_screen(setup, uneven_screen);
        rig.run_in_steps(START + ms(1_400), || ms(16));
        let first = rig.armed();
        let due = first + kind.amber_due(kind.last_amber());
        let shown = uneven_screen(lane, Lamp::Amber(kind.last_amber()), due).unwrap();
        let best = shown + kind.green_gap() + Span::from_ns(rt_ns + offset_ns) - car;
        let (early, late) = (Span::from_ns(doubt.0), Span::from_ns(doubt.1));
        rig.at(best, Input::Launch(lane, Stamp::new(best - early, best, best + late)));
        rig.run_in_steps(shown + ms(3_000), || ms(5));
        let result = rig.machine.result(lane).expect("it launched");
        let Some(parts) = result.parts else {
            prop_assert_eq!(result.outcome, Outcome::LeftBeforeTree);
            return Ok(());
        };
        prop_assert_eq!(parts.rt().ns(), rt_ns);
        let sum = parts.driver_raw.ns() - offset_ns + parts.car.ns() - kind.green_gap().ns();
        prop_assert_eq!(sum, rt_ns);
        let cleared = rig.find(|e| *e == TreeEvent::Cleared { lane }).unwrap();
        prop_assert_eq!((cleared - (shown + kind.green_gap())).ns() - offset_ns, rt_ns);
        let right = if rt_ns < 0 { Outcome::Red } else { Outcome::Green };
        prop_assert_eq!(result.outcome, right);
        let straddles = rt_ns - doubt.0 < 0 && rt_ns + doubt.1 >= 0;
        prop_assert_eq!(parts.straddles_green(), straddles);
    }

    #[test]
    fn a_crossing_is_the_same_nanosecond_whenever_it_is_asked_for(
        depth in -25.0..8.0_f64,
        script in prop::collection::vec((0..1_500_000_i64, pedal(), any::<bool>()), 1..10),
        asked in prop::collection::vec(0..20_000_000_i64, 1..25),
        step_us in 500..300_000_i64,
        creeps_in_gear in any::<bool>(),
    ) {
        let handling = Handling { creeps_in_gear, ..Handling::default() };
        let mut whole = Roll::at_rest(staged().zones, handling, Inches(depth), START);
        let mut stepped = whole.clone();
        let mut heard: Vec<(Mark, BeamState)> = Vec::new();
        let (mut at, mut told_to) = (START, START);
        let mut listen = |roll: &Roll, to: Mark, told_to: &mut Mark| {
            while let Some((mark, state)) = roll.next_crossing(*told_to).filter(|(m, _)| *m <= to) {
                heard.push((mark, state));
                *told_to = mark;
            }
        };
        for (after_us, pedal, down) in &script {
            let next = at + Span::from_us(*after_us);
            let mut poll = at;
            while poll < next {
                poll = (poll + Span::from_us(step_us)).min(next);
                listen(&stepped, poll, &mut told_to);
                told_to = told_to.max(poll);
            }
            stepped.pedal(next, *pedal, *down);
            whole.pedal(next, *pedal, *down);
            at = next;
        }
        let end = at + ms(10_000);
        listen(&stepped, end, &mut told_to);
        let mut crossings = Vec::new();
        let mut from = START;
        while let Some((mark, state)) = whole.next_crossing(from).filter(|(m, _)| *m <= end) {
            crossings.push((mark, state));
            from = mark;
        }
        prop_assert_eq!(&heard, &crossings, "polled along the way, or asked afterwards");
        for us in asked {
            let mark = (START + Span::from_us(us)).min(end);
            let next = crossings.iter().find(|(m, _)| *m > mark).copied();
            let got = whole.next_crossing(mark).filter(|(m, _)| *m <= end);
            prop_assert_eq!(got, next, "asked at {:?}", mark);
        }
    }
}

/// Any news in any order.
#[derive(Debug, Clone)]
enum News {
    Pedal(Lane, Pedal, bool),
    Launch(Lane, i64),
    Shown(Lane, u8, i64, i64),
    BreakOff(Lane),
    Lost(Lane),
    Poll,
}

fn news() -> impl Strategy<Value = News> {
    let doubt = 0..5_000_000_i64;
    prop_oneof![
        4 => (lane(), pedal(), any::<bool>()).prop_map(|(l, p, d)| News::Pedal(l, p, d)),
        4 => (lane(), doubt.clone()).prop_map(|(l, d)| News::Launch(l, d)),
        6 => (lane(), 0..7_u8, doubt, 0..200_000_000_i64)
            .prop_map(|(l, i, d, f)| News::Shown(l, i, d, f)),
        1 => lane().prop_map(News::BreakOff),
        1 => lane().prop_map(News::Lost),
        4 => Just(News::Poll),
    ]
}

proptest! {
    #![proptest_config(seeded(3_000))]

    #[test]
    fn no_input_in_any_order_breaks_the_machine_and_every_launch_ends_in_one_outcome(
        setup in start_setup(),
        inputs in prop::collection::vec((-700_000_000..900_000_000_i64, news()), 0..60),
    ) {
        let mut machine = Machine::new(setup.clone(), START);
        let mut now = START;
        let mut taken = [0; 2];
        for (by_ns, news) in inputs {
            now = now + Span::from_ns(by_ns);
            match news {
                News::Pedal(lane, pedal, down) => machine.handle_control(now, lane, pedal, down),
                News::Launch(lane, doubt) => {
                    let stamp = Stamp::around(now, Span::from_ns(doubt));
                    taken[lane.index()] += i32::from(machine.handle_launch(lane, stamp));
                }
                News::Shown(lane, i, doubt, frame) => {
                    let lamp = [Lamp::Green, Lamp::Red][usize::from(i) % 2];
                    let lamp = if i < 6 { Lamp::Amber(i) } else { lamp };
                    let stamp = Stamp::around(now, Span::from_ns(doubt));
                    machine.handle_shown(lane, lamp, stamp, Span::from_ns(frame));
                }
                News::BreakOff(lane) => {
                    machine.break_off(now, lane, AbandonReason::FocusLost);
                }
                News::Lost(lane) => machine.void(now, lane, VoidReason::ControlLost),
                News::Poll => machine.poll(now),
            }
            for lane in Lane::BOTH {
                let lit = machine.lamps(lane, now, now + ms(16));
                prop_assert!(!(lit.green && lit.red));
            }
        }
        machine.poll(now + ms(200_000));
        let trace = machine.trace();
        prop_assert!(trace.is_sorted_by_key(|line| line.at));
        for lane in Lane::BOTH {
            let settled = trace.iter().filter(|line| {
                matches!(line.event, TreeEvent::Settled { lane: l, .. } if l == lane)
            }).count();
            prop_assert!(settled <= 1 && taken[lane.index()] <= 1);
            let is_person = setup.lane(lane).is_some_and(|l| l.driver.is_none());
            if taken[lane.index()] == 1 && is_person {
                prop_assert_eq!(settled, 1, "{:?} launched", lane);
            }
        }
    }
}
