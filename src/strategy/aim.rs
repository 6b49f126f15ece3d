//! How hard to push: what each aim costs and brings, and the aim for a risk one accepts.
//!
//! Owns red risk, expected light and the chance of a good one by aim, the aim for 1, 2, 5 and 10 %,
//! and the headline with what would tell while it is not known. Refuses winners: for a test-and-tune
//! this is all there is.

use super::StrategyError;
use super::error::{AIM, LEVEL, LIGHT, within};
use super::expect::{Moments, OnGrid, Payoff, freedom, spread_of, step_for};
use super::launches::{Launches, Seen, View};
use super::practise::launches_until_risk_known;
use crate::stats::Estimate;
use crate::stats::risk::HomeToTrack;
use crate::units::Measured;

/// Risks one may accept.
pub const ACCEPTED_RISKS: [f64; 4] = [0.01, 0.02, 0.05, 0.10];
/// A headline whose 90 % interval is wider than this is "not known". Chosen: twenty points.
pub const WIDEST_KNOWN: f64 = 0.20;
/// Level of the headline's interval.
const HEADLINE_LEVEL: f64 = 0.90;
/// Slips beyond which asking for more is no advice. Chosen: two seasons of test nights.
const MOST_SLIPS: usize = 60;
/// Aims looked at for an accepted risk.
const AIMS: usize = 240;

/// What to ask of launches.
#[derive(Debug, Clone, PartialEq)]
pub struct AimQuestion {
    /// Aims: how much earlier than now, s.
    pub earlier_s: Vec<f64>,
    /// A light is good from 0 up to this, s.
    pub better_than_s: f64,
    /// Level of the intervals.
    pub level: f64,
}

/// One aim.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AimRow {
    /// How much earlier than now, s.
    pub earlier_s: f64,
    /// P(red).
    pub red: Estimate,
    /// The expected light where it is green, s.
    pub green_light_s: Estimate,
    /// P(0 ≤ light < the chosen number).
    pub better: Estimate,
}

/// The aim for an accepted risk.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AimForRisk {
    /// The risk accepted.
    pub risk: f64,
    /// The aim, s: at its lower limit the risk's upper limit is what is accepted, and the reverse;
    /// where the launches are too few for a limit that low, the earliest or latest aim looked at.
    pub earlier_s: Estimate,
}

/// The answer in one view.
#[derive(Debug, Clone, PartialEq)]
pub struct Aims {
    /// One row per aim asked for.
    pub rows: Vec<AimRow>,
    /// One per accepted risk.
    pub for_risk: Vec<AimForRisk>,
}

/// The risk at the track in this car as things are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Headline {
    /// Known well enough to be told.
    Known(Estimate),
    /// Wider than twenty points: "not known for your car yet".
    NotKnown {
        /// The interval all the same.
        risk: Estimate,
        /// Slips after which it would be known; `None`: the days differ too much for slips to tell.
        slips: Option<usize>,
    },
}

impl Headline {
    /// The risk with its interval, known or not.
    pub fn risk(&self) -> Estimate {
        match self {
            Headline::Known(risk) | Headline::NotKnown { risk, .. } => *risk,
        }
    }
}

/// What each aim costs and brings.
///
/// # Errors
/// [`StrategyError::OutOfDomain`] for aims outside ±10 s, a light that is not positive or a level
/// outside 0.01–0.999.
pub fn aims(seen: &Seen, question: &AimQuestion) -> Result<Aims, StrategyError> {
    let level = within("level", question.level, LEVEL)?;
    let better = within("light to be better than", question.better_than_s, LIGHT)?;
    for aim in &question.earlier_s {
        within("aim", *aim, AIM)?;
    }
    let reds = seen.red(&question.earlier_s, level)?;
    let lights = seen.lights();
    let grid = OnGrid::new(lights, step_for(lights, &question.earlier_s));
    let over = |payoff: Payoff| grid.moments(&payoff, &question.earlier_s);
    let green = over(Payoff::between(grid.step, 0.0, f64::INFINITY));
    let light = over(Payoff::green_light(grid.step, 1.0));
    let good = over(Payoff::between(grid.step, 0.0, better.max(0.0)));
    let row = |i: usize| AimRow {
        earlier_s: question.earlier_s[i],
        red: reds[i],
        green_light_s: green_light(&light[i], &green[i], seen, level),
        better: good[i].estimate(lights, level),
    };
    let rows = (0..question.earlier_s.len()).map(row).collect();
    Ok(Aims { rows, for_risk: for_risks(seen, level)? })
}

