//! The meter's work on spectra: transforms, and what follows them.
//!
//! Of all this, each batch does one stage (of a wide bus, some), so that no block bears it all. What
//! is read stays as it was until the last stage of it is done.

use super::Meter;
use crate::spectrum::{Decimator, Images, SPECTRUM_POINTS, Sought, ToneSearch};

/// Transforms between two looks for a late copy, which costs as much as one.
const TRANSFORMS_A_LOOK: u64 = 16;
/// Points of the drawn spectrum that one stage works out.
const POINTS_A_STAGE: usize = 64;
/// Pairs whose transforms keep up with one stage a batch.
const PAIRS_A_STAGE: usize = 8;

/// What is under way. What follows a transform is worked out from whole ones, and the next ones wait
/// for it.
#[derive(Debug, Clone, Copy)]
pub(super) enum Due {
    Transforms,
    Tones,
    Drawing,
    LateCopy,
}

impl Meter {
    /// Hands a batch to the transforms.
    pub(super) fn take_spectra(&mut self, count: usize) {
        let whole = self.batches.whole.iter().map(|pair| (&pair.a[..count], &pair.b[..count]));
        self.spectrum.take(whole);
        let mut low_count = 0;
        let batches = self.batches.whole.iter().zip(&mut self.batches.low_rate);
        for (decimator, (pair, low)) in self.decimators.iter_mut().zip(batches) {
            low_count = 0;
            decimator.take(&pair.a[..count], &pair.b[..count], |a, b| {
                low.a[low_count] = a;
                low.b[low_count] = b;
                low_count += 1;
            });
        }
        let low = self.batches.low_rate.iter();
        let low = low.map(|pair| (&pair.a[..low_count], &pair.b[..low_count]));
        self.low_spectrum.take(low);
    }

    /// Does the next stage of what is due.
    pub(super) fn work_on_spectra(&mut self) {
        match self.due {
            Due::Transforms => {
                for _ in 0..self.layout.pairs.len().div_ceil(PAIRS_A_STAGE) {
                    self.advance_transforms();
                }
            }
            Due::Tones => self.advance_tones(),
            Due::Drawing => self.advance_drawing(),
            Due::LateCopy => self.advance_late_copy(),
        }
    }

    /// Does whatever is left to do, as at the end of a file.
    pub(super) fn finish_spectra(&mut self) {
        self.spectrum.complete();
        self.low_spectrum.complete();
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

    /// Forgets what was measured, and what is under way.
    pub(super) fn reset_spectra(&mut self) {
        self.spectrum.reset();
        self.low_spectrum.reset();
        self.due = Due::Transforms;
    }

    /// Counts from here on, as a part of a longer signal.
    pub(super) fn begin_spectra(&mut self) {
        self.spectrum.begin();
        self.low_spectrum.begin();
        self.due = Due::Transforms;
    }

    fn advance_transforms(&mut self) {
        if self.spectrum.is_working() {
            self.spectrum.advance();
        } else if self.low_spectrum.is_working() {
            self.low_spectrum.advance();
        } else {
            return;
        }
        // Both are read together, so neither may stand within a transform.
        if self.live && !self.spectrum.is_working() && !self.low_spectrum.is_working() {
            self.begin_tones();
        }
    }

    fn begin_tones(&mut self) {
        self.tone_search = ToneSearch::new(&sought(self));
        self.due = Due::Tones;
    }

    fn advance_tones(&mut self) {
        let mut search = std::mem::take(&mut self.tone_search);
        let is_over = search.advance(&sought(self));
        self.tone_search = search;
        if is_over {
            self.tones = self.tone_search.tones();
            self.drawing.begin(SPECTRUM_POINTS);
            self.due = Due::Drawing;
        }
    }

    fn advance_drawing(&mut self) {
        let range = self.drawing.take(POINTS_A_STAGE);
        self.next_drawn.fill(range, &self.points, &self.low_spectrum, &self.spectrum);
        if self.drawing.are_done() {
            self.drawn = self.next_drawn;
            self.due = Due::Transforms;
            if self.spectrum.transforms().is_multiple_of(TRANSFORMS_A_LOOK) {
                self.begin_late_copy();
            }
        }
    }

    /// Begins a look for a late copy where there are two halves.
    fn begin_late_copy(&mut self) {
        if self.has_b() {
            self.late_copy_search.begin();
            self.due = Due::LateCopy;
        }
    }

    fn advance_late_copy(&mut self) {
        if self.late_copy_search.advance(&self.spectrum) {
            self.late_copy = self.late_copy_search.found();
            self.due = Due::Transforms;
        }
    }
}

/// Where tones are looked for.
fn sought(meter: &Meter) -> Sought<'_> {
    Sought {
        low: &meter.low_spectrum,
        full: &meter.spectrum,
        images: Images {
            rate_hz: meter.rate_hz / meter.decimators[0].factor() as f64,
            left: Decimator::image_power(),
        },
        edges: meter.settings.edges,
    }
}
