//! The work on spectra of a bus: transforms, and what follows them.
//!
//! Of all this, each batch does one stage (of a wide bus, some), so that no block bears it all. What
//! is read stays as it was until the last stage of it is done.

use super::{
    Analyser, Decimator, Images, LateCopySearch, PointBins, SPECTRUM_POINTS, Sought, Spectrum,
    Stages, ToneSearch, point_bins,
};
use crate::batch::{BATCH_FRAMES, PairBatch};
use crate::highest::total;
use crate::reading::{LateCopy, Tones};
use crate::settings::Edges;

/// Length of the transform at the full rate up to `LONG_TRANSFORM_FROM_HZ`, and from there.
const TRANSFORM_FRAMES: usize = 4096;
const LONG_TRANSFORM_FRAMES: usize = 8192;
const LONG_TRANSFORM_FROM_HZ: f64 = 64_000.0;
/// Length of the transform at the low rate.
const LOW_TRANSFORM_FRAMES: usize = 2048;
/// Transforms between two looks for a late copy, which costs as much as one.
const TRANSFORMS_A_LOOK: u64 = 16;
/// Points of the drawn spectrum that one stage works out.
const POINTS_A_STAGE: usize = 64;
/// Pairs whose transforms keep up with one stage a batch.
const PAIRS_A_STAGE: usize = 8;

/// What is under way. What follows a transform is worked out from whole ones, and the next ones wait
/// for it.
#[derive(Debug, Clone, Copy)]
enum Due {
    Transforms,
    Tones,
    Drawing,
    LateCopy,
}

/// How the channels of a bus are paired.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pairing {
    pub(crate) pairs: usize,
    pub(crate) channels: usize,
    /// How many of the pairs are of two halves; 0 in mono.
    pub(crate) halves_pairs: usize,
}

/// The spectra of a bus.
pub(crate) struct Spectra {
    rate_hz: f64,
    edges: Edges,
    pairing: Pairing,
    full: Analyser,
    low: Analyser,
    decimators: Vec<Decimator>,
    /// `[pair]` at the low rate; only the first frames of each batch are in use.
    low_rate: Vec<PairBatch>,
    tones: Tones,
    tone_search: ToneSearch,
    points: Vec<PointBins>,
    drawing: Stages,
    late_copy: Option<LateCopy>,
    late_copy_search: LateCopySearch,
    drawn: Spectrum,
    /// The one that is under way.
    next_drawn: Spectrum,
    due: Due,
    /// Whether tones and drawing follow each transform; otherwise they come with `finish` alone.
    live: bool,
}

impl Spectra {
    pub(crate) fn new(rate_hz: f64, edges: Edges, pairing: Pairing) -> Self {
        let Pairing { pairs, channels, halves_pairs } = pairing;
        let decimators: Vec<_> = (0..pairs).map(|_| Decimator::new(rate_hz)).collect();
        let low_rate_hz = rate_hz / decimators[0].factor() as f64;
        let transform =
            if rate_hz < LONG_TRANSFORM_FROM_HZ { TRANSFORM_FRAMES } else { LONG_TRANSFORM_FRAMES };
        let full = Analyser::new(rate_hz, transform, pairs, halves_pairs, channels);
        let low = Analyser::new(low_rate_hz, LOW_TRANSFORM_FRAMES, pairs, 0, channels);
        Self {
            rate_hz,
            edges,
            pairing,
            points: point_bins(rate_hz, &low, &full),
            late_copy_search: LateCopySearch::new(&full),
            full,
            low,
            decimators,
            low_rate: vec![PairBatch::SILENCE; pairs],
            tones: Tones::default(),
            tone_search: ToneSearch::default(),
            drawing: Stages::default(),
            late_copy: None,
            drawn: Spectrum::empty(rate_hz),
            next_drawn: Spectrum::empty(rate_hz),
            due: Due::Transforms,
            live: true,
        }
    }

    /// Works out tones and spectrum when [`finish`](Self::finish) is called, and not on the way there.
    pub(crate) fn draw_at_the_end(&mut self) {
        self.live = false;
    }

    /// The strongest hidden tones.
    pub(crate) fn tones(&self) -> Tones {
        self.tones
    }

    /// Where one half holds the other again, later.
    pub(crate) fn late_copy(&self) -> Option<LateCopy> {
        self.late_copy
    }

    /// Share of the energy since reset that lies above a frequency, 0 to 1; none before a transform.
    pub(crate) fn share_above(&self, hz: f64) -> Option<f64> {
        let sums = self.full.sums();
        let first = ((hz / self.full.bin_hz()).ceil() as usize).min(sums.len());
        let [below, above] = [&sums[..first], &sums[first..]].map(total);
        (below + above > 0.0).then(|| above / (below + above))
    }

    /// What is drawn.
    pub(crate) fn drawn(&self) -> Spectrum {
        self.drawn
    }

    /// Frames that the slowest transform looks back.
    pub(crate) fn reach_frames(&self) -> usize {
        let decimator = &self.decimators[0];
        decimator.reach() + LOW_TRANSFORM_FRAMES * decimator.factor()
    }

    /// Readies fresh spectra for a signal whose first frame is frame `frame` of a longer one.
    pub(crate) fn start_at(&mut self, frame: u64) {
        self.full.start_at(frame);
        self.decimators.iter_mut().for_each(|decimator| decimator.start_at(frame));
        self.low.start_at(frame / self.decimators[0].factor() as u64);
    }

