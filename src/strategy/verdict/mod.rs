//! React or time it?
//!
//! Owns the comparison of two declared styles from alternating blocks on a full tree: by win chance
//! (or, without an opponent, by the chance of a good light), by risk at an equal light and by spread,
//! in every view, each with the probability that timing is right; and the car part at which the
//! verdict flips. Refuses styles guessed from the times (a mixture only checks the declaration), early
//! weeks against late ones, and trees without a rhythm.
//!
//! Who reacts leaves as he does: a reaction cannot be willed earlier. Who times may aim: he is
//! compared at his best aim. The probability is the share of joint draws in which his expectation is
//! the higher one; day, car and track are the same in both styles of a draw.

mod tested;

pub use tested::{Block, LEAST_BLOCKS, Tested, takes_turns};

use super::StrategyError;
use super::doubt::Doubt;
use super::error::{LIGHT, within};
use super::expect::spread_of;
use super::launches::{Seen, View};
use super::odds::{DrawnOdds, GivenLight, Opponent, Race};
use crate::stats::Estimate;
use crate::trial::Style;

/// A verdict is given from this probability on. Chosen.
pub const LEAST_RIGHT: f64 = 0.90;
/// z of that probability.
const Z_OF_RIGHT: f64 = 1.281_551_565_544_600_4;
/// A difference that matters. Chosen: one race in twenty.
const MATTERS: f64 = 0.05;
/// Level of the intervals.
const LEVEL: f64 = 0.90;
/// Car parts looked at for a flip: this much to either side, s, and this far apart. Chosen.
const CAR_PARTS_S: (f64, f64) = (0.15, 0.002);

/// What is at stake.
#[derive(Debug, Clone)]
pub enum Stakes {
    /// A round against an opponent.
    Round(Box<GivenLight>),
    /// A light from 0 up to this, s.
    GoodLight(f64),
}

impl Stakes {
    /// A round against an opponent.
    pub fn round(opponent: &Opponent, race: &Race) -> Self {
        Self::Round(Box::new(GivenLight::new(opponent, race)))
    }

    /// A light that is green and better than this, s.
    ///
    /// # Errors
    /// [`StrategyError::OutOfDomain`] outside ±100 s.
    pub fn good_light(better_than_s: f64) -> Result<Self, StrategyError> {
        Ok(Self::GoodLight(within("light to be better than", better_than_s, LIGHT)?))
    }

    /// The stakes over the lights that are seen.
    pub fn over<'a>(&self, seen: &'a Seen) -> DrawnOdds<'a> {
        match self {
            Self::Round(given) => DrawnOdds::given(seen.lights(), given, &[0.0]),
            Self::GoodLight(better_than_s) => {
                DrawnOdds::of_good_light(seen.lights(), *better_than_s, &[0.0])
            }
        }
    }
}

/// By what two styles are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum By {
    /// What is at stake: winning, or a good light.
    Stakes,
    /// The red risk once whoever times aims at the mean light of the reaction.
    RiskAtEqualLight,
    /// The spread from launch to launch.
    Spread,
}

/// One comparison.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judgement {
    /// By what.
    pub by: By,
    /// From how far.
    pub view: View,
    /// The probability that timing is the better of the two, 0–1.
    pub time_it_right: f64,
}

/// How many more launches would settle it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum More {
    /// Of one style.
    Of(Style, usize),
    /// Of each.
    OfEach(usize),
    /// None: they are known to be so close that it does not matter which.
    TooClose,
}

/// What to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Choice {
    /// Time it by the rhythm of the ambers.
    TimeIt,
    /// React to the last amber.
    React,
    /// Not known yet.
    NotEnough(More),
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdict {
    /// What to do.
    pub choice: Choice,
    /// The probability that the likelier style is the right one, 0.5–1.
    pub right: f64,
    /// All comparisons; the first, by what is at stake in the view asked for, is the verdict's.
    pub judgements: Vec<Judgement>,
    /// What timing is worth over reacting: win chance or chance of a good light, with its interval.
    pub worth: Estimate,
    /// The best aim of whoever times, s earlier than in the blocks.
    pub best_earlier_s: f64,
    /// Car parts at which the two are worth the same, s.
    pub flips_at_car_part_s: Vec<f64>,
    /// What to say beside it.
    pub doubts: Vec<Doubt>,
}

