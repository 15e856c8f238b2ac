//! What a channel of a bus is for, and what it weighs in the loudness of the bus.

/// The most channels that a bus can have.
pub const MOST_CHANNELS: usize = 64;

/// Where a channel is heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ChannelRole {
    /// Front left.
    Left,
    /// Front right.
    Right,
    /// Front centre.
    Center,
    /// Low-frequency effects.
    LowFrequency,
    /// A surround channel at ear height, to the side or half behind: 60° to 120° off the front.
    Surround,
    /// Any other position, or none that is known.
    Other,
}

impl ChannelRole {
    /// Weight of the channel's power in the loudness of a bus of three channels or more: ITU-R
    /// BS.1770-5, Annex 1, Table 3, and for other positions Annex 3, Table 4. The low-frequency
    /// channel is left out.
    #[must_use]
    pub fn loudness_weight(self) -> f64 {
        match self {
            Self::Left | Self::Right | Self::Center | Self::Other => 1.0,
            Self::LowFrequency => 0.0,
            Self::Surround => 1.41,
        }
    }
}
