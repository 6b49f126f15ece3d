//! The chance to win a round, as a function of aim.
//!
//! Owns the race between two laws of lights, the win chance over aims, the best aim and what
//! consistency is worth beside it. Refuses tournaments beyond "R rounds against the same".
//!
//! X is my light, O the opponent's, a how much earlier I aim. With D = X − a − O the race is
//!
//! W(a) = P(X − a ≥ 0, O < 0) + P(both red, I win) + P(X − a ≥ 0, O ≥ 0, I finish first),
//!
//! and both the second and the third term depend on me through my light alone, so
//! W(a) = E\[h(X − a)\] with h(x) the chance to win once my light is x ([`GivenLight`]). A red light
//! outranks a breakout, and once one lane is out the other cannot lose by breakout (published: NHRA's
//! sportsman pages).
//!
//! **Who wins a double red**, for every rule and order of leaving (h is the head start: my green
//! comes h before the opponent's, whichever sign):
//!
//! | rule | I leave first (h → ∞) | together (h = 0) | I leave second (h → −∞) | head start h |
//! |---|---|---|---|---|
//! | first foul by the clock loses | opponent | the smaller foul | I | I, if X − a > O + h |
//! | worst foul loses | the smaller foul | the smaller foul | the smaller foul | I, if X − a > O |
//!
//! Together, the first foul is the worst one, so both rules agree. The head start decides nothing
//! else: at the finish each is compared with his own clock, by ET gap or by dial-in, and a dial-in
//! gives back exactly what the head start took.
//!
//! ```
//! use lastamber::strategy::law::RtLaw;
//! use lastamber::strategy::odds::{Finish, Opponent, Race, WinChance};
//!
//! // Two of a kind in equal cars: an even race.
//! let me = RtLaw::normal(0.045, 0.025)?;
//! let race = Race::heads_up(Finish::gap(0.0, 0.03)?);
//! let odds = WinChance::new(me.clone(), &Opponent::of(me), &race);
//! assert!((odds.win(0.0) - 0.5).abs() < 1e-9);
//! # Ok::<(), lastamber::strategy::StrategyError>(())
//! ```

mod best;
mod clean;
mod drawn;
mod given_light;
mod known;
mod opponent;
mod race;

pub use best::{Best, FLAT_SHARE};
pub use drawn::DrawnOdds;
pub use given_light::GivenLight;
pub use known::WinChance;
pub use opponent::{Level, Opponent};
pub use race::{Finish, Order, Race};
