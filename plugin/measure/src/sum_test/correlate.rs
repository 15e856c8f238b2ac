//! A matched filter: where a known sound lies in a recording, by overlap-save convolution.

use std::ops::Range;

use realfft::RealFftPlanner;
use realfft::num_complex::Complex32;

use crate::biquad::{Lanes, butterworth4};

/// Hum and rumble below are taken away before anything is compared, in Hz.
const HIGH_PASS_HZ: f64 = 200.0;
/// Least likeness (normalised correlation) of a find. Noise of a marker's length reaches 0.04,
/// other parts of the test 0.15; a marker in noise four times its power still reaches 0.45.
const LEAST_LIKENESS: f64 = 0.3;
/// Mean power below which a stretch counts as silence.
const SILENCE_POWER: f64 = 1e-13;

/// One place where a template was found.
#[derive(Debug, Clone, Copy)]
pub(super) struct Find {
    /// Where it begins, in frames.
    pub frames: f64,
    /// Normalised correlation: 1 is a perfect match, −1 one of opposite polarity.
    pub likeness: f64,
}

/// The signal without what lies below the sweep.
fn without_rumble(signal: &[f32], rate_hz: f64) -> Vec<f32> {
    let mut stages = butterworth4(rate_hz, HIGH_PASS_HZ).map(|(high, _)| Lanes::new([high; 4]));
    let mut output = Vec::with_capacity(signal.len());
    for chunk in signal.chunks(64) {
        for &sample in chunk {
            let filtered = stages.iter_mut().fold([f64::from(sample); 4], |x, s| s.process(x));
            output.push(filtered[0] as f32);
        }
        stages.iter_mut().for_each(Lanes::settle);
    }
    output
}

/// Finds every place of each template, in the order of time. Templates have one length.
pub(super) fn find(signal: &[f32], templates: &[Vec<f32>; 2], rate_hz: f64) -> [Vec<Find>; 2] {
    let length = templates[0].len();
    let size = (4 * length).next_power_of_two();
    let hop = size - length;
    let mut planner = RealFftPlanner::<f32>::new();
    let (forward, inverse) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let mut spectrum = forward.make_output_vec();
    let mut time = forward.make_input_vec();
    let mut template_power = 0.0;
    let matched = templates.each_ref().map(|template| {
        let filtered = without_rumble(template, rate_hz);
        template_power = filtered.iter().map(|&x| f64::from(x).powi(2)).sum();
        time.fill(0.0);
        time[..length].copy_from_slice(&filtered);
        // Lengths come from the plan, so the transform cannot refuse them.
        let _ = forward.process(&mut time, &mut spectrum);
        spectrum.iter().map(|bin| bin.conj() / size as f32).collect::<Vec<Complex32>>()
    });
    let signal = without_rumble(signal, rate_hz);
    let mut powers = WindowPowers::new(&signal, length);
    let mut block_powers = Vec::with_capacity(hop);
    let mut finds = [Vec::new(), Vec::new()];
    let mut product = inverse.make_input_vec();
    let mut block_spectrum = forward.make_output_vec();
    for first in (0..signal.len()).step_by(hop) {
        copy_block(&signal, first..first + size, &mut time);
        let _ = forward.process(&mut time, &mut block_spectrum);
        let end = (first + hop).min(signal.len());
        block_powers.clear();
        block_powers.extend(powers.by_ref().take(end - first));
        for (matched, finds) in matched.iter().zip(&mut finds) {
            for ((product, bin), weight) in product.iter_mut().zip(&block_spectrum).zip(matched) {
                *product = bin * weight;
            }
            // The product of two real signals' bins at 0 and half the rate is real.
            product[0].im = 0.0;
            product[size / 2].im = 0.0;
            let _ = inverse.process(&mut product, &mut time);
            for ((frames, &product), &power) in (first..end).zip(&time).zip(&block_powers) {
                let product = f64::from(product);
                // Squares, so that the millions that are no find cost no root.
                let least = LEAST_LIKENESS * LEAST_LIKENESS * power * template_power;
                if product * product >= least && power >= SILENCE_POWER * length as f64 {
                    let likeness = product / (power * template_power).sqrt();
                    keep(finds, Find { frames: frames as f64, likeness }, length as f64 / 2.0);
                }
            }
        }
    }
    finds
}

/// Sum of squares of the `length` samples from each sample on, in turn.
struct WindowPowers<'a> {
    signal: &'a [f32],
    length: usize,
    index: usize,
    sum: f64,
}

impl<'a> WindowPowers<'a> {
    fn new(signal: &'a [f32], length: usize) -> Self {
        let first = &signal[..length.min(signal.len())];
        let sum = first.iter().map(|&x| f64::from(x).powi(2)).sum();
        Self { signal, length, index: 0, sum }
    }
}

impl Iterator for WindowPowers<'_> {
    type Item = f64;

    fn next(&mut self) -> Option<f64> {
        let square = |x: f32| f64::from(x) * f64::from(x);
        let leaving = square(*self.signal.get(self.index)?);
        let entering = self.signal.get(self.index + self.length).map_or(0.0, |&x| square(x));
        let power = self.sum.max(0.0);
        self.sum += entering - leaving;
        self.index += 1;
        Some(power)
    }
}

fn copy_block(signal: &[f32], range: Range<usize>, block: &mut [f32]) {
    block.fill(0.0);
    let part = &signal[range.start..range.end.min(signal.len())];
    block[..part.len()].copy_from_slice(part);
}

/// Keeps the best find of each neighbourhood.
fn keep(finds: &mut Vec<Find>, find: Find, apart_frames: f64) {
    match finds.last_mut() {
        Some(last) if find.frames - last.frames < apart_frames => {
            if find.likeness.abs() > last.likeness.abs() {
                *last = find;
            }
        }
        _ => finds.push(find),
    }
}

#[cfg(test)]
mod tests;
