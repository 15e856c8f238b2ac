//! How the host's transport goes on from block to block.

use crate::sum_test::place::Place;

/// Frames that a place may be off: hosts that count in seconds round.
const LEAST_JUMP_FRAMES: u64 = 8;
/// Jumps in as many blocks one after the other are no jumps: such a host works its places out of a
/// tempo that moves.
const MOST_JUMPS: u32 = 16;

/// How a block follows the one before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Step {
    /// Without a gap.
    GoesOn,
    /// The transport has started or stopped between the two.
    StartOrStop,
    /// From the end of a loop back to its start.
    LoopReturn,
    /// From one place to another.
    Jump,
}

/// Follows the transport.
#[derive(Debug, Default)]
pub(super) struct Transport {
    /// The place that the host told last, and how many frames have passed since.
    told: Place,
    since_frames: usize,
    /// Length of the latest block, in frames.
    block_frames: usize,
    jumps: u32,
    /// From where the latest jump went, and to where.
    latest_jump: Option<(i64, i64)>,
}

impl Transport {
    /// How a block of some frames, at whose first frame the transport stands at `place`, follows the
    /// block before. A host may tell one place for several blocks, or for all.
    pub(super) fn follow(&mut self, place: Place, frames: usize) -> Step {
        let expected = self.told.after(self.since_frames).playing_at;
        let arrives = match (expected, place.playing_at) {
            (Some(expected), Some(at)) => expected.abs_diff(at) < LEAST_JUMP_FRAMES,
            (expected, at) => expected == at,
        };
        let stands = place.playing_at == self.told.playing_at;
        let before_frames = std::mem::replace(&mut self.block_frames, frames);
        if stands && !arrives {
            self.since_frames += frames;
        } else {
            (self.told, self.since_frames) = (place, frames);
        }
        let goes_on = arrives || stands;
        self.jumps = if goes_on { 0 } else { self.jumps.saturating_add(1) };
        if goes_on || self.jumps > MOST_JUMPS {
            return Step::GoesOn;
        }
        let (Some(from), Some(to)) = (expected, place.playing_at) else {
            return Step::StartOrStop;
        };
        let jump = (from, to);
        // A host that loops between two blocks returns with what is left of the one before.
        let near = |one: i64, other: i64| {
            one.abs_diff(other) < before_frames.max(frames) as u64 + LEAST_JUMP_FRAMES
        };
        let returns = to < from
            && match place.loop_frames {
                Some((start, _)) => near(to, start),
                // The second time that it comes from the same place to the same.
                None => self.latest_jump.is_some_and(|last| near(last.0, from) && near(last.1, to)),
            };
        self.latest_jump = Some(jump);
        if returns { Step::LoopReturn } else { Step::Jump }
    }

    /// Where the transport stands at the first frame of the latest block, by all that was told.
    pub(super) fn place(&self) -> Place {
        self.told.after(self.since_frames - self.block_frames)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(frame: i64) -> Place {
        Place { playing_at: Some(frame), loop_frames: None }
    }

    #[test]
    fn a_jump_a_start_and_a_stop_do_not_go_on_and_rounding_does() {
        let mut transport = Transport::default();
        let stopped = Place::default();
        for (place, step) in [
            (stopped, Step::GoesOn),
            (at(1_000), Step::StartOrStop),
            (at(1_064), Step::GoesOn),
            (at(1_129), Step::GoesOn),
            (at(1_000), Step::Jump),
            (at(1_064), Step::GoesOn),
            (stopped, Step::StartOrStop),
            (stopped, Step::GoesOn),
        ] {
            assert_eq!(transport.follow(place, 64), step, "{place:?}");
        }
    }

    #[test]
    fn a_place_that_is_told_for_several_blocks_or_for_all_goes_on() {
        let mut transport = Transport::default();
        transport.follow(at(0), 64);
        for block in 1..100 {
            assert_eq!(transport.follow(at(block / 4 * 256), 64), Step::GoesOn, "block {block}");
            assert_eq!(transport.place(), at(block * 64));
        }
        for block in 0..100 {
            assert_eq!(transport.follow(at(24 * 256), 64), Step::GoesOn, "standing, block {block}");
        }
        assert_eq!(transport.follow(at(9_999_999), 64), Step::Jump);
    }

    #[test]
    fn places_that_jump_in_every_block_are_not_trusted() {
        let mut transport = Transport::default();
        let step = |block: i64| transport.follow(at(block * 1_000), 64);
        let jumps = (0..100).map(step).filter(|&step| step != Step::GoesOn).count();
        assert_eq!(jumps, MOST_JUMPS as usize);
    }

    /// Three turns of a loop of 10 000 frames in blocks of 64 that the loop's end does not cut; the
    /// steps that do not go on.
    fn turns(told: bool) -> Vec<Step> {
        let mut transport = Transport::default();
        let loop_frames = told.then_some((48_000, 58_000));
        let place = |n: i64| Place { playing_at: Some(48_000 + n * 64 % 10_000), loop_frames };
        let steps = (0..500).map(|n| transport.follow(place(n), 64));
        steps.filter(|&step| step != Step::GoesOn).collect()
    }

    #[test]
    fn a_loop_returns_at_once_where_the_host_tells_it_and_from_the_second_time_where_not() {
        assert_eq!(
            turns(true),
            [Step::StartOrStop, Step::LoopReturn, Step::LoopReturn, Step::LoopReturn]
        );
        assert_eq!(
            turns(false),
            [Step::StartOrStop, Step::Jump, Step::LoopReturn, Step::LoopReturn]
        );
    }
}
