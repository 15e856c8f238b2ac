//! How much silence a file can ask for.
//!
//! Gaps, lost packets and empty edits are numbers in a file, and a damaged number would be hours of
//! silence. What is granted follows the bytes that there are.

use ledgerline_measure::settings::HIGHEST_RATE_HZ;

/// What any file is granted, in seconds.
const ANY_S: u64 = 10;

/// A second of silence for so many bytes. A track of sound takes more even where it is silent: no
/// codec of music goes down to 1 kbit/s.
const BYTES_A_SECOND: u64 = 125;

/// Nothing is measured at a higher rate: a header that states one is damaged, and its seconds are not
/// believed.
pub(super) const MOST_RATE_HZ: u32 = HIGHEST_RATE_HZ as u32;

/// The longest silence, in seconds, that a file of so many bytes can ask for.
pub(super) fn most_s(file_bytes: u64) -> u64 {
    ANY_S + file_bytes / BYTES_A_SECOND
}

/// What a track may still ask for.
#[derive(Debug)]
pub(super) struct Allowance {
    rate_hz: u64,
    left_frames: u64,
    /// Bytes that are not a whole second yet.
    bytes: u64,
}

impl Allowance {
    /// For a track at that rate, in a file of so many bytes; 0 where only its packets will tell.
    pub(super) fn new(rate_hz: u32, file_bytes: u64) -> Self {
        let rate_hz = u64::from(rate_hz.min(MOST_RATE_HZ));
        Self { rate_hz, left_frames: most_s(file_bytes).saturating_mul(rate_hz), bytes: 0 }
    }

    /// A packet of so many bytes came.
    pub(super) fn earn(&mut self, bytes: usize) {
        self.bytes += bytes as u64;
        let seconds = self.bytes / BYTES_A_SECOND;
        self.bytes %= BYTES_A_SECOND;
        self.left_frames = self.left_frames.saturating_add(seconds * self.rate_hz);
    }

    /// All of what is asked for, or nothing.
    pub(super) fn grant(&mut self, frames: u64) -> u64 {
        match self.left_frames.checked_sub(frames) {
            Some(left) => {
                self.left_frames = left;
                frames
            }
            None => 0,
        }
    }
}
