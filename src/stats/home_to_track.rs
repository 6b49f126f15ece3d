//! From home to the track: one number from a driver's own slips.
//!
//! Owns the difference between slips and practice with its standard error, the offset it leaves and
//! how many slips it takes. Refuses to split the offset into rig, limb and car: slips cannot.

use super::left_on_green::Expected;
use super::risk::{HomeToTrack, check_sd};
use super::special::normal_quantile;
use super::summary::{mean, sd, student_quantile};
use super::{Estimate, Sample, StatsError};

/// What slips and practice of one car, tree, launch edge, style and rig have to say. Seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence<'a> {
    /// Reaction times of the slips.
    pub slips_s: &'a Sample,
    /// Reaction times of practice, with today's delay and the car as believed.
    pub practice_s: &'a Sample,
    /// What else is not known about the two means, SD: days differ, and launches of one day share
    /// it. 0 if that is left aside.
    pub days_se_s: f64,
    /// What is not known about the car part, SD.
    pub car_doubt_sd_s: f64,
}

/// How much later the slips are than practice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// Mean of the slips less mean of practice, s; its `n` is the slips.
    pub seconds: Estimate,
    /// Its standard error, s.
    pub standard_error_s: f64,
}

impl Evidence<'_> {
    /// Δ = x̄ − ȳ with SE = √(s²/m + u²/n + d²), where x̄, s of m slips, ȳ, u of n practice runs
    /// and d of the days; Student's interval with Welch's degrees of freedom
    /// (s²/m + u²/n)² / ((s²/m)²/(m − 1) + (u²/n)²/(n − 1)), which does not ask the two spreads to be
    /// alike (Welch 1947, Biometrika 34).
    ///
    /// 20 slips of SD 30 ms against 100 runs of SD 25 ms: SE = √(45 + 6.25) = 7.2 ms.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] below 2 slips or practice runs, [`StatsError::NoSpread`] if neither
    /// has any, [`StatsError::OutOfDomain`] for a level outside 0–1 or a doubt below 0.
    pub fn difference(&self, level: f64) -> Result<Difference, StatsError> {
        let days = check_sd("days' doubt", self.days_se_s)?;
        let part = |sample: &Sample| -> Result<(f64, f64), StatsError> {
            Ok((sd(sample)?.powi(2) / sample.n() as f64, (sample.n() - 1) as f64))
        };
        let ((slips, slips_freedom), (home, home_freedom)) =
            (part(self.slips_s)?, part(self.practice_s)?);
        let both = slips + home;
        if both == 0.0 {
            return Err(StatsError::NoSpread);
        }
        // By shares: the squares of tiny variances could vanish.
        let share = slips / both;
        let freedom = 1.0 / (share * share / slips_freedom + (1.0 - share).powi(2) / home_freedom);
        let standard_error_s = both.sqrt().hypot(days);
        let value = mean(self.slips_s) - mean(self.practice_s);
        let half = student_quantile(level, freedom)? * standard_error_s;
        let n = self.slips_s.n();
        let seconds = Estimate { value, low: value - half, high: value + half, level, n };
        Ok(Difference { seconds, standard_error_s })
    }

    /// The offset after these slips: the prior N(0, 40² ms² + the car's doubt²) and the difference,
    /// conjugate normal laws, as [`HomeToTrack::from_slips`] has it (a spread seen in few slips is
    /// mixed with the one at home). From the first slip on; those that waited for green are set aside.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] below 2 practice runs, [`StatsError::OutOfDomain`] for a doubt below 0.
    pub fn offset(&self) -> Result<HomeToTrack, StatsError> {
        let (home, home_sd) = (mean(self.practice_s), sd(self.practice_s)?);
        let days = check_sd("days' doubt", self.days_se_s)?;
        let home_se = home_sd / (self.practice_s.n() as f64).sqrt();
        let set_aside = self.left_on_green()?;
        let counted = self.slips_s.values().iter().zip(set_aside).filter(|(_, aside)| !aside);
        let differences: Vec<f64> = counted.map(|(rt, _)| rt - home).collect();
        if differences.is_empty() {
            return HomeToTrack::prior(self.car_doubt_sd_s);
        }
        let differences = Sample::new(differences)?;
        HomeToTrack::from_slips(&differences, home_sd, home_se.hypot(days), self.car_doubt_sd_s)
    }

    /// Which slips waited for green though nobody marked them so; see [`Expected::left_on_green`]. None at a
    /// home without a spread, which says nothing of what is usual.
    ///
    /// # Errors
    /// As [`Evidence::offset`].
    pub fn left_on_green(&self) -> Result<Vec<bool>, StatsError> {
        let spread_sd_s = sd(self.practice_s)?;
        if spread_sd_s == 0.0 {
            return Ok(vec![false; self.slips_s.n()]);
        }
        let home_se = spread_sd_s / (self.practice_s.n() as f64).sqrt();
        let prior = HomeToTrack::prior(self.car_doubt_sd_s)?.offset_s.sd;
        let offset_sd_s = prior.hypot(home_se).hypot(self.days_se_s);
        let expected = Expected { home_s: mean(self.practice_s), spread_sd_s, offset_sd_s };
        expected.left_on_green(self.slips_s.values())
    }

    /// The same with the interval that holds it with chance `level`, s.
    ///
    /// # Errors
    /// As [`Evidence::offset`], and [`StatsError::OutOfDomain`] for the level.
    pub fn offset_s(&self, level: f64) -> Result<Estimate, StatsError> {
        let offset = self.offset()?;
        let half = normal_half_width(level)? * offset.offset_s.sd;
        let (value, n) = (offset.offset_s.value, offset.slips);
        Ok(Estimate { value, low: value - half, high: value + half, level, n })
    }
}

