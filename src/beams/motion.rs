//! One stretch of motion under one law, in closed form.
//!
//! Owns depth and speed as functions of time since the stretch began, and the times between which
//! the depth is monotone. Refuses marks, sequences of stretches and beams.

/// A pedal (or the selector) as the driver works it near the start line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Pedal {
    /// Ease off the brake: idle creep builds up; letting go eases the foot back down.
    Creep,
    /// Stop now.
    Brake,
    /// Roll backwards.
    Back,
}

/// How the car answers its pedals near the start line, inches and seconds.
///
/// All chosen, because they let a newcomer stop inside the 7 inches between the beams: creep is
/// slower than an automatic's free idle creep, as a driver who rides the brake would roll.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Handling {
    /// Speed that creep builds up to, in/s.
    pub creep_in_s: f64,
    /// Time constant of the build-up, s.
    pub creep_build_s: f64,
    /// Slowing when the creep control is let go, in/s².
    pub fade_in_s2: f64,
    /// Slowing under the brake, in/s².
    pub brake_in_s2: f64,
    /// Speed of rolling back, in/s.
    pub back_in_s: f64,
    /// In gear the car rolls by itself, as an automatic does, and only the brake holds it: with no
    /// pedal worked it creeps as it does under [`Pedal::Creep`]. From its first moment on: one that
    /// is to stand at the start needs its brake worked there.
    pub creeps_in_gear: bool,
}

impl Default for Handling {
    fn default() -> Self {
        Self {
            creep_in_s: 8.0,
            creep_build_s: 0.5,
            fade_in_s2: 16.0,
            brake_in_s2: 60.0,
            back_in_s: 6.0,
            creeps_in_gear: false,
        }
    }
}

/// The law a stretch follows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Law {
    /// Speed goes exponentially to `target` with time constant `tau`.
    Relax { target: f64, tau: f64 },
    /// Speed goes to zero at a constant rate and stays there.
    Slow { rate: f64 },
    /// Speed is kept for `lag`, then grows at `accel`.
    Launch { accel: f64, lag: f64 },
}

/// Depth and speed at the start of a stretch, and its law. Inches, seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    pub depth: f64,
    pub speed: f64,
    pub law: Law,
}

impl Stretch {
    /// Depth `t` seconds after the stretch began.
    pub fn depth_at(&self, t: f64) -> f64 {
        match self.law {
            Law::Relax { target, tau } => {
                // 1 − e^(−t/τ) through expm1: no cancellation at the start of the stretch.
                self.depth + target * t - (self.speed - target) * tau * (-t / tau).exp_m1()
            }
            Law::Slow { rate } => {
                let t = t.min(self.speed.abs() / rate);
                self.depth + self.speed * t - 0.5 * rate * self.speed.signum() * t * t
            }
            Law::Launch { accel, lag } => {
                let pull = (t - lag).max(0.0);
                self.depth + self.speed * t + 0.5 * accel * pull * pull
            }
        }
    }

    /// Speed `t` seconds after the stretch began.
    pub fn speed_at(&self, t: f64) -> f64 {
        match self.law {
            Law::Relax { target, tau } => target + (self.speed - target) * (-t / tau).exp(),
            Law::Slow { rate } => {
                let left = self.speed.abs() - rate * t;
                if left <= 0.0 { 0.0 } else { left * self.speed.signum() }
            }
            Law::Launch { accel, lag } => self.speed + accel * (t - lag).max(0.0),
        }
    }

    /// The time at which the motion turns round, if it does: depth is monotone before and after.
    pub fn turns_at(&self) -> Option<f64> {
        match self.law {
            Law::Relax { target, tau } => {
                let ratio = (self.speed - target) / -target;
                (self.speed * target < 0.0).then(|| tau * ratio.ln())
            }
            Law::Slow { .. } => None,
            Law::Launch { accel, lag } => (self.speed < 0.0).then(|| lag - self.speed / accel),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn speed_is_the_derivative_of_depth_under_every_law() {
        let laws = [
            Law::Relax { target: 8.0, tau: 0.5 },
            Law::Relax { target: -6.0, tau: 0.5 },
            Law::Slow { rate: 16.0 },
            Law::Launch { accel: 220.0, lag: 0.08 },
        ];
        for law in laws {
            for speed in [-3.0, 0.0, 5.0] {
                let s = Stretch { depth: -2.0, speed, law };
                for t in [0.03, 0.2, 0.7, 2.0] {
                    let h = 1e-6;
                    let slope = (s.depth_at(t + h) - s.depth_at(t - h)) / (2.0 * h);
                    assert!((slope - s.speed_at(t)).abs() < 1e-4, "{law:?} {speed} {t}");
                }
            }
        }
    }

    #[test]
    fn a_slowing_car_stops_and_stays() {
        let s = Stretch { depth: 0.0, speed: 8.0, law: Law::Slow { rate: 16.0 } };
        assert_eq!(s.speed_at(0.5), 0.0);
        assert_eq!(s.depth_at(0.5), 2.0);
        assert_eq!(s.depth_at(9.0), 2.0);
    }

    #[test]
    fn the_turning_point_has_no_speed() {
        let s = Stretch { depth: 0.0, speed: 5.0, law: Law::Relax { target: -6.0, tau: 0.5 } };
        let t = s.turns_at().expect("forward speed, backward target");
        assert!(s.speed_at(t).abs() < 1e-9);
    }
}
