//! WAV files out.

use std::path::Path;

use anyhow::{Context, Result};
use hound::{SampleFormat, WavSpec, WavWriter};

/// Writes channels of equal length: integers, or floating point at 32 bits.
///
/// Integers are rounded without dither, so that a sound and its opposite stay exact opposites.
pub(super) fn write(path: &Path, rate_hz: u32, bits: u16, channels: &[&[f32]]) -> Result<()> {
    let spec = WavSpec {
        channels: u16::try_from(channels.len())?,
        sample_rate: rate_hz,
        bits_per_sample: bits,
        sample_format: if bits == 32 { SampleFormat::Float } else { SampleFormat::Int },
    };
    let fail = || format!("{} cannot be written", path.display());
    let mut writer = WavWriter::create(path, spec).with_context(fail)?;
    let scale = f64::from((1i32 << (bits.min(24) - 1)) - 1);
    for frame in 0..channels[0].len() {
        for channel in channels {
            let sample = channel[frame];
            let written = if bits == 32 {
                writer.write_sample(sample)
            } else {
                writer.write_sample((f64::from(sample) * scale).round() as i32)
            };
            written.with_context(fail)?;
        }
    }
    writer.finalize().with_context(fail)
}
