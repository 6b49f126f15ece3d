//! The strip's surface: concrete pad, asphalt, rubbered grooves, paint, the grass beyond.
//!
//! Owns the colour of every point of the ground, in true perspective. Refuses what stands on it.

use super::pixel::{Tone, mix, noise, scaled, smooth};
use crate::app::lane::view::{EYE_BEHIND_BEAM_FT, EYE_HEIGHT_FT, LANE_CENTRE_FT, View};

/// Inner face of the walls from the centre line, ft. Chosen, because it leaves a shoulder beside
/// lanes of 18 ft.
pub(super) const WALL_FT: f32 = 22.0;
/// The painted edge of a lane, ft from the centre line.
const EDGE_FT: f32 = 17.6;
/// Where the wheels run: a car's half track, ft from the middle of its lane.
const HALF_TRACK_FT: f32 = 2.65;
/// Half the width of a groove, ft.
const HALF_GROOVE_FT: f32 = 0.78;
/// End of the concrete pad beyond the start line, ft. Chosen, because it falls into the picture.
const PAD_FT: f32 = 66.0;

const ASPHALT: Tone = [35.0, 35.0, 47.0];
const CONCRETE: Tone = [52.0, 51.0, 62.0];
const RUBBER: Tone = [15.0, 15.0, 21.0];
const GRASS: Tone = [24.0, 26.0, 38.0];
const PAINT: Tone = [168.0, 164.0, 160.0];

/// The ground of one view.
pub(super) struct Ground {
    vanish_x: f32,
    horizon: f32,
    focal: f32,
    eye_x_ft: f32,
}

impl Ground {
    pub(super) fn new(view: &View) -> Self {
        let (vanish_x, horizon) = view.vanishing_point();
        Self { vanish_x, horizon, focal: view.focal_px(), eye_x_ft: view.eye_x_ft() }
    }

    /// What a whole row of pixels shares.
    pub(super) fn row(&self, y: f32) -> GroundRow<'_> {
        let drop_px = (y - self.horizon).max(0.25);
        let away_ft = EYE_HEIGHT_FT * self.focal / drop_px;
        let ahead_ft = away_ft - EYE_BEHIND_BEAM_FT;
        // Feet of ground one pixel covers, across and along.
        let (across_ft, along_ft) = (away_ft / self.focal, away_ft / drop_px);
        let grazing = EYE_HEIGHT_FT / away_ft;
        let pad = smooth(PAD_FT + 0.2 + along_ft, PAD_FT - 0.2 - along_ft, ahead_ft);
        let joint = joint_at(ahead_ft, along_ft) * pad;
        // Pools of light under the masts, which stand 55 ft apart.
        let pool = (ahead_ft * std::f32::consts::TAU / 55.0).cos() * smooth(16.0, 4.0, along_ft);
        GroundRow {
            ground: self,
            ahead_ft,
            across_ft,
            per_drop: 1.0 / drop_px,
            surface: scaled(mix(ASPHALT, CONCRETE, pad), 1.0 + 0.07 * pool - 0.20 * joint),
            mirror: 0.50 * (-grazing / 0.019).exp() + 0.05 * (-grazing / 0.09).exp(),
            grain: 1.0 - smooth(0.15, 0.9, along_ft),
            streak: 1.0 - smooth(0.05, 0.34, across_ft),
            groove: 1.0 - 0.35 * smooth(120.0, 700.0, ahead_ft),
        }
    }
}

/// One row of the ground, all its points equally far away.
pub(super) struct GroundRow<'a> {
    ground: &'a Ground,
    ahead_ft: f32,
    across_ft: f32,
    /// One over the row's distance below the horizon, 1/px.
    per_drop: f32,
    surface: Tone,
    /// Share of the low sky the surface mirrors.
    mirror: f32,
    /// How much fine grain and how much long streaks can still be told apart, 0 to 1.
    grain: f32,
    streak: f32,
    /// How strongly the grooves are laid down.
    groove: f32,
}

