//! How the channels of a recording, or of a bus, make the one signal that is judged.

/// Correlation above which the channels are one and the same bus.
const SAME_CHANNELS: f64 = 0.98;
/// Power ratio below which a channel counts as empty: 50 dB.
const EMPTY_CHANNEL: f64 = 1e-5;

/// Half of either channel.
pub(super) const MIDDLE: [f32; 2] = [0.5, 0.5];

/// Energies of left and right, and their product, over any stretch.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct ChannelEnergies {
    left: f64,
    right: f64,
    product: f64,
}

impl ChannelEnergies {
    /// Takes a frame.
    pub(super) fn push(&mut self, left: f32, right: f32) {
        let (left, right) = (f64::from(left), f64::from(right));
        self.left += left * left;
        self.right += right * right;
        self.product += left * right;
    }

    /// Gains of left and right in the signal that is judged: the channel that is not empty; half of
    /// either; or half their difference, where one comes with its polarity inverted.
    pub(super) fn gains(&self) -> [f32; 2] {
        let Self { left, right, product } = *self;
        if right < EMPTY_CHANNEL * left {
            [1.0, 0.0]
        } else if left < EMPTY_CHANNEL * right {
            [0.0, 1.0]
        } else if product < -SAME_CHANNELS * (left * right).sqrt() {
            [0.5, -0.5]
        } else {
            MIDDLE
        }
    }
}
