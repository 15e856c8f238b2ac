//! The part of a track that is meant to be heard, cut out of what its decoder puts out.
//!
//! Encoders put frames before the sound and after it; where the container states how many, they
//! are left out.

use std::ops::Range;

/// Frames of silence handed out at once.
pub(super) const SILENT_BLOCK_FRAMES: u64 = 16_384;

/// Makes a block of silence.
pub(super) fn fill_with_silence<S: Copy + Default>(
    channels: usize,
    frames: usize,
    block: &mut Vec<Vec<S>>,
) {
    block.resize_with(channels, Vec::new);
    for channel in block {
        channel.clear();
        channel.resize(frames, S::default());
    }
}

/// Stretches of decoded frames to keep, in ascending order, none overlapping.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Window {
    /// Silence that comes before everything else.
    silence_frames: u64,
    kept: Vec<Range<u64>>,
    /// Decoded frames so far.
    position_frames: u64,
}

impl Window {
    /// Keeps everything.
    pub(super) fn all() -> Self {
        Self::one(0, u64::MAX)
    }

    /// Keeps one stretch: from `start` on, so many frames.
    pub(super) fn one(start: u64, frames: u64) -> Self {
        Self::of(std::iter::once(start..start.saturating_add(frames)).collect())
    }

    /// Keeps these stretches; the caller has sorted them.
    pub(super) fn of(kept: Vec<Range<u64>>) -> Self {
        debug_assert!(kept.is_sorted_by(|one, next| one.end <= next.start));
        Self { silence_frames: 0, kept, position_frames: 0 }
    }

    /// The same behind so much more silence.
    pub(super) fn after_silence(self, frames: u64) -> Self {
        Self { silence_frames: self.silence_frames.saturating_add(frames), ..self }
    }

    /// Takes the silence away where it is longer than that.
    pub(super) fn limit_silence(&mut self, most_frames: u64) {
        if self.silence_frames > most_frames {
            self.silence_frames = 0;
        }
    }

    /// It keeps everything and puts nothing before it.
    pub(super) fn is_all(&self) -> bool {
        *self == Self::all()
    }

    /// The same stretches by another clock, of `to` ticks where this one has `from`.
    pub(super) fn scaled(&self, to: u64, from: u64) -> Self {
        let scale = |at: u64| match at {
            u64::MAX => at,
            _ if to == from || from == 0 => at,
            _ => u64::try_from(u128::from(at) * u128::from(to) / u128::from(from))
                .unwrap_or(u64::MAX),
        };
        let kept = self.kept.iter().map(|kept| scale(kept.start)..scale(kept.end)).collect();
        Self::of(kept).after_silence(scale(self.silence_frames))
    }

    /// Frames that it makes of a track of so many frames.
    pub(super) fn frames(&self, decoded: u64) -> u64 {
        let kept = self.kept.iter().map(|kept| kept.end.min(decoded).saturating_sub(kept.start));
        kept.fold(self.silence_frames, u64::saturating_add)
    }

    /// A block of the silence before the track; false where there is none, or no more.
    pub(super) fn silent_block<S: Copy + Default>(
        &mut self,
        channels: usize,
        block: &mut Vec<Vec<S>>,
    ) -> bool {
        let frames = self.silence_frames.min(SILENT_BLOCK_FRAMES);
        if frames == 0 {
            return false;
        }
        self.silence_frames -= frames;
        fill_with_silence(channels, frames as usize, block);
        true
    }

    /// Every frame from here on is left out.
    pub(super) fn is_past(&self) -> bool {
        self.kept.last().is_none_or(|last| self.position_frames >= last.end)
    }

    /// Cuts the next block of decoded frames down to what is kept.
    pub(super) fn cut<S: Copy>(&mut self, block: &mut [Vec<S>]) {
        let frames = block.first().map_or(0, Vec::len);
        let start = self.position_frames;
        let end = start.saturating_add(frames as u64);
        self.position_frames = end;
        let parts: Vec<Range<usize>> = self
            .kept
            .iter()
            .map(|kept| kept.start.max(start)..kept.end.min(end))
            .filter(|part| part.start < part.end)
            .map(|part| (part.start - start) as usize..(part.end - start) as usize)
            .collect();
        if parts.len() == 1 && parts[0] == (0..frames) {
            return;
        }
        for channel in block {
            let mut length = 0;
            for part in &parts {
                channel.copy_within(part.clone(), length);
                length += part.len();
            }
            channel.truncate(length);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_are_kept_whatever_the_blocks() {
        let signal: Vec<u32> = (0..100).collect();
        let expected: Vec<u32> = (10..20).chain(35..61).collect();
        for length in [1, 7, 13, 100] {
            let mut window = Window::of(vec![10..20, 35..61]);
            let mut heard = Vec::new();
            for part in signal.chunks(length) {
                let mut block = vec![part.to_vec()];
                window.cut(&mut block);
                heard.extend_from_slice(&block[0]);
            }
            assert_eq!(heard, expected, "in blocks of {length}");
        }
        assert_eq!(Window::of(vec![10..20, 35..61]).frames(50), 25);
    }
}
