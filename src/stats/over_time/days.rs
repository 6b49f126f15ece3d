//! Good days and bad days: how much days differ, and what each day's mean is worth.
//!
//! Owns the one-way random-effects model for days of unequal size. Refuses the next day's risk:
//! that is built on the spread between days given here.

use super::spread::spread;
use crate::stats::numeric::{
    checked_level, estimate, f_upper_tail, has_spread, mean, minimum, root, squares_about,
    t_factor, usable,
};
use crate::stats::{Caveat, Estimate, Sample, StatsError};
use std::fmt;

/// Fewest days with a spread between them.
pub const FEWEST_DAYS: usize = 3;
/// Days below which the spread between days is doubted. Chosen, because with five days its 90 %
/// interval still spans a factor of four.
const MANY_DAYS: usize = 6;

/// Whether days differ by more than their launches explain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DayToDay {
    /// The interval of the spread between days begins at 0.
    NoneToSee,
    /// It does not.
    Seen,
}

impl fmt::Display for DayToDay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            DayToDay::NoneToSee => "no difference between days to see",
            DayToDay::Seen => "days differ",
        })
    }
}

/// The one-way random-effects model, in the unit of the values.
#[derive(Debug, Clone, PartialEq)]
pub struct Days {
    /// Mean over days, Student's interval on days − 1 degrees of freedom.
    pub mean: Estimate,
    /// Standard deviation between days; its lower limit may be 0.
    pub between: Estimate,
    /// Standard deviation of launches within a day.
    pub within: Estimate,
    /// Each day's mean, drawn towards the mean over days, in the order given.
    pub per_day: Vec<Estimate>,
    /// Ratio of the mean squares between and within days.
    pub f: f64,
    /// Chance of a ratio this large or larger if days did not differ.
    pub chance: f64,
    /// In words.
    pub outcome: DayToDay,
    /// Doubts.
    pub caveats: Vec<Caveat>,
}

/// Sums over days that the model needs.
struct Table {
    sizes: Vec<f64>,
    means: Vec<f64>,
    squares_within: f64,
    launches: f64,
}

impl Table {
    fn days(&self) -> f64 {
        self.sizes.len() as f64
    }

    /// Degrees of freedom within days.
    fn freedom(&self) -> f64 {
        self.launches - self.days()
    }

    /// Weights nᵢ/(1 + nᵢ θ), their mean of the day means, and the weighted squares about it.
    fn at(&self, theta: f64) -> (f64, f64, f64) {
        let weight = |n: f64| n / (1.0 + n * theta);
        let sum: f64 = self.sizes.iter().map(|&n| weight(n)).sum();
        let pairs = || self.sizes.iter().zip(&self.means);
        let centre = pairs().map(|(&n, m)| weight(n) * m).sum::<f64>() / sum;
        let squares = pairs().map(|(&n, m)| weight(n) * (m - centre).powi(2)).sum();
        (sum, centre, squares)
    }

    /// −2 log restricted likelihood at θ, up to a constant.
    fn criterion(&self, theta: f64) -> f64 {
        let (sum, _, squares) = self.at(theta);
        let logs: f64 = self.sizes.iter().map(|n| (n * theta).ln_1p()).sum();
        (self.launches - 1.0) * (self.squares_within + squares).ln() + logs + sum.ln()
    }

    /// Wald's ratio: F on (days − 1, launches − days) degrees of freedom at the true θ.
    fn ratio(&self, theta: f64) -> f64 {
        let (_, _, squares) = self.at(theta);
        (squares / (self.days() - 1.0)) / (self.squares_within / self.freedom())
    }

    /// The θ at which Wald's ratio is exceeded with chance `tail`, or 0. The ratio falls with θ.
    fn theta_at_tail(&self, tail: f64) -> f64 {
        let missing = |log_theta: f64| {
            let ratio = self.ratio(log_theta.exp());
            f_upper_tail(ratio, self.days() - 1.0, self.freedom()) - tail
        };
        let (low, high) = self.log_range();
        root(missing, low, high).map_or(0.0, f64::exp)
    }

    /// Range of log θ searched: from a spread between days that no launch would show to one that
    /// drowns all spread within them.
    fn log_range(&self) -> (f64, f64) {
        let largest = self.ratio(0.0).max(1.0) * self.days() * 1e3;
        (1e-8_f64.ln() - self.launches.ln(), largest.ln())
    }
}

