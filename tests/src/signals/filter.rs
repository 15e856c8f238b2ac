//! Small filters that shape noise and pulses into textures. Bilinear second-order sections; a
//! Butterworth filter is a chain of them.

use std::f64::consts::PI;

/// A second-order section, transposed direct form II.
#[derive(Debug, Clone, Copy, Default)]
pub struct Biquad {
    b: [f64; 3],
    a: [f64; 2],
    state: [f64; 2],
}

impl Biquad {
    /// A low-pass: −3.01 dB at the edge where `q` is 1/√2.
    #[must_use]
    pub fn low_pass(rate_hz: f64, edge_hz: f64, q: f64) -> Self {
        let k = (PI * edge_hz / rate_hz).tan();
        Self::from_analog([k * k, 2.0 * k * k, k * k], k, q)
    }

    /// A high-pass: −3.01 dB at the edge where `q` is 1/√2.
    #[must_use]
    pub fn high_pass(rate_hz: f64, edge_hz: f64, q: f64) -> Self {
        Self::from_analog([1.0, -2.0, 1.0], (PI * edge_hz / rate_hz).tan(), q)
    }

    /// A band-pass with a gain of 1 at its centre.
    #[must_use]
    pub fn band_pass(rate_hz: f64, centre_hz: f64, q: f64) -> Self {
        let k = (PI * centre_hz / rate_hz).tan();
        Self::from_analog([k / q, 0.0, -k / q], k, q)
    }

    fn from_analog(numerator: [f64; 3], k: f64, q: f64) -> Self {
        let scale = 1.0 / (1.0 + k / q + k * k);
        Self {
            b: numerator.map(|b| b * scale),
            a: [2.0 * (k * k - 1.0) * scale, (1.0 - k / q + k * k) * scale],
            state: [0.0; 2],
        }
    }

    /// The next sample.
    #[inline]
    pub fn next(&mut self, x: f64) -> f64 {
        let y = self.b[0] * x + self.state[0];
        self.state[0] = self.b[1] * x - self.a[0] * y + self.state[1];
        self.state[1] = self.b[2] * x - self.a[1] * y;
        y
    }
}

/// A chain of sections.
#[derive(Debug, Clone, Copy)]
pub struct Chain<const SECTIONS: usize>([Biquad; SECTIONS]);

impl<const SECTIONS: usize> Chain<SECTIONS> {
    /// A Butterworth low-pass of order 2·`SECTIONS`.
    #[must_use]
    pub fn low_pass(rate_hz: f64, edge_hz: f64) -> Self {
        Self(std::array::from_fn(|i| Biquad::low_pass(rate_hz, edge_hz, Self::q(i))))
    }

    /// A Butterworth high-pass of order 2·`SECTIONS`.
    #[must_use]
    pub fn high_pass(rate_hz: f64, edge_hz: f64) -> Self {
        Self(std::array::from_fn(|i| Biquad::high_pass(rate_hz, edge_hz, Self::q(i))))
    }

    /// Quality of a Butterworth filter's section: its poles are evenly spread on a half circle.
    fn q(section: usize) -> f64 {
        0.5 / (PI * (2 * section + 1) as f64 / (4 * SECTIONS) as f64).cos()
    }

    /// The next sample.
    #[inline]
    pub fn next(&mut self, x: f64) -> f64 {
        self.0.iter_mut().fold(x, |x, section| section.next(x))
    }
}

/// A two-pole resonance with a gain of 1 at 0 Hz, whose frequency may move: a formant.
#[derive(Debug, Clone, Copy, Default)]
pub struct Resonance {
    gain: f64,
    feedback: [f64; 2],
    past: [f64; 2],
}

impl Resonance {
    /// Moves the resonance.
    pub fn tune(&mut self, rate_hz: f64, centre_hz: f64, bandwidth_hz: f64) {
        let radius = (-PI * bandwidth_hz / rate_hz).exp();
        let near = 2.0 * radius * (2.0 * PI * centre_hz / rate_hz).cos();
        self.feedback = [near, -radius * radius];
        self.gain = 1.0 - near + radius * radius;
    }

    /// The next sample.
    #[inline]
    pub fn next(&mut self, x: f64) -> f64 {
        let y = self.gain * x + self.feedback[0] * self.past[0] + self.feedback[1] * self.past[1];
        self.past = [y, self.past[0]];
        y
    }
}

/// A value that follows another with a time constant.
#[derive(Debug, Clone, Copy, Default)]
pub struct Follower {
    pull: f64,
    value: f64,
}

impl Follower {
    /// Starts at `value` and reaches 63 % of a step in `time_s`.
    #[must_use]
    pub fn new(steps_per_s: f64, time_s: f64, value: f64) -> Self {
        Self { pull: 1.0 - (-1.0 / (time_s * steps_per_s)).exp(), value }
    }

    /// The value after one more step towards `target`.
    #[inline]
    pub fn next(&mut self, target: f64) -> f64 {
        self.value += self.pull * (target - self.value);
        self.value
    }
}
