//! WAV files for tests, written as 32-bit float, the very samples whatever their level, or as words.

use std::io;
use std::path::Path;

use hound::{SampleFormat, WavReader, WavSpec, WavWriter};

use crate::memory::Memory;

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

/// Writes channels of one length, of which a channel mask (`WAVEFORMATEXTENSIBLE`) says whose
/// loudspeakers they are.
///
/// # Panics
///
/// When the file cannot be written.
pub fn write_for_speakers(path: &str, rate_hz: u32, mask: u32, channels: &[&[f32]]) {
    /// Where the format's tag and its mask stand in a file that begins with the format.
    const TAG: std::ops::Range<usize> = 20..22;
    const MASK: std::ops::Range<usize> = 40..44;
    write(path, rate_hz, channels);
    let mut bytes = std::fs::read(path).expect("the file just written");
    assert_eq!(bytes[TAG], 0xfffe_u16.to_le_bytes(), "a format with a mask");
    bytes[MASK].copy_from_slice(&mask.to_le_bytes());
    std::fs::write(path, bytes).expect("room");
}

/// The samples of a file of integers, channels in turn, full scale being 1.
///
/// # Panics
///
/// When the file cannot be read.
#[must_use]
pub fn read(path: &str) -> Vec<f32> {
    let mut reader = WavReader::open(path).expect("a WAV file");
    let scale = (1i64 << (reader.spec().bits_per_sample - 1)) as f32;
    reader.samples::<i32>().map(|x| x.expect("a sample") as f32 / scale).collect()
}

/// Writes samples as integers of so many bits, rounded where they are finer, cut off at full scale.
///
/// # Errors
///
/// When the file cannot be written.
pub fn write_words(path: &Path, bits: u16, sound: &Memory) -> io::Result<()> {
    let spec = WavSpec {
        channels: u16::try_from(sound.channels.len()).expect("a number of channels"),
        sample_rate: sound.rate_hz,
        bits_per_sample: bits,
        sample_format: SampleFormat::Int,
    };
    let steps = 2f64.powi(i32::from(bits) - 1);
    let mut writer = WavWriter::create(path, spec).map_err(io::Error::other)?;
    for frame in 0..sound.frames() {
        for channel in &sound.channels {
            let word = (channel[frame] * steps).round().clamp(-steps, steps - 1.0) as i32;
            writer.write_sample(word).map_err(io::Error::other)?;
        }
    }
    writer.finalize().map_err(io::Error::other)
}