/// Fits the model to the launches of each day.
///
/// xᵢⱼ = μ + dᵢ + eᵢⱼ, dᵢ ~ N(0, s_b²), eᵢⱼ ~ N(0, s_w²), θ = s_b²/s_w². Restricted maximum
/// likelihood: θ minimises (N − 1) ln(SSW + Σ wᵢ(x̄ᵢ − μ̂)²) + Σ ln(1 + nᵢθ) + ln Σ wᵢ with
/// wᵢ = nᵢ/(1 + nᵢθ), μ̂ = Σ wᵢx̄ᵢ/Σ wᵢ, SSW the squares within days, N the launches; then
/// s_w² = (SSW + Σ wᵢ(x̄ᵢ − μ̂)²)/(N − 1) and s_b² = θ s_w². The interval of s_b: Wald's for θ (1940,
/// "A note on the analysis of variance with unequal class frequencies", Annals of Mathematical
/// Statistics 11, 96–100: exact for normal values) times s_w. That of s_w: the standard deviation of
/// the launches about their days' means, with long tails allowed for (see [`spread`]).
///
/// A day's mean is drawn in: μ̂ + Bᵢ(x̄ᵢ − μ̂), Bᵢ = s_b²/(s_b² + s_w²/nᵢ); its interval has the
/// variance s_b²(1 − Bᵢ) + (1 − Bᵢ)²/Σ(wᵢ/s_w²) and Student's factor on days − 1.
///
/// C. S. Peirce's days 13–24 (1872): mean 248.198135 (standard error 2.891222), between 9.894949,
/// within 34.573126 ms, F(11, 5965) = 41.99903 (R package lme4 1.1-31,
/// `lmer(rt ~ 1 + (1 | day))`). Of 4 000 simulated 90 % intervals from six equal days that do not
/// differ 96 % held the 0, from seven unequal days with s_b = .4 s_w 91 % the spread; of 2 800
/// days 90 % held the day's own mean (a smaller run is tested).
///
/// ```
/// use lastamber::stats::{Sample, over_time::days::{DayToDay, days}};
/// let day = |shift: i32| Sample::new((0..9).map(|i| f64::from(shift + i * 5 % 9)).collect());
/// let found = days(&[day(0)?, day(9)?, day(-9)?, day(4)?], 0.9)?;
/// assert_eq!(found.outcome, DayToDay::Seen);
/// # Ok::<(), lastamber::stats::StatsError>(())
/// ```
///
/// # Errors
/// [`StatsError::TooFew`] below three days, or five launches more than days;
/// [`StatsError::NoSpread`] if the launches of every day are all alike; [`StatsError::OutOfDomain`]
/// for a `level` outside 0.5..=0.999 or values beyond ±1e100.
pub fn days(samples: &[Sample], level: f64) -> Result<Days, StatsError> {
    let level = checked_level(level)?;
    if samples.len() < FEWEST_DAYS {
        return Err(StatsError::TooFew { have: samples.len(), need: FEWEST_DAYS });
    }
    let mut residuals = Vec::new();
    let mut means = Vec::new();
    for sample in samples {
        let values = usable(sample, 1)?;
        means.push(mean(values));
        let centre = means[means.len() - 1];
        residuals.extend(values.iter().map(|v| v - centre));
    }
    let launches = residuals.len();
    let need = samples.len() + 5;
    if launches < need {
        return Err(StatsError::TooFew { have: launches, need });
    }
    if !samples.iter().any(|s| has_spread(s.values())) {
        return Err(StatsError::NoSpread);
    }
    // In units of the spread within days, about the mean of the day means: nothing over- or
    // underflows, and the search starts at the same place for any unit.
    let scale = (squares_about(&residuals, 0.0) / (launches - samples.len()) as f64).sqrt();
    let origin = mean(&means);
    let scaled: Vec<f64> = means.iter().map(|m| (m - origin) / scale).collect();
    let table = Table {
        sizes: samples.iter().map(|s| s.n() as f64).collect(),
        means: scaled,
        squares_within: (launches - samples.len()) as f64,
        launches: launches as f64,
    };
    if !table.ratio(0.0).is_finite() {
        return Err(StatsError::NoFit("the days are too far apart"));
    }
    let within = within_limits(&residuals, launches - samples.len(), level)?;
    describe(&table, origin, scale, within, level)
}

