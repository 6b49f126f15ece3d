//! Anticipating and reacting in one column, against values computed independently.

use lastamber::seed::generator;
use lastamber::stats::compare::compare;
use lastamber::stats::family::{AnticipateReact, Distribution, ExGaussian, Family, Model, Normal};
use lastamber::stats::fit::{Fit, Status, fit};
use lastamber::stats::mixture::{decide, guess_share};
use lastamber::stats::{Caveat, Sample, StatsError};

/// 151 anticipations and 89 reactions; ms and which of the two each is.
fn synthetic() -> (Vec<f64>, Vec<bool>) {
    let rows = include_str!("data/synthetic_mixture_240.csv").lines().skip(1).map(|row| {
        let cells: Vec<&str> = row.trim().split(',').collect();
        (cells[1].parse::<f64>().unwrap(), cells[2] == "anticipate")
    });
    rows.unzip()
}

fn two_parts(values: &[f64]) -> Fit {
    fit(Family::AnticipateReact, &Sample::new(values.to_vec()).unwrap()).unwrap()
}

fn law_of(fit: &Fit) -> AnticipateReact {
    match fit.model {
        Some(Model::AnticipateReact(law)) => law,
        other => panic!("{other:?} is not two parts"),
    }
}

fn law(p: [f64; 6]) -> AnticipateReact {
    let (anticipate, react) = (Normal::new(p[1], p[2]), ExGaussian::new(p[3], p[4], p[5]));
    AnticipateReact::new(p[0], anticipate.unwrap(), react.unwrap()).unwrap()
}

fn drawn(law: &dyn Distribution, n: usize, seed: u64) -> Vec<f64> {
    let mut random = generator(seed);
    (0..n).map(|_| law.sample(&mut random)).collect()
}

/// Five starts of scipy 1.17.1 agree on: w .62931811, normal 29.409850, 20.544759, ex-Gaussian
/// 139.018552, 15.121573, 24.644284, minus log-likelihood 1246.277650, AIC 2504.5553, BIC 2525.4391,
/// sum of guesses 151.03635, P(x < 0) .04791835.
#[test]
fn the_synthetic_mixture_has_the_known_optimum() {
    let (ms, guessed) = synthetic();
    let fit = two_parts(&ms);
    assert_eq!(fit.status, Status::Interior);
    let want = [0.629_318_11, 29.409_850, 20.544_759, 139.018_552, 15.121_573, 24.644_284];
    for (got, want) in fit.parameters.iter().zip(want) {
        assert!((got.unwrap() / want - 1.0).abs() < 1e-5, "{got:?} for {want}: {fit:?}");
    }
    assert!((fit.log_likelihood.unwrap() + 1_246.277_650).abs() < 2e-6, "{fit:?}");
    let law = law_of(&fit);
    let chances: Vec<f64> = ms.iter().map(|x| law.guess_probability(*x)).collect();
    assert!((chances.iter().sum::<f64>() - 151.036_35).abs() < 1e-3);
    for (chance, guessed) in chances.iter().zip(guessed) {
        assert_eq!(*chance > 0.5, guessed);
    }
    assert!((law.cdf(0.0) - 0.047_918_35).abs() < 1e-6);
    let comparison = compare(&Family::ALL, &Sample::new(ms).unwrap(), 1).unwrap();
    assert_eq!(comparison.preferred, Some(Family::AnticipateReact));
    let criteria = comparison.rows[4].criteria.unwrap();
    assert!((criteria.aic - 2504.5553).abs() < 1e-4 && (criteria.bic - 2525.4391).abs() < 1e-4);
}

