//! Speed of a whole pass on one core, and of the searches built on it.
//!
//! Measured on one of two shared virtual cores at load 0.6 to 2.2: a quarter mile 4.1 µs (street car)
//! and 3.5 µs (race car), a launch found from a 60-foot time 0.04 ms, launch and power from two printed
//! times 0.79 ms; at load 5 to 9 twice to seven times as long. The bar for a whole pass is 0.2 ms.

use criterion::{Criterion, criterion_group, criterion_main};
use lastamber::car::pass::{CarBody, Gearbox, StartPlace, drive, fit, launch_for_sixty_foot};
use lastamber::car::{BeamLine, Tyre};
use lastamber::rules::TrackLength;
use lastamber::units::Inches;
use std::hint::black_box;

fn passes(c: &mut Criterion) {
    let tyre = Tyre::rigid(Inches(25.0)).expect("a usual tyre");
    let start = StartPlace::new(tyre, BeamLine::default(), Inches(1.0));
    let street = CarBody::street(3400.0, 300.0);
    let race = CarBody { gearbox: Gearbox::RACE, ..CarBody::street(2400.0, 1500.0) };
    for (name, body, launch_g) in [("street", street, 0.7), ("race", race, 2.5)] {
        let forces = body.forces(launch_g).expect("a usual car");
        for length in [TrackLength::Quarter, TrackLength::Eighth] {
            c.bench_function(&format!("pass, {name}, {length}"), |b| {
                b.iter(|| drive(black_box(&forces), start, length));
            });
        }
    }
    c.bench_function("launch for a 60-foot time", |b| {
        b.iter(|| launch_for_sixty_foot(black_box(&street), start, 2.0));
    });
    let t60: fn(&lastamber::car::pass::Pass) -> f64 = |pass| pass.t60_s;
    c.bench_function("launch and power for two times", |b| {
        b.iter(|| fit(black_box(&street), start, TrackLength::Quarter, (t60, 1.963), 13.464));
    });
}

criterion_group!(benches, passes);
criterion_main!(benches);
