//! What a meter keeps beside a reading where it is asked to: what every kind of meter shows, and spectra
//! fine enough for combs and long correlations.

mod long_spectra;
mod schedule;
mod tally;

use super::filters::Left;
use super::layout::Layout;
use crate::decorrelation::{self, Decorrelation};
use crate::settings::Edges;
pub(crate) use long_spectra::{FineSpectrum, LongSpectra};
pub(crate) use tally::Tally;

/// The part of a meter that audio threads do without.
pub(crate) struct Detail {
    tally: Option<Tally>,
    spectra: LongSpectra,
}

impl Detail {
    /// All that an entry needs.
    pub(super) fn of_entry(rate_hz: f64, layout: &Layout) -> Self {
        let (pairs, halves_pairs) = (layout.pairs.len(), layout.halves_pairs);
        Self {
            tally: Some(Tally::new(rate_hz, pairs, halves_pairs)),
            spectra: LongSpectra::of_all(rate_hz, pairs, halves_pairs),
        }
    }

    /// What the decorrelation time needs.
    pub(super) fn of_recording(rate_hz: f64, layout: &Layout) -> Self {
        Self { tally: None, spectra: LongSpectra::of_some(rate_hz, layout.pairs.len()) }
    }

    pub(crate) fn tally(&self) -> Option<&Tally> {
        self.tally.as_ref()
    }

    /// The mean spectra since reset.
    pub(crate) fn fine_spectrum(&self) -> FineSpectrum {
        self.spectra.mean()
    }

    pub(super) fn decorrelation(&self, edges: Edges) -> Decorrelation {
        decorrelation::read(&self.spectra.in_turns(), edges)
    }

    pub(super) fn reset(&mut self) {
        self.tally.iter_mut().for_each(Tally::reset);
        self.spectra.reset();
    }

    /// What comes does not go on from what came.
    pub(super) fn interrupt(&mut self) {
        self.spectra.interrupt();
    }

    /// Frames that it looks back.
    pub(super) fn reach_frames(&self) -> usize {
        self.spectra.reach_frames()
    }

    /// Readies it for a signal whose first frame is frame `frame` of a longer one.
    pub(super) fn start_at(&mut self, frame: u64) {
        self.spectra.start_at(frame);
    }

    /// Counts from here on, as a part of a recording.
    pub(super) fn begin(&mut self) {
        self.spectra.begin();
    }

    /// Goes on where `later` stands, which measured the next part of a recording.
    pub(super) fn append(&mut self, later: Self) {
        self.spectra.append(later.spectra);
    }

    /// Takes the first `count` frames of a batch that has left the filters.
    pub(super) fn take(&mut self, left: &Left, count: usize) {
        if let Some(tally) = &mut self.tally {
            tally.take(&left.whole, &left.audible, count);
        }
        self.spectra.take(&left.whole, count);
    }
}
