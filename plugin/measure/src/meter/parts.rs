//! A recording measured in parts, by several meters at once, and joined afterwards.
//!
//! The meter of a later part starts some frames before it, so that filters, followers and transforms
//! stand where they would had it measured from the start, and counts from the part's first frame
//! on. Parts meet where a batch and a hop end. Sums and maxima are joined at the end; what looks back
//! over hops (loudness, windows, history) cannot be, so a later part keeps what each hop brings, and
//! the join hands that to the earlier meter, hop by hop.

use std::ops::Range;

use super::{Detail, HOPS_A_ROW, HOPS_A_SECOND, Meter};
use crate::batch::BATCH_FRAMES;
use crate::book::BandHop;
use crate::causes::Peaks;
use crate::damage::DamageHop;
use crate::reading::OverTimes;

/// Time constants after which nothing is left of where a filter started: e^−40 is 4·10^−18.
const SETTLING: f64 = 40.0;
/// Slowest time constant of what follows the filters, in seconds: the limiter's release.
const SLOWEST_S: f64 = 0.050;
/// What a programme meter needs, in seconds: twenty times its slowest fall leave −170 dB.
const PROGRAMME_S: f64 = 20.3;
/// Batches before a part from which true peaks are held: by then nothing that is looked at depends on
/// what was held before. The earlier part has found the same peaks there.
const TRUE_PEAK_BATCHES: u64 = 2;

/// What a hop of 10 ms brings.
#[derive(Clone, Copy)]
pub(super) struct Hop {
    pub(super) whole: BandHop,
    pub(super) audible: BandHop,
    pub(super) damage: DamageHop,
}

/// What is known of a row only when the batch has been looked at that it ends in, linear.
#[derive(Clone, Copy, Default)]
pub(super) struct RowEnd {
    /// True peaks: whole band, audible band.
    pub(super) peaks: [f32; 2],
    /// What the user's own meter has shown, where that is not in the books.
    pub(super) late: f32,
}

impl RowEnd {
    /// A row of which one part was measured here and the other there.
    fn or(self, other: Self) -> Self {
        let peaks = [0, 1].map(|band| self.peaks[band].max(other.peaks[band]));
        Self { peaks, late: self.late.max(other.late) }
    }
}

/// The part of a recording that a meter measures.
pub(super) struct Part {
    /// Frames of the recording that count.
    frames: Range<u64>,
    counts: bool,
    /// Of a later part only, as are the peaks that it held and at which frames.
    hops: Vec<Hop>,
    peaks: Vec<(u64, Peaks)>,
    /// The ends of the rows that end in it, where anybody wants them.
    rows: Vec<RowEnd>,
}

impl Part {
    /// Whether the recording began before it.
    pub(super) fn is_later(&self) -> bool {
        self.frames.start > 0
    }

    /// Keeps the peaks that a later part holds at a frame.
    pub(super) fn keep_peaks(&mut self, frame: u64, peaks: Peaks) {
        if self.counts {
            self.peaks.push((frame, peaks));
        }
    }

    /// Keeps the end of a row.
    pub(super) fn keep_row(&mut self, row: RowEnd) {
        if self.counts {
            self.rows.push(row);
        }
    }

    /// Whether a hop stays here, with a later part, instead of going into the meter's windows.
    pub(super) fn keeps(&mut self, hop: &Hop) -> bool {
        if self.is_later() && self.counts {
            self.hops.push(*hop);
        }
        self.is_later()
    }
}

impl Meter {
    /// Where parts of a recording of `frames` frames can begin, as many of `most` as there can be
    /// with `least` frames each or more (and no fewer than a part needs before it); the first
    /// begins at 0. Parts differ little in length.
    #[must_use]
    pub fn part_starts(&self, frames: u64, most: usize, least: u64) -> Vec<u64> {
        let least = least.max(self.lead_in_frames()).max(1);
        let count = (frames / least).clamp(1, most.max(1) as u64);
        let Some(seam) = self.seam_frames() else { return vec![0] };
        let mut starts = vec![0];
        for index in 1..count {
            let even = (u128::from(frames) * u128::from(index) / u128::from(count)) as u64;
            let start = even / seam * seam;
            if start >= starts[starts.len() - 1] + least && start + least <= frames {
                starts.push(start);
            }
        }
        starts
    }

    /// Frames from one part's start to the next where nobody knows how long the recording is: no fewer
    /// than `least`, nor than four times what a part needs before it. None where parts cannot meet.
    #[must_use]
    pub fn part_frames(&self, least: u64) -> Option<u64> {
        let seam = self.seam_frames()?;
        Some(least.max(4 * self.lead_in_frames()).next_multiple_of(seam))
    }

