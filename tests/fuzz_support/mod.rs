//! Slips made up at random, and files damaged at random from a seed.
#![allow(dead_code, reason = "each test binary uses its part")]

use lastamber::rules::{RtScale, SlipTime, TrackLength};
use lastamber::seed::Generator;
use lastamber::slips::{LaneSlip, Slip, SlipOrigin};
use proptest::prelude::*;
use rand::RngExt;

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
