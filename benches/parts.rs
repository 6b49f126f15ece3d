//! How often "one part or two" says two, of drivers who have one part and of drivers who have two.
//!
//! `cargo bench --no-default-features --bench parts [-- --trials N]` asks every driver N times (300) with 99
//! samples at 80, 300 and 2 000 launches, from the same seeds every time, and prints how often two were
//! told, after how many samples on the average, and what a decision takes.

use lastamber::seed::{generator, seed_of_run};
use lastamber::stats::Sample;
use lastamber::stats::family::{AnticipateReact, Distribution, ExGaussian, Normal};
use lastamber::stats::mixture::decide;
use std::time::Instant;

const SIZES: [usize; 3] = [80, 300, 2000];
const SAMPLES: usize = 99;

/// Drivers with one part, then with two that are harder and harder to tell; s.
fn drivers() -> Vec<(&'static str, Box<dyn Distribution>)> {
    let reacts = |mu, sigma, tau| ExGaussian::new(mu, sigma, tau).expect("positive spreads");
    let both = |share, mean, sd, react| {
        let anticipates = Normal::new(mean, sd).expect("a positive spread");
        AnticipateReact::new(share, anticipates, react).expect("a share inside 0 to 1")
    };
    let usual = reacts(0.19, 0.02, 0.035);
    vec![
        ("one: a long tail", Box::new(usual)),
        ("one: a short tail", Box::new(reacts(0.19, 0.03, 0.015))),
        ("two: half of them, 110 ms apart", Box::new(both(0.5, 0.11, 0.025, usual))),
        ("two: one in eight, 70 ms apart", Box::new(both(0.125, 0.15, 0.02, usual))),
        ("two: one in twenty, 60 ms apart", Box::new(both(0.05, 0.16, 0.02, usual))),
    ]
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let trials = args.iter().position(|a| a == "--trials").and_then(|i| args.get(i + 1));
    let trials: u64 = trials.map_or(300, |n| n.parse().expect("a number of trials"));
    for (name, driver) in drivers() {
        for n in SIZES {
            let (mut two, mut samples, mut told) = (0, 0, String::new());
            let began = Instant::now();
            for trial in 0..trials {
                let random = &mut generator(seed_of_run(trial, n as u64));
                let launches = (0..n).map(|_| driver.sample(random)).collect();
                let launches = Sample::new(launches).expect("times are finite");
                let decision = decide(&launches, SAMPLES, trial).expect("enough launches");
                two += u64::from(decision.two_parts);
                samples += decision.samples;
                told.push(if decision.two_parts { '2' } else { '1' });
            }
            let ms = began.elapsed().as_secs_f64() * 1e3 / trials as f64;
            let mean_samples = samples as f64 / trials as f64;
            println!(
                "{name}, {n} launches: {two} of {trials} two; {mean_samples:.0} samples, {ms:.1} ms"
            );
            if args.iter().any(|a| a == "--each") {
                println!("{told}");
            }
        }
    }
}
