//! The risk against numbers computed independently, and its promises as properties.

use lastamber::stats::risk::{CarPart, HomeToTrack, Pool, RedLine, RiskDraws, Settings};
use lastamber::stats::{Caveat, Sample, StatsError};

fn twenty() -> Vec<f64> {
    let text = include_str!("data/rt20_example.csv");
    text.lines().map(|line| line.trim().parse::<f64>().unwrap() / 1000.0).collect()
}

fn pool(seconds: Vec<f64>) -> Pool {
    Pool::new(Sample::new(seconds).unwrap())
}

fn line(ms: f64) -> RedLine {
    RedLine::at(ms / 1000.0).unwrap()
}

/// Dense four-dimensional quadrature (two grids agree to 5·10⁻⁵) of the posterior of the 20 numbers
/// with the priors centred on 150 ms; then the pull towards the counts with 50 launches and half a
/// count, by 10⁶ exact beta draws (numpy 2.4.6, scipy 1.17.1).
#[test]
fn twenty_numbers_have_the_posterior_of_quadrature() {
    let settings = Settings { draws: 20_000, prior_centre_s: Some(0.150), ..Settings::new(1) };
    let draws = RiskDraws::this_form(&pool(twenty()), &settings).unwrap();
    let mean = |f: &dyn Fn(&lastamber::stats::risk::DriverDraw) -> f64| {
        draws.draws().map(|d| f(&d)).sum::<f64>() / 20_000.0
    };
    println!("effective {}", draws.effective_draws());
    let close = |got: f64, want: f64, relative: f64, what: &str| {
        println!("{what}: {got} {want} {}", got / want - 1.0);
        assert!((got / want - 1.0).abs() < relative, "{what}: {got} for {want}");
    };
    close(mean(&|d| 1000.0 * d.mu_s), 32.1274, 0.02, "mu");
    close(mean(&|d| (1000.0 * d.sigma_s).ln()), 2.75197, 0.02, "ln sigma");
    close(mean(&|d| (1000.0 * d.tau_s).ln()), 2.35110, 0.02, "ln tau");
    close(mean(&|d| d.wide_share), 0.027_675, 0.02, "wide");
    // Line, reds, posterior mean of the model, then 5 %, 95 % and value of the hybrid.
    let rows = [
        (0.0, 0, 0.018_388, 0.0000, 0.0623, 0.013_13),
        (10.0, 0, 0.046_577, 0.0006, 0.1075, 0.033_27),
        (20.0, 3, 0.116_735, 0.0478, 0.2379, 0.126_24),
    ];
    for (at, reds, model, low, high, value) in rows {
        let risk = draws.risk(&line(at), 0.0, 0.90).unwrap();
        assert_eq!(risk.reds, reds);
        let e = risk.estimate;
        close((e.value * 70.0 - reds as f64) / 50.0, model, 0.02, "model");
        close(e.value, value, 0.02, "value");
        close(e.high, high, 0.05, "high");
        assert!((e.low - low).abs() < 0.05 * low + 0.0001, "low {} for {low}", e.low);
    }
}
