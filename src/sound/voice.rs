//! What an engine's sound is made from: cylinders and two speeds.
//!
//! Owns their limits and the firing frequency. Refuses the car: whoever knows it says what it has.

use super::error::SoundError;

/// Cylinders an engine may have.
const CYLINDERS: (f64, f64) = (1.0, 16.0);
/// Engine speeds, rpm. Chosen: below, no engine runs; above, no street engine.
const RPM: (f64, f64) = (300.0, 12_000.0);

/// An engine as it is heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Voice {
    cylinders: u8,
    idle_rpm: f64,
    launch_rpm: f64,
}

impl Default for Voice {
    /// Four cylinders, 800 rpm, 3,000 rpm. Chosen: a small street car that is not known further.
    fn default() -> Self {
        Self { cylinders: 4, idle_rpm: 800.0, launch_rpm: 3_000.0 }
    }
}

impl Voice {
    /// A four-stroke engine of 1 to 16 cylinders; speeds in rpm, 300 to 12,000, the launch not below
    /// the idle.
    ///
    /// # Errors
    /// [`SoundError::OutOfRange`].
    pub fn new(cylinders: u8, idle_rpm: f64, launch_rpm: f64) -> Result<Self, SoundError> {
        check("the number of cylinders", f64::from(cylinders), CYLINDERS)?;
        check("the idle rpm", idle_rpm, RPM)?;
        check("the launch rpm", launch_rpm, (idle_rpm, RPM.1))?;
        Ok(Self { cylinders, idle_rpm, launch_rpm })
    }

    /// Cylinders.
    pub fn cylinders(&self) -> u8 {
        self.cylinders
    }

    /// Speed at idle, rpm.
    pub fn idle_rpm(&self) -> f64 {
        self.idle_rpm
    }

    /// Speed the engine is held at before it leaves, rpm.
    pub fn launch_rpm(&self) -> f64 {
        self.launch_rpm
    }
}

/// How often a four-stroke engine fires, Hz: f = rpm/60 · cylinders/2, each cylinder once in two
/// turns. As an engine order cylinders/2: the second of a four, the third of a six, the fourth of an
/// eight (Dirac Delta Science & Engineering Encyclopedia, "Engine Orders").
pub fn firing_hz(rpm: f64, cylinders: u8) -> f64 {
    rpm / 120.0 * f64::from(cylinders)
}

fn check(what: &'static str, got: f64, (low, high): (f64, f64)) -> Result<(), SoundError> {
    if (low..=high).contains(&got) {
        return Ok(());
    }
    Err(SoundError::OutOfRange { what, got, low, high })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn engines_fire_at_the_published_orders() {
        // "Engine Orders" of the encyclopaedia named above: 2nd, 3rd and 4th of 4, 6 and 8 cylinders.
        for (cylinders, order) in [(4, 2.0), (6, 3.0), (8, 4.0)] {
            assert_eq!(firing_hz(3_000.0, cylinders), order * 50.0);
        }
    }

    #[test]
    fn engines_that_cannot_run_are_refused_by_name() {
        let said = |voice: Result<Voice, SoundError>| voice.unwrap_err().to_string();
        assert!(said(Voice::new(0, 800.0, 3_000.0)).contains("cylinders is 0; give 1 to 16"));
        assert!(said(Voice::new(4, f64::NAN, 3_000.0)).contains("idle rpm is NaN"));
        assert!(said(Voice::new(4, 800.0, 700.0)).contains("launch rpm is 700; give 800 to 12000"));
        assert!(said(Voice::new(4, 800.0, f64::INFINITY)).contains("launch rpm"));
        let d = Voice::default();
        assert_eq!(Voice::new(d.cylinders(), d.idle_rpm(), d.launch_rpm()), Ok(d));
    }
}