/// The interval of the spread about the days' means, for `freedom` degrees of freedom.
fn within_limits(residuals: &[f64], freedom: usize, level: f64) -> Result<(f64, f64), StatsError> {
    let found = spread(&Sample::new(residuals.to_vec())?, level)?;
    // Means taken from the same launches cost a degree of freedom a day.
    let lost = ((residuals.len() - 1) as f64 / freedom as f64).sqrt();
    Ok((found.low * lost, found.high * lost))
}

fn describe(
    table: &Table,
    origin: f64,
    scale: f64,
    within: (f64, f64),
    level: f64,
) -> Result<Days, StatsError> {
    let (low, high) = table.log_range();
    let (log_theta, smallest) = minimum(|t| table.criterion(t.exp()), (low, high), 120, 1e-9);
    let theta = if smallest < table.criterion(0.0) { log_theta.exp() } else { 0.0 };
    let (sum, centre, squares) = table.at(theta);
    let sd = ((table.squares_within + squares) / (table.launches - 1.0)).sqrt();
    let (days, launches) = (table.sizes.len(), table.launches as usize);
    let tail = 0.5 * (1.0 - level);
    // The ratio is smaller for a larger θ: the lower limit of θ has the small upper tail.
    let limits = [tail, 1.0 - tail].map(|t| scale * sd * table.theta_at_tail(t).sqrt());
    let between = scale * sd * theta.sqrt();
    let factor = t_factor(level, days as f64 - 1.0);
    let error = sd / sum.sqrt();
    let at = |z: f64| origin + scale * z;
    let per_day = table.sizes.iter().zip(&table.means).map(|(&n, m)| {
        let kept = n * theta / (1.0 + n * theta);
        let drawn = centre + kept * (m - centre);
        let variance = sd * sd * theta * (1.0 - kept) + (error * (1.0 - kept)).powi(2);
        let half = factor * variance.sqrt();
        estimate(at(drawn), (at(drawn - half), at(drawn + half)), level, n as usize)
    });
    let f = table.ratio(0.0);
    let half = factor * error;
    Ok(Days {
        mean: estimate(at(centre), (at(centre - half), at(centre + half)), level, launches)?,
        between: estimate(between, (limits[0].min(between), limits[1].max(between)), level, days)?,
        within: estimate(
            sd * scale,
            (within.0.min(sd * scale), within.1.max(sd * scale)),
            level,
            launches,
        )?,
        per_day: per_day.collect::<Result<_, _>>()?,
        f,
        chance: f_upper_tail(f, days as f64 - 1.0, table.freedom()),
        outcome: if limits[0] > 0.0 { DayToDay::Seen } else { DayToDay::NoneToSee },
        caveats: if days < MANY_DAYS { vec![Caveat::FewDays { days }] } else { Vec::new() },
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seed;
    use crate::stats::numeric::sd;
    use rand_distr::{Distribution, StandardNormal};

    /// Days with their true means, within-day spread .01.
    fn series(
        generator: &mut seed::Generator,
        sizes: &[usize],
        between: f64,
    ) -> Vec<(Sample, f64)> {
        let mut normal = || -> f64 { StandardNormal.sample(generator) };
        let mut day = |n: usize| {
            let truth = 0.2 + 0.01 * between * normal();
            (Sample::new((0..n).map(|_| truth + 0.01 * normal()).collect()).unwrap(), truth)
        };
        sizes.iter().map(|&n| day(n)).collect()
    }

    #[test]
    fn nine_intervals_of_ten_hold_the_spread_between_days_and_each_day_is_drawn_in() {
        let mut generator = seed::generator(5);
        for (between, sizes) in [(0.0, vec![20; 6]), (0.4, vec![10, 20, 30, 5, 20, 12, 40])] {
            let (mut held, mut seen, mut held_days) = (0, 0, 0);
            for _ in 0..400 {
                let (samples, truths): (Vec<_>, Vec<_>) =
                    series(&mut generator, &sizes, between).into_iter().unzip();
                let fit = days(&samples, 0.9).unwrap();
                let truth = 0.01 * between;
                held += i32::from((fit.between.low..=fit.between.high).contains(&truth));
                seen += i32::from(fit.outcome == DayToDay::Seen);
                let holds = |(day, truth): (&Estimate, &f64)| (day.low..=day.high).contains(truth);
                held_days += fit.per_day.iter().zip(&truths).filter(|pair| holds(*pair)).count();
            }
            let share = held_days as f64 / (400.0 * sizes.len() as f64);
            println!("between {between}: {held} of 400 held, {seen} seen, days held {share:.3}");
            assert!((340..=395).contains(&held), "{between}: {held} of 400");
            assert!(between > 0.0 || (8..=34).contains(&seen), "{seen} false alarms of 400");
            assert!(share > 0.86, "{between}: {share} of the days' means held");
        }
    }

    #[test]
    fn equal_days_have_the_closed_forms() {
        // With n launches a day s_w² is the mean square within days, s_b² the rest of the day means'
        // variance; a day is drawn in by B = s_b²/(s_b² + s_w²/n), and its variance is
        // s_b²(1 − B) + (1 − B)²(s_b² + s_w²/n)/K.
        for (count, t) in [(3, 2.919_986), (6, 2.015_048)] {
            // t for two and for five degrees of freedom, 90 % (any table).
            let off = |j: i32| 0.005 * (f64::from(j * 3 % 7) - 3.0);
            let means: Vec<f64> = (0..count).map(|i| 0.2 + 0.01 * f64::from(i * i % 5)).collect();
            let day = |m: &f64| Sample::new((0..7).map(|j| m + off(j)).collect()).unwrap();
            let found = days(&means.iter().map(day).collect::<Vec<_>>(), 0.9).unwrap();
            let (k, n) = (f64::from(count), 7.0);
            let within = (28.0 * 0.005_f64.powi(2) / 6.0).sqrt();
            assert!((found.within.value / within - 1.0).abs() < 1e-6, "{found:?}");
            let of_means = sd(&means).powi(2);
            let between = (of_means - within * within / n).sqrt();
            assert!((found.between.value / between - 1.0).abs() < 1e-5, "{found:?}");
            let kept = between * between / of_means;
            let variance = between * between * (1.0 - kept) + (1.0 - kept).powi(2) * of_means / k;
            for (day, m) in found.per_day.iter().zip(&means) {
                let drawn = mean(&means) + kept * (m - mean(&means));
                assert!((day.value - drawn).abs() < 1e-7, "{day:?} {drawn}");
                let half = 0.5 * (day.high - day.low);
                assert!((half / (t * variance.sqrt()) - 1.0).abs() < 1e-5, "{day:?}");
            }
            // The launches about their days' means cost a degree of freedom a day.
            let residuals = (0..7 * count).map(|j| off(j % 7)).collect();
            let plain = spread(&Sample::new(residuals).unwrap(), 0.9).unwrap();
            let lost = ((k * n - 1.0) / (k * n - k)).sqrt();
            assert!((found.within.low - lost * plain.low).abs() < 1e-9, "{found:?}");
            assert!((found.within.high - lost * plain.high).abs() < 1e-9, "{found:?}");
            let few = if count < 6 { vec![Caveat::FewDays { days: 3 }] } else { vec![] };
            assert_eq!(found.caveats, few);
        }
    }

    #[test]
    fn two_days_or_no_spread_give_no_model() {
        let day = |v: &[f64]| Sample::new(v.to_vec()).unwrap();
        let two = [day(&[0.1, 0.2, 0.3]), day(&[0.2, 0.3, 0.1])];
        assert_eq!(days(&two, 0.9), Err(StatsError::TooFew { have: 2, need: 3 }));
        let flat = [day(&[0.1; 5]), day(&[0.2; 5]), day(&[0.3; 5])];
        assert_eq!(days(&flat, 0.9), Err(StatsError::NoSpread));
    }

    #[test]
    fn five_launches_more_than_days_are_enough() {
        let day = |v: &[f64]| Sample::new(v.to_vec()).unwrap();
        let mut three = [day(&[0.1, 0.2, 0.3]), day(&[0.2, 0.3, 0.1]), day(&[0.15, 0.25])];
        assert_eq!(days(&three, 0.9).unwrap().mean.n, 8);
        three[2] = day(&[0.15]);
        assert_eq!(days(&three, 0.9), Err(StatsError::TooFew { have: 7, need: 8 }));
    }
}
