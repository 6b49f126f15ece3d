//! The colours of the program, each once, with the contrast between them.
//!
//! Owns colour values and their contrast. Refuses drawing, fonts and any engine's colour type.

/// An opaque sRGB colour, 8 bits a channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Rgb(pub u8, pub u8, pub u8);

impl Rgb {
    /// Relative luminance, 0 (black) to 1 (white).
    ///
    /// `L = 0.2126 R + 0.7152 G + 0.0722 B` over linearised channels. W3C, Web Content
    /// Accessibility Guidelines 2.2, "relative luminance" (threshold 0.04045 as in sRGB,
    /// IEC 61966-2-1; the guideline's older 0.03928 gives the same for 8-bit channels).
    pub fn relative_luminance(self) -> f64 {
        fn linear(channel: u8) -> f64 {
            let c = f64::from(channel) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        }
        0.2126 * linear(self.0) + 0.7152 * linear(self.1) + 0.0722 * linear(self.2)
    }

    /// Contrast ratio of two colours, 1 (none) to 21 (black on white), in either order.
    ///
    /// `(L1 + 0.05) / (L2 + 0.05)` with the lighter colour above. W3C, Web Content Accessibility
    /// Guidelines 2.2, "contrast ratio".
    pub fn contrast(self, other: Rgb) -> f64 {
        let (a, b) = (self.relative_luminance(), other.relative_luminance());
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }
}

/// The driver's part, on every screen, plot and report.
pub const DRIVER: Rgb = Rgb(0x7f, 0xb2, 0xff);
/// The car's part, on every screen, plot and report.
pub const CAR: Rgb = Rgb(0xc4, 0x9b, 0xff);
/// Text.
pub const TEXT: Rgb = Rgb(0xf3, 0xef, 0xe4);
/// Text that may be overlooked: labels, axes.
pub const MUTED: Rgb = Rgb(0x8d, 0x96, 0xb3);
/// The ground of panels and screens.
pub const PANEL: Rgb = Rgb(0x10, 0x12, 0x1a);
/// A panel raised from the ground.
pub const PANEL_RAISED: Rgb = Rgb(0x19, 0x1d, 0x2b);
/// Thin lines and frames.
pub const LINE: Rgb = Rgb(0x2a, 0x30, 0x47);
/// Risk and losses. Not the red of the lamps.
pub const RISK: Rgb = Rgb(0xff, 0x8f, 0x86);
/// Clear of risk. Not the green of the lamps.
pub const CLEAR: Rgb = Rgb(0x9b, 0xe0, 0xa8);

/// The colours of plots and reports on a dark ground: driver, car, text, muted, risk, clear, ground,
/// raised ground, line.
pub const DARK: [Rgb; 9] = [DRIVER, CAR, TEXT, MUTED, RISK, CLEAR, PANEL, PANEL_RAISED, LINE];
/// The same on paper.
pub const LIGHT: [Rgb; 9] = [
    Rgb(0x1c, 0x5b, 0xb8),
    Rgb(0x6f, 0x3f, 0xb8),
    Rgb(0x1a, 0x1d, 0x27),
    Rgb(0x59, 0x62, 0x78),
    Rgb(0xb3, 0x2a, 0x20),
    Rgb(0x1c, 0x74, 0x3a),
    Rgb(0xff, 0xff, 0xff),
    Rgb(0xf4, 0xf5, 0xf9),
    Rgb(0xcd, 0xd2, 0xe0),
];

/// The same for eyes that need more: nothing lighter than white, nothing darker than black, lines that
/// stand out.
pub const HIGH_CONTRAST: [Rgb; 9] = [
    Rgb(0x8f, 0xc7, 0xff),
    Rgb(0xe0, 0xc0, 0xff),
    Rgb(0xff, 0xff, 0xff),
    Rgb(0xd6, 0xdc, 0xee),
    Rgb(0xff, 0xa0, 0x98),
    Rgb(0xa8, 0xf5, 0xb6),
    Rgb(0x00, 0x00, 0x00),
    Rgb(0x12, 0x14, 0x1c),
    Rgb(0x8c, 0x94, 0xad),
];

/// White staging lamp, lit.
pub const WHITE_LIT: Rgb = Rgb(0xee, 0xf3, 0xff);
/// White staging lamp, dark.
pub const WHITE_DARK: Rgb = Rgb(0x2a, 0x2d, 0x38);
/// Amber lamp, lit.
pub const AMBER_LIT: Rgb = Rgb(0xff, 0xb0, 0x20);
/// Amber lamp, dark.
pub const AMBER_DARK: Rgb = Rgb(0x30, 0x24, 0x14);
/// Green lamp, lit.
pub const GREEN_LIT: Rgb = Rgb(0x2f, 0xe0, 0x6a);
/// Green lamp, dark.
pub const GREEN_DARK: Rgb = Rgb(0x12, 0x2a, 0x1c);
/// Red lamp, lit.
pub const RED_LIT: Rgb = Rgb(0xff, 0x3a, 0x30);
/// Red lamp, dark.
pub const RED_DARK: Rgb = Rgb(0x32, 0x13, 0x15);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_text_colour_reads_on_both_panels() {
        for colours in [DARK, LIGHT, HIGH_CONTRAST] {
            let [texts @ .., panel, raised, _] = colours;
            for panel in [panel, raised] {
                for text in texts {
                    let contrast = text.contrast(panel);
                    assert!(contrast >= 4.5, "{text:?} on {panel:?}: {contrast:.2}");
                }
            }
        }
    }

    #[test]
    fn high_contrast_is_seven_to_one_and_its_lines_are_seen() {
        // Web Content Accessibility Guidelines 2.2: 1.4.6 (7:1), 1.4.11 (3:1 for what is no text).
        let [texts @ .., panel, raised, line] = HIGH_CONTRAST;
        for ground in [panel, raised] {
            assert!(texts.iter().all(|text| text.contrast(ground) >= 7.0), "{ground:?}");
            assert!(line.contrast(ground) >= 3.0, "{:.2}", line.contrast(ground));
        }
    }

    #[test]
    fn contrast_spans_one_to_twenty_one() {
        let (black, white) = (Rgb(0, 0, 0), Rgb(255, 255, 255));
        assert!((black.contrast(white) - 21.0).abs() < 1e-9);
        assert!((white.contrast(black) - 21.0).abs() < 1e-9);
        assert!((TEXT.contrast(TEXT) - 1.0).abs() < 1e-12);
        // Mid grey 0x77 on white is the well-known near miss of the 4.5 rule: 4.48.
        assert!((Rgb(0x77, 0x77, 0x77).contrast(white) - 4.48).abs() < 0.01);
    }

    #[test]
    fn a_lit_lamp_is_at_least_four_times_as_bright_as_a_dark_one() {
        let pairs = [
            (WHITE_LIT, WHITE_DARK),
            (AMBER_LIT, AMBER_DARK),
            (GREEN_LIT, GREEN_DARK),
            (RED_LIT, RED_DARK),
        ];
        for (lit, dark) in pairs {
            assert!(lit.relative_luminance() >= 4.0 * dark.relative_luminance(), "{lit:?}");
        }
    }
}
