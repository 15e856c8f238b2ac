//! The meter: takes the bus in blocks of any length and keeps its readings.
//!
//! Samples are gathered into batches of 64 frames and delayed by the band filter's delay, so that
//! whole band and audible band are read at the same moment of the programme and readings do not
//! depend on how the host cuts its blocks. The filters never stop: what counts and what does not is
//! decided for each batch when it leaves them.

mod books;
mod detail;
mod filters;
pub(crate) mod inlet;
pub(crate) mod layout;
mod parts;
mod passage;
mod readout;
mod shown;
mod weighted;

use crate::batch::PairBatch;
use crate::channel::ChannelRole;
use crate::history::{HistoryRow, ROWS_A_SECOND};
use crate::reading::{OverTimes, Reading};
use crate::settings::{self, Halves, Settings, SettingsError, View};
use crate::signal::BUS;
use crate::spectrum::{Pairing, Spectra, Spectrum};
use books::{Books, Held};
pub(crate) use detail::{Detail, FineSpectrum};
use filters::Filters;
use layout::Layout;
use parts::{Hop, Part};
use passage::Passing;
pub(crate) use shown::{HELD, HeldPeaks};
use weighted::Weighted;

/// Hops a second.
const HOPS_A_SECOND: f64 = 100.0;
/// Hops in a row of history.
const HOPS_A_ROW: u64 = HOPS_A_SECOND as u64 / ROWS_A_SECOND;
/// Rows that there is space for without allocating.
const ROWS_AT_ONCE: usize = 32;

/// Measures a bus.
///
/// Construction allocates; [`process`](Self::process), [`finish`](Self::finish),
/// [`reset`](Self::reset), [`reading`](Self::reading) and [`spectrum`](Self::spectrum) do not,
/// [`splice`](Self::splice), [`pass`](Self::pass) and [`pause`](Self::pause) do not either; all are safe on an audio
/// thread. Readings do not depend on how the stream is cut into blocks. They lag behind the input by
/// [`delay_frames`](Self::delay_frames) until `finish` is called.
pub struct Meter {
    settings: Settings,
    rate_hz: f64,
    layout: Layout,
    filters: Filters,
    pause: Pause,
    weighted: Weighted,
    books: Books,
    spectra: Spectra,
    /// What is kept on demand.
    detail: Option<Detail>,
    hops: u64,
    over_times: OverTimes,
    /// Rows that nobody has taken yet; `None` where nobody wants them.
    history: Option<Vec<HistoryRow>>,
    /// Frames measured since reset.
    frames: u64,
    /// The stretch that counts, where that is not all.
    part: Option<Part>,
}

/// What has to be done when more comes.
#[allow(clippy::large_enum_variant, reason = "every meter holds one, and a box would allocate")]
enum Pause {
    None,
    /// Nothing that was measured before is left.
    Cleared,
    /// The peaks as they were, and how many hops had ended.
    After {
        held: Held,
        hops: u64,
    },
}

impl Meter {
    /// A meter for a bus at `rate_hz` whose main input has `main` channels and whose side-chain
    /// input has `side_chain` channels (0 where there is none).
    ///
    /// # Errors
    ///
    /// When the rate, the edges or the channels cannot be measured. An upper edge above half the
    /// sample rate is no error: nothing is hidden above it, then.
    pub fn new(
        rate_hz: f64,
        main: usize,
        side_chain: usize,
        settings: Settings,
    ) -> Result<Self, SettingsError> {
        Self::of_layout(rate_hz, Layout::of_inputs(main, side_chain, settings.halves)?, settings)
    }

    /// A meter for a bus at `rate_hz` with one input of 1 to 64 channels, such as a file holds; all
    /// go into the main input of [`process`](Self::process). What `settings` say of the halves does
    /// not count.
    ///
    /// One channel is measured in mono, two as left and right, whatever their roles. Of more, the
    /// first [`Left`](ChannelRole::Left) and the first [`Right`](ChannelRole::Right) are the halves
    /// (the first two channels where either is missing), and the bus holds every channel: peaks,
    /// overs, energy, hidden content, limiter drive and spectrum know no difference between them, and
    /// loudness weighs them by role. So the low-frequency channel adds to everything but loudness.
    ///
    /// # Errors
    ///
    /// When the rate, the edges or the number of channels cannot be measured.
    pub fn for_channels(
        rate_hz: f64,
        roles: &[ChannelRole],
        settings: Settings,
    ) -> Result<Self, SettingsError> {
        let halves = if roles.len() == 1 { Halves::Mono } else { Halves::LeftRight };
        Self::of_layout(rate_hz, Layout::of_channels(roles)?, Settings { halves, ..settings })
    }

