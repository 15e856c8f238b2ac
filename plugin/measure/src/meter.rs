//! The meter: takes the bus in blocks of any length and keeps its readings.
//!
//! Samples are gathered into batches of 64 frames and delayed by the band filter's delay, so that
//! whole band and audible band are read at the same moment of the programme and readings do not
//! depend on how the host cuts its blocks. The filters never stop: what counts and what does not is
//! decided for each batch when it leaves them.

mod inlet;
mod layout;
mod parts;
mod passage;
mod readout;
mod spectra;

use pulp::Arch;

use crate::band::{SplitBatch, Splitter, stop_edge_hz};
use crate::batch::BATCH_FRAMES;
use crate::book::{BandBook, PairBatch, PeaksHeld};
use crate::channel::ChannelRole;
use crate::energy::take_apart;
use crate::hidden::HiddenBook;
use crate::history::{HistoryRow, ROWS_A_SECOND};
use crate::limiter::LimiterDrive;
use crate::loudness::Loudness;
use crate::reading::{LateCopy, OverTimes, Reading, Tones};
use crate::settings::{self, Halves, Settings, SettingsError, View};
use crate::spectrum::{
    Analyser, Decimator, LateCopySearch, PointBins, Spectrum, Stages, ToneSearch, point_bins,
};
use crate::true_peak::TruePeaks;
use crate::weighting::{WeightedEnergies, Weighting, WeightingInput};
use inlet::Inlet;
use layout::{Layout, OtherEnergies};
use parts::{Hop, Part};
use passage::{Passage, Passing};
use spectra::Due;

/// Hops a second.
const HOPS_A_SECOND: f64 = 100.0;
/// Hops in a row of history.
const HOPS_A_ROW: u64 = HOPS_A_SECOND as u64 / ROWS_A_SECOND;
/// Loudness lanes: A, B, sum and bus of the whole band, then of the audible band.
const LOUDNESS_LANES: usize = 8;
/// Length of the transform at the full rate up to `LONG_TRANSFORM_FROM_HZ`, and from there.
const TRANSFORM_FRAMES: usize = 4096;
const LONG_TRANSFORM_FRAMES: usize = 8192;
const LONG_TRANSFORM_FROM_HZ: f64 = 64_000.0;
/// Length of the transform at the low rate.
const LOW_TRANSFORM_FRAMES: usize = 2048;

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
    arch: Arch,
    layout: Layout,
    inlet: Inlet,
    splitter: Splitter,
    passage: Passage,
    /// Whether all frames that wait for their batch are to be read.
    waiting_count: bool,
    /// Batches in a row that came in silent.
    silent_batches: usize,
    pause: Pause,
    weightings: Vec<Weighting>,
    whole: BandBook,
    audible: BandBook,
    hidden: HiddenBook,
    loudness: Loudness<LOUDNESS_LANES>,
    hop_loudness: [f64; LOUDNESS_LANES],
    hop_frames: usize,
    hops: u64,
    spectrum: Analyser,
    low_spectrum: Analyser,
    decimators: Vec<Decimator>,
    tones: Tones,
    tone_search: ToneSearch,
    points: Vec<PointBins>,
    drawing: Stages,
    late_copy: Option<LateCopy>,
    late_copy_search: LateCopySearch,
    drawn: Spectrum,
    /// The one that is under way.
    next_drawn: Spectrum,
    /// What is under way.
    due: Due,
    /// Whether tones and drawing follow each transform; otherwise they come with `finish` alone.
    live: bool,
    over_times: OverTimes,
    /// Rows that nobody has taken yet; `None` where nobody wants them.
    history: Option<Vec<HistoryRow>>,
    /// Frames measured since reset.
    frames: u64,
    /// Frames taken since reset.
    frames_taken: u64,
    batches: BatchBuffers,
    /// The stretch that counts, where that is not all.
    part: Option<Part>,
}

/// What has to be done when more comes.
#[allow(clippy::large_enum_variant, reason = "every meter holds one, and a box would allocate")]
enum Pause {
    None,
    /// Nothing that was measured before is left.
    Cleared,
    /// The peaks of the whole and of the audible band as they were, and how many hops had ended.
    After {
        held: (PeaksHeld, PeaksHeld),
        hops: u64,
    },
}

