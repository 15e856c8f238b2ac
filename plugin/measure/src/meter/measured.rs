//! What has been measured since a reset: everything behind the filters.

mod readout;

use super::books::{Books, Held};
use super::filters::{Filters, Left};
use super::layout::Layout;
use super::parts::{Hop, Part, RowEnd};
use super::passage::Passing;
use super::weighted::Weighted;
use super::yours::Yours;
use super::{HOPS_A_ROW, HOPS_A_SECOND};
use crate::history::HistoryRow;
use crate::laps::{Laps, Work};
use crate::settings::{ClipAt, Halves, Settings};
use crate::spectrum::{Pairing, Spectra};

/// Rows that there is space for without allocating.
const ROWS_AT_ONCE: usize = 32;

/// Readings of a bus in the making, fed with what leaves the filters.
pub(super) struct Measured {
    pub(super) settings: Settings,
    pub(super) rate_hz: f64,
    pub(super) layout: Layout,
    pub(super) pause: Pause,
    pub(super) weighted: Weighted,
    pub(super) books: Books,
    pub(super) spectra: Spectra,
    pub(super) yours: Yours,
    pub(super) hops: u64,
    /// Rows that nobody has taken yet; `None` where nobody wants them.
    pub(super) history: Option<Vec<HistoryRow>>,
    /// Frames measured.
    pub(super) frames: u64,
    /// The stretch that counts, where that is not all.
    pub(super) part: Option<Part>,
}

/// What has to be done when more comes.
#[allow(clippy::large_enum_variant, reason = "a meter holds few, and a box would allocate")]
pub(super) enum Pause {
    None,
    /// Nothing that was measured before is left.
    Cleared,
    /// The peaks as they were, and how many hops had ended.
    After {
        held: Held,
        hops: u64,
    },
}

impl Measured {
    pub(super) fn new(
        rate_hz: f64,
        layout: Layout,
        settings: Settings,
        audible_end_hz: f64,
    ) -> Self {
        let pairing = Pairing {
            pairs: layout.pairs.len(),
            channels: layout.channels(),
            halves_pairs: if settings.halves == Halves::Mono { 0 } else { layout.halves_pairs },
        };
        Self {
            settings,
            rate_hz,
            pause: Pause::None,
            weighted: Weighted::new(rate_hz, &layout),
            books: Books::new(rate_hz, &settings, &layout, audible_end_hz),
            spectra: Spectra::new(rate_hz, settings.edges, pairing),
            yours: Yours::new(rate_hz, layout.pairs.len()),
            hops: 0,
            history: None,
            frames: 0,
            part: None,
            layout,
        }
    }

    /// Keeps rows of history from now on.
    pub(super) fn keep_history(&mut self) {
        self.history.get_or_insert_with(|| Vec::with_capacity(ROWS_AT_ONCE));
    }

    /// Drops all rows of history but the latest.
    pub(super) fn keep_latest_row(&mut self) {
        if let Some(rows) = &mut self.history {
            rows.drain(..rows.len().saturating_sub(1));
        }
    }

    /// Drops the rows of history that end no later than the latest of `other`, which has been measured
    /// beside it.
    pub(super) fn follow_rows_of(&mut self, other: &Self) {
        if self.frames_since_row() >= other.frames_since_row() {
            self.history.iter_mut().for_each(Vec::clear);
        }
    }

    /// Frames measured since a row of history has ended, or since the first.
    fn frames_since_row(&self) -> u64 {
        let hops = self.hops / HOPS_A_ROW * HOPS_A_ROW;
        self.frames - self.hop_end(hops)
    }

    /// Forgets what was measured; the waveforms run on.
    pub(super) fn reset(&mut self) {
        self.books.reset();
        self.spectra.reset();
        self.yours.reset();
        self.hops = 0;
        self.history.iter_mut().for_each(Vec::clear);
        self.frames = 0;
        self.part = None;
        if matches!(self.pause, Pause::After { .. }) {
            self.pause = Pause::Cleared;
        }
    }

