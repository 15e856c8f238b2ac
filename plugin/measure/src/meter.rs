//! The meter: takes the bus in blocks of any length and keeps its readings.
//!
//! Samples are gathered into batches of 128 frames and delayed by the band filter's delay, so that
//! whole band and audible band are read at the same moment of the programme and readings do not
//! depend on how the host cuts its blocks. The filters never stop: what counts and what does not is
//! decided for each batch when it leaves them.

mod books;
mod detail;
mod drawn;
mod excess;
mod filters;
pub(crate) mod inlet;
pub(crate) mod layout;
mod measured;
mod parts;
mod passage;
mod shown;
mod unreset;
mod weighted;
mod yours;

use crate::batch::PairBatch;
use crate::channel::ChannelRole;
use crate::detector::MeterKind;
use crate::history::{HistoryRow, ROWS_A_SECOND};
use crate::laps::{Laps, Work};
use crate::reading::Reading;
use crate::settings::{self, ClipAt, Halves, Settings, SettingsError, View};
pub(crate) use detail::{Detail, FineSpectrum};
use filters::Filters;
use layout::Layout;
use measured::{Measured, Pause};
use passage::{Leaving, Passing};
pub(crate) use shown::{HELD, HeldPeaks};
use unreset::Unreset;

/// Hops a second.
const HOPS_A_SECOND: f64 = 100.0;
/// Hops in a row of history.
const HOPS_A_ROW: u64 = HOPS_A_SECOND as u64 / ROWS_A_SECOND;