    /// Readies a meter that has measured nothing yet for a part of a recording: `frames` of it
    /// count, which begins at one of [`part_starts`](Self::part_starts), or at a multiple of
    /// [`part_frames`](Self::part_frames), and ends at the next, or at `u64::MAX`. Says which frame of the recording [`process`](Self::process) has to be given
    /// first; from there it takes frames until [`has_ended`](Self::has_ended). Measuring a later
    /// part allocates.
    pub fn begin_part(&mut self, frames: Range<u64>) -> u64 {
        let batch = BATCH_FRAMES as u64;
        let first = frames.start.saturating_sub(self.lead_in_frames()) / batch * batch;
        let first = if frames.start == 0 { 0 } else { first };
        self.measured.frames = first;
        self.measured.hops = (first as f64 * HOPS_A_SECOND / self.measured.rate_hz) as u64;
        while self.measured.next_hop_end() <= first {
            self.measured.hops += 1;
        }
        self.filters.start_at(first);
        self.measured.books.whole.start_at(first);
        self.measured.spectra.start_at(first);
        self.detail.iter_mut().for_each(|detail| detail.start_at(first));
        let counts = frames.start == 0;
        self.measured.part =
            Some(Part { frames, counts, hops: Vec::new(), peaks: Vec::new(), rows: Vec::new() });
        self.mark_part();
        first
    }

    /// Ends the part that this meter measures, which had no end yet, at a frame that lies ahead: the next
    /// part begins there.
    pub fn end_part(&mut self, frame: u64) {
        debug_assert!(self.filters.frames_taken <= frame, "the part has passed its end");
        if let Some(part) = &mut self.measured.part {
            part.frames.end = frame;
        }
        self.mark_part();
    }

    /// Whether the part that this meter measures is complete.
    #[must_use]
    pub fn has_ended(&self) -> bool {
        self.measured.part.as_ref().is_some_and(|part| self.measured.frames >= part.frames.end)
    }

    /// Goes on where `later` stands, as if this meter had measured its part as well. `later` was
    /// made and set like this one, and its part begins where this one's ends.
    ///
    /// All readings are as if measured in one go, to the rounding of sums; true peaks to that of
    /// single precision.
    pub fn append(&mut self, later: Self) {
        let Some(part) = later.measured.part else { return };
        debug_assert_eq!(self.measured.frames, part.frames.start, "the parts do not meet");
        // What the first row lacks was measured here.
        let peaks = self.measured.books.take_stretch();
        let mut begun = RowEnd { peaks, late: self.measured.yours.late(peaks) };
        let mut rows = part.rows.into_iter();
        for hop in &part.hops {
            self.measured.take_hop(hop);
            if self.measured.hops.is_multiple_of(HOPS_A_ROW)
                && let Some(row) = rows.next()
            {
                self.measured.complete_row(row.or(std::mem::take(&mut begun)));
            }
        }
        let before = self.measured.books.peaks();
        for (frame, peaks) in part.peaks {
            self.measured
                .books
                .onsets
                .take(frame as f64 / self.measured.rate_hz, &before.or(peaks));
        }
        self.measured.frames = later.measured.frames;
        self.measured.weighted.append(later.measured.weighted);
        self.filters.append(later.filters);
        let over_times = later.measured.books.over_times;
        self.measured.books.append(later.measured.books);
        self.measured.spectra.append(later.measured.spectra);
        self.measured.yours.append(later.measured.yours);
        if let (Some(detail), Some(later)) = (&mut self.detail, later.detail) {
            detail.append(later);
        }
        for &time_s in over_times.as_slice() {
            self.measured.books.over_times.push(time_s);
        }
        if let Some(own) = &mut self.measured.part {
            own.frames.end = part.frames.end;
        }
    }

    /// Begins to count where the part does, and ceases to where it ends.
    pub(super) fn mark_part(&mut self) {
        let Some(part) = &mut self.measured.part else { return };
        self.filters.inlet.set_counting(part.frames.contains(&self.filters.frames_taken));
        if part.counts {
            return;
        }
        let until = part.frames.start - self.measured.frames;
        if until == TRUE_PEAK_BATCHES * BATCH_FRAMES as u64 {
            self.measured.books.let_true_peaks_go();
        }
        if until == 0 && !self.filters.lead() {
            part.counts = true;
            self.measured.books.begin();
            self.measured.spectra.begin();
            self.measured.yours.reset();
            self.detail.iter_mut().for_each(Detail::begin);
            self.measured.books.over_times = OverTimes::default();
        }
    }

    /// Parts begin on multiples of this: a batch and a hop end there. None where that never happens.
    fn seam_frames(&self) -> Option<u64> {
        let rate = self.measured.rate_hz as u64;
        if rate == 0 || rate as f64 != self.measured.rate_hz {
            return None;
        }
        let hop = rate / greatest_common_divisor(rate, HOPS_A_SECOND as u64);
        let batch = BATCH_FRAMES as u64;
        Some(hop / greatest_common_divisor(hop, batch) * batch)
    }

    /// Frames before a part that its meter has to be given. So many behind its end complete it.
    #[must_use]
    pub fn lead_in_frames(&self) -> u64 {
        let programme_s = if self.measured.yours.remembers() { PROGRAMME_S } else { 0.0 };
        let settling_s = programme_s.max(SETTLING * SLOWEST_S);
        let settling = (settling_s * self.measured.rate_hz).ceil() as usize;
        let detail = self.detail.as_ref().map_or(0, Detail::reach_frames);
        let frames = settling.max(self.measured.spectra.reach_frames()).max(detail)
            + self.filters.memory_frames()
            + self.filters.delay_frames();
        frames.next_multiple_of(BATCH_FRAMES) as u64
    }
}

fn greatest_common_divisor(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { greatest_common_divisor(b, a % b) }
}
