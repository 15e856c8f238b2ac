//! What charts draw: spectra by bands, and the course of gain and residual.
//!
//! Third-octave bands: IEC 61260-1:2014, base ten: mid-bands at `1000·10^(n/10)` Hz, edges a twentieth
//! of a decade to either side.

use crate::compare::pass::{Block, CrossSpectra};
use crate::compare::record::{SpectrumPoint, Third, TimePoint};
use crate::compare::spectra::MeanSpectrum;
use crate::level::Level;

/// Mid-bands of thirds: 25 Hz to 80 kHz.
const THIRDS: std::ops::RangeInclusive<i32> = -16..=19;
/// Bands of the spectra: 24 an octave, from 20 Hz.
const LOWEST_HZ: f64 = 20.0;
const BANDS_AN_OCTAVE: f64 = 24.0;
/// Points in time.
const MOST_POINTS: usize = 600;

/// Prediction, export and difference by third-octave; bands that reach past the end are left out.
pub(in crate::compare) fn thirds(spectra: &CrossSpectra) -> Vec<Third> {
    let end_hz = spectra.bin_hz * spectra.yy.len().saturating_sub(1) as f64;
    let half = 10f64.powf(0.05);
    let mid_bands = THIRDS.map(|n| 1_000.0 * 10f64.powf(f64::from(n) / 10.0));
    mid_bands
        .filter(|hz| hz / half < end_hz)
        .map(|hz| {
            let level = |powers: &[f64]| {
                Level::from_power(spectra.power(powers, hz / half, (hz * half).min(end_hz)))
            };
            Third {
                hz,
                mix_dbfs: level(&spectra.zz),
                export_dbfs: level(&spectra.yy),
                residual_dbfs: level(&spectra.ee),
            }
        })
        .collect()
}

/// The mean spectra of both files.
pub(in crate::compare) fn spectrum(
    mix: &MeanSpectrum,
    export: &MeanSpectrum,
) -> Vec<SpectrumPoint> {
    let end_hz = mix.end_hz().max(export.end_hz());
    let half = 2f64.powf(0.5 / BANDS_AN_OCTAVE);
    let bands = ((end_hz / LOWEST_HZ).log2() * BANDS_AN_OCTAVE).max(0.0) as usize;
    (0..bands)
        .map(|band| {
            let hz = LOWEST_HZ * 2f64.powf(band as f64 / BANDS_AN_OCTAVE);
            let level = |spectrum: &MeanSpectrum| {
                if hz > spectrum.end_hz() {
                    Level::NONE
                } else {
                    Level::from_power(spectrum.power(hz / half, hz * half))
                }
            };
            SpectrumPoint { hz, mix_dbfs: level(mix), export_dbfs: level(export) }
        })
        .collect()
}

/// Gain, export and difference over time, the blocks gathered into a few hundred points.
/// `channels` is that of the export, `gain` what the prediction has already.
pub(in crate::compare) fn time(
    blocks: &[Block],
    counts: &[bool],
    rate_hz: f64,
    channels: usize,
    gain: f64,
) -> Vec<TimePoint> {
    let width = blocks.len().div_ceil(MOST_POINTS).max(1);
    blocks
        .chunks(width)
        .zip(counts.chunks(width))
        .map(|(blocks, counts)| {
            let mut whole = Block { frame: blocks[0].frame, ..Block::default() };
            let mut counted = Block::default();
            for (block, counts) in blocks.iter().zip(counts) {
                add(&mut whole, block);
                if *counts {
                    add(&mut counted, block);
                }
            }
            let mean = |sum: f32, frames: u32| {
                Level::from_power(f64::from(sum) / (f64::from(frames) * channels as f64))
            };
            TimePoint {
                export_s: whole.frame as f64 / rate_hz,
                gain_db: counted.gain_db().map(|db| db + gain),
                export_dbfs: mean(whole.heard, whole.frames),
                residual_dbfs: if counted.frames == 0 {
                    Level::NONE
                } else {
                    mean(counted.left, counted.frames)
                },
            }
        })
        .collect()
}

fn add(sum: &mut Block, block: &Block) {
    sum.frames += block.frames;
    sum.zz += block.zz;
    sum.zy += block.zy;
    sum.yy += block.yy;
    sum.heard += block.heard;
    sum.predicted += block.predicted;
    sum.left += block.left;
    sum.peak = sum.peak.max(block.peak);
}