    pub(crate) fn of_layout(
        rate_hz: f64,
        layout: Layout,
        settings: Settings,
    ) -> Result<Self, SettingsError> {
        settings::check_rate(rate_hz)?;
        let filters = Filters::new(rate_hz, settings.edges, &layout);
        let pairing = Pairing {
            pairs: layout.pairs.len(),
            channels: layout.channels(),
            halves_pairs: if settings.halves == Halves::Mono { 0 } else { layout.halves_pairs },
        };
        Ok(Self {
            settings,
            rate_hz,
            weighted: Weighted::new(rate_hz, &layout),
            books: Books::new(rate_hz, &settings, &layout, filters.audible_end_hz()),
            filters,
            pause: Pause::None,
            spectra: Spectra::new(rate_hz, settings.edges, pairing),
            detail: None,
            hops: 0,
            over_times: OverTimes::default(),
            history: None,
            frames: 0,
            part: None,
            layout,
        })
    }

    /// Takes a block: `main[channel][frame]` and `side_chain[channel][frame]`, as many channels as
    /// announced, all of one length (the shortest counts). A missing side-chain is silent. Samples
    /// that are no level (NaN, infinite, above +120 dBFS) count as zero and are counted.
    pub fn process(&mut self, main: &[&[f32]], side_chain: &[&[f32]]) {
        self.take(main, side_chain, true);
    }

    /// Takes a block that is not to be read, as [`process`](Self::process) would: the filters run
    /// on, so that what follows can be read from its first frame (to the batch of 64 frames).
    pub fn pass(&mut self, main: &[&[f32]], side_chain: &[&[f32]]) {
        self.take(main, side_chain, false);
    }

    fn take(&mut self, main: &[&[f32]], side_chain: &[&[f32]], counts: bool) {
        let frames = main.iter().map(|channel| channel.len()).min().unwrap_or(0);
        if frames > 0 {
            self.resume();
        }
        self.filters.announce(counts || frames == 0);
        let mut taken = 0;
        while taken < frames && !self.has_ended() {
            taken += self.filters.inlet.take(main, side_chain, taken..frames);
            if let Some(leaving) = self.filters.advance_if_full(counts) {
                self.hear(leaving);
                self.mark_part();
            }
        }
        self.filters.end_block();
    }

    /// Takes the first `count` frames of a batch that another inlet has made, which says how many of them
    /// held what is no sample; `counts` as in [`process`](Self::process) and not as in
    /// [`pass`](Self::pass). For a meter that is given nothing else; only the last batch may be short.
    pub(crate) fn take_batch(
        &mut self,
        batch: &[PairBatch],
        count: usize,
        invalid: u64,
        counts: bool,
    ) {
        self.resume();
        self.filters.announce(counts);
        self.filters.inlet.put(batch, count, if counts { invalid } else { 0 });
        if let Some(leaving) = self.filters.advance_if_full(counts) {
            self.hear(leaving);
        }
        self.filters.end_block();
    }

    /// Measures what is still inside the filters, as if silence followed. Call it once at the end of
    /// a file or a render; measuring can go on afterwards, as from silence.
    pub fn finish(&mut self) {
        if let Some(leaving) = self.filters.flush() {
            self.hear(leaving);
        }
        for _ in 0..self.filters.batches() {
            let leaving = self.filters.advance_by_silence();
            self.hear(leaving);
        }
        // The waveform goes on between the last samples and the silence behind them.
        self.filters.silence_what_left();
        self.books.take_whole_peaks(&self.filters);
        self.books.take_audible_peaks(&self.filters);
        self.books.whole.cut();
        self.empty_filters();
        self.spectra.finish();
    }

    /// Measures what is still inside the filters, as [`finish`](Self::finish) does, where the sound is
    /// only interrupted: the peaks that are found that way have the cut in them, and are let go again
    /// when more comes. Of what comes then, only frames count that no filter joins to the cut.
    pub fn pause(&mut self) {
        let is_silent = self.filters.are_silent();
        let pause = std::mem::replace(&mut self.pause, Pause::None);
        let held = self.books.held();
        let hops = self.hops;
        self.finish();
        self.pause = match pause {
            Pause::None if is_silent => Pause::None,
            Pause::None => Pause::After { held, hops },
            paused => paused,
        };
    }

    fn resume(&mut self) {
        match std::mem::replace(&mut self.pause, Pause::None) {
            Pause::None => {}
            Pause::Cleared => self.join_midway(),
            Pause::After { held, hops } => {
                self.books.return_to(held, (self.hops - hops) as usize);
                self.join_midway();
            }
        }
    }