    /// Counts from here on, as a part of a longer signal.
    pub(crate) fn begin(&mut self) {
        self.full.begin();
        self.low.begin();
        self.due = Due::Transforms;
    }

    /// Goes on where `later` stands, which began where this ends.
    pub(crate) fn append(&mut self, later: Self) {
        self.decimators = later.decimators;
        self.full.append(later.full);
        self.low.append(later.low);
    }

    /// Forgets what was measured, and what is under way.
    pub(crate) fn reset(&mut self) {
        self.full.reset();
        self.low.reset();
        self.due = Due::Transforms;
        self.tones = Tones::default();
        self.late_copy = None;
        self.drawn = Spectrum::empty(self.rate_hz);
    }

    /// Has what looks back go on from where that of `other`, of the same bus, stands.
    pub(crate) fn follow(&mut self, other: &Self) {
        for (decimator, other) in self.decimators.iter_mut().zip(&other.decimators) {
            decimator.follow(other);
        }
    }

    /// Empties what looks back.
    pub(crate) fn empty_filters(&mut self) {
        self.decimators.iter_mut().for_each(Decimator::reset);
    }

    /// Lets a batch run through what looks back, without reading it.
    pub(crate) fn pass(&mut self, whole: &[PairBatch]) {
        for (decimator, pair) in self.decimators.iter_mut().zip(whole) {
            decimator.take(pair, BATCH_FRAMES, |_, _| ());
        }
        self.full.interrupt();
        self.low.interrupt();
    }

    /// Hands the first `count` frames of a batch to the transforms.
    pub(crate) fn take(&mut self, whole: &[PairBatch], count: usize) {
        self.full.take(whole.iter().map(|pair| (&pair.a[..count], &pair.b[..count])));
        let mut low_count = 0;
        let batches = whole.iter().zip(&mut self.low_rate);
        for (decimator, (pair, low)) in self.decimators.iter_mut().zip(batches) {
            low_count = 0;
            decimator.take(pair, count, |a, b| {
                low.a[low_count] = a;
                low.b[low_count] = b;
                low_count += 1;
            });
        }
        self.low
            .take(self.low_rate.iter().map(|pair| (&pair.a[..low_count], &pair.b[..low_count])));
    }

    /// Whether no stage is due.
    pub(crate) fn are_idle(&self) -> bool {
        matches!(self.due, Due::Transforms) && !self.full.is_working() && !self.low.is_working()
    }

    /// Does the next stage of what is due.
    pub(crate) fn work(&mut self) {
        match self.due {
            Due::Transforms => {
                for _ in 0..self.pairing.pairs.div_ceil(PAIRS_A_STAGE) {
                    self.advance_transforms();
                }
            }
            Due::Tones => self.advance_tones(),
            Due::Drawing => self.advance_drawing(),
            Due::LateCopy => self.advance_late_copy(),
        }
    }

    /// Does whatever is left to do, as at the end of a file.
    pub(crate) fn finish(&mut self) {
        self.full.complete();
        self.low.complete();
        self.begin_tones();
        while matches!(self.due, Due::Tones) {
            self.advance_tones();
        }
        while matches!(self.due, Due::Drawing) {
            self.advance_drawing();
        }
        self.begin_late_copy();
        while matches!(self.due, Due::LateCopy) {
            self.advance_late_copy();
        }
    }

    fn advance_transforms(&mut self) {
        if self.full.is_working() {
            self.full.advance();
        } else if self.low.is_working() {
            self.low.advance();
        } else {
            return;
        }
        // Both are read together, so neither may stand within a transform.
        if self.live && !self.full.is_working() && !self.low.is_working() {
            self.begin_tones();
        }
    }

    fn begin_tones(&mut self) {
        self.tone_search = ToneSearch::new(&self.sought());
        self.due = Due::Tones;
    }

    fn advance_tones(&mut self) {
        let mut search = std::mem::take(&mut self.tone_search);
        let is_over = search.advance(&self.sought());
        self.tone_search = search;
        if is_over {
            self.tones = self.tone_search.tones();
            self.drawing.begin(SPECTRUM_POINTS);
            self.due = Due::Drawing;
        }
    }

    fn advance_drawing(&mut self) {
        let range = self.drawing.take(POINTS_A_STAGE);
        self.next_drawn.fill(range, &self.points, &self.low, &self.full);
        if self.drawing.are_done() {
            self.drawn = self.next_drawn;
            self.due = Due::Transforms;
            if self.full.transforms().is_multiple_of(TRANSFORMS_A_LOOK) {
                self.begin_late_copy();
            }
        }
    }

    /// Begins a look for a late copy where there are two halves.
    fn begin_late_copy(&mut self) {
        if self.pairing.halves_pairs > 0 {
            self.late_copy_search.begin();
            self.due = Due::LateCopy;
        }
    }

    fn advance_late_copy(&mut self) {
        if self.late_copy_search.advance(&self.full) {
            self.late_copy = self.late_copy_search.found();
            self.due = Due::Transforms;
        }
    }

    /// Where tones are looked for.
    fn sought(&self) -> Sought<'_> {
        Sought {
            low: &self.low,
            full: &self.full,
            images: Images {
                rate_hz: self.rate_hz / self.decimators[0].factor() as f64,
                left: Decimator::image_power(),
            },
            edges: self.edges,
        }
    }
}