    /// Begins where `other` stands, with nothing measured.
    pub(super) fn begin_beside(&mut self, other: &Self) {
        self.weighted.follow(&other.weighted);
        self.books.follow(&other.books);
        self.spectra.follow(&other.spectra);
        self.yours.follow(&other.yours);
        self.reset();
        self.pause = match other.pause {
            Pause::None => Pause::None,
            Pause::Cleared | Pause::After { .. } => Pause::Cleared,
        };
    }

    /// Empties what looks back, as before the stream began.
    pub(super) fn empty_filters(&mut self) {
        self.weighted.reset();
        self.spectra.empty_filters();
        self.yours.empty();
    }

    /// Sets the ceiling that the limiter drive is measured against, in dBFS.
    pub(super) fn set_ceiling_db(&mut self, ceiling_db: f64) {
        self.books.whole.limiter.set_ceiling(ceiling_db);
        self.books.audible.limiter.set_ceiling(ceiling_db);
        self.books.set_limit(self.books.damage.clip_at(), ceiling_db, self.frames);
    }

    /// Says where clipping is thought.
    pub(super) fn clip_at(&mut self, clip_at: ClipAt) {
        self.books.set_limit(clip_at, self.books.damage.ceiling_db(), self.frames);
    }

    /// Says how many bits the samples' words have.
    pub(super) fn set_word_bits(&mut self, word_bits: Option<u32>) {
        self.books.whole.set_word_bits(word_bits);
        self.books.audible.set_word_bits(word_bits);
        self.books.damage.set_integer(word_bits.is_some());
    }

    /// Whether there is a half B.
    pub(super) fn has_b(&self) -> bool {
        self.settings.halves != Halves::Mono
    }

    /// What is to be done after the pause that begins here, in a sound or in silence.
    pub(super) fn pause(&mut self, is_silent: bool) -> Pause {
        match std::mem::replace(&mut self.pause, Pause::None) {
            Pause::None if is_silent => Pause::None,
            Pause::None => Pause::After { held: self.books.held(), hops: self.hops },
            paused => paused,
        }
    }

    /// Goes on after a pause; false where there was none.
    pub(super) fn resume(&mut self) -> bool {
        match std::mem::replace(&mut self.pause, Pause::None) {
            Pause::None => false,
            Pause::Cleared => true,
            Pause::After { held, hops } => {
                self.books.return_to(held, (self.hops - hops) as usize);
                true
            }
        }
    }

    /// Hears what has left the filters, taken apart; `works` where the spectra may do a stage of
    /// their work.
    pub(super) fn hear(
        &mut self,
        filters: &Filters,
        leaving: Passing,
        works: bool,
        laps: &mut impl Laps,
    ) {
        match leaving {
            Passing::Lead => {}
            Passing::Unread => self.run_on(filters, works),
            Passing::Read(count) => self.measure(filters, count, works, laps),
        }
    }

    /// The waveform goes on between the last samples and the silence that has left behind them, and
    /// ends there.
    pub(super) fn hear_the_end(&mut self, filters: &Filters) {
        self.books.take_whole_peaks(filters);
        self.books.take_audible_peaks(filters);
        self.books.whole.cut();
    }

    /// Lets a batch run through what looks back, without reading it.
    fn run_on(&mut self, filters: &Filters, works: bool) {
        self.weighted.pass(&filters.left);
        self.spectra.pass(&filters.left.whole);
        self.books.pass(filters);
        self.yours.pass(filters);
        self.books.tidy();
        if works {
            self.spectra.work();
        }
    }

    fn measure(&mut self, filters: &Filters, count: usize, works: bool, laps: &mut impl Laps) {
        self.books.take_whole_peaks(filters);
        laps.lap(Work::WholeTruePeaks);
        let hops = self.hops;
        let mut start = 0;
        while start < count {
            let until_hop = self.next_hop_end() - self.frames;
            let stretch = usize::try_from(until_hop).unwrap_or(count).min(count - start);
            self.measure_stretch(&filters.left, start..start + stretch, laps);
            start += stretch;
            if stretch as u64 == until_hop {
                self.end_hop();
                laps.lap(Work::Hops);
            }
        }
        self.books.take_audible_peaks(filters);
        laps.lap(Work::AudibleTruePeaks);
        self.yours.take(filters);
        if self.hops > hops {
            self.note_peaks();
        }
        if self.hops / HOPS_A_ROW > hops / HOPS_A_ROW {
            self.end_row();
        }
        laps.lap(Work::Hops);
        if works {
            self.spectra.work();
        }
        self.spectra.take(&filters.left.whole, count);
        laps.lap(Work::Spectra);
    }

