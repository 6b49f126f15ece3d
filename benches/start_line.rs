//! Speed of the start line's core: one whole tree-only run, polled a thousand times a second, and
//! sealing a line of history.

use criterion::{Criterion, criterion_group, criterion_main};
use lastamber::beams::{BeamZones, Handling, LaunchLaw};
use lastamber::history::{CarLine, Line};
use lastamber::rules::{FoulRule, Procedure, TreeKind};
use lastamber::tree::{Entry, Lamp, Lane, LaneSetup, Machine, StartSetup};
use lastamber::units::{Inches, Mark, Span, Stamp};
use std::hint::black_box;

fn setup(seed: u64) -> StartSetup {
    let lane = LaneSetup {
        zones: BeamZones::new(Inches(12.33), Inches(7.0), Inches(13.375)),
        handling: Handling::default(),
        launch: LaunchLaw { g: 0.588, lag: Span::from_ms(80) },
        entry: Entry::Staged { depth: Inches(1.0) },
        offset: Span::ZERO,
        tree_delay: Span::ZERO,
        driver: None,
    };
    StartSetup {
        kind: TreeKind::full(),
        procedure: Procedure::tree_only(),
        foul_rule: FoulRule::First,
        blank: false,
        lanes: [Some(lane), None],
        seed,
    }
}

/// One run from armed to judged; the launch comes 200 ms after the last amber.
fn whole_run(seed: u64) -> bool {
    let mut machine = Machine::new(setup(seed), Mark::from_ns(0));
    let mut now = Mark::from_ns(0);
    let mut shown = 0;
    while machine.result(Lane::Left).is_none() {
        now = now + Span::from_ms(1);
        machine.poll(now);
        if shown < 3
            && let Some(due) = machine.amber_due(Lane::Left, shown)
            && due <= now
        {
            let frame = Span::from_ms(16);
            machine.handle_shown(Lane::Left, Lamp::Amber(shown), Stamp::exact(due), frame);
            shown += 1;
            if shown == 3 {
                machine.handle_launch(Lane::Left, Stamp::exact(due + Span::from_ms(200)));
            }
        }
    }
    machine.result(Lane::Left).is_some_and(|result| result.parts.is_some())
}

fn start_line(c: &mut Criterion) {
    assert!(whole_run(1), "the run measured is a whole one");
    c.bench_function("tree-only run at 1 kHz", |b| b.iter(|| whole_run(black_box(7))));
    let line = Line::from(CarLine { id: "1".to_owned(), ..CarLine::default() });
    c.bench_function("seal a car line", |b| b.iter(|| black_box(&line).seal()));
}

criterion_group!(benches, start_line);
criterion_main!(benches);
