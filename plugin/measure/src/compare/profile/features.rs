//! Features by which a programme is recognised: the energy of all channels in four bands, two
//! hundred times a second, as a logarithm and against its own mean over two seconds.
//!
//! They survive gain, polarity, swapped and folded channels, limiters, filters and lossy coding.

use crate::biquad::{Biquad, Lanes};

/// Hops a second.
pub(in crate::compare) const HOPS_A_SECOND: f64 = 200.0;
/// Bands.
pub(in crate::compare) const FEATURE_BANDS: usize = 4;
/// Middles of the bands, in Hz; the highest comes down where a rate does not reach it.
const MIDDLES_HZ: [f64; FEATURE_BANDS] = [150.0, 600.0, 2_000.0, 6_000.0];
/// Share of the lowest rate that a band may lie at.
const HIGHEST_SHARE: f64 = 0.3;
/// Energy, against the band's mean, below which nothing is told apart.
const FLOOR_SHARE: f64 = 1e-4;
/// Hops on either side over which the mean is taken away.
const MEAN_HOPS: usize = 200;

/// The features of a file.
#[derive(Debug, Clone, Default)]
pub(in crate::compare) struct Features {
    /// By band and hop.
    pub bands: [Vec<f32>; FEATURE_BANDS],
    /// Mean square of all channels together, by hop.
    pub power: Vec<f32>,
}

impl Features {
    pub fn hops(&self) -> usize {
        self.power.len()
    }
}

/// Gathers them.
pub(super) struct FeatureBook {
    hop_frames: f64,
    /// By channel: one lane a band.
    filters: Vec<Lanes>,
    energies: [f64; FEATURE_BANDS],
    power: f64,
    frames: u64,
    /// Frame at which the open hop ends.
    hop_end: u64,
    hops: u64,
    bands: [Vec<f32>; FEATURE_BANDS],
    powers: Vec<f32>,
}

impl FeatureBook {
    pub fn new(rate_hz: f64, lowest_rate_hz: f64, channels: usize) -> Self {
        let filter =
            MIDDLES_HZ.map(|hz| band_pass(rate_hz, hz.min(HIGHEST_SHARE * lowest_rate_hz)));
        let hop_frames = rate_hz / HOPS_A_SECOND;
        Self {
            hop_frames,
            filters: vec![Lanes::new(filter); channels],
            energies: [0.0; FEATURE_BANDS],
            power: 0.0,
            frames: 0,
            hop_end: hop_frames.round() as u64,
            hops: 0,
            bands: Default::default(),
            powers: Vec::new(),
        }
    }

    pub fn take(&mut self, chunk: &[Vec<f64>]) {
        let count = chunk.first().map_or(0, Vec::len);
        let mut start = 0;
        while start < count {
            let end = count.min(start + (self.hop_end - self.frames) as usize);
            for (channel, filter) in chunk.iter().zip(&mut self.filters) {
                for &sample in &channel[start..end] {
                    let bands = filter.process([sample; FEATURE_BANDS]);
                    for (energy, band) in self.energies.iter_mut().zip(bands) {
                        *energy += band * band;
                    }
                    self.power += sample * sample;
                }
                filter.settle();
            }
            self.frames += (end - start) as u64;
            start = end;
            if self.frames == self.hop_end {
                self.end_hop();
            }
        }
    }

    fn end_hop(&mut self) {
        for (band, energy) in self.bands.iter_mut().zip(&mut self.energies) {
            band.push((*energy / self.hop_frames) as f32);
            *energy = 0.0;
        }
        self.powers.push((self.power / self.hop_frames) as f32);
        self.power = 0.0;
        self.hops += 1;
        // At least a frame, whatever the rate.
        let end = ((self.hops + 1) as f64 * self.hop_frames).round() as u64;
        self.hop_end = end.max(self.frames + 1);
    }

    pub fn finish(mut self) -> Features {
        self.bands.iter_mut().for_each(|band| flatten(band));
        Features { bands: self.bands, power: self.powers }
    }
}

/// Logarithms of the energies, less their mean around.
fn flatten(band: &mut [f32]) {
    let mean = band.iter().map(|&x| f64::from(x)).sum::<f64>() / band.len().max(1) as f64;
    if mean <= 0.0 {
        band.fill(0.0);
        return;
    }
    let floor = FLOOR_SHARE * mean;
    for x in band.iter_mut() {
        *x = ((f64::from(*x) + floor) / mean).ln() as f32;
    }
    let mut sums = Vec::with_capacity(band.len() + 1);
    let mut sum = 0.0;
    sums.push(0.0);
    for &x in band.iter() {
        sum += f64::from(x);
        sums.push(sum);
    }
    let length = band.len();
    for (hop, x) in band.iter_mut().enumerate() {
        let (from, to) = (hop.saturating_sub(MEAN_HOPS), (hop + MEAN_HOPS + 1).min(length));
        *x -= ((sums[to] - sums[from]) / (to - from) as f64) as f32;
    }
}

/// A band-pass, about two octaves wide (bilinear transform of a second-order resonance).
fn band_pass(rate_hz: f64, hz: f64) -> Biquad {
    const DAMPING: f64 = 1.5;
    let k = (std::f64::consts::PI * hz / rate_hz).tan();
    let norm = 1.0 / (1.0 + DAMPING * k + k * k);
    Biquad {
        b: [DAMPING * k * norm, 0.0, -DAMPING * k * norm],
        a: [2.0 * (k * k - 1.0) * norm, (1.0 - DAMPING * k + k * k) * norm],
    }
}
