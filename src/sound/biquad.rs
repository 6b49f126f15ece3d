//! Second-order filters.
//!
//! Owns three of them by the "Audio EQ Cookbook" (R. Bristow-Johnson; W3C Working Group Note of 8 June
//! 2021). With ω₀ = 2π·f₀/rate and α = sin ω₀ / (2Q), all have a₀ = 1 + α, a₁ = −2·cos ω₀,
//! a₂ = 1 − α, and differ in b. Refuses designing others.

use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// The Q of a filter that falls by 3.01 dB at f₀ and has no hump (Butterworth): 1/√2.
pub(super) const FLAT_Q: f64 = FRAC_1_SQRT_2;

/// A filter and what it remembers of the samples that went through.
#[derive(Debug, Clone)]
pub struct Biquad {
    /// b₀, b₁, b₂ over a₀.
    b: [f64; 3],
    /// a₁, a₂ over a₀.
    a: [f64; 2],
    /// Transposed direct form II.
    state: [f64; 2],
}

impl Biquad {
    /// Lets through what lies below `f0_hz` (below half the rate): b = (1 − cos ω₀)·(½, 1, ½).
    pub fn low_pass(f0_hz: f64, q: f64, rate_hz: f64) -> Self {
        let (cos, alpha) = corner(f0_hz, q, rate_hz);
        let b = 1.0 - cos;
        Self::over_a0([0.5 * b, b, 0.5 * b], cos, alpha)
    }

    /// Lets through what lies above `f0_hz`: b = (1 + cos ω₀)·(½, −1, ½).
    pub fn high_pass(f0_hz: f64, q: f64, rate_hz: f64) -> Self {
        let (cos, alpha) = corner(f0_hz, q, rate_hz);
        let b = 1.0 + cos;
        Self::over_a0([0.5 * b, -b, 0.5 * b], cos, alpha)
    }

    /// Lets through a band about `f0_hz`, which itself passes as it is: b = (α, 0, −α).
    pub fn band_pass(f0_hz: f64, q: f64, rate_hz: f64) -> Self {
        let (cos, alpha) = corner(f0_hz, q, rate_hz);
        Self::over_a0([alpha, 0.0, -alpha], cos, alpha)
    }

    /// The next sample.
    pub fn step(&mut self, x: f64) -> f64 {
        let y = self.b[0] * x + self.state[0];
        self.state[0] = self.b[1] * x - self.a[0] * y + self.state[1];
        self.state[1] = self.b[2] * x - self.a[1] * y;
        y
    }

    /// A whole sound, once.
    pub(super) fn once(mut self, sound: &mut [f64]) {
        for x in sound {
            *x = self.step(*x);
        }
    }

    /// A sound that is played round and round, as it is after the filter has forgotten its beginning:
    /// what went before the first sample is the end of the sound itself.
    pub(super) fn round(mut self, sound: &mut [f64]) {
        for x in sound.iter() {
            self.step(*x);
        }
        self.once(sound);
    }

    fn over_a0(b: [f64; 3], cos: f64, alpha: f64) -> Self {
        let a0 = 1.0 + alpha;
        Self { b: b.map(|b| b / a0), a: [-2.0 * cos / a0, (1.0 - alpha) / a0], state: [0.0; 2] }
    }
}

/// cos ω₀ and α. A corner beyond the rate's reach is taken at .45 of the rate, where it leaves alone
/// all that can be heard of it.
fn corner(f0_hz: f64, q: f64, rate_hz: f64) -> (f64, f64) {
    let omega = 2.0 * PI * f0_hz.min(0.45 * rate_hz) / rate_hz;
    (omega.cos(), omega.sin() / (2.0 * q))
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 48_000.0;

    /// |H(f)| by the Fourier sum of what one sample of 1 leaves behind.
    fn gain(filter: &Biquad, f_hz: f64) -> f64 {
        let mut filter = filter.clone();
        let (mut re, mut im) = (0.0, 0.0);
        for i in 0..48_000 {
            let h = filter.step(if i == 0 { 1.0 } else { 0.0 });
            let angle = 2.0 * PI * f_hz * f64::from(i) / RATE_HZ;
            re += h * angle.cos();
            im -= h * angle.sin();
        }
        re.hypot(im)
    }

    /// s of the analogue prototype at `f_hz`: the bilinear transform, warped to meet at f₀.
    fn s(f_hz: f64, f0_hz: f64) -> f64 {
        (PI * f_hz / RATE_HZ).tan() / (PI * f0_hz / RATE_HZ).tan()
    }

    #[test]
    fn filters_answer_as_the_cookbooks_analogue_prototypes() {
        // The cookbook's H(s): 1/(s² + s/Q + 1), s²/(…), (s/Q)/(…), with s = jσ.
        for (f0_hz, q) in [(150.0, FLAT_Q), (1_000.0, 0.5), (6_000.0, 4.0)] {
            let low = Biquad::low_pass(f0_hz, q, RATE_HZ);
            let high = Biquad::high_pass(f0_hz, q, RATE_HZ);
            let band = Biquad::band_pass(f0_hz, q, RATE_HZ);
            for f_hz in [40.0, 150.0, 700.0, 1_000.0, 6_000.0, 15_000.0] {
                let sigma = s(f_hz, f0_hz);
                let below = (1.0 - sigma * sigma).hypot(sigma / q);
                let close = |filter: &Biquad, above: f64, what: &str| {
                    let (got, due) = (gain(filter, f_hz), above / below);
                    assert!((got - due).abs() < 1e-9, "{what} {f0_hz} {q} at {f_hz}: {got} {due}");
                };
                close(&low, 1.0, "low");
                close(&high, sigma * sigma, "high");
                close(&band, sigma / q, "band");
            }
        }
    }

    #[test]
    fn the_low_pass_at_a_quarter_of_the_rate_is_the_half_band_butterworth() {
        // Tabulated: b = 1 − 1/√2 · (1, 2, 1), a₁ = 0, a₂ = 3 − 2√2 (.29289…, .17157…).
        let filter = Biquad::low_pass(12_000.0, FLAT_Q, RATE_HZ);
        let b = 1.0 - FRAC_1_SQRT_2;
        for (got, due) in filter.b.into_iter().zip([b, 2.0 * b, b]) {
            assert!((got - due).abs() < 1e-15);
        }
        assert!(filter.a[0].abs() < 1e-15);
        assert!((filter.a[1] - (3.0 - 2.0 * 2.0_f64.sqrt())).abs() < 1e-15);
    }

    #[test]
    fn a_sound_that_goes_round_is_filtered_as_if_it_had_always_gone_round() {
        let wave = |i: usize| (i as f64 / 480.0 * 6.0 * PI).sin() + 0.2 * (i % 7) as f64;
        let mut once: Vec<f64> = (0..4_800).map(|i| wave(i % 480)).collect();
        Biquad::band_pass(400.0, 1.0, RATE_HZ).once(&mut once);
        let mut round: Vec<f64> = (0..480).map(wave).collect();
        let mut twice = round.clone();
        Biquad::band_pass(400.0, 1.0, RATE_HZ).round(&mut round);
        for (got, due) in round.iter().zip(&once[4_320..]) {
            assert!((got - due).abs() < 1e-4, "{got} {due}");
        }
        Biquad::band_pass(400.0, 1.0, RATE_HZ).once(&mut twice);
        assert!((round[0] - twice[0]).abs() > 1e-3, "the beginning is another one");
    }
}
