//! Win chances against races that are run: drawn lights and elapsed times, fouls judged by the rules,
//! finishes by the clock or the dial-ins.
//!
//! Two hundred thousand races for every rule and order run with the other tests. Ten million:
//! `LASTAMBER_LONG=1 cargo test --release --no-default-features --test odds_simulation -- --nocapture`
//! (some minutes of one core).

use lastamber::rules::{Foul, FoulRule, foul_loser};
use lastamber::seed::{Generator, generator, seed_of_run};
use lastamber::strategy::law::RtLaw;
use lastamber::strategy::odds::{Finish, Opponent, Order, Race, WinChance};
use lastamber::units::{Measured, Span};
use rand_distr::{Distribution, StandardNormal};

/// How finishes are run: elapsed times, and dial-ins where there are some.
#[derive(Clone, Copy)]
struct Cars {
    mine: Measured,
    opponent: Measured,
    dials: Option<[f64; 2]>,
}

impl Cars {
    fn finish(&self) -> Finish {
        match self.dials {
            Some(dials) => Finish::dialled(self.mine, self.opponent, dials).unwrap(),
            None => Finish::times(self.mine, self.opponent).unwrap(),
        }
    }
}

/// A long head start: no foul can overtake it.
const LONG_S: f64 = 20.0;

fn ns(seconds: f64) -> i64 {
    (seconds * 1e9).round() as i64
}

/// Whether I win one race. My green is at 0, the opponent's at `head_start`.
fn run(lights: [f64; 2], ets: [f64; 2], cars: &Cars, head_start: f64, rule: FoulRule) -> bool {
    let starts = [0.0, head_start];
    let foul = |lane: usize| {
        (lights[lane] < 0.0).then(|| Foul {
            at_ns_on_common_clock: ns(starts[lane] + lights[lane]),
            amount: Span::from_ns(ns(-lights[lane])),
        })
    };
    if let Some(loser) = foul_loser(rule, [foul(0), foul(1)]) {
        return loser == 1;
    }
    let Some(dials) = cars.dials else {
        // Both on their own clock: what a head start gives is in the elapsed times.
        return lights[0] + ets[0] < lights[1] + ets[1];
    };
    let under = [dials[0] - ets[0], dials[1] - ets[1]];
    match (under[0] > 0.0, under[1] > 0.0) {
        (true, true) => under[0] < under[1],
        (true, false) => false,
        (false, true) => true,
        (false, false) => {
            // On one clock, with the head start that the dial-ins give.
            let opponents_start = dials[0] - dials[1];
            lights[0] + ets[0] < opponents_start + lights[1] + ets[1]
        }
    }
}

fn normal(measured: Measured, rng: &mut Generator) -> f64 {
    let z: f64 = StandardNormal.sample(rng);
    measured.value + measured.sd * z
}

fn check(races: u32) {
    let et = Measured::new;
    let cars = [
        ("by ET", Cars { mine: et(13.02, 0.03), opponent: et(13.00, 0.02), dials: None }),
        (
            "by dial-in, breakouts common",
            Cars { mine: et(13.01, 0.02), opponent: et(12.99, 0.03), dials: Some([13.0, 12.985]) },
        ),
        (
            "index",
            Cars { mine: et(12.51, 0.04), opponent: et(12.53, 0.02), dials: Some([12.5, 12.5]) },
        ),
    ];
    // Red so often that double reds decide: P(red) .12 and .25, and tails to both sides.
    let me = RtLaw::ex_gaussian(0.02, 0.02, 0.01).unwrap();
    let opponent = RtLaw::mixture(vec![
        (0.7, RtLaw::normal(0.02, 0.03).unwrap()),
        (0.3, RtLaw::ex_gaussian(0.03, 0.02, -0.03).unwrap()),
    ])
    .unwrap();
    let orders = [
        (Order::First, LONG_S),
        (Order::Second, -LONG_S),
        (Order::Together, 0.0),
        (Order::HeadStart(0.015), 0.015),
        (Order::HeadStart(-0.01), -0.01),
    ];
    let mut worst = 0.0_f64;
    for (i, (name, cars)) in cars.iter().enumerate() {
        for (j, (order, head_start)) in orders.into_iter().enumerate() {
            for rule in [FoulRule::First, FoulRule::Worst] {
                let race = Race::handicap(cars.finish(), order, rule);
                let odds = WinChance::new(me.clone(), &Opponent::of(opponent.clone()), &race);
                let want = odds.win(0.01);
                let index = (i * 100 + j * 10) as u64 + u64::from(rule == FoulRule::First);
                let rng = &mut generator(seed_of_run(11, index));
                let mut won = 0_u32;
                for _ in 0..races {
                    let lights = [me.sample(rng) - 0.01, opponent.sample(rng)];
                    let ets = [normal(cars.mine, rng), normal(cars.opponent, rng)];
                    won += u32::from(run(lights, ets, cars, head_start, rule));
                }
                let share = f64::from(won) / f64::from(races);
                let se = (want * (1.0 - want) / f64::from(races)).sqrt();
                let off = (share - want) / se;
                worst = worst.max(off.abs());
                println!("{name}, {order:?}, {rule:?}: {want:.6}, run {share:.6}, {off:+.2} SE");
                assert!(off.abs() < 4.0, "{name}, {order:?}, {rule:?}: {want} {share} {off}");
            }
        }
    }
    println!("farthest off: {worst:.2} standard errors");
}

#[test]
fn races_that_are_run_are_won_as_often_as_computed() {
    let long = std::env::var("LASTAMBER_LONG").is_ok_and(|v| v == "1");
    check(if long { 10_000_000 } else { 200_000 });
}
