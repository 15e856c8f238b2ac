//! A source of samples for comparisons that plays from memory.

use std::convert::Infallible;

use ledgerline_measure::compare::Source;

/// Frames of a block: odd on purpose, so that no reader can lean on a round number.
const BLOCK_FRAMES: usize = 4_099;

/// Samples that play as often as they are asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Memory {
    /// Sample rate, in Hz.
    pub rate_hz: u32,
    /// Bits that are stated.
    pub bits: Option<u32>,
    /// `[channel][frame]`, 1.0 being full scale.
    pub channels: Vec<Vec<f64>>,
    position: usize,
}

impl Memory {
    /// Samples without stated bits.
    #[must_use]
    pub fn new(rate_hz: u32, channels: Vec<Vec<f64>>) -> Self {
        Self { rate_hz, bits: None, channels, position: 0 }
    }

    /// Frames.
    #[must_use]
    pub fn frames(&self) -> usize {
        self.channels.first().map_or(0, Vec::len)
    }

    /// The same with every channel put through `change`.
    #[must_use]
    pub fn each(&self, change: impl Fn(&[f64]) -> Vec<f64>) -> Self {
        let channels = self.channels.iter().map(|channel| change(channel)).collect();
        Self { channels, ..self.clone() }
    }

    /// The same with every sample put through `change`.
    #[must_use]
    pub fn map(&self, change: impl Fn(f64) -> f64) -> Self {
        self.each(|channel| channel.iter().map(|&x| change(x)).collect())
    }

    /// The same with stated bits.
    #[must_use]
    pub fn stated(&self, bits: u32) -> Self {
        Self { bits: Some(bits), ..self.clone() }
    }

    /// The same with other channels.
    #[must_use]
    pub fn with(&self, channels: Vec<Vec<f64>>) -> Self {
        Self { channels, ..self.clone() }
    }
}

impl Source for Memory {
    type Error = Infallible;

    fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    fn channels(&self) -> usize {
        self.channels.len()
    }

    fn bits(&self) -> Option<u32> {
        self.bits
    }

    fn rewind(&mut self) -> Result<(), Infallible> {
        self.position = 0;
        Ok(())
    }

    fn read(&mut self, block: &mut Vec<Vec<f64>>) -> Result<bool, Infallible> {
        let end = (self.position + BLOCK_FRAMES).min(self.frames());
        let range = self.position..end;
        self.position = end;
        block.resize(self.channels.len(), Vec::new());
        for (block, channel) in block.iter_mut().zip(&self.channels) {
            block.clear();
            block.extend_from_slice(&channel[range.clone()]);
        }
        Ok(!range.is_empty())
    }
}
