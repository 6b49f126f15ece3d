//! Doubts about advice, each with what to do about it.
//!
//! Owns their words. Refuses doubts about an estimate: `stats` has those.

use std::fmt;

/// A doubt about advice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Doubt {
    /// A model was taken as known.
    ModelTaken,
    /// Every light moves by the aim as a whole.
    MovesAsOne,
    /// The best aim is the last one looked at.
    BestAtTheEnd,
    /// A head start without dial-ins decides fouls only.
    GapAfterHeadStart,
    /// The head start given is not the one the dial-ins give.
    HeadStartNotOfDials,
    /// The expected ET lies under the dial-in.
    DialledSlow,
    /// An aim moves a style without changing its spread.
    ShapeKeptByAim,
    /// Launches declared as reactions look like two kinds.
    ReactionsOfTwoKinds,
    /// Launches declared as reactions also went when no lamp lit.
    ReactionsWithoutALamp,
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Doubt::ModelTaken => {
                "the model is taken as known, so there is no interval; a column of launches gives one"
            }
            Doubt::MovesAsOne => {
                "earlier moves every light alike: so do timing, a delay box and the car; a pure \
                 reaction cannot be willed earlier"
            }
            Doubt::BestAtTheEnd => {
                "the best aim is the end of what was looked at: no aim before it is better, and \
                 going on changes next to nothing"
            }
            Doubt::GapAfterHeadStart => {
                "the head start only decides which foul came first; give the ET gap that is left \
                 after it, or dial-ins"
            }
            Doubt::HeadStartNotOfDials => {
                "the head start is not the difference of the dial-ins; it decides which foul came \
                 first, the dial-ins decide the finish"
            }
            Doubt::ShapeKeptByAim => {
                "an aim is taken to move the launches without changing their spread; a session at \
                 the new aim shows whether it does"
            }
            Doubt::ReactionsOfTwoKinds => {
                "what was declared as reacting looks like two kinds of launches; some were \
                 anticipated, so declare anew and leave on the lamp alone"
            }
            Doubt::ReactionsWithoutALamp => {
                "what was declared as reacting also left when no lamp lit: at least that share was \
                 anticipated"
            }
            Doubt::DialledSlow => {
                "your ET is under your dial-in more often than not, which is a breakout; dial quicker"
            }
        })
    }
}
