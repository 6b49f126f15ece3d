//! Seeing lamps: which pixel is whose, how dark it is when dark, and when it is lit.
//!
//! Owns the dark values. Refuses to call a lamp lit before it was seen dark.

use std::collections::BTreeMap;
use std::thread;
use std::time::Duration;

use crate::rig::Rig;
use crate::xserver::Outcome;

/// A lamp is lit when red + green + blue of its centre is this far above its dark value.
const LIT_STEP: u16 = 120;
/// The largest sum of the three channels.
const WHITE: u16 = 3 * 255;

/// What was learned about the driver's ambers.
#[derive(Default)]
pub struct Eyes {
    dark: BTreeMap<String, u16>,
}

impl Eyes {
    /// The brightness from which `lamp` counts as lit.
    pub fn lit_from(&self, lamp: &str) -> Outcome<u16> {
        let dark = self.dark.get(lamp).ok_or_else(|| format!("{lamp} was never seen dark"))?;
        Ok(dark + LIT_STEP)
    }

    /// Whether the driver's `lamp` is lit now. Before it was seen dark it is not.
    pub fn is_lit(&self, rig: &Rig, lamp: &str) -> Outcome<bool> {
        if !self.dark.contains_key(lamp) {
            return Ok(false);
        }
        Ok(rig.screen.brightness(rig.place(lamp)?)? >= self.lit_from(lamp)?)
    }

    /// Learns how bright the driver's ambers are while nothing is lit.
    pub fn learn_dark(&mut self, rig: &Rig) -> Outcome<()> {
        for lamp in ["amber-1", "amber-2", "amber-3"] {
            let place = rig.place(lamp)?;
            let mut looks = Vec::new();
            for _ in 0..9 {
                looks.push(rig.screen.brightness(place)?);
                thread::sleep(Duration::from_millis(10));
            }
            looks.sort_unstable();
            let dark = looks[looks.len() / 2];
            if dark > WHITE - 2 * LIT_STEP {
                return Err(format!(
                    "{lamp} is bright ({dark} of {WHITE}) while it should be dark"
                ));
            }
            self.dark.insert(lamp.to_owned(), dark);
        }
        Ok(())
    }
}
