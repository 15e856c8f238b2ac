//! Whether the gain stands still while the test plays: the bus over short blocks of time.
//!
//! Blocks are compared with the same blocks of other steps, which a bus that is linear and does not
//! change made in the same way, and those of step 1 with its own smoothed path, which would show a
//! change that comes round with the steps.

use realfft::num_complex::Complex32;

use super::GAIN_RANGE_HZ;
use super::references::References;
use crate::sum_test::schedule::FADE_S;

/// Length of a block, in seconds.
const BLOCK_S: f64 = 0.05;
/// A median of magnitudes is this share of a normal distribution's standard deviation.
const MEDIAN_OF_NORMAL: f64 = 0.674_5;
/// 20·log10(e): decibels of a small relative error of an amplitude.
const DB_PER_AMPLITUDE: f64 = 8.685_889_638;

/// How a gain moves from block to block.
#[derive(Debug, Clone, Copy)]
pub(in crate::sum_test) struct Unsteadiness {
    /// Standard deviation, in dB. From the median, so that one torn place does not count.
    pub deviation_db: f64,
    /// What noise makes of it, in dB.
    pub error_db: f64,
}

/// Compares what was heard with what it should be up to a gain, block by block, over the range of
/// gains: above it, interpolation between two clocks comes and goes.
pub(super) fn unsteadiness(
    heard: &[Complex32],
    known: &[Complex32],
    references: &References,
) -> Unsteadiness {
    let range = references.bins(GAIN_RANGE_HZ);
    let in_range = |spectrum: &[Complex32]| {
        let mut part = vec![Complex32::default(); spectrum.len()];
        part[range.clone()].copy_from_slice(&spectrum[range.clone()]);
        references.waveform(&part)
    };
    let (heard, known) = (in_range(heard), in_range(known));
    let independent = range.len() as f64 / heard.len() as f64 * 2.0;
    let frames = |s: f64| (s * references.rate_hz) as usize;
    let first = references.lead_frames as usize + frames(FADE_S);
    let last = references.lead_frames as usize + references.step_frames - frames(FADE_S);
    let length = frames(BLOCK_S);
    let dot = |x: &[f32], y: &[f32]| -> f64 {
        x.iter().zip(y).map(|(x, y)| f64::from(*x) * f64::from(*y)).sum()
    };
    let (mut gains, mut errors) = (Vec::new(), Vec::new());
    for start in (first..last.saturating_sub(length)).step_by(length) {
        let (x, y) = (&known[start..start + length], &heard[start..start + length]);
        let (xx, xy, yy) = (dot(x, x), dot(x, y), dot(y, y));
        let gain = xy / xx;
        gains.push(gain);
        let left = (yy - gain * xy).max(0.0);
        errors.push((left / yy / (independent * length as f64)).sqrt());
    }
    let middle = median(gains.clone());
    let apart = median(gains.iter().map(|gain| (gain / middle - 1.0).abs()).collect());
    Unsteadiness {
        deviation_db: DB_PER_AMPLITUDE * apart / MEDIAN_OF_NORMAL,
        error_db: DB_PER_AMPLITUDE * median(errors),
    }
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}
