//! Where on the screen the window stands, and how high in it the lamps hang.
//!
//! Owns both heights and the delay they make on a screen painted from top to bottom. Refuses to
//! correct where the display has no grid of its own.

use super::Frames;
use crate::onset::scan_out_delay;
use crate::tree::{Lamp, Lane};
use crate::units::Span;
use bevy::prelude::*;
use bevy::window::{Monitor, OnMonitor, WindowMoved};

/// See the head of the file. Zero delay until a window said where it is.
#[derive(Resource, Debug, Clone, Default)]
pub struct ScreenPlace {
    /// Top of the window below the top of its screen, physical pixels.
    window_y_px: f32,
    /// Height of the screen, physical pixels; zero while unknown.
    screen_height_px: f32,
    /// Middles of the lamps below the top of the window, physical pixels.
    lamps_y_px: Vec<((Lane, Lamp), f32)>,
}

impl ScreenPlace {
    /// How much later than the top of the screen this lamp lights.
    pub fn delay_of(&self, lane: Lane, lamp: Lamp, frames: &Frames) -> Span {
        let hung = self.lamps_y_px.iter().find(|(known, _)| *known == (lane, lamp));
        match hung {
            Some((_, y_px)) => self.delay_of_place(*y_px, frames),
            None => Span::ZERO,
        }
    }

    /// How much later than the top of the screen a place `y_px` below the window's top lights; zero
    /// where the display has no grid.
    pub fn delay_of_place(&self, y_px: f32, frames: &Frames) -> Span {
        if frames.scans_out() { self.delay_at(y_px, frames.period()) } else { Span::ZERO }
    }

    fn delay_at(&self, y_px: f32, period: Span) -> Span {
        scan_out_delay(self.window_y_px + y_px, self.screen_height_px, period)
    }

    /// Says where the lamps hang.
    pub fn hang(&mut self, lamps_y_px: Vec<((Lane, Lamp), f32)>) {
        self.lamps_y_px = lamps_y_px;
    }
}

/// Follows the window over the desktop.
pub fn follow_window(
    mut moved: MessageReader<WindowMoved>,
    windows: Query<Option<&OnMonitor>, With<Window>>,
    monitors: Query<&Monitor>,
    mut place: ResMut<ScreenPlace>,
    mut window_y_px: Local<i32>,
) {
    let mut news = false;
    for moved in moved.read() {
        *window_y_px = moved.position.y;
        news = true;
    }
    if !news && place.screen_height_px > 0.0 {
        return;
    }
    let on = windows.iter().next().flatten().and_then(|on| monitors.get(on.0).ok());
    if let Some(monitor) = on.or_else(|| monitors.iter().next()) {
        place.screen_height_px = monitor.physical_height as f32;
        place.window_y_px = (*window_y_px - monitor.physical_position.y) as f32;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_window_standing_lower_delays_its_lamps() {
        let place = ScreenPlace { window_y_px: 100.0, screen_height_px: 1000.0, ..default() };
        assert_eq!(place.delay_at(150.0, Span::from_us(16_000)), Span::from_us(4_000));
    }

    #[test]
    fn a_lamp_nobody_hung_and_a_screen_without_a_grid_have_no_delay() {
        let mut place = ScreenPlace { screen_height_px: 1000.0, ..default() };
        let frames = Frames::default();
        assert_eq!(place.delay_of(Lane::Left, Lamp::Green, &frames), Span::ZERO);
        place.hang(vec![((Lane::Left, Lamp::Green), 500.0)]);
        assert_eq!(place.delay_of(Lane::Left, Lamp::Green, &frames), Span::ZERO);
    }
}
