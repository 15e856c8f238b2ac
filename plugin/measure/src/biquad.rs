//! Second-order recursive filters, in double precision, four independent signals at a time.

use std::f64::consts::PI;

/// Coefficients of `y[n] = b0·x[n] + b1·x[n−1] + b2·x[n−2] − a1·y[n−1] − a2·y[n−2]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Biquad {
    /// b0, b1, b2.
    pub b: [f64; 3],
    /// a1, a2.
    pub a: [f64; 2],
}

impl Biquad {
    /// Magnitude of the response at `hz`, in decibels.
    #[must_use]
    pub fn response_db(&self, rate_hz: f64, hz: f64) -> f64 {
        let omega = 2.0 * PI * hz / rate_hz;
        let magnitude = |c0: f64, c1: f64, c2: f64| {
            let re = c0 + c1 * omega.cos() + c2 * (2.0 * omega).cos();
            let im = c1 * omega.sin() + c2 * (2.0 * omega).sin();
            re * re + im * im
        };
        let [b0, b1, b2] = self.b;
        let [a1, a2] = self.a;
        10.0 * (magnitude(b0, b1, b2) / magnitude(1.0, a1, a2)).log10()
    }
}

/// High-pass and low-pass half of a fourth-order Butterworth crossing at `hz`: both are −3.01 dB
/// there, fall by 24 dB an octave, and their powers add to one at every frequency.
///
/// Bilinear transform of the analogue prototype, which keeps that sum exact.
pub(crate) fn butterworth4(rate_hz: f64, hz: f64) -> [(Biquad, Biquad); 2] {
    let k = (PI * hz / rate_hz).tan();
    // Poles of a fourth-order Butterworth filter: 2·cos(π/8) and 2·cos(3π/8).
    [PI / 8.0, 3.0 * PI / 8.0].map(|angle| {
        let damping = 2.0 * angle.cos();
        let norm = 1.0 / (1.0 + damping * k + k * k);
        let a = [2.0 * (k * k - 1.0) * norm, (1.0 - damping * k + k * k) * norm];
        let high = Biquad { b: [norm, -2.0 * norm, norm], a };
        let low = k * k * norm;
        (high, Biquad { b: [low, 2.0 * low, low], a })
    })
}

/// One biquad a lane, in the state space of the transposed direct form II: the states move on by themselves
/// and not by the output, which leaves one product and one sum from frame to frame to wait for.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lanes {
    b0: [f64; 4],
    /// b1 − a1·b0, b2 − a2·b0: what the input brings to the states.
    g1: [f64; 4],
    g2: [f64; 4],
    a1: [f64; 4],
    a2: [f64; 4],
    s1: [f64; 4],
    s2: [f64; 4],
}

impl Lanes {
    pub(crate) fn new(lanes: [Biquad; 4]) -> Self {
        Self {
            b0: lanes.map(|q| q.b[0]),
            g1: lanes.map(|q| q.b[1] - q.a[0] * q.b[0]),
            g2: lanes.map(|q| q.b[2] - q.a[1] * q.b[0]),
            a1: lanes.map(|q| q.a[0]),
            a2: lanes.map(|q| q.a[1]),
            s1: [0.0; 4],
            s2: [0.0; 4],
        }
    }

    pub(crate) fn reset(&mut self) {
        self.s1 = [0.0; 4];
        self.s2 = [0.0; 4];
    }

    #[inline(always)]
    pub(crate) fn process(&mut self, x: [f64; 4]) -> [f64; 4] {
        let mut y = [0.0; 4];
        for i in 0..4 {
            y[i] = self.b0[i] * x[i] + self.s1[i];
        }
        let s1 = self.s1;
        for i in 0..4 {
            self.s1[i] = (self.g1[i] * x[i] + self.s2[i]) - self.a1[i] * s1[i];
        }
        for i in 0..4 {
            self.s2[i] = self.g2[i] * x[i] - self.a2[i] * s1[i];
        }
        y
    }

    /// Drops what has decayed below any meaning, before it becomes denormal and slow.
    pub(crate) fn settle(&mut self) {
        for state in self.s1.iter_mut().chain(&mut self.s2) {
            if state.abs() < 1e-30 {
                *state = 0.0;
            }
        }
    }
}
