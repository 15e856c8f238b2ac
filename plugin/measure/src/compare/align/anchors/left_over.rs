//! What is left of delay and gain between a window of the export and its prediction, by the slope of
//! the phase.

use realfft::num_complex::Complex64;

/// What is left between the export and its prediction at an anchor.
pub(super) struct LeftOver {
    /// By how much the export is late, in its frames.
    pub delay_frames: f64,
    pub gain: f64,
    pub likeness: f64,
}

/// Sums over the bins of a window, by which what is left is found.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sums {
    zz: f64,
    yy: f64,
    value: f64,
    slope: f64,
    bend: f64,
    /// Without weights: prediction with itself, and with the export.
    power: f64,
    shared: f64,
}

impl Sums {
    pub fn of(
        predicted: &[Complex64],
        heard: &[Complex64],
        weights: &[f64],
        bins: std::ops::Range<usize>,
        frames: usize,
    ) -> Self {
        let mut sums = Self::default();
        for bin in bins {
            let (z, y) = (predicted[bin], heard[bin]);
            let cross = z.conj() * y;
            sums.power += z.norm_sqr();
            sums.shared += cross.re;
            let cross = cross * weights[bin];
            let omega = std::f64::consts::TAU * bin as f64 / frames as f64;
            sums.zz += weights[bin] * z.norm_sqr();
            sums.yy += weights[bin] * y.norm_sqr();
            sums.value += cross.re;
            // A delay turns the phase by −ωτ; the correlation at lag τ is Σ Re(cross·e^{jωτ}).
            sums.slope -= omega * cross.im;
            sums.bend -= omega * omega * cross.re;
        }
        sums
    }

    pub fn together(parts: &[Self]) -> Self {
        let mut sum = Self::default();
        for part in parts {
            sum.zz += part.zz;
            sum.yy += part.yy;
            sum.value += part.value;
            sum.slope += part.slope;
            sum.bend += part.bend;
            sum.power += part.power;
            sum.shared += part.shared;
        }
        sum
    }

    /// One step of Newton's method on the cross-correlation around no delay: exact as the delay goes
    /// to nothing.
    pub fn left_over(&self) -> LeftOver {
        // Where most of it is inverted, the correlation has a minimum in place of its maximum.
        let bend = self.bend * self.value.signum();
        let delay = if bend < 0.0 { (-self.slope / self.bend).clamp(-1.0, 1.0) } else { 0.0 };
        let norm = (self.zz * self.yy).sqrt();
        LeftOver {
            delay_frames: delay,
            gain: if self.power > 0.0 { self.shared / self.power } else { 0.0 },
            likeness: if norm > 0.0 { self.value / norm } else { 0.0 },
        }
    }
}
