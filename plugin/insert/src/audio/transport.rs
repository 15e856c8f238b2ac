//! Whether the host's transport goes on from block to block.

use crate::sum_test::place::Place;

/// Frames that a place may be off: hosts that count in seconds round.
const LEAST_JUMP_FRAMES: u64 = 8;
/// Jumps in as many blocks one after the other are no jumps: such a host works its places out of a
/// tempo that moves.
const MOST_JUMPS: u32 = 16;

/// Follows the transport.
#[derive(Debug, Default)]
pub(super) struct Transport {
    /// The place that the host told last, and how many frames have passed since.
    told: Place,
    since_frames: usize,
    jumps: u32,
}

impl Transport {
    /// Whether a block of some frames, at whose first frame the transport stands at `place`, goes on
    /// from the block before. Starting and stopping do not. A host may tell one place for several
    /// blocks, or for all.
    pub(super) fn goes_on(&mut self, place: Place, frames: usize) -> bool {
        let expected = self.told.after(self.since_frames).playing_at;
        let arrives = match (expected, place.playing_at) {
            (Some(expected), Some(at)) => expected.abs_diff(at) < LEAST_JUMP_FRAMES,
            (expected, at) => expected == at,
        };
        let stands = place == self.told;
        if stands && !arrives {
            self.since_frames += frames;
        } else {
            (self.told, self.since_frames) = (place, frames);
        }
        let goes_on = arrives || stands;
        self.jumps = if goes_on { 0 } else { self.jumps.saturating_add(1) };
        goes_on || self.jumps > MOST_JUMPS
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(frame: i64) -> Place {
        Place { playing_at: Some(frame) }
    }

    #[test]
    fn a_jump_a_start_and_a_stop_do_not_go_on_and_rounding_does() {
        let mut transport = Transport::default();
        let stopped = Place::default();
        for (place, goes_on) in [
            (stopped, true),
            (at(1_000), false),
            (at(1_064), true),
            (at(1_129), true),
            (at(1_000), false),
            (at(1_064), true),
            (stopped, false),
            (stopped, true),
        ] {
            assert_eq!(transport.goes_on(place, 64), goes_on, "{place:?}");
        }
    }

    #[test]
    fn a_place_that_is_told_for_several_blocks_or_for_all_goes_on() {
        let mut transport = Transport::default();
        transport.goes_on(at(0), 64);
        for block in 1..100 {
            assert!(transport.goes_on(at(block / 4 * 256), 64), "block {block}");
        }
        for block in 0..100 {
            assert!(transport.goes_on(at(24 * 256), 64), "standing, block {block}");
        }
        assert!(!transport.goes_on(at(9_999_999), 64));
    }

    #[test]
    fn places_that_jump_in_every_block_are_not_trusted() {
        let mut transport = Transport::default();
        let jumps = (0..100).filter(|&block| !transport.goes_on(at(block * 1_000), 64)).count();
        assert_eq!(jumps, MOST_JUMPS as usize);
    }
}
