//! WAV files in and out.

use std::path::Path;

use anyhow::{Context, Result, bail};
use hound::{SampleFormat, WavReader, WavSpec, WavWriter};

/// Samples of a file, a vector a channel, 1.0 being full scale.
pub(crate) struct Recording {
    pub rate_hz: u32,
    pub channels: Vec<Vec<f32>>,
}

/// Reads a whole file.
pub(crate) fn read(path: &Path) -> Result<Recording> {
    let mut reader = WavReader::open(path)
        .with_context(|| format!("{} cannot be read as a WAV file", path.display()))?;
    let spec = reader.spec();
    let samples: Result<Vec<f32>, hound::Error> = match spec.sample_format {
        SampleFormat::Float => reader.samples::<f32>().collect(),
        SampleFormat::Int => {
            let scale = 1.0 / (1i64 << (spec.bits_per_sample - 1)) as f64;
            reader
                .samples::<i32>()
                .map(|sample| sample.map(|sample| (f64::from(sample) * scale) as f32))
                .collect()
        }
    };
    let samples = samples.with_context(|| format!("{} breaks off", path.display()))?;
    let count = usize::from(spec.channels);
    if count == 0 {
        bail!("{} has no channels", path.display());
    }
    let channels = (0..count)
        .map(|channel| samples.iter().skip(channel).step_by(count).copied().collect())
        .collect();
    Ok(Recording { rate_hz: spec.sample_rate, channels })
}

/// Writes channels of equal length: integers, or floating point at 32 bits.
///
/// Integers are rounded without dither, so that a sound and its opposite stay exact opposites.
pub(crate) fn write(path: &Path, rate_hz: u32, bits: u16, channels: &[&[f32]]) -> Result<()> {
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
