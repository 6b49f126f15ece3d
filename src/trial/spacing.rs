//! The rhythm of the ambers as it was shown.
//!
//! Owns the gaps between ambers and whether they were the tree's. Refuses to judge the launch.

use super::LampFact;
use crate::tree::Lamp;
use crate::units::Span;

/// A gap more than this off its due length is not the tree's rhythm. Chosen: a quarter of a frame at
/// 60 Hz, so that a lamp a whole frame off never passes, and below what a timed launch scatters by.
pub const MAX_OFF_NOMINAL: Span = Span::from_ms(4);

/// The ambers' rhythm as shown.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AmberSpacing {
    /// From one amber to the next, best marks, in order; none where all light at once, and none
    /// beside an amber that was not shown.
    pub gaps: Vec<Span>,
    /// At least one gap is more than [`MAX_OFF_NOMINAL`] off the gap between the due marks.
    pub off: bool,
}

/// The gaps between the ambers of `lamps` as shown, against those between their due marks. Lamps
/// stand in order of due mark; what is no amber is passed over.
pub fn amber_spacing(lamps: &[LampFact]) -> AmberSpacing {
    let ambers: Vec<&LampFact> =
        lamps.iter().filter(|fact| matches!(fact.lamp, Lamp::Amber(_))).collect();
    let mut spacing = AmberSpacing::default();
    for pair in ambers.windows(2) {
        let nominal = pair[1].due - pair[0].due;
        let (Some([_, first, _]), Some([_, next, _])) = (pair[0].shown, pair[1].shown) else {
            continue;
        };
        if nominal == Span::ZERO {
            continue;
        }
        let gap = next - first;
        spacing.gaps.push(gap);
        spacing.off |= (gap - nominal).abs() > MAX_OFF_NOMINAL;
    }
    spacing
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lamp(lamp: Lamp, due_ms: i64, shown_us: Option<i64>) -> LampFact {
        let shown = shown_us.map(|us| [-500, 0, 1000].map(|off| Span::from_us(us + off)));
        LampFact { lamp, due: Span::from_ms(due_ms), shown }
    }

    fn full(shown_us: [Option<i64>; 3]) -> Vec<LampFact> {
        let mut lamps: Vec<LampFact> = (0..3)
            .map(|i| lamp(Lamp::Amber(i), 500 * i64::from(i), shown_us[usize::from(i)]))
            .collect();
        lamps.push(lamp(Lamp::Green, 1500, Some(1_900_000)));
        lamps
    }

    #[test]
    fn four_milliseconds_off_are_the_trees_rhythm_and_more_are_not() {
        let at_the_limit = amber_spacing(&full([Some(2_000), Some(506_000), Some(1_002_000)]));
        assert_eq!(at_the_limit.gaps, [Span::from_ms(504), Span::from_ms(496)]);
        assert!(!at_the_limit.off);
        assert!(amber_spacing(&full([Some(2_000), Some(506_001), Some(1_006_000)])).off);
        assert!(amber_spacing(&full([Some(2_000), Some(502_000), Some(997_999)])).off);
    }

    #[test]
    fn ambers_that_light_at_once_have_no_gaps() {
        let pro: Vec<LampFact> =
            (0..3).map(|i| lamp(Lamp::Amber(i), 0, Some(2_000 + 20_000 * i64::from(i)))).collect();
        assert_eq!(amber_spacing(&pro), AmberSpacing::default());
        assert_eq!(amber_spacing(&[]), AmberSpacing::default());
    }

    #[test]
    fn beside_an_amber_that_was_not_shown_there_is_no_gap() {
        let spacing = amber_spacing(&full([Some(2_000), Some(502_500), None]));
        assert_eq!(spacing.gaps, [Span::from_us(500_500)]);
        assert_eq!(amber_spacing(&full([Some(0), None, Some(1_000_000)])), AmberSpacing::default());
    }
}
