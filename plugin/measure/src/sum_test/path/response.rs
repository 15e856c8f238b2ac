//! One path: gain, delay and response, from cross-spectra averaged in bands.

use std::f64::consts::TAU;

use realfft::num_complex::{Complex32, Complex64};

use super::GAIN_RANGE_HZ;
use super::references::References;
use super::turns::Turns;

/// Width of the bands in which a response is taken, in Hz.
const BAND_HZ: f64 = 250.0;

/// The way from one signal to another.
#[derive(Debug, Clone)]
pub(in crate::sum_test) struct Path {
    /// Linear gain in the range that every mixer passes, each band weighted by the power in it;
    /// negative if the polarity is turned.
    pub gain: f64,
    /// How late it comes, in frames.
    pub delay_frames: f64,
    /// Response in bands of `band_bins` bins, without the whole frames of delay.
    bands: Vec<Complex64>,
    band_bins: usize,
    whole_delay: f64,
}

impl Path {
    /// The path from `known` to `heard`. The `instrument` is another take of what is known, whose
    /// noise is its own, so that noise does not pass for gain: `known` itself where that has none.
    pub fn fit(
        instrument: &[Complex32],
        known: &[Complex32],
        heard: &[Complex32],
        references: &References,
    ) -> Self {
        let size = references.size;
        let cross: Vec<Complex32> =
            instrument.iter().zip(heard).map(|(take, heard)| take.conj() * heard).collect();
        let whole_delay = peak_lag(&cross, references);
        let band_bins = references.bins_in(BAND_HZ);
        let (mut products, mut powers): (Vec<Complex64>, Vec<Complex64>) = (0..known.len()
            / band_bins)
            .map(|band| {
                let range = band * band_bins..(band + 1) * band_bins;
                let (mut product, mut power) = (Complex64::default(), Complex64::default());
                for (bin, turn) in range.clone().zip(Turns::new(range.start, -whole_delay, size)) {
                    product += wide(cross[bin]) * turn;
                    power += wide(instrument[bin].conj() * known[bin]);
                }
                (product, power)
            })
            .unzip();
        let centre_bin = |band: usize| (band as f64 + 0.5) * band_bins as f64 - 0.5;
        let range = references.bins(GAIN_RANGE_HZ);
        let used: Vec<usize> = (0..products.len())
            .filter(|&band| (range.start as f64..range.end as f64).contains(&centre_bin(band)))
            .collect();
        let omega = |band: usize| TAU * centre_bin(band) / size as f64;
        let fitted = |products: &[Complex64]| -> Vec<(f64, Complex64)> {
            used.iter().map(|&band| (omega(band), products[band])).collect()
        };
        // By how much the instrument is early against what is known: clocks are not exact.
        let early = part_of_a_frame(&fitted(&powers));
        for (band, (product, power)) in products.iter_mut().zip(&mut powers).enumerate() {
            let turn = Complex64::from_polar(1.0, omega(band) * early);
            (*product, *power) = (*product * turn, *power * turn);
        }
        let fitted = fitted(&products);
        let part = part_of_a_frame(&fitted);
        let product: Complex64 = fitted
            .iter()
            .map(|(omega, product)| product * Complex64::from_polar(1.0, omega * part))
            .sum();
        let power: f64 = used.iter().map(|&band| powers[band].re).sum();
        Self {
            gain: product.re / power,
            delay_frames: whole_delay + part,
            bands: products
                .iter()
                .zip(&powers)
                .map(|(product, power)| product / power.re)
                .collect(),
            band_bins,
            whole_delay,
        }
    }

    /// The response at a bin, without the whole frames of delay.
    fn response(&self, bin: usize) -> Complex64 {
        let place = (bin as f64 + 0.5) / self.band_bins as f64 - 0.5;
        let last = self.bands.len() - 1;
        let low = place.max(0.0).min(last as f64);
        let (near, share) = (low as usize, low.fract());
        self.bands[near] * (1.0 - share) + self.bands[(near + 1).min(last)] * share
    }

    /// What the path makes of a signal.
    pub fn applied(&self, known: &[Complex32], size: usize) -> Vec<Complex32> {
        let turns = Turns::new(0, self.whole_delay, size);
        let bins = known.iter().zip(turns).enumerate();
        bins.map(|(bin, (known, turn))| narrow(self.response(bin) * turn) * known).collect()
    }

    /// What the path does to a bin beside its gain.
    pub fn way(&self, size: usize) -> impl Iterator<Item = Complex64> {
        let whole = Turns::new(0, self.whole_delay, size).enumerate();
        whole.map(|(bin, turn)| self.response(bin) * turn / self.gain)
    }

    /// What a gain and a delay alone make of a bin, in a spectrum of `size` frames.
    pub fn plain(&self, first_bin: usize, size: usize) -> impl Iterator<Item = Complex64> {
        Turns::new(first_bin, self.delay_frames, size).map(|turn| turn * self.gain)
    }
}

/// The part of a frame by which the products of bands (each with its frequency in radians a frame)
/// are late, from the slope of their phases.
fn part_of_a_frame(products: &[(f64, Complex64)]) -> f64 {
    let mean: Complex64 = products.iter().map(|(_, product)| product).sum();
    let sign = if mean.re < 0.0 { -1.0 } else { 1.0 };
    let mut part = 0.0;
    // Each round takes the phase left by the one before, so that it never wraps.
    for _ in 0..4 {
        let (mut above, mut below) = (0.0, 0.0);
        for &(omega, product) in products {
            let left = sign * product * Complex64::from_polar(1.0, omega * part);
            above += left.norm_sqr() * omega * -left.arg();
            below += left.norm_sqr() * omega * omega;
        }
        if below > 0.0 {
            part += above / below;
        }
    }
    part
}

/// The lag, in whole frames, at which a cross-spectrum's correlation is largest.
fn peak_lag(cross: &[Complex32], references: &References) -> f64 {
    let correlation = references.waveform(cross);
    let size = references.size;
    let best = (0..size)
        .max_by(|&x, &y| correlation[x].abs().total_cmp(&correlation[y].abs()))
        .unwrap_or(0);
    if best > size / 2 { best as f64 - size as f64 } else { best as f64 }
}

/// A bin with the digits that sums of a hundred thousand of them need.
pub(super) fn wide(bin: Complex32) -> Complex64 {
    Complex64::new(bin.re.into(), bin.im.into())
}

pub(super) fn narrow(bin: Complex64) -> Complex32 {
    Complex32::new(bin.re as f32, bin.im as f32)
}
