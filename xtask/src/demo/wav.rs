//! Writes what was played, as 32-bit float WAV: the very samples, whatever their level.

use std::path::Path;

use anyhow::{Context, Result};
use hound::{SampleFormat, WavSpec, WavWriter};
use ledgerline_tests::signals::Stereo;

/// Writes a stereo file.
///
/// # Errors
///
/// When the file cannot be written.
pub fn write(path: &Path, track: &Stereo) -> Result<()> {
    let spec = WavSpec {
        channels: 2,
        sample_rate: track.rate_hz as u32,
        bits_per_sample: 32,
        sample_format: SampleFormat::Float,
    };
    let written = || -> hound::Result<()> {
        let mut writer = WavWriter::create(path, spec)?;
        for (left, right) in track.left.iter().zip(&track.right) {
            writer.write_sample(*left)?;
            writer.write_sample(*right)?;
        }
        writer.finalize()
    };
    written().with_context(|| format!("{} cannot be written", path.display()))
}
