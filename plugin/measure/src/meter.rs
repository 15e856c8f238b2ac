//! The meter: takes the bus in blocks of any length and keeps its readings.
//!
//! Samples are gathered into steps of 64 frames and delayed by the band filter's delay, so that
//! whole band and audible band are read at the same moment of the programme and readings do not
//! depend on how the host cuts its blocks.

mod inlet;
mod layout;
mod parts;
mod readout;

use std::sync::Arc;

use pulp::Arch;

use crate::band::{LowPass, LowPassPlan, STEP_FRAMES, stop_edge_hz};
use crate::book::{BandBook, PairStep};
use crate::channel::ChannelRole;
use crate::energy::sum_and_residue;
use crate::hidden::HiddenBook;
use crate::history::{HistoryRow, ROWS_A_SECOND};
use crate::limiter::LimiterDrive;
use crate::loudness::Loudness;
use crate::reading::{OverTimes, Reading, Tones};
use crate::settings::{self, Edges, Halves, Settings, SettingsError, View};
use crate::spectrum::{Analyser, Decimator, Spectrum, strongest_tones};
use crate::true_peak::TruePeaks;
use crate::weighting::{WeightedEnergies, Weighting, WeightingInput};
use inlet::Inlet;
use layout::{Layout, OtherEnergies};
use parts::{Hop, Part};

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
const LOW_TRANSFORM_FRAMES: usize = 1024;

/// Measures a bus.
///
/// Construction allocates; [`process`](Self::process), [`finish`](Self::finish),
/// [`reset`](Self::reset), [`reading`](Self::reading) and [`spectrum`](Self::spectrum) do not, and
/// are safe on an audio thread. Readings do not depend on how the stream is cut into blocks. They
/// lag behind the input by [`delay_frames`](Self::delay_frames) until `finish` is called.
pub struct Meter {
    settings: Settings,
    rate_hz: f64,
    arch: Arch,
    layout: Layout,
    inlet: Inlet,
    /// `[pair]` of A and B; `None` where nothing can lie above the upper edge.
    low_passes: Option<Vec<[LowPass; 2]>>,
    delay_frames: usize,
    /// Frames that leave the filters before the first frame of the stream does.
    lead_frames: usize,
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
    drawn: Spectrum,
    /// What is still to be worked out from the latest transforms.
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
    steps: StepBuffers,
    /// The stretch that counts, where that is not all.
    part: Option<Part>,
}

/// Work that follows a transform.
#[derive(Clone, Copy)]
enum Due {
    Nothing,
    Tones,
    Drawing,
}