    /// Clears everything measured. The filters run on, and what has come in before this call no
    /// longer counts, to the batch of 64 frames.
    pub fn reset(&mut self) {
        self.filters.let_go();
        self.books.reset();
        self.spectra.reset();
        self.detail.iter_mut().for_each(Detail::reset);
        self.hops = 0;
        self.over_times = OverTimes::default();
        self.history.iter_mut().for_each(Vec::clear);
        self.frames = 0;
        self.part = None;
        if matches!(self.pause, Pause::After { .. }) {
            self.pause = Pause::Cleared;
        }
    }

    /// Clears everything, what is inside the filters included: the meter is as when it was made.
    pub fn restart(&mut self) {
        self.empty_filters();
        self.reset();
        self.pause = Pause::None;
    }

    /// What comes next does not go on from what came before: the transport jumps, the host has
    /// stopped or was reset. Readings stay; only frames count from here on that no filter joins to
    /// what was before, and what is still inside the filters does not. Where that is silence, there
    /// is nothing to join, and what comes next begins as a file does.
    pub fn splice(&mut self) {
        if !self.filters.are_silent() {
            self.join_midway();
        }
    }

    /// What comes next goes on from something that this meter has not heard: only frames count that
    /// no filter joins to what was before.
    pub fn join_midway(&mut self) {
        self.filters.let_go_and_settle();
    }

    /// Sets the ceiling that the limiter drive is measured against, in dBFS (−1 unless set). A
    /// change starts that measure afresh.
    pub fn set_ceiling_db(&mut self, ceiling_db: f64) {
        self.books.whole.limiter.set_ceiling(ceiling_db);
        self.books.audible.limiter.set_ceiling(ceiling_db);
    }

    /// Says how many bits the samples' words have, where they come from a file of integers: full scale
    /// is then the largest code of such a word. Without it, as for floating point, it is 1.0. For a
    /// meter that has measured nothing yet.
    pub fn set_word_bits(&mut self, word_bits: Option<u32>) {
        self.books.whole.set_word_bits(word_bits);
        self.books.audible.set_word_bits(word_bits);
    }

    /// Works out tones and spectrum when [`finish`](Self::finish) is called, and not on the way
    /// there: for what has no screen.
    pub fn draw_at_the_end(&mut self) {
        self.spectra.draw_at_the_end();
    }

    /// Works out tones and spectrum now: not for an audio thread.
    pub(crate) fn draw_now(&mut self) {
        self.spectra.finish();
    }

    /// Keeps a row of history for every tenth of a second from now on, until
    /// [`take_history`](Self::take_history) or [`drain_history`](Self::drain_history) takes them away.
    /// Allocates, as measuring does, then, unless less than 3 s are measured between two drains.
    pub fn keep_history(&mut self) {
        self.history.get_or_insert_with(|| Vec::with_capacity(ROWS_AT_ONCE));
    }

    /// Keeps what an entry needs beside a reading, from now on. Measuring takes more time at once,
    /// then: not for an audio thread.
    pub(crate) fn keep_detail(&mut self) {
        self.detail = Some(Detail::of_entry(self.rate_hz, &self.layout));
    }

    /// Keeps what the decorrelation time is told from: transforms of 1.3 s, half overlapping at first,
    /// then further apart the longer it lasts, up to twelve of their lengths. For a meter that has measured
    /// nothing yet, and not for an audio thread, since a transform comes all at once.
    pub fn keep_decorrelation(&mut self) {
        self.detail = Some(Detail::of_recording(self.rate_hz, &self.layout));
    }

    /// What is kept on demand.
    pub(crate) fn detail(&self) -> Option<&Detail> {
        self.detail.as_ref()
    }

    /// The rows since the last call, oldest first.
    pub fn take_history(&mut self) -> Vec<HistoryRow> {
        self.history.as_mut().map(std::mem::take).unwrap_or_default()
    }

    /// The rows since the last call, oldest first, with the space that they took left for more. Does not
    /// allocate.
    pub fn drain_history(&mut self) -> impl Iterator<Item = HistoryRow> {
        self.history.iter_mut().flat_map(|rows| rows.drain(..))
    }

    /// Overs of the bus since reset.
    #[must_use]
    pub fn overs(&self) -> u64 {
        self.books.whole.overs(BUS)
    }

    /// How much has been measured since reset, in seconds.
    #[must_use]
    pub fn measured_s(&self) -> f64 {
        self.frames as f64 / self.rate_hz
    }

    /// Sample rate, in Hz.
    #[must_use]
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Frames by which readings are behind the input.
    #[must_use]
    pub fn delay_frames(&self) -> usize {
        self.filters.delay_frames()
    }

