//! The side-chain's samples of one block, on their way from the host to the plugin.

use crate::layouts::MOST_SIDE_CHANNELS;

/// A block of the side-chain. A channel that the host leaves out is silent.
#[derive(Default)]
pub struct SideChain {
    /// As long as the longest block.
    channels: Vec<Vec<f32>>,
    /// Frames of the block at hand.
    frames: usize,
    /// How many of them have been taken: hosts' blocks may be cut before they reach the plugin.
    taken: usize,
}

impl SideChain {
    /// Makes space for `channels` channels in blocks of up to `most_frames`. Allocates.
    pub fn prepare(&mut self, channels: usize, most_frames: usize) {
        let channels = channels.min(MOST_SIDE_CHANNELS);
        *self = Self { channels: vec![vec![0.0; most_frames]; channels], frames: 0, taken: 0 };
    }

    /// Copies a block of `frames`; `channel` gives the samples of a channel, or none where the host
    /// has none. Of a block that is longer than announced the rest is left out.
    pub fn put<'a>(&mut self, frames: usize, channel: impl Fn(usize) -> Option<&'a [f32]>) {
        self.frames = self.channels.iter().map(|own| frames.min(own.len())).min().unwrap_or(0);
        self.taken = 0;
        for (index, own) in self.channels.iter_mut().enumerate() {
            let own = &mut own[..self.frames];
            match channel(index).and_then(|given| given.get(..self.frames)) {
                Some(given) => own.copy_from_slice(given),
                None => own.fill(0.0),
            }
        }
    }

    /// The next `frames` of every channel, and how many channels there are.
    pub fn take(&mut self, frames: usize) -> ([&[f32]; MOST_SIDE_CHANNELS], usize) {
        let start = self.taken.min(self.frames);
        let end = self.frames.min(start.saturating_add(frames));
        self.taken = end;
        let mut pieces: [&[f32]; MOST_SIDE_CHANNELS] = Default::default();
        for (piece, own) in pieces.iter_mut().zip(&self.channels) {
            *piece = &own[start..end];
        }
        (pieces, self.channels.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_block_is_handed_on_in_pieces_and_a_missing_channel_is_silent() {
        let mut side_chain = SideChain::default();
        side_chain.prepare(2, 4);
        let given = [1.0, 2.0, 3.0, 4.0];
        side_chain.put(4, |channel| (channel == 0).then_some(&given[..]));
        assert_eq!(side_chain.take(1), ([&[1.0][..], &[0.0]], 2));
        assert_eq!(side_chain.take(3), ([&[2.0, 3.0, 4.0][..], &[0.0; 3]], 2));
        assert_eq!(side_chain.take(1), ([&[][..], &[]], 2), "nothing is left of the block");

        side_chain.put(2, |_| Some(&given[..2]));
        assert_eq!(side_chain.take(2), ([&[1.0, 2.0][..]; 2], 2));
    }

    #[test]
    fn a_block_longer_than_announced_is_cut_and_without_channels_there_is_nothing() {
        let mut side_chain = SideChain::default();
        side_chain.put(8, |_| None);
        assert_eq!(side_chain.take(8).1, 0);
        side_chain.prepare(1, 2);
        side_chain.put(4, |_| Some(&[1.0, 2.0, 3.0, 4.0]));
        assert_eq!(side_chain.take(4).0[0], &[1.0, 2.0]);
    }
}
