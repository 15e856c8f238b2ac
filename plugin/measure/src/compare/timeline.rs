//! Which place of the mix each place of the export comes from: a chain of segments on one clock.

/// A stretch of the export that comes from one stretch of the mix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Segment {
    /// First frame of the export.
    pub start: i64,
    /// Frame past its last.
    pub end: i64,
    /// The mix's frame that belongs to frame 0 of the export, if the segment reached that far.
    pub mix_at_zero: f64,
}

/// The whole way.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Timeline {
    /// In the order of the export, without overlap.
    pub segments: Vec<Segment>,
    /// Frames of the mix for each of the export.
    pub step: f64,
}

impl Timeline {
    /// The mix's frame for a frame of the export within a segment.
    pub fn place(&self, segment: &Segment, export_frame: f64) -> f64 {
        segment.mix_at_zero + self.step * export_frame
    }

    /// Whether the segment's samples are the mix's samples, without anything between them.
    pub fn is_whole(&self, segment: &Segment) -> bool {
        self.step == 1.0 && segment.mix_at_zero.fract() == 0.0
    }

    /// The mix's time of a frame of the export, in seconds, at the mix's rate.
    pub fn mix_s(&self, frame: i64, mix_rate_hz: f64) -> f64 {
        let segment = self.segments.iter().rev().find(|segment| segment.start <= frame);
        segment
            .or(self.segments.first())
            .map_or(0.0, |segment| self.place(segment, frame as f64) / mix_rate_hz)
    }

    /// Frames of the export that are covered.
    pub fn frames(&self) -> i64 {
        self.segments.iter().map(|segment| segment.end - segment.start).sum()
    }
}
