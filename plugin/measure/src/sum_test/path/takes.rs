//! What was heard in each step, and what follows from it without knowing the path: the bus heard
//! feed 1 alone not once but three times, and whatever it is, if it is linear, it made the same of it.
//!
//! Step 1 is a take of feed 1's path. Half the sum of steps 3 and 4 is another: feed 2 plays the same
//! in both but for its sign, and drops out. So is half the sum of steps 5 and 6; and half the
//! difference of steps 3 and 4 is a take of feed 2's path, as step 2 is. In what takes differ there is
//! no path, only noise.

use std::f64::consts::TAU;
use std::ops::Range;

use realfft::RealFftPlanner;
use realfft::num_complex::{Complex32, Complex64};

use super::GAIN_RANGE_HZ;
use super::references::References;
use super::regression::dot;
use super::response::wide;

/// Noise has to exceed that of the silence by this factor before it follows the sound: both are
/// estimates.
const SURELY: f64 = 1.05;

/// Spectra of the steps, and the further takes of the paths.
pub(super) struct Takes {
    /// By step, for the first seven.
    pub heard: Vec<Vec<Complex32>>,
    /// Feed 1's path from steps 3 and 4, and from steps 5 and 6.
    pub one: [Vec<Complex32>; 2],
    /// Feed 2's path from steps 3 and 4.
    pub two: Vec<Complex32>,
    /// Mean power that a bin has of the recording's own noise.
    pub floor: f64,
}

/// What in a recording comes from no feed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Noise {
    /// Its power over the feed's, by the takes that differ least, since something else may have sounded
    /// in one of the steps.
    pub ratio: f64,
    /// What of it is not there in silence but comes and goes with the sound, over the feed's power, by
    /// the takes that differ most.
    pub following_ratio: f64,
}

impl Takes {
    pub fn new(windows: &[Vec<f32>], references: &References) -> Self {
        let heard: Vec<Vec<Complex32>> =
            windows.iter().map(|window| references.spectrum(window)).collect();
        let half = |x: usize, y: usize, sign: f32| -> Vec<Complex32> {
            heard[x].iter().zip(&heard[y]).map(|(x, y)| (x + y * sign) * 0.5).collect()
        };
        let one = [half(2, 3, 1.0), half(4, 5, 1.0)];
        let two = half(2, 3, -1.0);
        let floor = floor(windows, references);
        Self { heard, one, two, floor }
    }

    /// What of the recording is no feed's.
    pub fn noise(&self, one_is_heard: bool, references: &References) -> Noise {
        let range = references.bins(GAIN_RANGE_HZ);
        let of = |spectrum: &[Complex32]| part(spectrum, &range);
        // Takes with the variance that each has for a window's noise.
        let takes = if one_is_heard {
            vec![(of(&self.heard[0]), 1.0), (of(&self.one[0]), 0.5), (of(&self.one[1]), 0.5)]
        } else {
            vec![(of(&self.heard[1]), 1.0), (of(&self.two), 0.5)]
        };
        let floor = self.floor * range.len() as f64;
        let mut found = Noise { ratio: f64::INFINITY, following_ratio: 0.0 };
        for (index, (x, x_variance)) in takes.iter().enumerate() {
            for (other, (y, y_variance)) in takes.iter().enumerate().skip(index + 1) {
                // A gain that differs is no noise; a third take tells it apart.
                let third = (0..takes.len()).find(|&third| third != index && third != other);
                let gain = third.map_or(1.0, |z| dot(&takes[z].0, y) / dot(&takes[z].0, x));
                let signal = (gain * dot(x, y)).max(0.0);
                let apart = dot(y, y) + gain * gain * dot(x, x) - 2.0 * gain * dot(x, y);
                let noise = apart.max(0.0) / (y_variance + gain * gain * x_variance);
                let following = (noise - SURELY * floor).max(0.0);
                found.ratio = found.ratio.min(noise / signal);
                found.following_ratio = found.following_ratio.max(following / signal);
            }
        }
        found
    }
}

/// Bins of a spectrum, with more digits.
pub(super) fn part(spectrum: &[Complex32], range: &Range<usize>) -> Vec<Complex64> {
    spectrum[range.clone()].iter().map(|&bin| wide(bin)).collect()
}

/// Mean power of a bin in the range of gains, from the silence after each step.
fn floor(windows: &[Vec<f32>], references: &References) -> f64 {
    let silent = references.silent();
    let size = silent.len();
    let forward = RealFftPlanner::<f32>::new().plan_fft_forward(size);
    let mut spectrum = forward.make_output_vec();
    let hann: Vec<f32> =
        (0..size).map(|n| (0.5 - 0.5 * (TAU * n as f64 / size as f64).cos()) as f32).collect();
    let power: f64 = hann.iter().map(|&w| f64::from(w).powi(2)).sum();
    let bin = |hz: f64| (hz * size as f64 / references.rate_hz).round() as usize;
    let range = bin(GAIN_RANGE_HZ.0)..bin(GAIN_RANGE_HZ.1);
    let mut sum = 0.0;
    for window in windows {
        let mut time: Vec<f32> =
            window[silent.clone()].iter().zip(&hann).map(|(x, w)| x * w).collect();
        // Lengths come from the plan, so the transform cannot refuse them.
        let _ = forward.process(&mut time, &mut spectrum);
        sum += spectrum[range.clone()].iter().map(|bin| f64::from(bin.norm_sqr())).sum::<f64>();
    }
    sum / (windows.len() * range.len()) as f64 / power * references.size as f64
}
