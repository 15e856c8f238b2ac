//! Two channels of one length: what a stereo bus, or two halves, carry.

/// Two channels of one length at one sample rate.
#[derive(Debug, Clone, PartialEq)]
pub struct Stereo {
    /// Sample rate, in Hz.
    pub rate_hz: f64,
    /// Left channel, or half A.
    pub left: Vec<f32>,
    /// Right channel, or half B.
    pub right: Vec<f32>,
}

impl Stereo {
    /// Two channels; the shorter one is padded with silence.
    #[must_use]
    pub fn new(rate_hz: f64, mut left: Vec<f32>, mut right: Vec<f32>) -> Self {
        let length = left.len().max(right.len());
        left.resize(length, 0.0);
        right.resize(length, 0.0);
        Self { rate_hz, left, right }
    }

    /// The same signal in both channels.
    #[must_use]
    pub fn both(rate_hz: f64, channel: Vec<f32>) -> Self {
        Self { rate_hz, right: channel.clone(), left: channel }
    }

    /// The two channels as the block that a meter takes.
    #[must_use]
    pub fn channels(&self) -> [&[f32]; 2] {
        [&self.left, &self.right]
    }

    /// Length in frames.
    #[must_use]
    pub fn frames(&self) -> usize {
        self.left.len()
    }

    /// The largest magnitude of a sample in either channel.
    #[must_use]
    pub fn peak(&self) -> f32 {
        self.left.iter().chain(&self.right).fold(0.0, |peak, x| x.abs().max(peak))
    }

    /// Both channels, cut to the frames of `range`.
    #[must_use]
    pub fn cut(&self, range: std::ops::Range<usize>) -> Self {
        Self {
            rate_hz: self.rate_hz,
            left: self.left[range.clone()].to_vec(),
            right: self.right[range].to_vec(),
        }
    }
}
