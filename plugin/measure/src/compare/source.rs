//! Where the samples of a comparison come from, and what can go wrong.

use crate::channel::ChannelRole;
use crate::settings::SettingsError;

/// A file, or anything else that plays the same samples each time it is rewound.
pub trait Source: Send {
    /// Why it cannot be read.
    type Error: Send;

    /// Sample rate, in Hz.
    fn rate_hz(&self) -> u32;

    /// Channels of every block.
    fn channels(&self) -> usize;

    /// Bits a sample that are stated; `None` for floating point and lossy coding.
    fn bits(&self) -> Option<u32>;

    /// What each channel is for, as far as the loudness of all together needs it.
    fn roles(&self) -> Vec<ChannelRole> {
        match self.channels() {
            1 => vec![ChannelRole::Center],
            2 => vec![ChannelRole::Left, ChannelRole::Right],
            more => vec![ChannelRole::Other; more],
        }
    }

    /// Goes back to the first frame.
    ///
    /// # Errors
    ///
    /// When the source cannot play twice.
    fn rewind(&mut self) -> Result<(), Self::Error>;

    /// Fills `block[channel]` with the next frames, 1.0 being full scale: any number of them, the
    /// same for all channels. False at the end.
    ///
    /// # Errors
    ///
    /// When the source cannot be read any further.
    fn read(&mut self, block: &mut Vec<Vec<f64>>) -> Result<bool, Self::Error>;
}

/// Why two files could not be compared at all. That they do not match is no error.
#[derive(Debug, Clone, PartialEq)]
pub enum CompareError<E> {
    /// The mix could not be read.
    Mix(E),
    /// The export could not be read.
    Export(E),
    /// The mix has no channels, or no sample rate.
    EmptyMix,
    /// The export has no channels, or no sample rate.
    EmptyExport,
    /// The edges of the audible band cannot be measured.
    Settings(SettingsError),
}

impl<E: std::fmt::Display> std::fmt::Display for CompareError<E> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Mix(error) | Self::Export(error) => write!(f, "{error}"),
            Self::EmptyMix => write!(f, "the mix has no channels or no sample rate"),
            Self::EmptyExport => write!(f, "the export has no channels or no sample rate"),
            Self::Settings(error) => write!(f, "{error}"),
        }
    }
}

impl<E: std::error::Error + 'static> std::error::Error for CompareError<E> {}