    /// The frame since reset at which the open hop ends: hops of 10 ms, to the nearest sample.
    pub(super) fn next_hop_end(&self) -> u64 {
        self.hop_end(self.hops + 1)
    }

    /// The frame since reset at which so many hops have ended.
    fn hop_end(&self, hops: u64) -> u64 {
        (hops as f64 * self.rate_hz / HOPS_A_SECOND).round() as u64
    }

    fn measure_stretch(
        &mut self,
        left: &Left,
        range: std::ops::Range<usize>,
        laps: &mut impl Laps,
    ) {
        let [whole, audible] = self.weighted.take(left, range.clone());
        laps.lap(Work::Weighting);
        self.books.whole.take_weighted(whole);
        self.books.audible.take_weighted(audible);
        let frames = self.frames - range.start as u64;
        let (Books { whole, over_times, .. }, rate_hz) = (&mut self.books, self.rate_hz);
        whole.take(&left.whole, range.clone(), |frame| {
            over_times.push((frames + frame as u64) as f64 / rate_hz);
        });
        self.books.audible.take(&left.audible, range.clone(), |_| ());
        if left.has_excess {
            self.books.damage.take(&left.whole, &left.excess, range.clone(), self.frames);
        }
        self.frames += range.len() as u64;
        laps.lap(Work::Books);
    }

    fn end_hop(&mut self) {
        let Books { whole, audible, damage, .. } = &mut self.books;
        let hop =
            Hop { whole: whole.end_hop(), audible: audible.end_hop(), damage: damage.end_hop() };
        self.weighted.settle();
        self.take_hop(&hop);
    }

    /// Follows what each cause costs, from moments at which all peaks stand at the same frame.
    fn note_peaks(&mut self) {
        let peaks = self.books.peaks();
        match &mut self.part {
            Some(part) if part.is_later() => part.keep_peaks(self.frames, peaks),
            _ => self.books.onsets.take(self.frames as f64 / self.rate_hz, &peaks),
        }
    }

    /// Completes the row that has ended in the latest batch, if anybody wants it.
    fn end_row(&mut self) {
        if self.history.is_none() && self.yours.kind().is_none() {
            return;
        }
        let peaks = self.books.take_stretch();
        let row = RowEnd { peaks, late: self.yours.late(peaks) };
        match &mut self.part {
            Some(part) if part.is_later() => {
                part.keep_row(row);
                self.yours.begin_row();
            }
            _ => self.complete_row(row),
        }
    }

    /// Completes the latest row.
    pub(super) fn complete_row(&mut self, row: RowEnd) {
        let shown = self.yours.end_row(&self.books, row.late);
        if let Some(last) = self.history.as_mut().and_then(|rows| rows.last_mut()) {
            [last.whole.true_peak_dbtp, last.audible.true_peak_dbtp] =
                row.peaks.map(readout::peak_level);
            last.your_meter_db = shown;
        }
    }

    pub(super) fn take_hop(&mut self, hop: &Hop) {
        self.hops += 1;
        if let Some(part) = &mut self.part
            && part.keeps(hop)
        {
            return;
        }
        self.books.whole.push_hop(&hop.whole);
        self.books.audible.push_hop(&hop.audible);
        self.yours.end_hop(&self.books, self.hops, self.layout.channels() as f64);
        let end = self.hop_end(self.hops);
        self.books.damage.push_hop(hop.damage, hop.audible.programme(), end);
        if self.history.is_some() && self.hops.is_multiple_of(HOPS_A_ROW) {
            let row = readout::history_row(self);
            self.history.iter_mut().for_each(|rows| rows.push(row));
        }
    }
}