/// Compares the styles; `car_part_s` is the car the blocks were driven with.
///
/// # Errors
/// [`StrategyError::Stats`] below ten launches in a style.
pub fn verdict(
    tested: &Tested,
    stakes: &Stakes,
    view: View,
    car_part_s: f64,
    seed: u64,
) -> Result<Verdict, StrategyError> {
    let seen = |view| {
        let react = tested.react().seen(view, seed, 1)?;
        let time_it = tested.time_it().seen(view, seed, 2)?.on_the_days_of(&react);
        Ok::<_, StrategyError>([react, time_it])
    };
    let main = compare(&seen(view)?, stakes)?;
    let mut judgements = main.judgements(view).to_vec();
    for other in View::ALL.into_iter().filter(|other| *other != view) {
        judgements.extend(compare(&seen(other)?, stakes)?.judgements(other));
    }
    let time_it_right = judgements[0].time_it_right;
    let right = time_it_right.max(1.0 - time_it_right);
    let choice = if right < LEAST_RIGHT {
        Choice::NotEnough(main.more(tested))
    } else if time_it_right > 0.5 {
        Choice::TimeIt
    } else {
        Choice::React
    };
    let flips = main.flips.iter().map(|earlier| car_part_s - earlier).filter(|part| *part > 0.0);
    Ok(Verdict {
        choice,
        right,
        judgements,
        worth: main.worth(),
        best_earlier_s: main.best_earlier_s,
        flips_at_car_part_s: flips.collect(),
        doubts: vec![Doubt::ShapeKeptByAim],
    })
}

/// Both styles in one view, draw by draw.
struct Comparison {
    react: Vec<f64>,
    time_it: Vec<f64>,
    by_risk: f64,
    by_spread: f64,
    best_earlier_s: f64,
    /// Shifts of the reaction, s earlier, at which it is worth what timing is.
    flips: Vec<f64>,
    n: [usize; 2],
}

fn compare([react, time_it]: &[Seen; 2], stakes: &Stakes) -> Result<Comparison, StrategyError> {
    let (odds_react, odds_time) = (stakes.over(react), stakes.over(time_it));
    let best = odds_time.best()?;
    let equal = time_it.lights().mean() - react.lights().mean();
    let red =
        |seen: &Seen, earlier: f64| DrawnOdds::of_red(seen.lights(), &[earlier]).chances(earlier);
    let spreads = |seen: &Seen| -> Vec<f64> { seen.lights().launch_sds().collect() };
    Ok(Comparison {
        by_risk: share_above(&red(react, 0.0)?, &red(time_it, equal)?),
        by_spread: share_above(&spreads(react), &spreads(time_it)),
        react: odds_react.chances(0.0)?,
        time_it: odds_time.chances(best.earlier_s)?,
        best_earlier_s: best.earlier_s,
        flips: flips(&odds_react, best.win),
        n: [react.lights().n(), time_it.lights().n()],
    })
}

/// Where the reaction's mean curve passes a level.
fn flips(odds: &DrawnOdds, level: f64) -> Vec<f64> {
    let (reach, step) = CAR_PARTS_S;
    let cells = (2.0 * reach / step).round() as i32;
    let at = |i: i32| -reach + f64::from(i) * step;
    let aims: Vec<f64> = (0..=cells).map(at).collect();
    let over: Vec<f64> = odds.means(&aims).iter().map(|win| win - level).collect();
    let crossing = |i: usize| {
        let (a, b) = (over[i], over[i + 1]);
        ((a < 0.0) != (b < 0.0)).then(|| aims[i] + step * a / (a - b))
    };
    let mut found: Vec<f64> = (0..over.len() - 1).filter_map(crossing).collect();
    found.reverse();
    found
}

/// The share of pairs with `a` above `b`; never 0 or 1, for a thousand draws do not show that.
fn share_above(a: &[f64], b: &[f64]) -> f64 {
    let above = a.iter().zip(b).filter(|(a, b)| a > b).count() as f64;
    let level = a.iter().zip(b).filter(|(a, b)| a == b).count() as f64;
    (above + 0.5 * level + 0.5) / (a.len() as f64 + 1.0)
}

impl Comparison {
    fn judgements(&self, view: View) -> [Judgement; 3] {
        let by_stakes = share_above(&self.time_it, &self.react);
        [
            Judgement { by: By::Stakes, view, time_it_right: by_stakes },
            Judgement { by: By::RiskAtEqualLight, view, time_it_right: self.by_risk },
            Judgement { by: By::Spread, view, time_it_right: self.by_spread },
        ]
    }

