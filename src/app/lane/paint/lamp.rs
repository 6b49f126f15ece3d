//! Lamps: a dark lens, a lit lens, and the glow around a lit one.
//!
//! Owns how one lamp looks. Refuses where it stands and when it lights.

use tiny_skia::Pixmap;

use super::pixel::{Tone, empty, mix, put_alpha, scaled, smooth, tone};
use crate::app::theme::palette::{
    AMBER_DARK, AMBER_LIT, GREEN_DARK, GREEN_LIT, RED_DARK, RED_LIT, Rgb, WHITE_DARK, WHITE_LIT,
};
use crate::tree::Lamp;

/// Reach of a halo, in radii of its lamp: the picture's sides are twice this times the radius.
pub const HALO_RADII: f32 = 5.5;

/// Middle of one bulb of a pair from the middle of the pair, in radii of a bulb.
const PAIR_RADII: f32 = 1.55;
/// Space around the glass in a lamp's picture, px.
const MARGIN_PX: f32 = 2.0;

/// What a lamp is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LampKind {
    /// A pair of small white bulbs: pre-stage and stage.
    White,
    /// A large amber lens.
    Amber,
    /// A large green lens.
    Green,
    /// A large red lens.
    Red,
}

impl From<Lamp> for LampKind {
    fn from(lamp: Lamp) -> Self {
        match lamp {
            Lamp::PreStage | Lamp::Stage => Self::White,
            Lamp::Amber(_) => Self::Amber,
            Lamp::Green => Self::Green,
            Lamp::Red => Self::Red,
        }
    }
}

impl LampKind {
    /// All four.
    #[cfg(test)]
    pub const ALL: [LampKind; 4] = [Self::White, Self::Amber, Self::Green, Self::Red];

    /// Half the width of the glass, in radii.
    pub fn half_width_radii(self) -> f32 {
        if self == Self::White { PAIR_RADII + 1.0 } else { 1.0 }
    }

    /// The tint of this lamp's halo: [`halo_sprite`] is white and takes its colour from here.
    pub fn halo(self) -> Rgb {
        match self {
            Self::White => Rgb(0xb4, 0xc4, 0xec),
            Self::Amber => Rgb(0xd8, 0x7c, 0x12),
            Self::Green => Rgb(0x1c, 0xa8, 0x50),
            Self::Red => Rgb(0xd0, 0x28, 0x22),
        }
    }

    /// Alpha of the halo's tint while the lamp is lit; the white pairs stand close together and
    /// only shimmer.
    pub fn halo_alpha(self) -> f32 {
        if self == Self::White { 0.26 } else { 1.0 }
    }

    fn lit(self) -> Tone {
        tone(match self {
            Self::White => WHITE_LIT,
            Self::Amber => AMBER_LIT,
            Self::Green => GREEN_LIT,
            Self::Red => RED_LIT,
        })
    }

    /// The deeper colour a lit lens shows towards its rim.
    fn rim(self) -> Tone {
        match self {
            Self::White => [178.0, 188.0, 218.0],
            Self::Amber => [238.0, 132.0, 14.0],
            Self::Green => [20.0, 172.0, 82.0],
            Self::Red => [208.0, 22.0, 30.0],
        }
    }

    fn dark(self) -> Tone {
        tone(match self {
            Self::White => WHITE_DARK,
            Self::Amber => AMBER_DARK,
            Self::Green => GREEN_DARK,
            Self::Red => RED_DARK,
        })
    }
}

/// One lamp (for [`LampKind::White`] the pair), its middle in the middle of the picture, sides
/// even. `radius_px` as in the tree's layout; below half a pixel it counts as half a pixel.
pub fn lamp_sprite(kind: LampKind, lit: bool, radius_px: f32) -> Pixmap {
    let radius = radius_px.clamp(0.5, 2000.0);
    let half_width = (radius * kind.half_width_radii() + MARGIN_PX).ceil();
    let half_height = (radius + MARGIN_PX).ceil();
    let mut pixmap = empty(2 * half_width as u32, 2 * half_height as u32);
    let bulbs: &[f32] = if kind == LampKind::White { &[-PAIR_RADII, PAIR_RADII] } else { &[0.0] };
    let width = pixmap.width() as usize;
    for (i, pixel) in pixmap.data_mut().chunks_exact_mut(4).enumerate() {
        let (ix, iy) = ((i % width) as i32, (i / width) as i32);
        let y = iy as f32 + 0.5 - half_height;
        for &bulb in bulbs {
            let x = ix as f32 + 0.5 - half_width - bulb * radius;
            let distance = x.hypot(y);
            let coverage = (radius - distance + 0.5).clamp(0.0, 1.0);
            if coverage > 0.0 {
                let (u, v) = (x / radius, y / radius);
                let colour = if lit { lit_glass(kind, u, v) } else { dark_glass(kind, u, v) };
                put_alpha(pixel, colour, coverage, ix, iy);
            }
        }
    }
    pixmap
}

