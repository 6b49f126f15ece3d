//! Slips made up at random, files damaged at random from a seed, and the long runs of both.
//!
//! `LASTAMBER_LONG=1` goes on for ten minutes from a seed of its own; `LASTAMBER_MINUTES` and
//! `LASTAMBER_SEED` say how long and from which.
#![allow(dead_code, reason = "each test binary uses its part")]

use lastamber::rules::{RtScale, SlipTime, TrackLength};
use lastamber::seed::{Generator, generator};
use lastamber::slips::{LaneSlip, Slip, SlipOrigin};
use proptest::prelude::*;
use rand::RngExt;
use std::time::{Duration, Instant};

/// What one input may take of the processor in a release build.
const MOST_OF_ONE: Duration = Duration::from_secs(1);

/// A whole number a long run is told by the environment.
fn told(name: &str, unless: u64) -> u64 {
    std::env::var(name).map_or(unless, |value| value.parse().expect("a whole number"))
}

/// Processor time of this thread; on systems that do not say, the time that passed.
fn spent(began: Instant) -> Duration {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    let ns = text.split(' ').next().and_then(|first| first.parse().ok());
    ns.map_or_else(|| began.elapsed(), Duration::from_nanos)
}

/// Calls `one` a number of times, or for the time of a long run, holds each call to a second of the
/// processor, and says how often. Seeds of the short and the long run. Gives the number of calls.
pub fn again_and_again(
    what: &str,
    tries: u64,
    [short, long]: [u64; 2],
    mut one: impl FnMut(u64, &mut Generator),
) -> u64 {
    let lasting = std::env::var("LASTAMBER_LONG").is_ok_and(|value| value == "1");
    let time = Duration::from_secs(60 * told("LASTAMBER_MINUTES", 10));
    let seed = if lasting { told("LASTAMBER_SEED", long) } else { short };
    let mut random = generator(seed);
    let began = Instant::now();
    let (mut done, mut slowest) = (0, Duration::ZERO);
    while if lasting { began.elapsed() < time } else { done < tries } {
        let before = spent(began);
        one(done, &mut random);
        let took = spent(began).saturating_sub(before);
        assert!(cfg!(debug_assertions) || took < MOST_OF_ONE, "{what} {done}: {took:.2?}");
        slowest = slowest.max(took);
        done += 1;
    }
    let seconds = began.elapsed().as_secs_f64();
    println!("{what}: {done} tries from seed {seed}, {seconds:.0} s; slowest {slowest:.2?}");
    done
}

/// One to eight small damages: a byte changed, left out, put in; a stretch doubled, cut or taken
/// from elsewhere.
pub fn damage(bytes: &mut Vec<u8>, seeds: &[Vec<u8>], random: &mut Generator) {
    const TELLING: &[u8] = b",;\t\"\n\r-. 0123456789e\xff\xefNan/'";
    for _ in 0..random.random_range(1..=8) {
        let at = random.random_range(0..=bytes.len());
        let end = (at + random.random_range(0..24)).min(bytes.len());
        let byte = TELLING[random.random_range(0..TELLING.len())];
        match random.random_range(0..6) {
            0 if at < bytes.len() => bytes[at] = byte,
            1 if at < bytes.len() => drop(bytes.remove(at)),
            2 => bytes.insert(at, byte),
            3 => {
                let piece = bytes[at..end].to_vec();
                bytes.splice(at..at, piece);
            }
            4 => drop(bytes.drain(at..end)),
            _ => {
                let other = &seeds[random.random_range(0..seeds.len())];
                let from = random.random_range(0..other.len());
                let to = (from + random.random_range(0..40)).min(other.len());
                bytes.splice(at..at, other[from..to].iter().copied());
            }
        }
    }
}

fn any_time() -> impl Strategy<Value = Option<SlipTime>> {
    prop::option::of((-20_000_i64..300_000).prop_map(SlipTime::from_ten_thousandths))
}

fn any_text() -> impl Strategy<Value = String> {
    "[ -~äß\n]{0,12}".prop_map(|text| {
        // These words mean "nothing" in a table.
        let nothing = ["-", "n/a", "na"].contains(&text.trim().to_lowercase().as_str());
        if nothing { String::new() } else { text.trim().to_owned() }
    })
}

fn any_lane() -> impl Strategy<Value = LaneSlip> {
    (
        [any_text().boxed(), any_text().boxed()],
        [any_time(), any_time(), any_time(), any_time(), any_time(), any_time(), any_time()],
        prop::option::of(0.01..400.0_f64),
        prop::option::of(0.01..400.0_f64),
        any::<bool>(),
    )
        .prop_map(
            |([car_number, class], [dial, rt, t60, t330, t660, t1000, t1320], a, b, red)| {
                LaneSlip {
                    car_number,
                    class,
                    dial,
                    rt,
                    t60,
                    t330,
                    t660,
                    mph660: a,
                    t1000,
                    t1320,
                    mph1320: b,
                    red,
                }
            },
        )
}

/// Any slip that a table can hold.
pub fn any_slip() -> impl Strategy<Value = Slip> {
    (
        any_lane(),
        prop::option::of(any_lane()),
        [any_text().boxed(), any_text().boxed(), any_text().boxed()],
        prop::option::of((1970_i16..2100, 1_i8..13, 1_i8..29)),
        prop::option::of(-1e6..1e6_f64),
        prop::option::of(any::<bool>()),
        any::<bool>(),
    )
        .prop_map(|(own, other, [driver, track, note], date, number, yes, eighth)| Slip {
            length: if eighth && own.t1320.is_none() {
                TrackLength::Eighth
            } else {
                TrackLength::Quarter
            },
            scale: if eighth { RtScale::Old400 } else { RtScale::Modern },
            own,
            other: other.filter(|other| *other != LaneSlip::default()),
            driver,
            track,
            note,
            date: date.map(|(y, m, d)| jiff::civil::date(y, m, d)),
            launch_rpm: number,
            depth_in: number.map(f64::abs),
            first_of_day: yes,
            origin: match yes {
                Some(true) => SlipOrigin::Simulated { trial: "t".to_owned() },
                _ => SlipOrigin::Track,
            },
            ..Slip::default()
        })
}
