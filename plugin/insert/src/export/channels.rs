//! The channels that a host passes with a block, made safe to hand on. The framework (nice-plug
//! 0.4.2) counts on every channel that was announced; hosts leave some out.

use crate::host_link::HostLink;
use crate::layouts::MOST_CHANNELS;

/// The channels of one port during one block.
#[derive(Clone, Copy)]
pub(super) struct HostChannels {
    pointers: *const *mut f32,
    count: usize,
    frames: usize,
}

/// As many channels of the main input and output as were announced.
pub(super) struct MainChannels {
    pub(super) inputs: [*mut f32; MOST_CHANNELS],
    pub(super) outputs: [*mut f32; MOST_CHANNELS],
}

impl HostChannels {
    /// A port that the host has left out.
    pub(super) const NONE: Self = Self { pointers: std::ptr::null(), count: 0, frames: 0 };

    /// The channels at `pointers`.
    ///
    /// # Safety
    ///
    /// While this and what comes from it is used, `pointers` is null or leads to `count` pointers,
    /// each of which is null or leads to `frames` samples.
    pub(super) unsafe fn new(pointers: *const *mut f32, count: usize, frames: usize) -> Self {
        Self { pointers, count, frames }
    }

    /// Where a channel's samples are, if the host has passed it.
    fn channel(&self, index: usize) -> Option<*mut f32> {
        if self.pointers.is_null() || index >= self.count {
            return None;
        }
        // SAFETY: the array is there and long enough, as `new` was promised.
        let channel = unsafe { *self.pointers.add(index) };
        (!channel.is_null()).then_some(channel)
    }

    /// A channel's samples, if the host has passed it.
    fn samples(&self, index: usize) -> Option<&[f32]> {
        let channel = self.channel(index)?;
        // SAFETY: as many samples are there, as `new` was promised; nobody writes to an input
        // while its block is copied.
        Some(unsafe { std::slice::from_raw_parts(channel, self.frames) })
    }
}

/// Copies a block's side-chain to where the plugin takes it from.
pub(super) fn hand_over(link: &HostLink, side_chain: HostChannels, frames: usize) {
    if let Some(mut shared) = link.side_chain_at_once() {
        shared.put(frames, |channel| side_chain.samples(channel));
    }
}

/// `channels` channels of the main input and output. A channel of the input that the host has left
/// out is silent. `None` where the output lacks one: then there is nothing to do.
pub(super) fn complete(
    input: HostChannels,
    output: HostChannels,
    channels: usize,
) -> Option<MainChannels> {
    let mut main = MainChannels {
        inputs: [std::ptr::null_mut(); MOST_CHANNELS],
        outputs: [std::ptr::null_mut(); MOST_CHANNELS],
    };
    for index in 0..channels.min(MOST_CHANNELS) {
        main.outputs[index] = output.channel(index)?;
    }
    for index in 0..channels.min(MOST_CHANNELS) {
        main.inputs[index] = input.channel(index).unwrap_or_else(|| {
            let silent = main.outputs[index];
            // SAFETY: an output channel has room for the block, as `new` was promised. The
            // framework leaves a channel alone that is input and output at once.
            unsafe { std::ptr::write_bytes(silent, 0, output.frames) };
            silent
        });
    }
    Some(main)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_input_is_silent_and_a_missing_output_is_none() {
        let (mut given, mut first, mut second) = ([1.0_f32; 2], [9.0_f32; 2], [9.0_f32; 2]);
        let inputs = [given.as_mut_ptr(), std::ptr::null_mut()];
        let outputs = [first.as_mut_ptr(), second.as_mut_ptr()];
        // SAFETY: the arrays are as long as said, and outlive what is made of them.
        let (input, output) = unsafe {
            (HostChannels::new(inputs.as_ptr(), 2, 2), HostChannels::new(outputs.as_ptr(), 2, 2))
        };
        let main = complete(input, output, 2).expect("both outputs are there");
        assert_eq!(main.inputs[..2], [inputs[0], outputs[1]]);
        assert_eq!((first, second), ([9.0; 2], [0.0; 2]), "only the missing channel is silenced");
        assert!(complete(input, output, 3).is_none(), "there are only two outputs");
        assert!(complete(HostChannels::NONE, HostChannels::NONE, 1).is_none());
        assert!(complete(HostChannels::NONE, output, 2).is_some());
        assert_eq!(input.samples(0), Some(&[1.0; 2][..]));
        assert_eq!((input.samples(1), input.samples(2)), (None, None));
    }
}
