//! The scales reaction times are printed on.
//!
//! Owns the step from an old slip to today's scale. Refuses to guess which scale a slip is on.

use super::SlipTime;

/// How a slip counts reaction times.
///
/// Published (NHRA release, 2003 season): today's scale counts from green, .000 perfect. Before, it
/// counted from the last amber: perfect was .500 on a full tree and .400 on a pro tree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum RtScale {
    /// From green: .000 is perfect, below is red.
    #[default]
    Modern,
    /// From the last amber of a full tree: .500 is perfect.
    Old500,
    /// From the ambers of a pro tree: .400 is perfect.
    Old400,
}

impl RtScale {
    /// The perfect light on this scale.
    pub const fn perfect(self) -> SlipTime {
        SlipTime::from_ten_thousandths(match self {
            RtScale::Modern => 0,
            RtScale::Old500 => 5000,
            RtScale::Old400 => 4000,
        })
    }

    /// A reaction time of this scale on today's: new = old − perfect.
    pub fn to_modern(self, rt: SlipTime) -> SlipTime {
        rt - self.perfect()
    }

    /// The word for it.
    pub const fn name(self) -> &'static str {
        match self {
            RtScale::Modern => "modern",
            RtScale::Old500 => "old500",
            RtScale::Old400 => "old400",
        }
    }
}
