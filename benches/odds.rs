//! Speed of the odds: a whole curve from posterior draws, a known law, the best aim.

use criterion::{Criterion, criterion_group, criterion_main};
use lastamber::seed::generator;
use lastamber::stats::Sample;
use lastamber::stats::risk::{CarPart, Pool, RedLine, RiskDraws, Settings};
use lastamber::strategy::law::RtLaw;
use lastamber::strategy::lights::Lights;
use lastamber::strategy::odds::{DrawnOdds, Finish, Opponent, Race, WinChance};
use std::hint::black_box;

fn odds(c: &mut Criterion) {
    let law = RtLaw::ex_gaussian(0.030, 0.018, 0.015).unwrap();
    let rng = &mut generator(1);
    let parts = (0..300).map(|_| law.sample(rng) + 0.22).collect();
    let pool = Pool::new(Sample::new(parts).unwrap());
    let settings = Settings { draws: 1000, ..Settings::new(1) };
    let draws = RiskDraws::this_form(&pool, &settings).unwrap();
    let opponent = Opponent::normal(0.06, 0.03).unwrap();
    let race = Race::heads_up(Finish::gap(0.0, 0.02).unwrap());
    let aims: Vec<f64> = (0..100).map(|i| -0.06 + 0.0012 * f64::from(i)).collect();
    for (name, doubt, run) in [("known car", 0.0, 0.0), ("doubtful car", 0.02, 0.005)] {
        let car = CarPart { mean_s: 0.28, doubt_sd_s: doubt, run_sd_s: run };
        let line = RedLine::of_car(car, 0.5).unwrap();
        // All that follows the posterior: lights, opponent, win chance and red risk with intervals.
        c.bench_function(&format!("odds curve, 100 aims, 1,000 draws, {name}"), |b| {
            b.iter(|| {
                let lights = Lights::new(&draws, &pool, &line, 1);
                let odds = DrawnOdds::new(&lights, black_box(&opponent), &race, &aims);
                let wins = odds.win(&aims, 0.90).unwrap();
                (wins, draws.curve(&line, &aims, 0.90).unwrap())
            });
        });
        let lights = Lights::new(&draws, &pool, &line, 1);
        let odds = DrawnOdds::new(&lights, &opponent, &race, &aims);
        c.bench_function(&format!("one more aim, {name}"), |b| {
            b.iter(|| odds.win(black_box(&[0.0123]), 0.90).unwrap());
        });
        c.bench_function(&format!("best aim, {name}"), |b| b.iter(|| odds.best().unwrap()));
    }
    let known = WinChance::new(law, &opponent, &race);
    c.bench_function("known law, one aim", |b| b.iter(|| known.win(black_box(0.01))));
    c.bench_function("known law, best aim", |b| b.iter(|| known.best().unwrap()));
}

criterion_group!(benches, odds);
criterion_main!(benches);
