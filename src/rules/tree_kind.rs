//! Kinds of tree: how many ambers, how far apart, and when green follows the last.
//!
//! Owns the presets and the limits of a tree set by hand. Refuses due marks: the machine adds
//! these spans to its own clock.

use std::borrow::Cow;

use super::error::{RulesError, printed_s};
use crate::units::Span;

/// How one lane's ambers count down to green.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TreeKind {
    name: Cow<'static, str>,
    ambers: u8,
    amber_gap: Span,
    green_gap: Span,
}

impl TreeKind {
    /// The full ("sportsman") tree: three ambers 0.500 s apart, green 0.500 s after the last.
    ///
    /// Published: the sanctioning body's "101" page for newcomers (NHRA).
    pub const fn full() -> Self {
        Self::preset("full", Span::from_ms(500), Span::from_ms(500))
    }

    /// The pro tree: three ambers at once, green 0.400 s later.
    ///
    /// Published: the sanctioning body's "101" page for newcomers (NHRA).
    pub const fn pro() -> Self {
        Self::preset("pro", Span::ZERO, Span::from_ms(400))
    }

    /// The .500 pro tree of some street classes: three ambers at once, green 0.500 s later.
    ///
    /// Common practice, no single source.
    pub const fn pro_500() -> Self {
        Self::preset("pro .500", Span::ZERO, Span::from_ms(500))
    }

    const fn preset(name: &'static str, amber_gap: Span, green_gap: Span) -> Self {
        Self { name: Cow::Borrowed(name), ambers: 3, amber_gap, green_gap }
    }

    /// A tree set by hand: `ambers` of them, `amber_gap` apart (zero for all at once), green
    /// `green_gap` after the last.
    ///
    /// Limits, chosen: 1 to 5 ambers fit the drawn tree; below 0.1 s two lamps are seen as one,
    /// above 2 s there is no rhythm left to learn.
    ///
    /// # Errors
    /// [`RulesError::Ambers`], [`RulesError::AmberGap`] or [`RulesError::Time`] outside these
    /// limits.
    pub fn free(ambers: u8, amber_gap: Span, green_gap: Span) -> Result<Self, RulesError> {
        let (low, high) = (Span::from_ms(100), Span::from_ms(2000));
        if !(1..=5).contains(&ambers) {
            return Err(RulesError::Ambers { got: ambers });
        }
        if amber_gap != Span::ZERO && !(low..=high).contains(&amber_gap) {
            return Err(RulesError::AmberGap { got_s: printed_s(amber_gap) });
        }
        if !(low..=high).contains(&green_gap) {
            return Err(RulesError::Time {
                what: "the time from the last amber to green",
                got_s: printed_s(green_gap),
                low_s: printed_s(low),
                high_s: printed_s(high),
            });
        }
        let name = if ambers == 1 {
            format!("1 amber, green after {green_gap}")
        } else if amber_gap == Span::ZERO {
            format!("{ambers} ambers at once, green after {green_gap}")
        } else {
            format!("{ambers} ambers {amber_gap} apart, green after {green_gap}")
        };
        Ok(Self { name: Cow::Owned(name), ambers, amber_gap, green_gap })
    }

    /// What the tree is called on the screen.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// How many ambers one lane has, 1 to 5.
    pub const fn ambers(&self) -> u8 {
        self.ambers
    }

    /// From one amber to the next; zero when they come all at once.
    pub const fn amber_gap(&self) -> Span {
        self.amber_gap
    }

    /// From the last amber to green: the interval of `RT = driver part + car part − interval`.
    pub const fn green_gap(&self) -> Span {
        self.green_gap
    }

    /// Whether all ambers light at the same mark.
    pub fn all_at_once(&self) -> bool {
        self.ambers == 1 || self.amber_gap == Span::ZERO
    }

    /// The place of the last amber, counted from 0 at the top.
    pub const fn last_amber(&self) -> u8 {
        self.ambers - 1
    }

    /// From the first amber to amber `i` (counted from 0), `i · amber_gap`. Places past the last
    /// amber are answered by the same formula: they mean nothing.
    pub fn amber_due(&self, i: u8) -> Span {
        self.amber_gap * i64::from(i)
    }

    /// From the first amber to green when every lamp lights on time.
    pub fn total(&self) -> Span {
        self.amber_due(self.last_amber()) + self.green_gap
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tree_set_by_hand_says_what_it_is() {
        let name = |ambers, gap, green| {
            TreeKind::free(ambers, Span::from_ms(gap), Span::from_ms(green))
                .unwrap()
                .name()
                .to_owned()
        };
        assert_eq!(name(5, 300, 450), "5 ambers .300 apart, green after .450");
        assert_eq!(name(2, 0, 1000), "2 ambers at once, green after 1.000");
        assert_eq!(name(1, 0, 400), "1 amber, green after .400");
    }

    #[test]
    fn a_tree_outside_its_limits_is_refused_with_the_limits() {
        let refuse = |ambers, gap, green| {
            TreeKind::free(ambers, Span::from_ms(gap), Span::from_ms(green))
                .unwrap_err()
                .to_string()
        };
        assert_eq!(refuse(0, 500, 500), "a tree has 1 to 5 ambers, not 0");
        assert_eq!(refuse(6, 500, 500), "a tree has 1 to 5 ambers, not 6");
        assert!(refuse(3, 99, 500).contains("give 0 (all at once) or 0.1 to 2 s"));
        assert!(refuse(3, -500, 500).contains("-0.5"));
        assert!(refuse(3, 500, 99).contains("give 0.1 to 2 s"));
        assert!(refuse(3, 500, 2001).contains("2.001"));
        assert!(TreeKind::free(3, Span::from_ms(100), Span::from_ms(2000)).is_ok());
    }
}
