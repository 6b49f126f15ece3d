//! The time bar: driver part and car part end to end, against the green.
//!
//! Owns where its pieces fall. Refuses drawing, text and verdicts.

use crate::app::lane::view::RectPx;
use crate::units::Span;

/// What the bar shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TimeBarInput {
    /// Last amber → launch edge; negative when the launch came first.
    pub driver: Span,
    /// Launch edge → clear of the beam; below zero counts as zero.
    pub car: Span,
    /// Last amber → green; below zero counts as zero.
    pub interval: Span,
}

/// The bar's pieces in window pixels. To the left of `green_x` is red, to the right green.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimeBar {
    /// The last amber.
    pub amber_x: f32,
    /// The green.
    pub green_x: f32,
    /// The driver's part. With a launch before the last amber it lies left of `amber_x` and the
    /// car's part begins at its left edge, laid over it.
    pub driver: RectPx,
    /// The car's part.
    pub car: RectPx,
    /// Pixels per second.
    pub px_per_s: f32,
}

impl TimeBar {
    /// Lays the bar into `area`. The scale fits `1.05 · max(1.2 · interval, driver + car)` from
    /// the last amber on, and the way back to the launch where that came first.
    pub fn new(input: TimeBarInput, area: RectPx) -> Self {
        let driver = input.driver.as_secs_f64() as f32;
        let car = (input.car.as_secs_f64() as f32).max(0.0);
        let interval = (input.interval.as_secs_f64() as f32).max(0.0);
        let before = (-driver).max(0.0);
        // A millisecond at least, so that an empty run has a scale.
        let after = (1.2 * interval).max(driver + car).max(0.001) * 1.05;
        let px_per_s = area.width / (before * 1.05 + after);
        let amber_x = area.x + before * 1.05 * px_per_s;
        let launch_x = amber_x + driver * px_per_s;
        let bar = |from: f32, to: f32| RectPx::new(from, area.y, to - from, area.height);
        Self {
            amber_x,
            green_x: amber_x + interval * px_per_s,
            driver: bar(amber_x.min(launch_x), amber_x.max(launch_x)),
            car: bar(launch_x, launch_x + car * px_per_s),
            px_per_s,
        }
    }

    /// Where the tyre left the beam: the bar's end, compared with `green_x`.
    #[cfg(test)]
    pub fn end_x(&self) -> f32 {
        self.car.right()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AREA: RectPx = RectPx { x: 560.0, y: 632.0, width: 640.0, height: 26.0 };

    fn bar(driver_ms: i64, car_ms: i64, interval_ms: i64) -> TimeBar {
        let input = TimeBarInput {
            driver: Span::from_ms(driver_ms),
            car: Span::from_ms(car_ms),
            interval: Span::from_ms(interval_ms),
        };
        TimeBar::new(input, AREA)
    }

    fn assert_near(a: f32, b: f32) {
        assert!((a - b).abs() < 0.01, "{a} against {b}");
    }

    #[test]
    fn the_parts_add_up_and_end_past_green_by_the_reaction_time() {
        for (driver, car, interval) in [(231, 281, 500), (180, 260, 500), (900, 300, 400)] {
            let b = bar(driver, car, interval);
            assert_eq!(b.driver.x, b.amber_x);
            assert_near(b.driver.right(), b.car.x);
            assert_near(b.driver.width + b.car.width, b.end_x() - b.amber_x);
            let rt_s = (driver + car - interval) as f32 / 1000.0;
            assert_near(b.end_x() - b.green_x, rt_s * b.px_per_s);
        }
    }

    #[test]
    fn a_red_ends_before_the_green_line() {
        let b = bar(150, 280, 500);
        assert!(b.end_x() < b.green_x && b.green_x < AREA.right());
    }

    #[test]
    fn a_launch_before_the_last_amber_begins_left_of_its_line() {
        let b = bar(-120, 280, 500);
        assert_near(b.driver.right(), b.amber_x);
        assert_near(b.driver.width, 0.120 * b.px_per_s);
        assert_eq!(b.car.x, b.driver.x);
        assert!(b.driver.x > AREA.x);
        let rt_s = (-120 + 280 - 500) as f32 / 1000.0;
        assert_near(b.end_x() - b.green_x, rt_s * b.px_per_s);
    }

    #[test]
    fn everything_fits_the_area_whatever_the_times() {
        for driver in [-3000, -500, -1, 0, 1, 200, 1999] {
            for car in [-5, 0, 250, 900] {
                for interval in [0, 400, 500] {
                    let b = bar(driver, car, interval);
                    for x in [b.amber_x, b.green_x, b.driver.x, b.end_x(), b.driver.right()] {
                        assert!(x >= AREA.x - 0.01 && x <= AREA.right() + 0.01, "{b:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn the_ordinary_scale_gives_the_interval_its_stated_room() {
        let b = bar(200, 280, 500);
        assert_near(b.px_per_s, AREA.width / (0.5 * 1.2 * 1.05));
        assert_eq!(b.amber_x, AREA.x);
    }
}