/// How many slips it takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// The offset's interval is to reach this far to either side, s.
    pub half_width_s: f64,
    /// The chance with which it is to hold.
    pub level: f64,
    /// Spread of the driver's slips (of practice, as long as there are none), s.
    pub slip_sd_s: f64,
    /// What is not known about the practice mean, s: its spread over √n, days included.
    pub practice_se_s: f64,
    /// SD of the offset before any slip, s: the prior and what is not known of the car.
    pub prior_sd_s: f64,
}

impl Wanted {
    /// The least number of slips for which the offset's interval is that narrow; none if no number
    /// is enough, because practice itself is not known well enough.
    ///
    /// With t = (half width / z)², v₀ the prior's variance and h the practice SE, the posterior's
    /// variance v₀v/(v₀ + v), v = s²/m + h², is at most t for v ≤ t·v₀/(v₀ − t).
    ///
    /// # Errors
    /// [`StatsError::OutOfDomain`] for a half width, spread or prior that is not above 0, or a level
    /// outside 0–1.
    pub fn slips(&self) -> Result<Option<u64>, StatsError> {
        let z = normal_half_width(self.level)?;
        let above_zero = |name, value: f64| {
            let none = StatsError::OutOfDomain { name, value, domain: "above 0 s" };
            if value > 0.0 { check_sd(name, value) } else { Err(none) }
        };
        let wanted = (above_zero("half width", self.half_width_s)? / z).powi(2);
        let spread = above_zero("slips' spread", self.slip_sd_s)?.powi(2);
        let home = check_sd("practice's doubt", self.practice_se_s)?.powi(2);
        let prior = above_zero("prior", self.prior_sd_s)?.powi(2);
        if wanted >= prior {
            return Ok(Some(0));
        }
        let left = wanted * prior / (prior - wanted) - home;
        Ok((left > 0.0).then(|| (spread / left).ceil() as u64))
    }
}

/// How many SDs a normal interval reaches to either side.
fn normal_half_width(level: f64) -> Result<f64, StatsError> {
    if level > 0.0 && level < 1.0 {
        Ok(normal_quantile(0.5 + 0.5 * level))
    } else {
        let domain = "0 to 1 without the ends";
        Err(StatsError::OutOfDomain { name: "level", value: level, domain })
    }
}
