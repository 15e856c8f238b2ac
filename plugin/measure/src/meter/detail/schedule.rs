//! Where long transforms begin.

/// How far apart they begin.
#[derive(Debug, Clone, Copy)]
pub(super) enum Spacing {
    /// Half a transform: all sound counts alike.
    Even,
    /// Half a transform at first, then a share of the time that has passed, so that a short sound has
    /// enough of them and a long one does not cost more than it has to.
    Growing,
}

/// The share of the time that has passed, and the longest distance in transforms.
const GROWTH: u64 = 6;
const MOST_TRANSFORMS_APART: u64 = 12;

/// The next transform's place. The places are the same wherever a recording is taken up, so that parts
/// of it can be measured apart.
#[derive(Debug, Clone, Copy)]
pub(super) struct Schedule {
    spacing: Spacing,
    /// Frames of a transform.
    length: u64,
    /// How many come before it.
    index: u64,
    /// The frame that it begins at.
    start: u64,
    /// Frames that are passed over before it begins.
    ahead: u64,
}

impl Schedule {
    pub(super) fn new(spacing: Spacing, length: usize) -> Self {
        Self { spacing, length: length as u64, index: 0, start: 0, ahead: 0 }
    }

    pub(super) fn restart(&mut self) {
        *self = Self { index: 0, start: 0, ahead: 0, ..*self };
    }

    /// Takes a recording up at a frame.
    pub(super) fn start_at(&mut self, frame: u64) {
        self.restart();
        while self.start < frame {
            self.start += self.distance();
            self.index += 1;
        }
        self.ahead = self.start - frame;
    }

    /// Passes over as many of `count` frames as lie before the next transform.
    pub(super) fn pass_over(&mut self, count: usize) -> usize {
        let passed = self.ahead.min(count as u64);
        self.ahead -= passed;
        passed as usize
    }

    /// Which of two sets the next transform belongs to.
    pub(super) fn turn(&self) -> usize {
        (self.index % 2) as usize
    }

    /// Goes on to the one behind a transform that is complete: how many of its frames belong to that one
    /// too, and how much time it stands for, in transforms.
    pub(super) fn advance(&mut self) -> (usize, f64) {
        let distance = self.distance();
        self.start += distance;
        self.index += 1;
        self.ahead = distance.saturating_sub(self.length);
        let kept = self.length.saturating_sub(distance);
        (kept as usize, distance as f64 / self.length as f64)
    }

    fn distance(&self) -> u64 {
        let half = self.length.div_ceil(2);
        match self.spacing {
            Spacing::Even => half,
            Spacing::Growing => {
                (self.start / GROWTH).clamp(half, MOST_TRANSFORMS_APART * self.length)
            }
        }
    }
}