#[test]
fn standard_errors_of_two_parts_are_the_spread_of_fits() {
    let truth = [0.6, 0.03, 0.02, 0.14, 0.018, 0.03];
    let fits: Vec<Fit> = (0..60).map(|seed| two_parts(&drawn(&law(truth), 400, seed))).collect();
    let proper: Vec<&Fit> = fits.iter().filter(|f| f.standard_errors.is_some()).collect();
    assert!(proper.len() >= 55, "{} of 60 are interior", proper.len());
    for (i, truth) in truth.iter().enumerate() {
        let off = |f: &&Fit| f.parameters[i].unwrap() - truth;
        let spread =
            (proper.iter().map(|f| off(f).powi(2)).sum::<f64>() / proper.len() as f64).sqrt();
        let stated: f64 = proper.iter().map(|f| f.standard_errors.as_ref().unwrap()[i]).sum();
        let ratio = stated / proper.len() as f64 / spread;
        println!(
            "{}: stated {ratio:.2} of the spread",
            Family::AnticipateReact.parameter_names()[i]
        );
        // Sixty fits know a spread to 9 %.
        assert!((0.7..1.35).contains(&ratio), "{i}: {ratio}");
    }
}

#[test]
fn a_large_sample_is_fitted_to_its_own_optimum() {
    // Above 4 000 values the starts look at 2 000 of them.
    let truth = [0.55, 0.03, 0.02, 0.14, 0.018, 0.03];
    let values = drawn(&law(truth), 30_000, 5);
    let fit = two_parts(&values);
    assert_eq!(fit.status, Status::Interior);
    let (p, errors) = (&fit.parameters, fit.standard_errors.as_ref().unwrap());
    for (i, truth) in truth.iter().enumerate() {
        let off = (p[i].unwrap() - truth) / errors[i];
        assert!(off.abs() < 4.0, "{i}: {off} standard errors off");
        // No neighbour is likelier.
        for step in [0.05, -0.05] {
            let mut q: Vec<f64> = p.iter().map(|p| p.unwrap()).collect();
            q[i] += step * errors[i];
            let other = law(std::array::from_fn(|i| q[i]));
            let height: f64 = values.iter().map(|x| other.ln_pdf(*x)).sum();
            assert!(height < fit.log_likelihood.unwrap(), "{i} {step}");
        }
    }
}

#[test]
fn two_parts_are_told_from_one() {
    let (ms, guessed) = synthetic();
    let sample = Sample::new(ms.clone()).unwrap();
    let both = decide(&sample, 39, 1).unwrap();
    // One ex-Gaussian reaches 1322.082441, two parts 1246.277650.
    assert!((both.ratio - 2.0 * (1_322.082_441 - 1_246.277_65)).abs() < 1e-5, "{}", both.ratio);
    assert!(both.two_parts && both.p_value == 1.0 / 40.0);
    let anticipated: Vec<f64> =
        ms.iter().zip(&guessed).filter(|(_, g)| **g).map(|(x, _)| *x).collect();
    let anticipated = Sample::new(anticipated).unwrap();
    let one = decide(&anticipated, 39, 1).unwrap();
    assert!(!one.two_parts && one.p_value > 0.1, "{one:?}");
    assert_eq!(one, decide(&anticipated, 39, 1).unwrap());
}

#[test]
fn one_part_is_seldom_called_two() {
    let one = ExGaussian::new(0.19, 0.02, 0.035).unwrap();
    let rounds = 60;
    let mut called_two = 0;
    for seed in 0..rounds {
        let sample = Sample::new(drawn(&one, 80, seed)).unwrap();
        called_two += usize::from(decide(&sample, 39, seed).unwrap().two_parts);
    }
    println!("{called_two} of {rounds} single parts were called two");
    // 5 % of 60 is 3; three standard errors are 5.
    assert!(called_two <= 8, "{called_two} of {rounds}");
}

#[test]
fn two_parts_that_chance_explains_are_fitted_but_not_preferred() {
    let one = ExGaussian::new(0.19, 0.02, 0.035).unwrap();
    // Of sixty such samples criteria alone prefer two parts in ten; this is one that the bootstrap
    // sees through.
    let sample = Sample::new(drawn(&one, 120, 7)).unwrap();
    let laws = [Family::ExGaussian, Family::AnticipateReact];
    let comparison = compare(&laws, &sample, 1).unwrap();
    let aicc = |i: usize| comparison.rows[i].criteria.unwrap().aicc;
    assert!(aicc(1) < aicc(0));
    assert_eq!(comparison.preferred, Some(Family::ExGaussian));
    assert!(comparison.caveats.contains(&Caveat::OnePartWillDo), "{:?}", comparison.caveats);
    for row in &comparison.rows {
        assert!(row.goodness.is_some_and(|g| g.p.is_some()), "{row:?}");
    }
}