/// One step of every pair on its way through the filters.
struct StepBuffers {
    whole: Vec<PairStep>,
    low_passed: Vec<PairStep>,
    audible: Vec<PairStep>,
    /// At the low rate; only the first frames of each step are in use.
    low_rate: Vec<PairStep>,
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
        let Edges { low_hz, high_hz } = settings.edges;
        let plan = LowPassPlan::new(rate_hz, high_hz).map(Arc::new);
        let delay_frames = plan.as_ref().map_or(0, |plan| plan.delay_frames());
        let low_passes = plan.map(|plan| {
            (0..pairs)
                .map(|_| [LowPass::new(Arc::clone(&plan)), LowPass::new(Arc::clone(&plan))])
                .collect()
        });
        let audible_end_hz = stop_edge_hz(rate_hz, high_hz).unwrap_or(rate_hz / 2.0);
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
        Ok(Self {
            settings,
            rate_hz,
            arch: Arch::new(),
            inlet: Inlet::new(&layout),
            low_passes,
            delay_frames,
            lead_frames: delay_frames,
            weightings: (0..pairs).map(|_| Weighting::new(rate_hz, low_hz)).collect(),
            whole: book(rate_hz / 2.0),
            audible: book(audible_end_hz),
            hidden: HiddenBook::new(pairs),
            loudness: Loudness::new(),
            hop_loudness: [0.0; LOUDNESS_LANES],
            hop_frames: 0,
            hops: 0,
            spectrum: Analyser::new(rate_hz, transform, pairs, channels),
            low_spectrum: Analyser::new(low_rate_hz, LOW_TRANSFORM_FRAMES, pairs, channels),
            decimators,
            tones: Tones::default(),
            drawn: Spectrum::empty(rate_hz),
            due: Due::Nothing,
            live: true,
            over_times: OverTimes::default(),
            history: None,
            frames: 0,
            frames_taken: 0,
            steps: StepBuffers {
                whole: vec![PairStep::SILENCE; pairs],
                low_passed: vec![PairStep::SILENCE; pairs],
                audible: vec![PairStep::SILENCE; pairs],
                low_rate: vec![PairStep::SILENCE; pairs],
            },
            part: None,
            layout,
        })
    }

    /// Takes a block: `main[channel][frame]` and `side_chain[channel][frame]`, as many channels as
    /// announced, all of one length (the shortest counts). A missing side-chain is silent. Samples
    /// that are no level (NaN, infinite, above +120 dBFS) count as zero and are counted.
    pub fn process(&mut self, main: &[&[f32]], side_chain: &[&[f32]]) {
        let frames = main.iter().map(|channel| channel.len()).min().unwrap_or(0);
        let mut taken = 0;
        while taken < frames && !self.has_ended() {
            taken += self.inlet.take(main, side_chain, taken..frames);
            if self.inlet.is_full() {
                self.frames_taken += STEP_FRAMES as u64;
                self.step(STEP_FRAMES);
                self.mark_part();
            }
        }
    }

    /// Measures what is still inside the filters' delay, as if silence followed. Call it once at
    /// the end of a file, or when the transport stops; measuring can go on afterwards.
    pub fn finish(&mut self) {
        self.frames_taken += self.inlet.fill_with_silence() as u64;
        while self.frames < self.frames_taken {
            let left = self.frames_taken - self.frames;
            self.step(usize::try_from(left).map_or(STEP_FRAMES, |left| left.min(STEP_FRAMES)));
            self.inlet.fill_with_silence();
        }
        self.inlet.clear();
        // The waveform goes on between the last samples and the silence behind them.
        self.steps.whole.fill(PairStep::SILENCE);
        self.steps.audible.fill(PairStep::SILENCE);
        self.whole.take_true_peaks(&self.steps.whole, self.layout.second_channels());
        self.audible.take_true_peaks(&self.steps.audible, self.layout.second_channels());
        self.restart_filters();
        self.find_tones();
        self.draw();
    }

    /// Clears everything measured.
    pub fn reset(&mut self) {
        self.inlet.reset();
        self.restart_filters();
        self.weightings.iter_mut().for_each(Weighting::reset);
        self.whole.reset();
        self.audible.reset();
        self.hidden.reset();
        self.loudness.reset();
        self.hop_loudness = [0.0; LOUDNESS_LANES];
        self.hop_frames = 0;
        self.hops = 0;
        self.spectrum.reset();
        self.low_spectrum.reset();
        self.decimators.iter_mut().for_each(Decimator::reset);
        self.tones = Tones::default();
        self.drawn = Spectrum::empty(self.rate_hz);
        self.due = Due::Nothing;
        self.over_times = OverTimes::default();
        self.history.iter_mut().for_each(Vec::clear);
        self.frames = 0;
        self.frames_taken = 0;
        self.part = None;
    }

    /// Sets the ceiling that the limiter drive is measured against, in dBFS (−1 unless set). A
    /// change starts that measure afresh.
    pub fn set_ceiling_db(&mut self, ceiling_db: f64) {
        self.whole.limiter.set_ceiling(ceiling_db);
        self.audible.limiter.set_ceiling(ceiling_db);
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
        self.delay_frames + STEP_FRAMES
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

    fn restart_filters(&mut self) {
        self.low_passes.iter_mut().flatten().flatten().for_each(LowPass::reset);
        self.lead_frames = self.delay_frames;
    }

    /// Moves a full step from the inlet through the filters and measures the first `count` frames
    /// of what comes out.
    fn step(&mut self, count: usize) {
        let inlet = self.inlet.take_step();
        match &mut self.low_passes {
            Some(low_passes) => {
                for (pair, filters) in low_passes.iter_mut().enumerate() {
                    let [filter_a, filter_b] = filters;
                    let (whole, low) =
                        (&mut self.steps.whole[pair], &mut self.steps.low_passed[pair]);
                    filter_a.step(&inlet[pair].a, &mut whole.a, &mut low.a);
                    if self.layout.pairs[pair].has_b() {
                        filter_b.step(&inlet[pair].b, &mut whole.b, &mut low.b);
                    }
                }
            }
            None => {
                self.steps.whole.copy_from_slice(inlet);
                self.steps.low_passed.copy_from_slice(inlet);
            }
        }
        if self.lead_frames > 0 {
            self.lead_frames -= STEP_FRAMES;
        } else {
            self.measure(count);
        }
    }

    fn measure(&mut self, count: usize) {
        if count < STEP_FRAMES {
            for pair in self.steps.whole.iter_mut().chain(&mut self.steps.low_passed) {
                pair.a[count..].fill(0.0);
                pair.b[count..].fill(0.0);
            }
            self.steps.audible.fill(PairStep::SILENCE);
        }
        self.whole.take_true_peaks(&self.steps.whole, self.layout.second_channels());
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
        self.audible.take_true_peaks(&self.steps.audible, self.layout.second_channels());
        self.take_spectra(count);
    }

    /// The frame since reset at which the open hop ends: hops of 10 ms, to the nearest sample.
    fn next_hop_end(&self) -> u64 {
        ((self.hops + 1) as f64 * self.rate_hz / HOPS_A_SECOND).round() as u64
    }

    fn measure_stretch(&mut self, range: std::ops::Range<usize>) {
        let StepBuffers { whole, low_passed, audible, .. } = &mut self.steps;
        let mut weighted = WeightedEnergies::default();
        let mut others = OtherEnergies::default();
        for (pair, weighting) in self.weightings.iter_mut().enumerate() {
            let (whole, low, audible) = (&whole[pair], &low_passed[pair], &mut audible[pair]);
            let input = WeightingInput {
                whole_a: &whole.a[range.clone()],
                whole_b: &whole.b[range.clone()],
                low_passed_a: &low.a[range.clone()],
                low_passed_b: &low.b[range.clone()],
            };
            let (a, b) = (&mut audible.a[range.clone()], &mut audible.b[range.clone()]);
            let energies = weighting.process(&input, a, b);
            if pair < self.layout.halves_pairs {
                weighted += energies;
            } else {
                others.add(&energies, &self.layout.pairs[pair]);
            }
            let halves = [(input.whole_a, input.low_passed_a), (input.whole_b, input.low_passed_b)];
            for (half, (whole, low)) in halves.into_iter().enumerate() {
                let (sum, above) = sum_and_residue(self.arch, whole, low);
                self.hidden.sums[pair][half] += sum;
                self.hidden.above += above;
            }
        }
        self.hidden.below += weighted.below.iter().sum::<f64>() + others.below;
        let [aa, ab, wa, wb] = weighted.k;
        let [audible_sum, whole_sum] = weighted.k_sum;
        let [weight_a, weight_b] = self.layout.pairs[0].weights;
        let whole_bus = weight_a * wa + weight_b * wb + others.whole;
        let audible_bus = weight_a * aa + weight_b * ab + others.audible;
        let lanes = [wa, wb, whole_sum, whole_bus, aa, ab, audible_sum, audible_bus];
        self.hop_loudness.iter_mut().zip(lanes).for_each(|(held, energy)| *held += energy);
        let frames = self.frames - range.start as u64;
        let (over_times, rate_hz) = (&mut self.over_times, self.rate_hz);
        self.whole.take(whole, range.clone(), |frame| {
            over_times.push((frames + frame as u64) as f64 / rate_hz);
        });
        self.audible.take(audible, range.clone(), |_| ());
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

    fn take_spectra(&mut self, count: usize) {
        // One piece of work a step, so that no block bears it all.
        match std::mem::replace(&mut self.due, Due::Nothing) {
            Due::Tones => self.find_tones(),
            Due::Drawing => self.draw(),
            Due::Nothing => {}
        }
        let whole = self.steps.whole.iter().map(|pair| (&pair.a[..count], &pair.b[..count]));
        let mut transformed = self.spectrum.take(whole);
        let mut low_count = 0;
        let steps = self.steps.whole.iter().zip(&mut self.steps.low_rate);
        for (decimator, (pair, low)) in self.decimators.iter_mut().zip(steps) {
            low_count = 0;
            decimator.take(&pair.a[..count], &pair.b[..count], |a, b| {
                low.a[low_count] = a;
                low.b[low_count] = b;
                low_count += 1;
            });
        }
        let low = self.steps.low_rate.iter();
        let low = low.map(|pair| (&pair.a[..low_count], &pair.b[..low_count]));
        transformed |= self.low_spectrum.take(low);
        if transformed && self.live {
            self.due = Due::Tones;
        }
    }

    fn find_tones(&mut self) {
        self.tones = strongest_tones(&self.low_spectrum, &self.spectrum, self.settings.edges);
        self.due = Due::Drawing;
    }

    fn draw(&mut self) {
        self.drawn.fill(&self.low_spectrum, &self.spectrum);
        self.due = Due::Nothing;
    }
}
