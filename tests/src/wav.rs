//! WAV files for tests, 32-bit float: the very samples, whatever their level.

use hound::{SampleFormat, WavSpec, WavWriter};

/// Writes channels of one length.
///
/// # Panics
///
/// When the file cannot be written.
pub fn write(path: &str, rate_hz: u32, channels: &[&[f32]]) {
    let spec = WavSpec {
        channels: u16::try_from(channels.len()).expect("a number of channels"),
        sample_rate: rate_hz,
        bits_per_sample: 32,
        sample_format: SampleFormat::Float,
    };
    let mut writer = WavWriter::create(path, spec).expect("a file");
    for frame in 0..channels.first().map_or(0, |channel| channel.len()) {
        for channel in channels {
            writer.write_sample(channel[frame]).expect("room");
        }
    }
    writer.finalize().expect("room");
}
