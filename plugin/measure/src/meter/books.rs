//! The books of a bus: both bands, what lies outside the audible one, and what each part of that
//! costs.

use super::filters::Filters;
use super::layout::Layout;
use crate::book::{BandBook, PeaksHeld};
use crate::causes::{Onsets, Peaks};
use crate::damage::{Context, DamageBook, Programme};
use crate::hidden::HiddenBook;
use crate::reading::{Damage, MOST_OVER_TIMES, OverTimes};
use crate::settings::{ClipAt, Settings};
use crate::signal::BUS;

pub(super) struct Books {
    pub(super) whole: BandBook,
    pub(super) audible: BandBook,
    pub(super) hidden: HiddenBook,
    pub(super) onsets: Onsets,
    pub(super) damage: DamageBook,
    /// When the latest overs of the bus began.
    pub(super) over_times: OverTimes,
}

/// All that is held of peaks, as it was.
#[derive(Clone, Copy)]
pub(super) struct Held {
    whole: PeaksHeld,
    audible: PeaksHeld,
}

impl Books {
    pub(super) fn new(rate_hz: f64, settings: &Settings, layout: &Layout, end_hz: f64) -> Self {
        let pairs = layout.pairs.len();
        let book = |highest_hz: f64| {
            BandBook::new(rate_hz, pairs, layout.halves_pairs, settings.true_peak, highest_hz)
        };
        let mut whole = book(rate_hz / 2.0);
        whole.find_flat_tops();
        Self {
            whole,
            audible: book(end_hz),
            hidden: HiddenBook::new(pairs),
            onsets: Onsets::default(),
            damage: DamageBook::new(pairs),
            over_times: OverTimes::default(),
        }
    }

    /// Clears what was measured; the waveforms run on.
    pub(super) fn reset(&mut self) {
        self.whole.reset();
        self.audible.reset();
        self.hidden.reset();
        self.onsets = Onsets::default();
        self.damage.reset();
        self.over_times = OverTimes::default();
    }

    /// Has its waveforms go on from where those of `other`, a book of the same bus, stand.
    pub(super) fn follow(&mut self, other: &Self) {
        self.whole.follow(&other.whole);
        self.audible.follow(&other.audible);
    }

    /// Does a little of what a reset has left to do.
    pub(super) fn tidy(&mut self) {
        if !self.whole.tidy() {
            self.audible.tidy();
        }
    }

    /// Counts from here on, as a part of a longer signal.
    pub(super) fn begin(&mut self) {
        self.whole.begin();
        self.audible.begin();
        self.hidden.reset();
        self.damage.begin();
    }

    /// Lets go of the true peaks held so far.
    pub(super) fn let_true_peaks_go(&mut self) {
        self.whole.let_true_peaks_go();
        self.audible.let_true_peaks_go();
    }

    /// Goes on where `later` stands, which began where this ends; its hops and moments come for
    /// themselves.
    pub(super) fn append(&mut self, later: Self) {
        self.whole.append(later.whole);
        self.audible.append(later.audible);
        self.hidden.append(&later.hidden);
        self.damage.append(later.damage);
    }

    /// Takes what has left the filters to be passed over.
    pub(super) fn pass(&mut self, filters: &Filters) {
        self.whole.pass(&filters.left.whole, filters.second_channels());
        self.audible.pass(&filters.left.audible, filters.second_channels());
        self.damage.cut();
    }

    /// Takes what has left the filters for the true peaks of the whole band, and of what a high-pass
    /// alone would leave.
    pub(super) fn take_whole_peaks(&mut self, filters: &Filters) {
        let (left, below) = (&filters.left.whole, &filters.below);
        self.whole.take_true_peaks(left, below, -1.0, filters.second_channels());
    }

    /// The same for the audible band, and for what a low-pass alone would leave.
    pub(super) fn take_audible_peaks(&mut self, filters: &Filters) {
        let (left, below) = (&filters.left.audible, &filters.below);
        self.audible.take_true_peaks(left, below, 1.0, filters.second_channels());
    }

    /// True peaks of the bus in the stretch that ends here, linear: whole band, audible band.
    pub(super) fn take_stretch(&mut self) -> [f32; 2] {
        [self.whole.take_stretch(), self.audible.take_stretch()]
    }

    /// What is held of peaks.
    pub(super) fn held(&self) -> Held {
        Held { whole: self.whole.peaks_held(), audible: self.audible.peaks_held() }
    }

    /// Goes back to the peaks as they were, `hops` hops ago.
    pub(super) fn return_to(&mut self, held: Held, hops: usize) {
        self.whole.return_to(held.whole, hops);
        self.audible.return_to(held.audible, hops);
    }

    /// Overs of the bus.
    pub(super) fn overs(&self) -> u64 {
        self.whole.overs(BUS)
    }

    /// The highest peaks of the bus, in the order of the account.
    pub(super) fn peaks(&self) -> Peaks {
        Peaks([
            self.whole.held()[BUS],
            self.whole.true_peak(BUS),
            self.audible.shifted_true_peak(),
            self.audible.true_peak(BUS),
        ])
    }

    /// Sets where clipping is thought; so many frames were measured.
    pub(super) fn set_limit(&mut self, clip_at: ClipAt, ceiling_db: f64, frames: u64) {
        let programme = self.programme(frames);
        self.damage.set_limit(clip_at, ceiling_db, programme);
    }

    /// What clipping would add, and what clipping upstream left in the samples. So many frames were
    /// measured of a bus of so many channels.
    pub(super) fn read_damage(
        &self,
        frames: u64,
        rate_hz: f64,
        channels: f64,
        offset_db: f64,
    ) -> Damage {
        let context = Context { rate_hz, channels, offset_db, overs: self.whole.overs(BUS) };
        let programmes = [self.programme(frames), self.audible.open_hop().programme()];
        let flat_tops = (self.whole.flat_tops(), self.flat_top_times(rate_hz));
        self.damage.read(programmes, &context, flat_tops)
    }

    /// The audible band since reset.
    fn programme(&self, frames: u64) -> Programme {
        Programme { energy: self.audible.total().bus(), frames }
    }

    /// When the latest flat tops began, in seconds since reset.
    fn flat_top_times(&self, rate_hz: f64) -> OverTimes {
        let mut frames = [0; MOST_OVER_TIMES];
        let mut count = 0;
        let mut end = u64::MAX;
        while let Some(frame) = self.whole.flat_top_before(end).filter(|_| count < frames.len()) {
            frames[count] = frame;
            count += 1;
            end = frame;
        }
        let mut times_s = OverTimes::default();
        frames[..count].iter().rev().for_each(|&frame| times_s.push(frame as f64 / rate_hz));
        times_s
    }

    /// True peak of the bus after a high-pass alone, linear.
    pub(super) fn high_passed(&self) -> f32 {
        self.whole.shifted_true_peak()
    }
}