#[test]
fn two_normal_parts_are_two_parts_without_a_tail() {
    let flat = law([0.5, 0.03, 0.02, 0.16, 0.02, 1e-6]);
    // Evenly spaced quantiles have no chance tail.
    let values: Vec<f64> =
        (0..400).map(|i| flat.quantile((f64::from(i) + 0.5) / 400.0).unwrap()).collect();
    let sample = Sample::new(values).unwrap();
    let fit = fit(Family::AnticipateReact, &sample).unwrap();
    assert_eq!((fit.status, fit.standard_errors.as_ref()), (Status::Boundary, None));
    let found = law_of(&fit);
    assert!((found.share() - 0.5).abs() < 0.01 && found.react().tau() < 1e-3, "{found:?}");
    let comparison = compare(&Family::ALL, &sample, 1).unwrap();
    assert_eq!(comparison.preferred, Some(Family::AnticipateReact));
    assert!(comparison.caveats.contains(&Caveat::NoTail), "{:?}", comparison.caveats);
}

#[test]
fn the_fit_moves_and_stretches_with_the_launches() {
    let (ms, _) = synthetic();
    let plain = two_parts(&ms);
    let moved = two_parts(&ms.iter().map(|x| 0.002 * x + 0.3).collect::<Vec<f64>>());
    let (a, b) = (law_of(&plain), law_of(&moved));
    let close = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-7, "{a} {b}");
    close(b.share(), a.share());
    close(b.anticipate().mean(), 0.002 * a.anticipate().mean() + 0.3);
    close(b.react().tau(), 0.002 * a.react().tau());
    close(moved.log_likelihood.unwrap(), plain.log_likelihood.unwrap() - 240.0 * 0.002f64.ln());
    let turned = two_parts(&ms.iter().rev().copied().collect::<Vec<f64>>());
    close(turned.log_likelihood.unwrap(), plain.log_likelihood.unwrap());
    close(law_of(&turned).react().tau(), a.react().tau());
}

#[test]
fn questions_without_an_answer_are_refused() {
    let few: Vec<f64> = (0..29).map(f64::from).collect();
    assert_eq!(two_parts(&few).status, Status::None);
    let sample = |values: Vec<f64>| Sample::new(values).unwrap();
    let two = |values| fit(Family::AnticipateReact, &sample(values));
    assert_eq!(two(vec![1.0; 6]), Err(StatsError::TooFew { have: 6, need: 7 }));
    assert_eq!(two(vec![1.0; 40]), Err(StatsError::NoSpread));
    let mut wild: Vec<f64> = (0..40).map(f64::from).collect();
    wild[7] = 1e308;
    assert!(matches!(two(wild), Err(StatsError::OutOfDomain { .. })));
    let (ms, _) = synthetic();
    assert!(decide(&sample(ms), 10, 1).is_err());
    let few = decide(&sample(few), 39, 1);
    assert_eq!(few.err(), Some(StatsError::TooFew { have: 29, need: 30 }));
}

#[test]
fn an_outlier_or_a_spike_leaves_no_false_optimum() {
    let (mut ms, _) = synthetic();
    ms[5] = 1e6;
    // All but one value within the floor of a spread: a spike, not a part.
    assert_eq!(two_parts(&ms).status, Status::None);
    let mut spike: Vec<f64> = (0..60).map(|i| 180.0 + f64::from(i * 7 % 60)).collect();
    spike.extend([100.0; 40]);
    assert_eq!(two_parts(&spike).status, Status::None);
}

#[test]
fn blank_runs_bound_the_guess_share_from_below() {
    let share = guess_share(3, 50, 0.90).unwrap();
    assert!((share.low - 0.016_551_859_2).abs() < 1e-9 && share.value == 0.06);
    assert!(guess_share(0, 0, 0.90).is_err());
}
