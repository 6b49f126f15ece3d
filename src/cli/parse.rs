//! Words and numbers of the command line as values.
//!
//! Owns the spelling of pairs, models and opponents and what is said when one is misspelt. Refuses
//! to judge the numbers: the rooms do.

use crate::strategy::StrategyError;
use crate::strategy::law::RtLaw;
use crate::strategy::lever::{Lever, LeverKind};
use crate::strategy::odds::Level;
use std::str::FromStr;

/// MEAN,SD.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// The mean.
    pub mean: f64,
    /// The spread.
    pub sd: f64,
}

impl FromStr for Pair {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let [mean, sd] = numbers(text).ok_or_else(|| wrong_pair(text))?;
        if sd < 0.0 { Err(wrong_pair(text)) } else { Ok(Self { mean, sd }) }
    }
}

fn wrong_pair(text: &str) -> String {
    format!("`{text}` is no mean with a spread; write it like 0.060,0.030")
}

/// `N` finite numbers after commas.
fn numbers<const N: usize>(text: &str) -> Option<[f64; N]> {
    let parts: Vec<f64> =
        text.split(',').map(|part| part.trim().parse().ok()).collect::<Option<_>>()?;
    let numbers: [f64; N] = parts.try_into().ok()?;
    numbers.iter().all(|x| x.is_finite()).then_some(numbers)
}

/// A law by name and parameters, s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ModelLaw {
    /// Mean and SD.
    Normal([f64; 2]),
    /// mu, sigma, tau.
    ExGaussian([f64; 3]),
}

impl ModelLaw {
    /// The law.
    ///
    /// # Errors
    /// As its constructor.
    pub fn law(self) -> Result<RtLaw, StrategyError> {
        match self {
            Self::Normal([_, sd]) if sd <= 0.0 => Err(StrategyError::OutOfDomain {
                name: "spread of the model",
                value: sd,
                domain: "the positive numbers",
            }),
            Self::Normal([mean, sd]) => RtLaw::normal(mean, sd),
            Self::ExGaussian([mu, sigma, tau]) => RtLaw::ex_gaussian(mu, sigma, tau),
        }
    }
}

/// `normal=MEAN,SD` or `ex-gaussian=MU,SIGMA,TAU`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ModelArg(pub ModelLaw);

impl FromStr for ModelArg {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let law = match text.split_once('=') {
            Some(("normal", rest)) => numbers(rest).map(ModelLaw::Normal),
            Some(("ex-gaussian", rest)) => numbers(rest).map(ModelLaw::ExGaussian),
            _ => None,
        };
        law.map(Self).ok_or_else(|| {
            format!(
                "`{text}` is no model; write normal=0.245,0.025 or ex-gaussian=0.230,0.018,0.015"
            )
        })
    }
}

/// The other driver.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OpponentArg {
    /// `rt=MEAN,SD`.
    Light(Pair),
    /// A level by name.
    Level(Level),
    /// `like-me`.
    LikeMe,
}

impl FromStr for OpponentArg {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if let Some(pair) = text.strip_prefix("rt=") {
            return Ok(Self::Light(pair.parse()?));
        }
        if text == "like-me" {
            return Ok(Self::LikeMe);
        }
        let level = Level::ALL.into_iter().find(|level| level.name() == text);
        level.map(Self::Level).ok_or_else(|| {
            format!(
                "`{text}` is no opponent; write rt=0.060,0.030, first-timer, weekend, sharp, hasty, late or \
                 like-me"
            )
        })
    }
}

/// `KIND=RT_MS,ET_MS`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeverArg {
    kind: LeverKind,
    rt_ms: f64,
    et_ms: f64,
}

impl LeverArg {
    /// The lever.
    ///
    /// # Errors
    /// As [`Lever::pair`].
    pub fn lever(self) -> Result<Lever, StrategyError> {
        Lever::pair(self.kind, self.rt_ms / 1000.0, self.et_ms / 1000.0)
    }
}

impl FromStr for LeverArg {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("`{text}` is no lever; write it like depth=-64,61 or timing=-10,0");
        let (word, pair) = text.split_once('=').ok_or_else(wrong)?;
        let kind = match word {
            "timing" => LeverKind::Timing,
            "box" => LeverKind::DelayBox,
            "depth" => LeverKind::Depth,
            "tyre" => LeverKind::Tyre,
            "strength" => LeverKind::Strength,
            _ => return Err(wrong()),
        };
        let [rt_ms, et_ms] = numbers(pair).ok_or_else(wrong)?;
        Ok(Self { kind, rt_ms, et_ms })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_become_values_and_misspelt_ones_are_answered_with_an_example() {
        assert_eq!("-0.02, 0.03".parse(), Ok(Pair { mean: -0.02, sd: 0.03 }));
        assert_eq!("normal=1,2".parse(), Ok(ModelArg(ModelLaw::Normal([1.0, 2.0]))));
        assert_eq!("weekend".parse(), Ok(OpponentArg::Level(Level::Weekend)));
        for wrong in ["0.02", "0.02,-1", "0.02,nan", "a,b", "1,2,3", ""] {
            assert!(wrong.parse::<Pair>().unwrap_err().contains("0.060,0.030"), "{wrong}");
            assert!(format!("rt={wrong}").parse::<OpponentArg>().is_err());
        }
        for wrong in ["normal=1", "cauchy=1,2", "ex-gaussian=1,2", "normal"] {
            assert!(wrong.parse::<ModelArg>().unwrap_err().contains("normal="), "{wrong}");
        }
        assert!("nobody".parse::<OpponentArg>().unwrap_err().contains("like-me"));
        let lever = "depth=-64,61".parse::<LeverArg>().unwrap().lever().unwrap();
        assert_eq!((lever.kind, lever.rt_s, lever.et_s), (LeverKind::Depth, -0.064, 0.061));
        for wrong in ["depth", "depth=1", "wing=1,2", "depth=x,1"] {
            assert!(wrong.parse::<LeverArg>().unwrap_err().contains("depth=-64,61"), "{wrong}");
        }
    }
}