impl GroundRow<'_> {
    /// The ground in column `x`, under a low sky of the given colour.
    pub(super) fn tone_at(&self, x: f32, sky: Tone) -> Tone {
        let x_ft = (x - self.ground.vanish_x) * self.across_ft + self.ground.eye_x_ft;
        let beside = x_ft.abs();
        let off_track = smooth(-self.across_ft, self.across_ft, beside - WALL_FT);
        if off_track >= 1.0 {
            return self.grass(x_ft, sky);
        }
        let mut colour = self.surface;
        let mut mirror = self.mirror;

        // Rubber: two grooves a lane, their edges ragged along the strip.
        let lane_x = beside - LANE_CENTRE_FT;
        let ragged = 0.34 * (noise(lane_x * 1.1 + 40.0, self.ahead_ft * 0.05) - 0.5)
            + 0.22 * (noise(x_ft * 5.0, self.ahead_ft * 0.02 + 60.0) - 0.5);
        let from_groove = (lane_x.abs() - HALF_TRACK_FT).abs() + ragged;
        let soft = 0.20 + self.span_ft(x_ft);
        let rubber = smooth(HALF_GROOVE_FT + soft, HALF_GROOVE_FT - soft * 0.8, from_groove);
        // Between the grooves the surface is stained, outside them it is dusty.
        let stain = 0.30 * smooth(4.6, 2.4, lane_x.abs());
        let laid = (rubber * 0.80 + stain * (1.0 - rubber)) * self.groove;
        colour = mix(colour, RUBBER, laid);
        mirror *= 1.0 + 0.22 * rubber;

        if self.streak > 0.0 {
            let long = noise(x_ft * 7.0, self.ahead_ft * 0.045 + 5.0)
                + 0.6 * noise(x_ft * 19.0 + 9.0, self.ahead_ft * 0.11);
            let depth = (long - 0.8) * self.streak * (3.0 + 5.0 * rubber);
            colour = [colour[0] + depth, colour[1] + depth, colour[2] + depth];
        }
        if self.grain > 0.0 {
            // Turned out of the axes, so that the grain shows no weave.
            let (u, v) = (x_ft * 15.0 + self.ahead_ft * 1.3, self.ahead_ft * 2.3 - x_ft * 8.0);
            let fine = (noise(u, v) - 0.5) * 4.6 * self.grain;
            colour = [colour[0] + fine, colour[1] + fine, colour[2] + fine];
        }
        // What it mirrors is duller than the sky itself.
        colour = mix(colour, mix(sky, [84.0, 78.0, 112.0], 0.55), mirror.min(0.85));
        colour = self.with_paint(colour, x_ft, sky);
        if off_track > 0.0 { mix(colour, self.grass(x_ft, sky), off_track) } else { colour }
    }

    fn with_paint(&self, colour: Tone, x_ft: f32, sky: Tone) -> Tone {
        let span_ft = self.span_ft(x_ft);
        let edge = Self::stripe(span_ft, x_ft.abs() - EDGE_FT, 0.17);
        let middle = Self::stripe(span_ft, x_ft.abs() - 0.42, 0.14);
        let covered = edge.max(middle);
        if covered <= 0.0 {
            return colour;
        }
        let worn = 0.62 + 0.5 * (noise(x_ft * 5.0, self.ahead_ft * 0.35) - 0.5) * self.grain;
        let far = mix(PAINT, sky, (self.mirror * 1.2).min(0.8));
        mix(colour, far, covered * worn * 0.72)
    }

    /// Feet across the strip that one pixel spans here, the row below included: seen from the
    /// side, lines ahead run flat through the picture.
    fn span_ft(&self, x_ft: f32) -> f32 {
        self.across_ft.hypot((x_ft - self.ground.eye_x_ft) * self.per_drop)
    }

    /// Share of a pixel of `span_ft` that a stripe of the given half width covers, `off_ft` from
    /// its middle.
    fn stripe(span_ft: f32, off_ft: f32, half_ft: f32) -> f32 {
        let inside = (half_ft - off_ft.abs()) / span_ft + 0.5;
        inside.clamp(0.0, 1.0) * (2.0 * half_ft / span_ft).min(1.0)
    }

    fn grass(&self, x_ft: f32, sky: Tone) -> Tone {
        let tufts = (noise(x_ft * 0.35, self.ahead_ft * 0.06) - 0.5) * 5.0;
        let colour = [GRASS[0] + tufts, GRASS[1] + tufts, GRASS[2] + tufts];
        mix(colour, sky, 0.10)
    }
}

/// Share of a row that lies in a joint between two slabs of the concrete pad, 15 ft apart.
fn joint_at(ahead_ft: f32, along_ft: f32) -> f32 {
    let off = (ahead_ft / 15.0 - (ahead_ft / 15.0).round()).abs() * 15.0;
    let half = 0.05;
    let inside = (half - off) / along_ft + 0.5;
    inside.clamp(0.0, 1.0) * (2.0 * half / along_ft).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tree::Lane;

    #[test]
    fn grooves_are_darker_than_the_lane_around_them_in_both_lanes() {
        let view = View::of_window(1280, 720, Lane::Left);
        let ground = Ground::new(&view);
        for lane_x in [-LANE_CENTRE_FT, LANE_CENTRE_FT] {
            let (_, y) = view.project(0.0, 0.0, 45.0);
            let at = |x_ft: f32| {
                let (x, _) = view.project(x_ft, 0.0, 45.0);
                ground.row(y).tone_at(x, [120.0, 90.0, 110.0])[1]
            };
            for groove in [-HALF_TRACK_FT, HALF_TRACK_FT] {
                assert!(at(lane_x + groove) + 8.0 < at(lane_x + groove.signum() * 6.0));
            }
        }
    }

    #[test]
    fn the_surface_mirrors_the_sky_the_more_the_farther_it_lies() {
        let view = View::of_window(1280, 720, Lane::Left);
        let ground = Ground::new(&view);
        let (_, horizon) = view.vanishing_point();
        let mirrors: Vec<f32> =
            [2.0, 8.0, 40.0, 200.0].iter().map(|drop| ground.row(horizon + drop).mirror).collect();
        assert!(mirrors.windows(2).all(|pair| pair[0] > pair[1]), "{mirrors:?}");
    }
}
