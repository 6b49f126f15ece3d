//! When to stop, in a sentence.
//!
//! Owns the words. Refuses to order anybody about: it suggests, with its reason.

use super::words::ms_with_interval;
use crate::stats::over_time::pacing::BLOCK;
use crate::strategy::pacing::Pace;

/// What to say between two runs; `None` while nothing speaks against the next one.
pub fn pace_sentence(pace: &Pace) -> Option<String> {
    match pace {
        Pace::GoOn => None,
        Pace::Enough { launches } => {
            Some(format!("{launches} launches are enough for one sitting: stop while it is good."))
        }
        Pace::Wider(grown) => Some(format!(
            "Time for a break: your last {BLOCK} launches up to the {}th spread by {}, those before by {}. \
             A steady driver is told so in fewer than five sittings of a hundred.",
            grown.after,
            ms_with_interval(&grown.block),
            ms_with_interval(&grown.before)
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::Estimate;
    use crate::stats::over_time::pacing::Grown;

    #[test]
    fn a_break_is_suggested_with_its_reason() {
        assert_eq!(pace_sentence(&Pace::GoOn), None);
        let enough = pace_sentence(&Pace::Enough { launches: 41 }).unwrap();
        assert!(enough.starts_with("41 launches are enough"), "{enough}");
        let of = |value, n| Estimate { value, low: 0.8 * value, high: 1.4 * value, level: 0.9, n };
        let grown = Grown { after: 30, block: of(0.030, 10), before: of(0.015, 20), chance: 0.002 };
        let wider = pace_sentence(&Pace::Wider(grown)).unwrap();
        assert!(wider.contains("30 ms (24 to 42, n = 10)"), "{wider}");
        assert!(wider.contains("before by 15 ms (12 to 21, n = 20)"), "{wider}");
    }
}
