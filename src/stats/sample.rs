//! Values that were checked once.
//!
//! Owns the guarantee every function of the room relies on: at least one value, all finite, in the
//! order they were taken. Refuses units: seconds inside, whoever hands them in converts.

use super::StatsError;
use crate::seed::Generator;

/// At least one finite value, in seconds, in the order they were taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample(Vec<f64>);

impl Sample {
    /// Checks values.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] for none at all, [`StatsError::NotFinite`] for the first that is no
    /// finite number.
    pub fn new(values: Vec<f64>) -> Result<Self, StatsError> {
        if values.is_empty() {
            return Err(StatsError::TooFew { have: 0, need: 1 });
        }
        match values.iter().position(|v| !v.is_finite()) {
            Some(i) => Err(StatsError::NotFinite { position: i + 1 }),
            None => Ok(Self(values)),
        }
    }

    /// The values, in order.
    pub fn values(&self) -> &[f64] {
        &self.0
    }

    /// How many.
    pub fn n(&self) -> usize {
        self.0.len()
    }

    /// The values from the smallest to the largest.
    pub fn sorted(&self) -> Vec<f64> {
        let mut sorted = self.0.clone();
        sorted.sort_by(f64::total_cmp);
        sorted
    }

    /// `limit` of the values drawn at random, in their order; all if there are no more.
    pub fn part(&self, limit: usize, random: &mut Generator) -> Self {
        if self.n() <= limit.max(1) {
            return self.clone();
        }
        let mut places = rand::seq::index::sample(random, self.n(), limit.max(1)).into_vec();
        places.sort_unstable();
        Self(places.into_iter().map(|i| self.0[i]).collect())
    }

    /// The sample if it has at least `need` values.
    ///
    /// # Errors
    /// [`StatsError::TooFew`].
    pub fn at_least(&self, need: usize) -> Result<&Self, StatsError> {
        let have = self.n();
        if have < need { Err(StatsError::TooFew { have, need }) } else { Ok(self) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sample_has_values_and_all_are_finite() {
        assert_eq!(Sample::new(vec![]), Err(StatsError::TooFew { have: 0, need: 1 }));
        let nan = Sample::new(vec![0.2, f64::NAN]);
        assert_eq!(nan, Err(StatsError::NotFinite { position: 2 }));
        assert_eq!(Sample::new(vec![0.3, 0.2]).unwrap().sorted(), [0.2, 0.3]);
    }
}
