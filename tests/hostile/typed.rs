//! What is typed: tyre sizes and whole cars, keys in any order.

use super::{again_and_again, hostile_names};
use lastamber::car::{CarError, CarForm, TyreSize};
use lastamber::form::Key;
use lastamber::seed::Generator;
use rand::RngExt;

const SIZES: [&str; 6] = [
    "225/45R17",
    "P225/45ZR17 94W",
    "LT245/75-16",
    "31x10.50R15LT",
    "28x10.5-15",
    "26.0 x 8.5 - 15",
];
const LETTERS: &str = "0123456789/xXRZ-. ×PLT±,;e+\"'<kgcmin\u{202e}\0é";

fn letter(random: &mut Generator) -> char {
    let letters: Vec<char> = LETTERS.chars().collect();
    letters[random.random_range(0..letters.len())]
}

/// A size that is read is one of a tyre and reads the same when it is written; another is refused by what
/// was typed and with a size as it is written.
fn holds(text: &str) -> bool {
    match text.parse::<TyreSize>() {
        Ok(size) => {
            let diameter = size.diameter().0;
            assert!((18.0..=40.0).contains(&diameter), "{text:?}: {diameter}");
            assert_eq!(size.to_string().parse::<TyreSize>(), Ok(size), "{text:?}");
            true
        }
        Err(error @ CarError::TyreSize { .. }) => {
            let told = error.to_string();
            assert!(
                told.contains("write it as on the sidewall, e.g. 225/45R17") && told.len() < 400
            );
            false
        }
        Err(other) => panic!("{text:?}: {other}"),
    }
}

fn size_damaged(random: &mut Generator) -> String {
    let mut size: Vec<char> = SIZES[random.random_range(0..SIZES.len())].chars().collect();
    for _ in 0..random.random_range(1..5) {
        let at = random.random_range(0..size.len());
        match random.random_range(0..3) {
            0 => size[at] = letter(random),
            1 => size.insert(at, letter(random)),
            _ if size.len() > 1 => drop(size.remove(at)),
            _ => {}
        }
    }
    size.into_iter().collect()
}

/// A form filled by keys in any order gives a car that can be computed, or says what is wrong.
fn car_typed(random: &mut Generator) {
    let mut form = CarForm::unknown();
    for _ in 0..random.random_range(1..120) {
        let key = match random.random_range(0..12) {
            0 => Key::Erase,
            1 => Key::Clear,
            2 | 3 => Key::Next,
            4 => Key::Previous,
            5 => Key::Left,
            6 => Key::Right,
            _ => Key::Letter(letter(random)),
        };
        form.take(key);
    }
    if let Some(car) = form.so_far() {
        car.model().expect("what can be shown while it is typed can be computed");
    }
    match form.enter() {
        Some(car) => drop(car.model().expect("a car that was taken can be computed")),
        None => assert!(form.fields().any(|field| field.wrong.is_some()), "it says what is wrong"),
    }
}

#[test]
fn tyre_sizes_and_cars_typed_at_random_are_taken_or_refused_with_a_cure() {
    assert!(SIZES.iter().all(|size| holds(size)));
    let mut taken = 0;
    again_and_again("tyre sizes and cars", 3000, |i, random| {
        taken += u64::from(holds(&size_damaged(random)));
        if i % 4 == 0 {
            car_typed(random);
        }
    });
    assert!(taken > 300, "{taken}");
}

#[test]
fn tyre_sizes_made_to_harm_are_refused() {
    let numbers =
        ["9".repeat(400), format!("{}/45R17", "1".repeat(10_000)), "1e5/45R17".to_owned()];
    let odd = [
        "",
        " ",
        "/",
        "x",
        "0/0R0",
        "-225/45R17",
        "NaN/45R17",
        "225/45R",
        "225//45R17",
        "225/45R17é",
    ];
    let all = numbers.into_iter().chain(odd.map(str::to_owned)).chain(hostile_names());
    let taken: Vec<String> = all.filter(|text| holds(text)).collect();
    assert_eq!(taken, ["225//45R17", "225/45R17é"], "what stands around the figures is skipped");
}
