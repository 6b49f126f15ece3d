//! Simulated presses with known truth: pedals, and devices that are polled.
//!
//! Owns how often a pedal's stamps hold the crossing, how often a polling is found, and how often it
//! is found where there is none. All draws are seeded.

use lastamber::press::EdgeKind;
use lastamber::press::analog::{AnalogAxis, Threshold, Travel};
use lastamber::press::lattice::{Lattice, NotSeen, poll_lattice};
use lastamber::seed::{self, Generator};
use lastamber::units::{Mark, Span, Stamp};
use rand::RngExt;

/// A device that is polled, as the presses of a person with it show.
#[derive(Debug, Clone, Copy)]
struct Device {
    /// 0: not polled.
    period_ms: f64,
    drift_ppm: f64,
    /// The press's stamp errs evenly by up to this much.
    half_width_ms: f64,
    /// The share of presses that waits for a polling.
    share: f64,
}

/// `n` presses 0.4 to 6 s apart.
fn presses(rng: &mut Generator, device: Device, n: usize) -> Vec<Stamp> {
    let half_width = Span::from_ms_f64(device.half_width_ms);
    let phase = rng.random::<f64>();
    let mut at_ms = 1e6 * rng.random::<f64>();
    (0..n)
        .map(|_| {
            at_ms += rng.random_range(400.0..6_000.0);
            let period_ms = device.period_ms * (1.0 + device.drift_ppm * 1e-6);
            let seen_ms = if device.period_ms > 0.0 && rng.random::<f64>() < device.share {
                (((at_ms / period_ms) - phase).ceil() + phase) * period_ms
            } else {
                at_ms
            };
            let err_ms = device.half_width_ms * rng.random_range(-1.0..1.0);
            let best = Mark::from_ns(((seen_ms + err_ms) * 1e6) as i64);
            Stamp::around(best, half_width)
        })
        .collect()
}

/// Of `cases` sessions of `n` presses, how many answered each way.
fn answers(seed: u64, device: Device, n: usize, cases: usize) -> Vec<Result<Lattice, NotSeen>> {
    let mut rng = seed::generator(seed);
    (0..cases)
        .map(|_| {
            let drift_ppm = device.drift_ppm * rng.random_range(-1.0..1.0);
            poll_lattice(&presses(&mut rng, Device { drift_ppm, ..device }, n))
        })
        .collect()
}

/// The share of the sessions in which a polling of exactly `period_ms` was found.
fn found(answers: &[Result<Lattice, NotSeen>], period_ms: f64) -> f64 {
    let right = |a: &&Result<Lattice, NotSeen>| {
        a.is_ok_and(|lattice| lattice.period == Span::from_ms_f64(period_ms))
    };
    answers.iter().filter(right).count() as f64 / answers.len() as f64
}

const EVDEV_MS: f64 = 0.05;
const X11_MS: f64 = 0.5;

#[test]
fn presses_at_any_time_are_taken_for_a_polling_in_at_most_one_of_a_hundred_sessions() {
    for (seed, half_width_ms) in [(301, EVDEV_MS), (302, X11_MS)] {
        let free = Device { period_ms: 0.0, drift_ppm: 0.0, half_width_ms, share: 1.0 };
        let alarms = answers(seed, free, 30, 2_000).iter().filter(|a| a.is_ok()).count();
        println!("at any time, ±{half_width_ms} ms: {alarms} of 2000");
        assert!(alarms <= 20, "{alarms} of 2,000 with ±{half_width_ms} ms");
    }
}

#[test]
fn a_polling_is_found_in_thirty_presses_whatever_the_drift() {
    let fine = [16.0, 10.0, 8.0, 4.0, 2.0, 1.0].map(|period_ms| (period_ms, EVDEV_MS));
    let coarse = [16.0, 10.0, 8.0, 4.0].map(|period_ms| (period_ms, X11_MS));
    for (seed, (period_ms, half_width_ms)) in (311..).zip(fine.into_iter().chain(coarse)) {
        let device = Device { period_ms, drift_ppm: 100.0, half_width_ms, share: 1.0 };
        let share = found(&answers(seed, device, 30, 200), period_ms);
        assert!(share >= 0.97, "{period_ms} ms with ±{half_width_ms} ms: {share}");
    }
}