/// The mean light given green: a ratio A/B of two expectations, each draw with the spread a Dirichlet
/// process gives it, (E\[X²; green\] − 2 r A + r² B)/(B² (α/4 + n + 1)) for r = A/B.
fn green_light(light: &Moments, green: &Moments, seen: &Seen, level: f64) -> Estimate {
    let lights = seen.lights();
    let freedom = freedom(lights);
    let rows = light.mean.iter().zip(&light.square).zip(&green.mean).zip(&lights.drivers);
    let draw = |(((a, c), b), d): (((&f32, &f32), &f32), &super::lights::Driver)| {
        let (a, c, b) = (f64::from(*a), f64::from(*c), f64::from(*b).max(1e-6));
        let r = a / b;
        let variance = ((c - 2.0 * r * a + r * r * b).max(0.0)) / (b * b * freedom);
        (r, (r + d.chance * variance.sqrt()).max(0.0))
    };
    let (means, draws): (Vec<f64>, Vec<f64>) = rows.map(draw).unzip();
    let value = means.iter().sum::<f64>() / means.len() as f64;
    spread_of(draws, value, level, lights.n())
}

/// The aim for every accepted risk, from the curves of the risk and of its limits.
fn for_risks(seen: &Seen, level: f64) -> Result<Vec<AimForRisk>, StrategyError> {
    let lights = seen.lights();
    let (mean, sd) = (lights.mean(), lights.sd());
    let (first, last) = ((mean - 7.0 * sd - 0.05).max(-10.0), (mean + sd).min(10.0));
    let at = |i: usize| first + (last - first) * i as f64 / AIMS as f64;
    let aims: Vec<f64> = (0..=AIMS).map(at).collect();
    let curve = seen.red(&aims, level)?;
    let where_it_is = |risk: f64, of: fn(&Estimate) -> f64| {
        let Some(above) = curve.iter().position(|e| of(e) >= risk) else { return last };
        if above == 0 {
            return first;
        }
        let (low, high) = (of(&curve[above - 1]), of(&curve[above]));
        let share = if high > low { (risk - low) / (high - low) } else { 0.0 };
        aims[above - 1] + share * (aims[above] - aims[above - 1])
    };
    let one = |risk: f64| {
        let value = where_it_is(risk, |e| e.value);
        let low = where_it_is(risk, |e| e.high).min(value);
        let high = where_it_is(risk, |e| e.low).max(value);
        AimForRisk { risk, earlier_s: Estimate { value, low, high, level, n: lights.n() } }
    };
    Ok(ACCEPTED_RISKS.map(one).to_vec())
}

/// The risk at the track in this car with everything `earlier_s` earlier, or how many slips would
/// tell.
///
/// # Errors
/// [`StrategyError::Stats`] below ten launches.
pub fn headline(launches: &Launches, earlier_s: f64, seed: u64) -> Result<Headline, StrategyError> {
    let risk = launches.seen(View::AtTheTrack, seed, 0)?.red(&[earlier_s], HEADLINE_LEVEL)?[0];
    if risk.high - risk.low <= WIDEST_KNOWN {
        return Ok(Headline::Known(risk));
    }
    let slips = match launches.home() {
        Some(home) => slips_needed(launches, home, earlier_s, seed)?,
        // Slips are the track: the count it takes to know a chance to ± ten points.
        None => {
            let needed = launches_until_risk_known(risk.value, 0.5 * WIDEST_KNOWN)?;
            Some(needed.saturating_sub(launches.pool().starts()).max(1))
        }
    };
    Ok(Headline::NotKnown { risk, slips })
}

/// How many more slips make the interval narrow enough, if the offset they find is the one expected:
/// with m slips its SD is √(v₀ v₁/(v₀ + v₁)), v₁ = s²/m, s the spread from launch to launch.
fn slips_needed(
    launches: &Launches,
    home: &HomeToTrack,
    earlier_s: f64,
    seed: u64,
) -> Result<Option<usize>, StrategyError> {
    let before = launches.before_the_track(seed)?;
    let spread = before.lights().launch_sd();
    let known_after = |slips: usize| {
        let (prior, data) = (home.offset_s.sd.powi(2), spread.powi(2) / slips as f64);
        let sd = (prior * data / (prior + data)).sqrt();
        let home = HomeToTrack {
            offset_s: Measured::new(home.offset_s.value, sd),
            slips: home.slips + slips,
        };
        let seen = launches.at_the_track_after(&before, &home, seed);
        let risk = seen.red(&[earlier_s], HEADLINE_LEVEL)?[0];
        Ok::<bool, StrategyError>(risk.high - risk.low <= WIDEST_KNOWN)
    };
    if !known_after(MOST_SLIPS)? {
        return Ok(None);
    }
    let (mut low, mut high) = (0, MOST_SLIPS);
    while high - low > 1 {
        let middle = (low + high) / 2;
        if known_after(middle)? { high = middle } else { low = middle }
    }
    Ok(Some(high))
}
