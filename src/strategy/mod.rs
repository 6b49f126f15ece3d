//! What to do about it: how hard to push, whether to anticipate, and against whom.
//!
//! Owns advice with its price: the win chance of an aim against an opponent (`odds`). Refuses to
//! estimate a driver (that is `stats`), to store (that is `history`) and to draw.
//!
//! Everywhere here a light is an RT in seconds, 0 perfect, below 0 red; an aim is how much *earlier*
//! everything happens than it does now, so X becomes X − a.

pub mod aim;
pub mod desk;
mod doubt;
mod error;
mod expect;
pub mod hold;
pub mod launches;
pub mod law;
pub mod ledger;
pub mod lever;
pub mod lights;
pub mod night;
pub mod odds;
pub mod own;
pub mod pacing;
mod pieces;
pub mod practise;
pub mod rpm_steps;
pub mod verdict;
pub mod weeks;

pub use doubt::Doubt;
pub use error::StrategyError;