/// Measures a bus.
///
/// Construction allocates; [`process`](Self::process), [`finish`](Self::finish),
/// [`reset`](Self::reset), [`reading`](Self::reading) and [`spectrum`](Self::spectrum) do not,
/// [`splice`](Self::splice), [`pass`](Self::pass) and [`pause`](Self::pause) do not either; all are safe on an audio
/// thread. Readings do not depend on how the stream is cut into blocks. They lag behind the input by
/// [`delay_frames`](Self::delay_frames) until `finish` is called.
pub struct Meter {
    filters: Filters,
    measured: Measured,
    /// What is kept on demand: what was measured before the latest reset.
    unreset: Option<Unreset>,
    /// What else is kept on demand.
    detail: Option<Detail>,
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
        let end_hz = filters.audible_end_hz();
        let measured = Measured::new(rate_hz, layout, settings, end_hz);
        Ok(Self { filters, measured, unreset: None, detail: None })
    }

    /// Takes a block: `main[channel][frame]` and `side_chain[channel][frame]`, as many channels as
    /// announced, all of one length (the shortest counts). A missing side-chain is silent. Samples
    /// that are no level (NaN, infinite, above +120 dBFS) count as zero and are counted.
    pub fn process(&mut self, main: &[&[f32]], side_chain: &[&[f32]]) {
        self.take(main, side_chain, true, &mut ());
    }

    /// The same, for who wants to know how long each part of it takes.
    pub fn process_in_laps(
        &mut self,
        main: &[&[f32]],
        side_chain: &[&[f32]],
        laps: &mut impl Laps,
    ) {
        self.take(main, side_chain, true, laps);
    }

    /// Takes a block that is not to be read, as [`process`](Self::process) would: the filters run
    /// on, so that what follows can be read from its first frame (to the batch of 128 frames).
    pub fn pass(&mut self, main: &[&[f32]], side_chain: &[&[f32]]) {
        self.take(main, side_chain, false, &mut ());
    }

    fn take(&mut self, main: &[&[f32]], side_chain: &[&[f32]], counts: bool, laps: &mut impl Laps) {
        let frames = main.iter().map(|channel| channel.len()).min().unwrap_or(0);
        if frames > 0 {
            self.resume();
        }
        self.filters.announce(counts || frames == 0);
        let mut taken = 0;
        while taken < frames && !self.has_ended() {
            taken += self.filters.inlet.take(main, side_chain, taken..frames);
            laps.lap(Work::Inlet);
            if let Some(leaving) = self.filters.advance_if_full(counts, laps) {
                self.hear(leaving, laps);
                self.mark_part();
            }
        }
        self.filters.end_block();
        if let Some(unreset) = &mut self.unreset {
            unreset.let_pass(frames);
        }
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
        if let Some(leaving) = self.filters.advance_if_full(counts, &mut ()) {
            self.hear(leaving, &mut ());
        }
        self.filters.end_block();
    }

    /// Measures what is still inside the filters, as if silence followed. Call it once at the end of
    /// a file or a render; measuring can go on afterwards, as from silence.
    pub fn finish(&mut self) {
        if let Some(leaving) = self.filters.flush() {
            self.hear(leaving, &mut ());
        }
        for _ in 0..self.filters.batches() {
            let leaving = self.filters.advance_by_silence();
            self.hear(leaving, &mut ());
        }
        // The waveform goes on between the last samples and the silence behind them.
        self.filters.silence_what_left();
        self.measured.hear_the_end(&self.filters);
        if let Some(unreset) = self.unreset.as_mut().and_then(Unreset::running) {
            unreset.hear_the_end(&self.filters);
        }
        self.empty_filters();
        self.measured.spectra.finish();
        if let Some(unreset) = self.unreset_mut() {
            unreset.spectra.finish();
        }
    }

    /// Measures what is still inside the filters, as [`finish`](Self::finish) does, where the sound is
    /// only interrupted: the peaks that are found that way have the cut in them, and are let go again
    /// when more comes. Of what comes then, only frames count that no filter joins to the cut.
    pub fn pause(&mut self) {
        let is_silent = self.filters.are_silent();
        let pause = self.measured.pause(is_silent);
        let pause_unreset = self.unreset_mut().map(|unreset| unreset.pause(is_silent));
        self.finish();
        self.measured.pause = pause;
        if let (Some(unreset), Some(pause)) = (self.unreset_mut(), pause_unreset) {
            unreset.pause = pause;
        }
    }

    fn resume(&mut self) {
        let has_paused = self.measured.resume();
        let unreset_has = self.unreset_mut().is_some_and(Measured::resume);
        if has_paused || unreset_has {
            self.join_midway();
        }
    }

    /// Clears everything measured. The filters run on, and what has come in before this call no
    /// longer counts, to the batch of 128 frames.
    pub fn reset(&mut self) {
        let invalid_frames = self.filters.inlet.invalid_frames();
        self.filters.let_go();
        match &mut self.unreset {
            Some(unreset) => unreset.begin(&mut self.measured, invalid_frames),
            None => self.measured.reset(),
        }
        self.detail.iter_mut().for_each(Detail::reset);
    }

    /// Lets a reset be undone from now on, until `frames` more have been taken. For a meter that was
    /// just made and keeps nothing else but history. Allocates as much as the meter itself; behind a
    /// reset, measuring takes about twice as long for as long as that.
    pub fn keep_resets(&mut self, frames: u64) {
        let Measured { rate_hz, settings, ref layout, ref history, .. } = self.measured;
        let end_hz = self.filters.audible_end_hz();
        let mut measured = Measured::new(rate_hz, layout.clone(), settings, end_hz);
        measured.clip_at(self.measured.books.damage.clip_at());
        if history.is_some() {
            measured.keep_history();
        }
        self.unreset = Some(Unreset::new(measured, frames));
    }

    /// Undoes the latest reset: from here on, everything reads as if it had never been. False, and
    /// nothing changes, where resets are not [kept](Self::keep_resets) or there was none lately. Does
    /// not allocate.
    pub fn undo_reset(&mut self) -> bool {
        let Some(unreset) = self.unreset.as_mut() else { return false };
        let Some(invalid_frames) = unreset.undo(&mut self.measured) else { return false };
        self.filters.undo_let_go(invalid_frames);
        true
    }

    /// Clears everything, what is inside the filters included: the meter is as when it was made.
    pub fn restart(&mut self) {
        self.unreset.iter_mut().for_each(Unreset::forget);
        self.empty_filters();
        self.filters.let_go();
        self.measured.reset();
        self.measured.pause = Pause::None;
        self.detail.iter_mut().for_each(Detail::reset);
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
        self.measured.set_ceiling_db(ceiling_db);
        self.change_unreset(|measured| measured.set_ceiling_db(ceiling_db));
        self.filters.set_limit(self.measured.books.damage.limit());
    }

    /// Says where clipping is thought, to tell what it would add: at full scale unless set, or at the
    /// ceiling. A change starts that measure afresh, and so does a change of the ceiling then.
    pub fn clip_at(&mut self, clip_at: ClipAt) {
        self.measured.clip_at(clip_at);
        self.change_unreset(|measured| measured.clip_at(clip_at));
        self.filters.set_limit(self.measured.books.damage.limit());
    }

    /// Chooses the kind of the user's own meter, which [`reading`](Self::reading) then tells with the
    /// offset of its view; another kind begins from rest.
    pub fn set_your_meter(&mut self, kind: Option<MeterKind>) {
        self.measured.yours.choose(kind);
        self.change_unreset(|measured| measured.yours.choose(kind));
    }

    /// Says how many bits the samples' words have, where they come from a file of integers: full scale
    /// is then the largest code of such a word. Without it, as for floating point, it is 1.0. For a
    /// meter that has measured nothing yet.
    pub fn set_word_bits(&mut self, word_bits: Option<u32>) {
        self.measured.set_word_bits(word_bits);
        self.filters.set_limit(self.measured.books.damage.limit());
    }

    /// Works out tones and spectrum when [`finish`](Self::finish) is called, and not on the way
    /// there: for what has no screen.
    pub fn draw_at_the_end(&mut self) {
        self.measured.spectra.draw_at_the_end();
    }

    /// Works out tones and spectrum now: not for an audio thread.
    pub(crate) fn draw_now(&mut self) {
        self.measured.spectra.finish();
    }

    /// Keeps a row of history for every tenth of a second from now on, until
    /// [`take_history`](Self::take_history) or [`drain_history`](Self::drain_history) takes them away.
    /// Allocates, as measuring does, then, unless less than 3 s are measured between two drains.
    pub fn keep_history(&mut self) {
        self.measured.keep_history();
        self.change_unreset(Measured::keep_history);
    }

    /// Keeps what an entry needs beside a reading, from now on. Measuring takes more time at once,
    /// then: not for an audio thread.
    pub(crate) fn keep_detail(&mut self) {
        self.detail = Some(Detail::of_entry(self.measured.rate_hz, &self.measured.layout));
    }

    /// Keeps what the decorrelation time is told from: transforms of 1.3 s, half overlapping at first,
    /// then further apart the longer it lasts, up to twelve of their lengths. For a meter that has measured
    /// nothing yet, and not for an audio thread, since a transform comes all at once.
    pub fn keep_decorrelation(&mut self) {
        self.detail = Some(Detail::of_recording(self.measured.rate_hz, &self.measured.layout));
    }

    /// What is kept on demand.
    pub(crate) fn detail(&self) -> Option<&Detail> {
        self.detail.as_ref()
    }

    /// The rows since the last call, oldest first.
    pub fn take_history(&mut self) -> Vec<HistoryRow> {
        self.measured.history.as_mut().map(std::mem::take).unwrap_or_default()
    }

    /// The rows since the last call, oldest first, with the space that they took left for more. Does not
    /// allocate.
    pub fn drain_history(&mut self) -> impl Iterator<Item = HistoryRow> {
        self.measured.history.iter_mut().flat_map(|rows| rows.drain(..))
    }

    /// Overs of the bus since reset.
    #[must_use]
    pub fn overs(&self) -> u64 {
        self.measured.books.overs()
    }

    /// How much has been measured since reset, in seconds.
    #[must_use]
    pub fn measured_s(&self) -> f64 {
        self.measured.frames as f64 / self.measured.rate_hz
    }

    /// Sample rate, in Hz.
    #[must_use]
    pub fn rate_hz(&self) -> f64 {
        self.measured.rate_hz
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
        let edges = self.measured.settings.edges;
        let decorrelation_ms = self.detail().map(|detail| detail.decorrelation(edges));
        let invalid_frames = self.filters.inlet.invalid_frames();
        self.measured.read(view, decorrelation_ms.unwrap_or_default(), invalid_frames)
    }

    /// Whether there is a half B.
    fn has_b(&self) -> bool {
        self.measured.has_b()
    }

    /// As before the stream began.
    fn empty_filters(&mut self) {
        self.filters.reset();
        self.measured.empty_filters();
        self.unreset_mut().into_iter().for_each(Measured::empty_filters);
    }

    /// Changes how is measured where resets are kept, as it was changed here.
    fn change_unreset(&mut self, change: impl FnOnce(&mut Measured)) {
        if let Some(unreset) = &mut self.unreset {
            unreset.change(change);
        }
    }

    /// What runs on as if there had been no latest reset, while that can be undone.
    fn unreset_mut(&mut self) -> Option<&mut Measured> {
        self.unreset.as_mut().and_then(Unreset::running)
    }

    /// Hears what has left the filters.
    fn hear(&mut self, leaving: Leaving, laps: &mut impl Laps) {
        let Self { filters, measured, unreset, detail, .. } = self;
        let mut unreset = unreset.as_mut().and_then(Unreset::running);
        let of_unreset = leaving.unreset.read().filter(|_| unreset.is_some());
        if leaving.now == Passing::Lead {
            // For both: neither has begun.
            return;
        }
        if let Some(count) = leaving.now.read().or(of_unreset) {
            filters.silence_from(count);
        }
        filters.take_apart(|pair, half, energies| {
            if leaving.now.read().is_some() {
                measured.books.hidden.take(pair, half, energies);
            }
            if let Some(unreset) = unreset.as_mut().filter(|_| of_unreset.is_some()) {
                unreset.books.hidden.take(pair, half, energies);
            }
        });
        laps.lap(Work::TakingApart);
        // A batch bears one stage at most.
        let works = measured.spectra.are_idle();
        measured.hear(filters, leaving.now, true, laps);
        if let Some(unreset) = unreset {
            unreset.hear(filters, leaving.unreset, works, &mut ());
            unreset.keep_latest_row();
        }
        if let Some(detail) = detail {
            match leaving.now.read() {
                Some(count) => detail.take(&filters.left, count),
                None => detail.interrupt(),
            }
        }
    }
}