/// The table at the head of `press/lattice.rs`, with 100 sessions a figure instead of 300.
#[test]
fn thirty_presses_are_enough_where_all_wait_and_sixty_where_seven_in_ten_do() {
    for (seed, half_width_ms) in [(331, EVDEV_MS), (332, X11_MS)] {
        for share in [1.0, 0.7] {
            let device = Device { period_ms: 8.0, drift_ppm: 100.0, half_width_ms, share };
            let [few, thirty, sixty] =
                [20, 30, 60].map(|n| found(&answers(seed, device, n, sessions()), 8.0));
            println!("8 ms, ±{half_width_ms} ms, {share} wait: {few:.3} {thirty:.3} {sixty:.3}");
            assert!(sixty >= 0.97 && thirty >= if share < 1.0 { 0.8 } else { 0.97 });
            assert!(share == 1.0 || few < 0.8, "twenty would do: {few}");
        }
    }
}

/// Sessions a figure of the table: `LASTAMBER_SESSIONS`, or 100.
fn sessions() -> usize {
    std::env::var("LASTAMBER_SESSIONS").ok().and_then(|n| n.parse().ok()).unwrap_or(100)
}

#[test]
fn the_share_that_waits_is_told_within_a_quarter() {
    for (seed, share) in [(341, 1.0), (342, 0.8), (343, 0.6)] {
        let device = Device { period_ms: 8.0, drift_ppm: 50.0, half_width_ms: EVDEV_MS, share };
        let told: Vec<f64> =
            answers(seed, device, 90, 50).iter().flatten().map(|l| l.share).collect();
        let mean = told.iter().sum::<f64>() / told.len() as f64;
        assert!(told.len() >= 45 && (mean - share).abs() <= 0.05, "{share}: {mean}");
        assert!(told.iter().all(|t| (t - share).abs() <= 0.25), "{share}: {told:?}");
    }
}

/// A pedal's way down and up again: smooth, with the given lengths.
#[derive(Debug, Clone, Copy)]
struct Push {
    from_ms: f64,
    down_ms: f64,
    hold_ms: f64,
    up_ms: f64,
}

impl Push {
    fn travel(&self, at_ms: f64) -> f64 {
        let smooth = |x: f64| x * x * (3.0 - 2.0 * x);
        let down = ((at_ms - self.from_ms) / self.down_ms).clamp(0.0, 1.0);
        let up_from = self.from_ms + self.down_ms + self.hold_ms;
        smooth(down) - smooth(((at_ms - up_from) / self.up_ms).clamp(0.0, 1.0))
    }

    /// When the travel crosses `level` on its way, by halving.
    fn crossing_ms(&self, level: f64, edge: EdgeKind) -> f64 {
        let up_from = self.from_ms + self.down_ms + self.hold_ms;
        let (mut low, mut high) = match edge {
            EdgeKind::Down => (self.from_ms, self.from_ms + self.down_ms),
            EdgeKind::Up => (up_from, up_from + self.up_ms),
        };
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            let beyond = (self.travel(middle) >= level) == (edge == EdgeKind::Down);
            if beyond { high = middle } else { low = middle }
        }
        high
    }
}