/// One batch of every pair on its way through the filters.
struct BatchBuffers {
    whole: Vec<PairBatch>,
    low_passed: Vec<PairBatch>,
    below: Vec<PairBatch>,
    audible: Vec<PairBatch>,
    /// At the low rate; only the first frames of each batch are in use.
    low_rate: Vec<PairBatch>,
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

    fn of_layout(rate_hz: f64, layout: Layout, settings: Settings) -> Result<Self, SettingsError> {
        settings::check(rate_hz, settings.edges)?;
        let (pairs, channels) = (layout.pairs.len(), layout.channels());
        let splitter = Splitter::new(rate_hz, settings.edges, channels);
        let audible_end_hz = stop_edge_hz(rate_hz, settings.edges.high_hz).unwrap_or(rate_hz / 2.0);
        let book = |highest_hz: f64| {
            let limiter = LimiterDrive::new(rate_hz, View::default().ceiling_db);
            BandBook::new(pairs, layout.halves_pairs, limiter, || {
                TruePeaks::new(settings.true_peak, rate_hz, highest_hz)
            })
        };
        let decimators: Vec<_> = (0..pairs).map(|_| Decimator::new(rate_hz)).collect();
        let low_rate_hz = rate_hz / decimators[0].factor() as f64;
        let transform =
            if rate_hz < LONG_TRANSFORM_FROM_HZ { TRANSFORM_FRAMES } else { LONG_TRANSFORM_FRAMES };
        let halves_pairs = if settings.halves == Halves::Mono { 0 } else { layout.halves_pairs };
        let spectrum = Analyser::new(rate_hz, transform, pairs, halves_pairs, channels);
        let low_spectrum = Analyser::new(low_rate_hz, LOW_TRANSFORM_FRAMES, pairs, 0, channels);
        let mut whole = book(rate_hz / 2.0);
        whole.find_flat_tops();
        Ok(Self {
            settings,
            rate_hz,
            arch: Arch::new(),
            inlet: Inlet::new(&layout),
            passage: Passage::new(splitter.delay_frames()),
            splitter,
            waiting_count: true,
            silent_batches: usize::MAX,
            pause: Pause::None,
            weightings: (0..pairs).map(|_| Weighting::new(rate_hz)).collect(),
            whole,
            audible: book(audible_end_hz),
            hidden: HiddenBook::new(pairs),
            loudness: Loudness::new(),
            hop_loudness: [0.0; LOUDNESS_LANES],
            hop_frames: 0,
            hops: 0,
            points: point_bins(rate_hz, &low_spectrum, &spectrum),
            late_copy_search: LateCopySearch::new(&spectrum),
            spectrum,
            low_spectrum,
            decimators,
            tones: Tones::default(),
            tone_search: ToneSearch::default(),
            drawing: Stages::default(),
            late_copy: None,
            drawn: Spectrum::empty(rate_hz),
            next_drawn: Spectrum::empty(rate_hz),
            due: Due::Transforms,
            live: true,
            over_times: OverTimes::default(),
            history: None,
            frames: 0,
            frames_taken: 0,
            batches: BatchBuffers {
                whole: vec![PairBatch::SILENCE; pairs],
                low_passed: vec![PairBatch::SILENCE; pairs],
                below: vec![PairBatch::SILENCE; pairs],
                audible: vec![PairBatch::SILENCE; pairs],
                low_rate: vec![PairBatch::SILENCE; pairs],
            },
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
        self.waiting_count &= counts || frames == 0;
        let mut taken = 0;
        while taken < frames && !self.has_ended() {
            taken += self.inlet.take(main, side_chain, taken..frames);
            if self.inlet.is_full() {
                self.frames_taken += BATCH_FRAMES as u64;
                let reads = std::mem::replace(&mut self.waiting_count, counts);
                self.advance(if reads { Passing::Read(BATCH_FRAMES) } else { Passing::Unread });
                self.mark_part();
            }
        }
        if !self.inlet.holds_frames() {
            self.waiting_count = true;
        }
    }

    /// Measures what is still inside the filters, as if silence followed. Call it once at the end of
    /// a file or a render; measuring can go on afterwards, as from silence.
    pub fn finish(&mut self) {
        let waiting = self.inlet.fill_with_silence();
        self.frames_taken += waiting as u64;
        if waiting > 0 {
            self.advance(if self.waiting_count { Passing::Read(waiting) } else { Passing::Unread });
        }
        for _ in 0..self.passage.batches() {
            self.inlet.fill_with_silence();
            self.advance(Passing::Unread);
        }
        // The waveform goes on between the last samples and the silence behind them.
        self.batches.whole.fill(PairBatch::SILENCE);
        self.batches.audible.fill(PairBatch::SILENCE);
        self.whole.take_true_peaks(&self.batches.whole, self.layout.second_channels());
        self.audible.take_true_peaks(&self.batches.audible, self.layout.second_channels());
        self.whole.cut();
        self.empty_filters();
        self.finish_spectra();
    }

    /// Measures what is still inside the filters, as [`finish`](Self::finish) does, where the sound is
    /// only interrupted: the peaks that are found that way have the cut in them, and are let go again
    /// when more comes. Of what comes then, only frames count that no filter joins to the cut.
    pub fn pause(&mut self) {
        let is_silent = self.is_silent();
        let pause = std::mem::replace(&mut self.pause, Pause::None);
        let held = (self.whole.peaks_held(), self.audible.peaks_held());
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
            Pause::After { held: (whole, audible), hops } => {
                let hops = (self.hops - hops) as usize;
                self.whole.return_to(whole, hops);
                self.audible.return_to(audible, hops);
                self.join_midway();
            }
        }
    }

    /// Whether the filters hold nothing but silence.
    fn is_silent(&self) -> bool {
        self.silent_batches > self.passage.batches() + 1 && !self.inlet.holds_frames()
    }

    /// Clears everything measured. The filters run on, and what has come in before this call no
    /// longer counts, to the batch of 64 frames.
    pub fn reset(&mut self) {
        self.let_go_of_what_is_inside(0);
        self.inlet.reset();
        self.whole.reset();
        self.audible.reset();
        self.hidden.reset();
        self.loudness.reset();
        self.hop_loudness = [0.0; LOUDNESS_LANES];
        self.hop_frames = 0;
        self.hops = 0;
        self.reset_spectra();
        self.tones = Tones::default();
        self.late_copy = None;
        self.drawn = Spectrum::empty(self.rate_hz);
        self.over_times = OverTimes::default();
        self.history.iter_mut().for_each(Vec::clear);
        self.frames = 0;
        self.frames_taken = 0;
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
        if !self.is_silent() {
            self.join_midway();
        }
    }

    /// What comes next goes on from something that this meter has not heard: only frames count that
    /// no filter joins to what was before.
    pub fn join_midway(&mut self) {
        // One batch more for the waveform between the samples.
        self.let_go_of_what_is_inside(self.splitter.reach_frames().div_ceil(BATCH_FRAMES) + 1);
    }

    /// Lets nothing count that is in the filters, nor the next `more` batches.
    fn let_go_of_what_is_inside(&mut self, more: usize) {
        self.passage.forget(more + usize::from(self.inlet.holds_frames()));
    }

    /// Sets the ceiling that the limiter drive is measured against, in dBFS (−1 unless set). A
    /// change starts that measure afresh.
    pub fn set_ceiling_db(&mut self, ceiling_db: f64) {
        self.whole.limiter.set_ceiling(ceiling_db);
        self.audible.limiter.set_ceiling(ceiling_db);
    }

    /// Says how many bits the samples' words have, where they come from a file of integers: full scale
    /// is then the largest code of such a word. Without it, as for floating point, it is 1.0. For a
    /// meter that has measured nothing yet.
    pub fn set_word_bits(&mut self, word_bits: Option<u32>) {
        self.whole.set_word_bits(word_bits);
        self.audible.set_word_bits(word_bits);
    }

    /// Works out tones and spectrum when [`finish`](Self::finish) is called, and not on the way
    /// there: for what has no screen.
    pub fn draw_at_the_end(&mut self) {
        self.live = false;
    }

    /// Keeps a row of history for every tenth of a second from now on, until
    /// [`take_history`](Self::take_history) takes them away. Measuring allocates, then: not for an
    /// audio thread.
    pub fn keep_history(&mut self) {
        self.history.get_or_insert_default();
    }

    /// The rows since the last call, oldest first.
    pub fn take_history(&mut self) -> Vec<HistoryRow> {
        self.history.as_mut().map(std::mem::take).unwrap_or_default()
    }

    /// Sample rate, in Hz.
    #[must_use]
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Frames by which readings are behind the input.
    #[must_use]
    pub fn delay_frames(&self) -> usize {
        self.splitter.delay_frames() + BATCH_FRAMES
    }

    /// All readings at this moment.
    #[must_use]
    pub fn reading(&self, view: &View) -> Reading {
        readout::read(self, view)
    }

    /// The spectrum at this moment.
    #[must_use]
    pub fn spectrum(&self) -> Spectrum {
        self.drawn
    }

    /// Whether there is a half B.
    fn has_b(&self) -> bool {
        self.settings.halves != Halves::Mono
    }

    /// As before the stream began.
    fn empty_filters(&mut self) {
        self.inlet.clear();
        self.splitter.reset();
        self.passage.reset();
        self.waiting_count = true;
        self.silent_batches = usize::MAX;
        self.weightings.iter_mut().for_each(Weighting::reset);
        self.decimators.iter_mut().for_each(Decimator::reset);
    }

    /// Moves a full batch from the inlet through the filters, and reads the one that leaves them.
    fn advance(&mut self, entering: Passing) {
        let inlet = self.inlet.take_batch();
        let mut is_silent = true;
        let mut index = 0;
        for (pair, input) in inlet.iter().enumerate() {
            let [whole, low_passed, below] =
                [&mut self.batches.whole, &mut self.batches.low_passed, &mut self.batches.below]
                    .map(|pairs| &mut pairs[pair]);
            let a = SplitBatch {
                whole: &mut whole.a,
                low_passed: &mut low_passed.a,
                below: &mut below.a,
            };
            self.splitter.process(index, &input.a, a);
            is_silent &= input.a == [0.0; BATCH_FRAMES];
            index += 1;
            if self.layout.pairs[pair].has_b() {
                let b = SplitBatch {
                    whole: &mut whole.b,
                    low_passed: &mut low_passed.b,
                    below: &mut below.b,
                };
                self.splitter.process(index, &input.b, b);
                is_silent &= input.b == [0.0; BATCH_FRAMES];
                index += 1;
            }
        }
        self.silent_batches = if is_silent { self.silent_batches.saturating_add(1) } else { 0 };
        match self.passage.take(entering) {
            Passing::Lead => {}
            Passing::Unread => self.run_on(),
            Passing::Read(count) => self.measure(count),
        }
    }

    /// Lets a batch run through what looks back, without reading it.
    fn run_on(&mut self) {
        self.take_apart(false);
        for (pair, weighting) in self.weightings.iter_mut().enumerate() {
            weighting.process(&weighting_input(&self.batches, pair, 0..BATCH_FRAMES));
            weighting.settle();
        }
        for (decimator, pair) in self.decimators.iter_mut().zip(&self.batches.whole) {
            decimator.take(&pair.a, &pair.b, |_, _| ());
        }
        self.whole.pass(&self.batches.whole, self.layout.second_channels());
        self.audible.pass(&self.batches.audible, self.layout.second_channels());
        self.spectrum.interrupt();
        self.low_spectrum.interrupt();
        self.loudness.tidy();
        self.work_on_spectra();
    }

    fn measure(&mut self, count: usize) {
        if count < BATCH_FRAMES {
            let BatchBuffers { whole, low_passed, below, .. } = &mut self.batches;
            for pair in whole.iter_mut().chain(low_passed).chain(below) {
                pair.a[count..].fill(0.0);
                pair.b[count..].fill(0.0);
            }
        }
        self.take_apart(true);
        self.whole.take_true_peaks(&self.batches.whole, self.layout.second_channels());
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
        self.audible.take_true_peaks(&self.batches.audible, self.layout.second_channels());
        self.work_on_spectra();
        self.take_spectra(count);
    }

    /// Works out the audible band of a batch, and what lies outside; frames that do not count are
    /// silent already.
    fn take_apart(&mut self, reads: bool) {
        let BatchBuffers { whole, low_passed, below, audible, .. } = &mut self.batches;
        for (pair, audible) in audible.iter_mut().enumerate() {
            let (whole, low_passed, below) = (&whole[pair], &low_passed[pair], &below[pair]);
            let halves = [
                take_apart(self.arch, &whole.a, &low_passed.a, &below.a, &mut audible.a),
                take_apart(self.arch, &whole.b, &low_passed.b, &below.b, &mut audible.b),
            ];
            for (half, energies) in halves.iter().enumerate().filter(|_| reads) {
                self.hidden.take(pair, half, energies);
            }
        }
    }

    /// The frame since reset at which the open hop ends: hops of 10 ms, to the nearest sample.
    fn next_hop_end(&self) -> u64 {
        ((self.hops + 1) as f64 * self.rate_hz / HOPS_A_SECOND).round() as u64
    }

    fn measure_stretch(&mut self, range: std::ops::Range<usize>) {
        let mut weighted = WeightedEnergies::default();
        let mut others = OtherEnergies::default();
        for (pair, weighting) in self.weightings.iter_mut().enumerate() {
            let energies = weighting.process(&weighting_input(&self.batches, pair, range.clone()));
            if pair < self.layout.halves_pairs {
                weighted += energies;
            } else {
                others.add(&energies, &self.layout.pairs[pair]);
            }
        }
        let [aa, ab, wa, wb] = weighted.k;
        let [audible_sum, whole_sum] = weighted.k_sum;
        let [weight_a, weight_b] = self.layout.pairs[0].weights;
        let whole_bus = weight_a * wa + weight_b * wb + others.whole;
        let audible_bus = weight_a * aa + weight_b * ab + others.audible;
        let lanes = [wa, wb, whole_sum, whole_bus, aa, ab, audible_sum, audible_bus];
        self.hop_loudness.iter_mut().zip(lanes).for_each(|(held, energy)| *held += energy);
        let frames = self.frames - range.start as u64;
        let (over_times, rate_hz) = (&mut self.over_times, self.rate_hz);
        self.whole.take(&self.batches.whole, range.clone(), |frame| {
            over_times.push((frames + frame as u64) as f64 / rate_hz);
        });
        self.audible.take(&self.batches.audible, range.clone(), |_| ());
        self.hop_frames += range.len();
        self.frames += range.len() as u64;
    }

    fn end_hop(&mut self) {
        let hop = Hop {
            loudness: std::mem::take(&mut self.hop_loudness),
            frames: std::mem::take(&mut self.hop_frames),
            whole: self.whole.end_hop(),
            audible: self.audible.end_hop(),
        };
        self.weightings.iter_mut().for_each(Weighting::settle);
        self.take_hop(&hop);
    }

    fn take_hop(&mut self, hop: &Hop) {
        self.hops += 1;
        if let Some(part) = &mut self.part
            && part.keeps(hop)
        {
            return;
        }
        self.loudness.push(hop.loudness, hop.frames);
        self.whole.push_hop(&hop.whole);
        self.audible.push_hop(&hop.audible);
        if self.history.is_some() && self.hops.is_multiple_of(HOPS_A_ROW) {
            let row = readout::history_row(self);
            self.history.iter_mut().for_each(|rows| rows.push(row));
        }
    }
}

/// A stretch of a pair of channels in both bands.
fn weighting_input(
    batches: &BatchBuffers,
    pair: usize,
    range: std::ops::Range<usize>,
) -> WeightingInput<'_> {
    let (audible, whole) = (&batches.audible[pair], &batches.whole[pair]);
    WeightingInput {
        audible_a: &audible.a[range.clone()],
        audible_b: &audible.b[range.clone()],
        whole_a: &whole.a[range.clone()],
        whole_b: &whole.b[range],
    }
}