    /// Frames on either side of a frame that its reading in the audible band depends on.
    pub(crate) fn reach_frames(&self) -> usize {
        self.filters.reach_frames()
    }

    /// All readings at this moment.
    #[must_use]
    pub fn reading(&self, view: &View) -> Reading {
        readout::read(self, view)
    }

    /// The spectrum at this moment.
    #[must_use]
    pub fn spectrum(&self) -> Spectrum {
        self.spectra.drawn()
    }

    /// Whether there is a half B.
    fn has_b(&self) -> bool {
        self.settings.halves != Halves::Mono
    }

    /// As before the stream began.
    fn empty_filters(&mut self) {
        self.filters.reset();
        self.weighted.reset();
        self.spectra.empty_filters();
    }

    /// Hears what has left the filters.
    fn hear(&mut self, leaving: Passing) {
        match leaving {
            Passing::Lead => {}
            Passing::Unread => self.run_on(),
            Passing::Read(count) => self.measure(count),
        }
    }

    /// Lets a batch run through what looks back, without reading it.
    fn run_on(&mut self) {
        self.filters.take_apart(|_, _, _| ());
        let left = &self.filters.left;
        self.weighted.pass(left);
        self.spectra.pass(&left.whole);
        self.detail.iter_mut().for_each(Detail::interrupt);
        self.books.pass(&self.filters);
        self.books.tidy();
        self.spectra.work();
    }

    fn measure(&mut self, count: usize) {
        self.filters.silence_from(count);
        let hidden = &mut self.books.hidden;
        self.filters.take_apart(|pair, half, energies| hidden.take(pair, half, energies));
        self.books.take_whole_peaks(&self.filters);
        let hops = self.hops;
        let mut start = 0;
        while start < count {
            let until_hop = self.next_hop_end() - self.frames;
            let stretch = usize::try_from(until_hop).unwrap_or(count).min(count - start);
            self.measure_stretch(start..start + stretch);
            start += stretch;
            if stretch as u64 == until_hop {
                self.end_hop();
            }
        }
        self.books.take_audible_peaks(&self.filters);
        if self.hops > hops {
            self.note_peaks();
            self.end_row();
        }
        self.spectra.work();
        self.spectra.take(&self.filters.left.whole, count);
        if let Some(detail) = &mut self.detail {
            detail.take(&self.filters.left, count);
        }
    }

    /// The frame since reset at which the open hop ends: hops of 10 ms, to the nearest sample.
    fn next_hop_end(&self) -> u64 {
        ((self.hops + 1) as f64 * self.rate_hz / HOPS_A_SECOND).round() as u64
    }

    fn measure_stretch(&mut self, range: std::ops::Range<usize>) {
        let [whole, audible] = self.weighted.take(&self.filters.left, range.clone());
        self.books.whole.take_weighted(whole);
        self.books.audible.take_weighted(audible);
        let frames = self.frames - range.start as u64;
        let (over_times, rate_hz) = (&mut self.over_times, self.rate_hz);
        self.books.whole.take(&self.filters.left.whole, range.clone(), |frame| {
            over_times.push((frames + frame as u64) as f64 / rate_hz);
        });
        self.books.audible.take(&self.filters.left.audible, range.clone(), |_| ());
        self.frames += range.len() as u64;
    }

    fn end_hop(&mut self) {
        let hop = Hop { whole: self.books.whole.end_hop(), audible: self.books.audible.end_hop() };
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

    /// Completes the row of history that has ended in the latest batch, if one has.
    fn end_row(&mut self) {
        if self.history.is_none() || !self.hops.is_multiple_of(HOPS_A_ROW) {
            return;
        }
        let peaks = self.books.take_stretch();
        match &mut self.part {
            Some(part) if part.is_later() => part.keep_row(peaks),
            _ => self.complete_row(peaks),
        }
    }

    /// Completes the latest row of history by its true peaks, linear: whole band, audible band.
    fn complete_row(&mut self, peaks: [f32; 2]) {
        if let Some(row) = self.history.as_mut().and_then(|rows| rows.last_mut()) {
            [row.whole.true_peak_dbtp, row.audible.true_peak_dbtp] = peaks.map(readout::peak_level);
        }
    }

    fn take_hop(&mut self, hop: &Hop) {
        self.hops += 1;
        if let Some(part) = &mut self.part
            && part.keeps(hop)
        {
            return;
        }
        self.books.whole.push_hop(&hop.whole);
        self.books.audible.push_hop(&hop.audible);
        if self.history.is_some() && self.hops.is_multiple_of(HOPS_A_ROW) {
            let row = readout::history_row(self);
            self.history.iter_mut().for_each(|rows| rows.push(row));
        }
    }
}
