//! A single-sideband shift after D. K. Weaver, "A third method of generation and detection of
//! single-sideband signals", Proc. IRE 44 (1956): the hidden band is brought down around 0 Hz by
//! its middle frequency, low-passed, and brought up again by half its width, so that the upper
//! edge of the audible band falls on 0 Hz.

use std::f64::consts::TAU;

/// Shifts one channel down.
pub(super) struct Shifter {
    /// `None` where there is no hidden band to shift.
    band: Option<Band>,
}

struct Band {
    down: Oscillator,
    up: Oscillator,
    in_phase: LowPass,
    quadrature: LowPass,
}

impl Shifter {
    /// For what lies between `edge_hz` and half the sample rate.
    pub(super) fn new(rate_hz: f64, edge_hz: f64) -> Self {
        let width_hz = rate_hz / 2.0 - edge_hz;
        let band = (width_hz > 0.0).then(|| Band {
            down: Oscillator::new((edge_hz + width_hz / 2.0) / rate_hz),
            up: Oscillator::new(width_hz / 2.0 / rate_hz),
            in_phase: LowPass::new(width_hz / 2.0 / rate_hz),
            quadrature: LowPass::new(width_hz / 2.0 / rate_hz),
        });
        Self { band }
    }

    /// Forgets what was heard.
    pub(super) fn reset(&mut self) {
        if let Some(band) = &mut self.band {
            for section in band.in_phase.sections.iter_mut().chain(&mut band.quadrature.sections) {
                section.state = [0.0; 2];
            }
        }
    }

    /// Shifts the samples in place; what has nothing hidden becomes silent.
    pub(super) fn process(&mut self, samples: &mut [f32]) {
        let Some(band) = &mut self.band else {
            samples.fill(0.0);
            return;
        };
        for sample in samples {
            let (cos, sin) = band.down.next();
            let input = f64::from(*sample);
            let in_phase = band.in_phase.next(input * cos);
            let quadrature = band.quadrature.next(-input * sin);
            let (cos, sin) = band.up.next();
            // Twice, because the mirror half of the spectrum has been filtered away.
            *sample = (2.0 * (in_phase * cos - quadrature * sin)) as f32;
        }
    }
}

/// Cosine and sine of a steady frequency.
struct Oscillator {
    turns: f64,
    turns_per_frame: f64,
}

impl Oscillator {
    fn new(turns_per_frame: f64) -> Self {
        Self { turns: 0.0, turns_per_frame }
    }

    fn next(&mut self) -> (f64, f64) {
        let (sin, cos) = (TAU * self.turns).sin_cos();
        self.turns = (self.turns + self.turns_per_frame).fract();
        (cos, sin)
    }
}

const SECTIONS: usize = 4;

/// An eighth-order Butterworth low-pass, by the bilinear transform.
struct LowPass {
    sections: [Section; SECTIONS],
}

impl LowPass {
    /// −3.01 dB at `cutoff`, in cycles per frame.
    fn new(cutoff: f64) -> Self {
        let sections = std::array::from_fn(|index| {
            let angle = std::f64::consts::PI * (2 * index + 1) as f64 / (4 * SECTIONS) as f64;
            Section::new(cutoff, 1.0 / (2.0 * angle.cos()))
        });
        Self { sections }
    }

    fn next(&mut self, input: f64) -> f64 {
        self.sections.iter_mut().fold(input, |signal, section| section.next(signal))
    }
}

/// One second-order section, transposed direct form II.
struct Section {
    b: [f64; 3],
    a: [f64; 2],
    state: [f64; 2],
}

impl Section {
    fn new(cutoff: f64, q: f64) -> Self {
        let k = (std::f64::consts::PI * cutoff).tan();
        let norm = 1.0 / (1.0 + k / q + k * k);
        let b0 = k * k * norm;
        Self {
            b: [b0, 2.0 * b0, b0],
            a: [2.0 * (k * k - 1.0) * norm, (1.0 - k / q + k * k) * norm],
            state: [0.0; 2],
        }
    }

    fn next(&mut self, input: f64) -> f64 {
        let output = self.b[0] * input + self.state[0];
        self.state[0] = flushed(self.b[1] * input - self.a[0] * output + self.state[1]);
        self.state[1] = flushed(self.b[2] * input - self.a[1] * output);
        output
    }
}

/// Zero for what is far below the smallest `f32`, since a decaying filter would otherwise end in
/// numbers that processors are slow with.
fn flushed(value: f64) -> f64 {
    if value.abs() < 1e-60 { 0.0 } else { value }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Level of a tone in dB by correlation over whole periods, after the filters have settled.
    fn level_db(samples: &[f32], cycles_per_frame: f64) -> f64 {
        let (mut re, mut im) = (0.0, 0.0);
        for (n, &sample) in samples.iter().enumerate() {
            let (sin, cos) = (TAU * cycles_per_frame * n as f64).sin_cos();
            re += f64::from(sample) * cos;
            im += f64::from(sample) * sin;
        }
        20.0 * (2.0 * re.hypot(im) / samples.len() as f64).log10()
    }

    #[test]
    fn a_tone_moves_down_by_the_edge_at_the_same_level_and_leaves_no_image() {
        for (rate_hz, tone_hz) in
            [(96_000.0, 31_000.0), (192_000.0, 50_000.0), (48_000.0, 22_500.0)]
        {
            let mut shifter = Shifter::new(rate_hz, 20_000.0);
            let mut samples: Vec<f32> = (0..rate_hz as usize)
                .map(|n| (TAU * tone_hz * n as f64 / rate_hz).sin() as f32)
                .collect();
            shifter.process(&mut samples);
            let settled = &samples[samples.len() / 2..];
            let shifted = level_db(settled, (tone_hz - 20_000.0) / rate_hz);
            assert!(shifted.abs() < 0.1, "{tone_hz} Hz at {rate_hz} Hz reads {shifted} dB");
            let power: f64 = settled.iter().map(|&s| f64::from(s) * f64::from(s)).sum::<f64>()
                / settled.len() as f64;
            let everything = 10.0 * (2.0 * power).log10();
            assert!((everything - shifted).abs() < 0.01, "an image: {everything} dB in all");
        }
    }
}
