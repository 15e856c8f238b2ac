//! The samples of a whole file in memory, so that it is decoded once, and any thread can play it.

/// Most that is held of one of the two files, in bytes: some 11 minutes of stereo at
/// 48 kHz. Longer files are read again each time that they are played.
const MOST_BYTES: usize = 256 << 20;

/// A file's samples, cleaned, by channel.
pub(in crate::compare) struct Held {
    channels: Vec<Vec<f32>>,
}

impl Held {
    pub(super) fn new(channels: usize) -> Self {
        Self { channels: vec![Vec::new(); channels] }
    }

    /// The same with a block more; `None` where that would be too much to hold, or where a sample needs
    /// more than single precision.
    pub(super) fn with(mut self, block: &[Vec<f64>], frames: usize) -> Option<Self> {
        let known = self.channels.first().map_or(0, Vec::len);
        let bytes = (known + frames) * self.channels.len() * size_of::<f32>();
        let is_single = |channel: &Vec<f64>| {
            channel[..frames].iter().all(|&sample| f64::from(sample as f32) == sample)
        };
        if bytes > MOST_BYTES || !block.iter().take(self.channels.len()).all(is_single) {
            return None;
        }
        for (held, block) in self.channels.iter_mut().zip(block) {
            held.extend(block[..frames].iter().map(|&sample| sample as f32));
        }
        Some(self)
    }

    pub(super) fn channels(&self) -> usize {
        self.channels.len()
    }

    /// Copies a stretch of a channel; silence before and behind the file.
    pub(super) fn copy(&self, channel: usize, first: i64, out: &mut [f64]) {
        let held = &self.channels[channel];
        let skip = usize::try_from(-first).unwrap_or(0).min(out.len());
        let from = usize::try_from(first).unwrap_or(0).min(held.len());
        let count = (out.len() - skip).min(held.len() - from);
        let (before, rest) = out.split_at_mut(skip);
        let (inside, behind) = rest.split_at_mut(count);
        before.fill(0.0);
        for (out, sample) in inside.iter_mut().zip(&held[from..]) {
            *out = f64::from(*sample);
        }
        behind.fill(0.0);
    }
}