/// The soft glow around a lit lamp: white, only its alpha varies. Tint it with
/// [`LampKind::halo`]; for a pair stretch it to the pair's width. Sides are
/// `2 · HALO_RADII · radius_px`, even.
pub fn halo_sprite(radius_px: f32) -> Pixmap {
    let radius = radius_px.clamp(0.5, 600.0);
    let half = (radius * HALO_RADII).ceil();
    let mut pixmap = empty(2 * half as u32, 2 * half as u32);
    let width = pixmap.width() as usize;
    for (i, pixel) in pixmap.data_mut().chunks_exact_mut(4).enumerate() {
        let (ix, iy) = ((i % width) as i32, (i / width) as i32);
        let reach = (ix as f32 + 0.5 - half).hypot(iy as f32 + 0.5 - half) / radius;
        // A tight bloom at the rim of the lens and a wide faint one, both exactly 0 at the edge.
        let fade = smooth(HALO_RADII, HALO_RADII * 0.25, reach);
        let bloom = 0.30 * (-(reach * reach) / 1.9).exp() + 0.22 * (-reach / 1.75).exp();
        put_alpha(pixel, [255.0; 3], bloom * fade, ix, iy);
    }
    pixmap
}

/// A lit lens at (u, v) in radii from its middle: hot core, full colour, deeper rim.
fn lit_glass(kind: LampKind, u: f32, v: f32) -> Tone {
    let r = u.hypot(v);
    let lit = kind.lit();
    let core = mix(lit, [255.0, 253.0, 244.0], if kind == LampKind::White { 1.0 } else { 0.82 });
    let rim = kind.rim();
    let colour = mix(core, lit, smooth(0.12, 0.72, r));
    let colour = mix(colour, rim, smooth(0.66, 0.98, r));
    // Fine rings of a moulded lens, only where the core does not outshine them.
    let rings = (r * 26.0).sin() * 5.0 * smooth(0.4, 0.7, r) * smooth(1.0, 0.9, r);
    [colour[0] + rings, colour[1] + rings, colour[2] + rings]
}

/// A dark lens: tinted glass that mirrors a little evening sky above and lets a little of its own
/// colour through below.
fn dark_glass(kind: LampKind, u: f32, v: f32) -> Tone {
    let r = u.hypot(v);
    let dark = kind.dark();
    let mut colour = mix(scaled(dark, 1.05), scaled(dark, 0.55), smooth(0.2, 1.0, r));
    let through = smooth(0.45, 0.92, r) * smooth(1.0, 0.93, r) * smooth(-0.1, 0.9, v);
    colour = mix(colour, scaled(kind.lit(), 0.36), 0.40 * through);
    let sky = smooth(-0.15, -0.85, v) * smooth(0.96, 0.80, r) * smooth(0.62, 0.80, r);
    colour = mix(colour, [96.0, 104.0, 140.0], 0.42 * sky);
    let glint = smooth(0.17, 0.0, (u + 0.34).hypot((v + 0.44) * 1.3));
    colour = mix(colour, [190.0, 198.0, 224.0], 0.34 * glint);
    let rings = (r * 26.0).sin() * 2.2 * smooth(1.0, 0.9, r);
    let bezel = smooth(0.93, 1.0, r);
    colour = [colour[0] + rings, colour[1] + rings, colour[2] + rings];
    mix(colour, mix([16.0, 18.0, 26.0], [62.0, 68.0, 92.0], smooth(0.4, -1.0, v)), bezel)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn luminance_at(pixmap: &Pixmap, x: u32, y: u32) -> f64 {
        let pixel = pixmap.pixel(x, y).expect("inside the picture").demultiply();
        Rgb(pixel.red(), pixel.green(), pixel.blue()).relative_luminance()
    }

    #[test]
    fn the_middle_of_a_lit_lamp_is_at_least_four_times_as_bright_as_dark() {
        for radius in [3.0, 10.0, 20.0, 60.0] {
            for kind in LampKind::ALL {
                let (lit, dark) =
                    (lamp_sprite(kind, true, radius), lamp_sprite(kind, false, radius));
                let bulb = if kind == LampKind::White { PAIR_RADII * radius } else { 0.0 };
                let (x, y) = ((lit.width() as f32 / 2.0 + bulb) as u32, lit.height() / 2);
                let ratio = luminance_at(&lit, x, y) / luminance_at(&dark, x, y);
                assert!(ratio >= 4.0, "{kind:?} at {radius}: {ratio:.1}");
            }
        }
    }

    #[test]
    fn dark_and_lit_pictures_cover_the_same_pixels() {
        for kind in LampKind::ALL {
            let (lit, dark) = (lamp_sprite(kind, true, 19.3), lamp_sprite(kind, false, 19.3));
            assert_eq!((lit.width(), lit.height()), (dark.width(), dark.height()));
            assert_eq!((lit.width() % 2, lit.height() % 2), (0, 0));
            for (l, d) in lit.pixels().iter().zip(dark.pixels()) {
                assert_eq!(l.alpha(), d.alpha());
            }
        }
    }

    #[test]
    fn a_halo_fades_to_nothing_before_its_edge() {
        let halo = halo_sprite(20.0);
        let side = halo.width();
        assert_eq!(side, 220);
        for i in 0..side {
            for (x, y) in [(i, 0), (i, side - 1), (0, i), (side - 1, i)] {
                assert_eq!(halo.pixel(x, y).expect("on the edge").alpha(), 0);
            }
        }
        assert!(halo.pixel(side / 2, side / 2).expect("the middle").alpha() > 100);
    }

    #[test]
    fn no_radius_panics() {
        for radius in [f32::NAN, -1.0, 0.0, 0.2, 1e9] {
            assert!(lamp_sprite(LampKind::White, true, radius.min(300.0)).width() >= 2);
            assert!(halo_sprite(radius.min(100.0)).width() >= 2);
        }
    }
}