/// Pushes of a pedal with 1,024 values sampled every `period_ms`, reported up to 0.05 ms late where
/// the value changed, its value noisy by `noise`; every edge with its truth, ms: where the travel
/// passes half way to the first value beyond the threshold, as the device rounds.
fn push_pedal(
    rng: &mut Generator,
    axis: &mut AnalogAxis,
    period_ms: f64,
    noise: f64,
    pushes: usize,
) -> Vec<(EdgeKind, Stamp, f64)> {
    let (mut edges, mut from_ms, mut last) = (Vec::new(), 0.0, None);
    let phase = rng.random::<f64>();
    for _ in 0..pushes {
        let push = Push {
            from_ms: from_ms + rng.random_range(300.0..3_000.0),
            down_ms: rng.random_range(6.0..200.0),
            hold_ms: rng.random_range(80.0..600.0),
            up_ms: rng.random_range(30.0..300.0),
        };
        let end_ms = push.from_ms + push.down_ms + push.hold_ms + push.up_ms + 100.0;
        let samples = (from_ms / period_ms).ceil() as i64..(end_ms / period_ms).ceil() as i64;
        for sample in samples {
            let at_ms = (sample as f64 + phase) * period_ms;
            let travel = push.travel(at_ms) + noise * rng.random_range(-1.0..1.0);
            let value = (travel * 1_023.0).round();
            if last == Some(value) {
                continue;
            }
            last = Some(value);
            let late_ms = 0.05 * rng.random::<f64>();
            let at = Mark::from_ns(((at_ms + late_ms) * 1e6) as i64);
            let stamp = Stamp::around(at, Span::from_us(50));
            let edge = axis.sample(value, stamp);
            edges.extend(edge.map(|(edge, stamp)| {
                let level = if edge == EdgeKind::Down { 127.5 } else { 63.5 } / 1_023.0;
                (edge, stamp, push.crossing_ms(level, edge))
            }));
        }
        from_ms = end_ms;
    }
    edges
}

fn pedal(period: Option<Span>) -> AnalogAxis {
    let travel = Travel::of_axis(0, 1_023, false).unwrap();
    let mut axis = AnalogAxis::new(travel, Threshold::default(), period);
    axis.sample(0.0, Stamp::exact(Mark::from_ns(0)));
    axis
}

#[test]
fn a_pedals_stamp_holds_the_crossing_whether_its_sample_period_is_known_or_learned() {
    for (seed, period_ms, known) in [
        (351, 8.0, true),
        (352, 8.0, false),
        (353, 1.0, true),
        (354, 1.0, false),
        (355, 10.0, false),
    ] {
        let mut rng = seed::generator(seed);
        let mut axis = pedal(known.then(|| Span::from_ms_f64(period_ms)));
        let edges = push_pedal(&mut rng, &mut axis, period_ms, 0.0, 500);
        assert_eq!(edges.len(), 1_000, "every push is a press and a release");
        let mut held = 0;
        let (mut errors, mut widths) = (Vec::new(), Vec::new());
        // The first pushes are what the period is learned from.
        for (_, stamp, truth_ms) in &edges[20..] {
            let truth = Mark::from_ns((truth_ms * 1e6) as i64);
            held += usize::from((stamp.earliest()..=stamp.latest()).contains(&truth));
            errors.push((stamp.best() - truth).abs().as_ms_f64());
            widths.push(stamp.width().as_ms_f64());
        }
        let median = |mut v: Vec<f64>| {
            v.sort_by(f64::total_cmp);
            (v[v.len() / 2], v[v.len() * 95 / 100])
        };
        let (error, width) = (median(errors), median(widths));
        println!("{period_ms} ms, known {known}: held {held}, error {error:?}, width {width:?}");
        assert!(held >= 978, "{period_ms} ms, known {known}: {held} of 980");
        assert!(width.0 <= period_ms + 0.5 && error.1 <= period_ms / 2.0 + 0.5);
    }
}

#[test]
fn a_noisy_pedal_gives_one_press_and_one_release_a_push() {
    let mut rng = seed::generator(361);
    // The noise is 1/40 of the travel to either side, 40 % of the hysteresis.
    let edges = push_pedal(&mut rng, &mut pedal(None), 1.0, 0.025, 500);
    assert_eq!(edges.len(), 1_000);
}
