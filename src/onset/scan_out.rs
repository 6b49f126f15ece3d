//! A screen is painted from top to bottom.
//!
//! Owns the delay of a place on the screen against its top. Refuses to know where a window is.

use crate::units::Span;

/// How long after the top of the screen a place `y_px` below it lights, on a screen `height_px` high
/// that is repainted every `period`.
///
/// delay = period · y / height, y held between top and bottom. A panel paints nearly the whole
/// period long and leaves a few per cent for the way back, which are neglected (CEA-861 1080p60:
/// 1080 of 1125 lines, 96 %; from memory), at most 0.7 ms at 60 Hz. Named as an error of several
/// milliseconds by Bridges, Pitiot, MacAskill & Peirce 2020 (PeerJ 8:e9414).
pub fn scan_out_delay(y_px: f32, height_px: f32, period: Span) -> Span {
    if !y_px.is_finite() || !height_px.is_finite() || height_px <= 0.0 {
        return Span::ZERO;
    }
    let share = f64::from((y_px / height_px).clamp(0.0, 1.0));
    Span::from_ns((period.ns() as f64 * share).round() as i64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bottom_lights_a_whole_period_after_the_top() {
        let period = Span::from_us(16_000);
        assert_eq!(scan_out_delay(0.0, 1080.0, period), Span::ZERO);
        assert_eq!(scan_out_delay(270.0, 1080.0, period), Span::from_us(4_000));
        assert_eq!(scan_out_delay(1080.0, 1080.0, period), period);
    }

    #[test]
    fn a_place_beside_the_screen_counts_as_its_edge_and_no_screen_as_no_delay() {
        let period = Span::from_us(16_000);
        assert_eq!(scan_out_delay(-40.0, 1080.0, period), Span::ZERO);
        assert_eq!(scan_out_delay(2000.0, 1080.0, period), period);
        assert_eq!(scan_out_delay(f32::NAN, 1080.0, period), Span::ZERO);
        assert_eq!(scan_out_delay(10.0, 0.0, period), Span::ZERO);
    }
}