    fn worth(&self) -> Estimate {
        let gains: Vec<f64> = self.time_it.iter().zip(&self.react).map(|(t, r)| t - r).collect();
        let mean = gains.iter().sum::<f64>() / gains.len() as f64;
        spread_of(gains, mean, LEVEL, self.n[0] + self.n[1])
    }

    /// Until the difference found, or one that matters, would be told: variances of either style's
    /// expectation shrink as one over its launches. First the style with the larger one; where that
    /// cannot be enough, both.
    fn more(&self, tested: &Tested) -> More {
        let moments = |x: &[f64]| {
            let mean = x.iter().sum::<f64>() / x.len() as f64;
            (mean, x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / x.len() as f64)
        };
        let (react, time_it) = (moments(&self.react), moments(&self.time_it));
        let wanted = ((time_it.0 - react.0).abs().max(MATTERS) / Z_OF_RIGHT).powi(2);
        if react.1 + time_it.1 <= wanted {
            return More::TooClose;
        }
        let counts = [tested.react(), tested.time_it()].map(|l| l.pool().starts() as f64);
        let (style, larger, smaller, n) = if react.1 > time_it.1 {
            (Style::React, react.1, time_it.1, counts[0])
        } else {
            (Style::TimeIt, time_it.1, react.1, counts[1])
        };
        let alone = n * (larger / (wanted - smaller) - 1.0);
        let each = counts[0].max(counts[1]) * ((larger + smaller) / wanted - 1.0);
        // Tens, because blocks have ten; at least one block.
        let tens = |launches: f64| ((launches / 10.0).ceil().max(1.0) * 10.0) as usize;
        if wanted > smaller && alone <= 2.0 * each {
            More::Of(style, tens(alone))
        } else {
            More::OfEach(tens(each))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::TreeKind;
    use crate::stats::risk::{CarPart, HomeToTrack};
    use crate::strategy::law::RtLaw;

    const CAR: CarPart = CarPart { mean_s: 0.28, doubt_sd_s: 0.0, run_sd_s: 0.0 };

    /// Twenty launches of either style that are the quantiles of their laws, two blocks each.
    fn tested(react: &RtLaw, time_it: &RtLaw) -> Tested {
        let block = |i: usize| {
            let (style, law) =
                if i.is_multiple_of(2) { (Style::React, react) } else { (Style::TimeIt, time_it) };
            let place = |k: usize| (2.0 * k as f64 + (i / 2) as f64 + 0.5) / 20.0;
            let part = |k: usize| law.quantile(place(k)).unwrap() + 0.22;
            let driver_parts_s = (0..10).map(part).collect();
            Block { style, driver_parts_s, left_before_tree: 0, lapses: 0, day: 1 }
        };
        let blocks: Vec<Block> = (0..4).map(block).collect();
        let home = HomeToTrack::prior(0.0).unwrap();
        Tested::new(&blocks, &TreeKind::full(), CAR, home).unwrap()
    }

    /// Draws whose mean and SD are these.
    fn draws(mean: f64, sd: f64) -> Vec<f64> {
        (0..1000).map(|i| if i % 2 == 0 { mean + sd } else { mean - sd }).collect()
    }

    fn compared(react: (f64, f64), time_it: (f64, f64)) -> Comparison {
        Comparison {
            react: draws(react.0, react.1),
            time_it: draws(time_it.0, time_it.1),
            by_risk: 0.5,
            by_spread: 0.5,
            best_earlier_s: 0.0,
            flips: Vec::new(),
            n: [20, 20],
        }
    }

    /// Whether a difference shows: it is 1.2816 of its own SD, the two told apart on their own, once
    /// either style's variance has shrunk as one over its launches.
    fn shows(react: (f64, f64), time_it: (f64, f64), more: [usize; 2]) -> bool {
        let after = |sd: f64, more: usize| sd * sd * 20.0 / (20.0 + more as f64);
        let sd = (after(react.1, more[0]) + after(time_it.1, more[1])).sqrt();
        (react.0 - time_it.0).abs().max(0.05) >= 1.281_551_565_5 * sd
    }

    #[test]
    fn as_many_more_as_are_asked_for_would_tell_and_ten_fewer_would_not() {
        let both = tested(&RtLaw::normal(0.04, 0.02).unwrap(), &RtLaw::normal(0.04, 0.02).unwrap());
        let (mut of_one, mut of_each) = ([0, 0], 0);
        for (mean, sd) in [(0.5, 0.10), (0.5, 0.14), (0.5, 0.02), (0.5, 0.05), (0.58, 0.3)] {
            for (other_mean, other_sd) in [(0.6, 0.01), (0.6, 0.07), (0.6, 0.2), (0.5, 0.04)] {
                let (react, time_it) = ((mean, sd), (other_mean, other_sd));
                let least = |more: usize| more.max(10) - 10;
                match compared(react, time_it).more(&both) {
                    More::TooClose => assert!(shows(react, time_it, [0, 0])),
                    More::Of(style, n) => {
                        let of = |n| if style == Style::React { [n, 0] } else { [0, n] };
                        assert!(shows(react, time_it, of(n)), "{react:?} {time_it:?} {n}");
                        assert!(!shows(react, time_it, of(least(n))), "{react:?} {time_it:?} {n}");
                        assert_eq!(style == Style::React, sd > other_sd);
                        of_one[usize::from(style == Style::React)] += 1;
                    }
                    More::OfEach(n) => {
                        assert!(shows(react, time_it, [n, n]), "{react:?} {time_it:?} {n}");
                        assert!(!shows(react, time_it, [least(n); 2]), "{react:?} {time_it:?} {n}");
                        // One style alone would take more than both together, if it could tell at all.
                        let both = 2 * least(n);
                        let one = if sd > other_sd { [both, 0] } else { [0, both] };
                        assert!(!shows(react, time_it, one), "{react:?} {time_it:?}");
                        of_each += 1;
                    }
                }
            }
        }
        assert!(of_one[0] > 1 && of_one[1] > 1 && of_each > 1, "{of_one:?} {of_each}");
    }

    #[test]
    fn a_share_and_the_other_way_round_add_up_to_one() {
        // One above, one level, one below: even. Three above of three: never certain.
        assert_eq!(share_above(&[1.0, 2.0, 3.0], &[0.0, 2.0, 4.0]), 0.5);
        assert_eq!(share_above(&[1.0; 3], &[0.0; 3]), 0.875);
        let (a, b) = ([0.3, 0.1, 0.5, 0.5], [0.2, 0.2, 0.5, 0.1]);
        assert!((share_above(&a, &b) + share_above(&b, &a) - 1.0).abs() < 1e-15);
    }

    /// Twenty launches of either style whose spreads are as 3 to 1 leave less than one in twenty to doubt.
    #[test]
    fn by_spread_the_steadier_style_is_right() {
        let (wide, narrow) =
            (RtLaw::normal(0.05, 0.03).unwrap(), RtLaw::normal(0.05, 0.01).unwrap());
        let stakes = Stakes::good_light(0.05).unwrap();
        for (react, time_it, timing_is_steadier) in
            [(&wide, &narrow, true), (&narrow, &wide, false)]
        {
            let told = verdict(&tested(react, time_it), &stakes, View::ThisForm, CAR.mean_s, 2);
            let judgements = told.unwrap().judgements;
            let by_spread = judgements.iter().find(|j| j.by == By::Spread).unwrap().time_it_right;
            assert!(
                if timing_is_steadier { by_spread > 0.95 } else { by_spread < 0.05 },
                "{by_spread}"
            );
        }
    }

    /// Lights from 0 to 50 ms are good. Timing with an SD of 30 ms makes 2Φ(25/30) − 1 = .595 of them at
    /// its best; a reaction with 18 ms makes as many where its middle c lies at 4.6 or 45.4 ms: by tables
    /// Φ((50 − c)/18) − Φ(−c/18) = Φ(.256) − Φ(−2.52) = .601 − .006.
    #[test]
    fn the_verdict_flips_at_the_cars_that_make_both_styles_equal() {
        let both =
            tested(&RtLaw::normal(0.12, 0.018).unwrap(), &RtLaw::normal(0.05, 0.03).unwrap());
        let stakes = Stakes::good_light(0.05).unwrap();
        let told = verdict(&both, &stakes, View::ThisForm, CAR.mean_s, 2).unwrap();
        assert_eq!(told.choice, Choice::TimeIt);
        let flips = &told.flips_at_car_part_s;
        assert_eq!(flips.len(), 2, "{flips:?}");
        for (flip, middle_s) in flips.iter().zip([0.0046, 0.0454]) {
            // A car that much quicker brings the middle of the reactions from 120 ms to there.
            assert!((flip - (CAR.mean_s - 0.12 + middle_s)).abs() < 0.004, "{flips:?}");
        }
        assert_eq!(told.worth.n, 40);
    }
}
