//! Lamps as sprites that are always drawn and only change their alpha.
//!
//! Owns copying the decided lamps onto the screen. A lamp is lit by recolouring a sprite that was
//! drawn before, so no texture or pipeline is made at that moment. Refuses to decide.

use super::plan::AMBERS;
use crate::app::lane::step::is_lit;
use crate::app::lane::{Guide, Phase, Session};
use crate::tree::{Lamp, Lane};
use bevy::prelude::*;

/// A sprite that shows while its lamp is lit.
#[derive(Component, Debug, Clone, Copy)]
pub struct LampSprite {
    pub lane: Lane,
    pub lamp: Lamp,
    pub tint: Color,
    pub alpha: f32,
}

/// Copies the lamps that were decided in this update.
pub fn light_lamps(
    phase: Res<Phase>,
    guide: Res<Guide>,
    session: Res<Session>,
    mut sprites: Query<(&LampSprite, &mut Sprite)>,
) {
    // While nothing runs the guide may show the driver's own lamps, one by one.
    let shown = guide.lit(&session, AMBERS).filter(|_| phase.live().is_none());
    for (lamp, mut sprite) in &mut sprites {
        let lit = match (phase.live(), &shown) {
            (Some(live), _) => is_lit(&live.lit[lamp.lane.index()], lamp.lamp),
            (None, Some(shown)) => lamp.lane == session.lane && is_lit(shown, lamp.lamp),
            (None, None) => false,
        };
        let wanted = lamp.tint.with_alpha(if lit { lamp.alpha } else { 0.0 });
        if sprite.color != wanted {
            sprite.color = wanted;
        }
    }
}
