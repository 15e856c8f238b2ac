//! The low-pass at the upper edge: flat to the edge and 100 dB down 4 % above it (or at half the
//! sample rate, where that is nearer), with linear phase.
//!
//! It runs by overlap-save convolution. No transform is longer than what it is made for, so that no
//! block of a host bears more than a short one: a longer filter is cut into partitions, whose
//! spectra are multiplied with those of as many blocks of the past and added up (T. G. Stockham,
//! "High-speed convolution and correlation", 1966; partitions: W. G. Gardner, "Efficient convolution
//! without input-output delay", J. Audio Eng. Soc. 43, 1995, in its uniform form). Pairs take turns: one
//! transform a batch, forth in one and back in the next.
//!
//! The taps are real, so a pair of channels is filtered as one complex signal a + ib. What rounding
//! carries over from one to the other lies some 140 dB below it; a much quieter channel is turned up before
//! and down behind, by a power of two. Where channels are equal or opposite, or one is silent, they
//! [stay so](Relation) to the last bit.

mod relation;

use std::sync::Arc;

use pulp::{Arch, NullaryFnOnce};
use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use crate::batch::{BATCH_FRAMES, PairBatch};
use crate::fir;
use relation::{Largest, Relation, Relations};

/// Stop-band and pass-band ripple designed for, in decibels; 6 dB better than promised.
const ATTENUATION_DB: f64 = 106.0;
/// Width of the transition as a share of the upper edge.
const TRANSITION_SHARE: f64 = 0.04;
/// An upper edge closer than this to half the sample rate hides nothing above it.
const LEAST_TRANSITION_SHARE: f64 = 0.01;
/// Of the lengths that cost least a frame, up to so much more, the shortest is taken.
const MOST_COST: f64 = 1.1;
/// Shortest transform.
const SHORTEST_TRANSFORM: usize = 256;
/// Hops that there is room for before the latest samples have to be moved to the front.
const HOPS_OF_ROOM: usize = 3;

/// Where the low-pass has fallen to its stop band, in Hz; `None` if nothing can lie above the
/// upper edge at this rate.
pub(crate) fn stop_edge_hz(rate_hz: f64, upper_edge_hz: f64) -> Option<f64> {
    let stop_hz = f64::min(upper_edge_hz * (1.0 + TRANSITION_SHARE), rate_hz / 2.0);
    (stop_hz >= upper_edge_hz * (1.0 + LEAST_TRANSITION_SHARE)).then_some(stop_hz)
}

/// Plans and response shared by the pairs of one meter.
pub(super) struct LowPassPlan {
    arch: Arch,
    forward: Arc<dyn Fft<f32>>,
    inverse: Arc<dyn Fft<f32>>,
    /// `[partition][bin]`, the first partition weighing the latest samples.
    response: Vec<Vec<Complex32>>,
    /// Transform length.
    length: usize,
    /// New samples taken by one transform.
    hop: usize,
    /// Delay of the linear phase.
    lag: usize,
    /// In how many batches behind a hop the pairs have had their turns, two each.
    turns: usize,
}

/// How a convolution is cut: transforms of `length` frames, `hop` of them new.
#[derive(Clone, Copy)]
struct Blocks {
    length: usize,
    hop: usize,
}

impl Blocks {
    /// Those that cost little for a filter of `lag` taps on either side.
    fn of(lag: usize, longest: usize) -> Self {
        let two_thirds = |length: usize| [length, length / 2 * 3];
        let powers = (SHORTEST_TRANSFORM.ilog2()..=longest.ilog2()).map(|power| 1 << power);
        let lengths =
            powers.flat_map(two_thirds).filter(|length| (2 * lag + 1..=longest).contains(length));
        let whole = lengths.map(|length| Self { length, hop: length - 2 * lag });
        let parts = Self { length: longest, hop: longest / 2 };
        let all: Vec<Self> = whole.chain([parts]).collect();
        let least = all.iter().map(|blocks| blocks.cost(lag)).fold(f64::INFINITY, f64::min);
        let cheap = |blocks: &&Self| blocks.cost(lag) <= MOST_COST * least;
        *all.iter().find(cheap).unwrap_or(&parts)
    }

    /// About how much work there is to a frame: of two transforms, and of a product for each partition.
    fn cost(&self, lag: usize) -> f64 {
        let Self { length, hop } = *self;
        let partitions = (2 * lag).div_ceil(length - hop);
        let work = 2.0 * (length as f64).log2() + 4.0 * partitions as f64;
        length as f64 * work / hop as f64
    }
}

/// What a transform needs and leaves nothing in: one serves all pairs.
pub(super) struct LowPassScratch {
    time: Vec<Complex32>,
    bins: Vec<Complex32>,
    work: Vec<Complex32>,
}

impl LowPassPlan {
    /// A plan for some pairs, or `None` where nothing can lie above the upper edge. No transform takes more
    /// than `longest` frames, a power of two.
    pub(super) fn new(
        rate_hz: f64,
        upper_edge_hz: f64,
        pairs: usize,
        longest: usize,
    ) -> Option<Self> {
        let stop_hz = stop_edge_hz(rate_hz, upper_edge_hz)?;
        let width = (stop_hz - upper_edge_hz) / rate_hz;
        // Whole batches of lag keep every hand-over on a batch's boundary.
        let lag = fir::half_length(ATTENUATION_DB, width).next_multiple_of(BATCH_FRAMES);
        let taps = fir::low_pass((upper_edge_hz + stop_hz) / 2.0 / rate_hz, lag, ATTENUATION_DB);
        let Blocks { length, hop } = Blocks::of(lag, longest);
        let partition = if length - hop == 2 * lag { taps.len() } else { hop };
        let mut planner = FftPlanner::new();
        let forward = planner.plan_fft_forward(length);
        let inverse = planner.plan_fft_inverse(length);
        let response = taps
            .chunks(partition)
            .map(|taps| {
                let mut response = vec![Complex32::default(); length];
                for (slot, tap) in response.iter_mut().zip(taps) {
                    slot.re = (tap / length as f64) as f32;
                }
                forward.process(&mut response);
                response
            })
            .collect();
        let turns = usize::min(2 * pairs.max(1), hop / BATCH_FRAMES / 2 * 2);
        Some(Self { arch: Arch::new(), forward, inverse, response, length, hop, lag, turns })
    }

    /// Frames by which the output is late.
    pub(super) fn delay_frames(&self) -> usize {
        self.lag + self.hop + (self.turns - 1) * BATCH_FRAMES
    }

    /// Frames on either side of a frame that its output depends on.
    pub(super) fn reach_frames(&self) -> usize {
        self.lag
    }

    /// Frames of the input that the next outputs may still depend on.
    pub(super) fn memory_frames(&self) -> usize {
        self.length + self.hop * self.response.len()
    }

    pub(super) fn scratch(&self) -> LowPassScratch {
        let work = [
            self.forward.get_immutable_scratch_len(),
            self.forward.get_outofplace_scratch_len(),
            self.inverse.get_outofplace_scratch_len(),
        ];
        let work = work.into_iter().max().unwrap_or(0);
        LowPassScratch {
            time: vec![Complex32::default(); self.length],
            bins: vec![Complex32::default(); self.length],
            work: vec![Complex32::default(); work],
        }
    }
}

/// Takes away what lies above the upper edge of a pair of channels, batch by batch.
pub(super) struct LowPass {
    plan: Arc<LowPassPlan>,
    /// In which batch behind a hop this pair is transformed forth; the next transforms it back.
    turn: usize,
    /// Frames between the end of a hop and the reading of its output.
    late: usize,
    /// The latest samples as a + ib: at least the `length` up to the latest hop, then those of the hop
    /// that fills; with room for more hops, so that they seldom move.
    input: Vec<Complex32>,
    /// Where the `length` samples up to the latest hop begin.
    window_at: usize,
    /// Frames of the hop that fills.
    filled: usize,
    relations: Relations,
    /// How the channels were related up to the latest hop.
    related: Option<Relation>,
    /// What b is multiplied with in the transform.
    scale: f32,
    /// `[block][bin]`: spectra of as many blocks as the response has partitions, in a ring.
    spectra: Vec<Vec<Complex32>>,
    latest: usize,
    /// Outputs, whole hops of them in a ring, and where the next are written and read.
    output: Vec<Complex32>,
    write_at: usize,
    read_at: usize,
}

impl LowPass {
    /// The filter of the pair `index`, late by the plan's delay and by whole batches more.
    pub(super) fn new(plan: Arc<LowPassPlan>, index: usize, more_frames: usize) -> Self {
        // The hop that is being read stays whole while the next is written.
        let late = (plan.turns - 1) * BATCH_FRAMES + more_frames;
        let ring = (late + 2 * plan.hop).next_multiple_of(plan.hop);
        let silence = |frames: usize| vec![Complex32::default(); frames];
        let mut filter = Self {
            turn: 2 * index % plan.turns,
            late,
            input: silence(plan.length + HOPS_OF_ROOM * plan.hop),
            window_at: 0,
            filled: 0,
            relations: Relations::of_silence(plan.length),
            related: None,
            scale: 1.0,
            spectra: vec![silence(plan.length); plan.response.len()],
            latest: 0,
            output: silence(ring),
            write_at: 0,
            read_at: 0,
            plan,
        };
        filter.align();
        filter
    }

    pub(super) fn reset(&mut self) {
        let nothing = Complex32::default();
        self.input.fill(nothing);
        self.window_at = 0;
        self.filled = 0;
        self.relations.reset();
        self.related = None;
        self.scale = 1.0;
        self.spectra.iter_mut().for_each(|bins| bins.fill(nothing));
        self.output.fill(nothing);
        self.align();
    }

    /// Readies a fresh filter for a signal whose first frame is frame `frame`, on a batch's boundary,
    /// of a longer one, so that it makes the transforms that the longer one would have.
    pub(super) fn start_at(&mut self, frame: u64) {
        self.filled = (frame % self.plan.hop as u64) as usize;
        self.align();
    }

    /// Sets the ring so that the hop that fills first is written to its beginning, and read when it
    /// is due.
    fn align(&mut self) {
        let (ring, hop) = (self.output.len(), self.plan.hop);
        // A turn that is still to come in this hop writes what was before the stream.
        self.write_at = if (self.turn + 1) * BATCH_FRAMES > self.filled { ring - hop } else { 0 };
        self.read_at = (ring - hop - self.late + self.filled) % ring;
    }

    /// Takes a batch of samples and gives one, late by what was asked for.
    pub(super) fn process(
        &mut self,
        input: &PairBatch,
        output: &mut PairBatch,
        scratch: &mut LowPassScratch,
    ) {
        let LowPassPlan { arch, length, hop, .. } = *self.plan;
        let pair = &self.output[self.read_at..][..BATCH_FRAMES];
        arch.dispatch(Apart { pair, output });
        self.read_at += BATCH_FRAMES;
        if self.read_at == self.output.len() {
            self.read_at = 0;
        }
        let pair = &mut self.input[self.window_at + length + self.filled..][..BATCH_FRAMES];
        self.relations.take(arch.dispatch(Together { input, pair }));
        self.filled += BATCH_FRAMES;
        if self.filled == hop {
            self.filled = 0;
            self.related = self.relations.over(length + hop * (self.spectra.len() - 1));
            // Spectra that are added up have to have one scale.
            self.scale = if self.spectra.len() == 1 { self.relations.scale() } else { 1.0 };
            self.window_at += hop;
            if self.window_at + length + hop > self.input.len() {
                self.input.copy_within(self.window_at..self.window_at + length, 0);
                self.window_at = 0;
            }
        }
        if self.filled == self.turn * BATCH_FRAMES {
            self.transform_forth(scratch);
        } else if self.filled == (self.turn + 1) * BATCH_FRAMES {
            self.transform_back(scratch);
        }
    }

    fn transform_forth(&mut self, scratch: &mut LowPassScratch) {
        let LowPassPlan { forward, length, .. } = &*self.plan;
        let LowPassScratch { time, work, .. } = scratch;
        self.latest = (self.latest + 1) % self.spectra.len();
        let (input, spectrum) =
            (&self.input[self.window_at..][..*length], &mut self.spectra[self.latest]);
        if self.scale == 1.0 {
            forward.process_immutable_with_scratch(input, spectrum, work);
        } else {
            let scaled = input.iter().map(|z| Complex32::new(z.re, z.im * self.scale));
            time.iter_mut().zip(scaled).for_each(|(slot, z)| *slot = z);
            forward.process_outofplace_with_scratch(time, spectrum, work);
        }
    }

    fn transform_back(&mut self, scratch: &mut LowPassScratch) {
        let LowPassPlan { arch, inverse, response, length, hop, .. } = &*self.plan;
        let LowPassScratch { time, bins, work } = scratch;
        for (age, response) in response.iter().enumerate() {
            let block = (self.latest + self.spectra.len() - age) % self.spectra.len();
            let spectrum = &self.spectra[block];
            arch.dispatch(Product { sums: bins, spectrum, response, adds: age > 0 });
        }
        inverse.process_outofplace_with_scratch(bins, time, work);
        let output = &mut self.output[self.write_at..][..*hop];
        output.copy_from_slice(&time[length - hop..]);
        if self.scale != 1.0 {
            output.iter_mut().for_each(|z| z.im /= self.scale);
        }
        self.related.into_iter().for_each(|relation| relation.restore(output));
        self.write_at = (self.write_at + hop) % self.output.len();
    }
}

/// Puts the channels of a pair together, and tells what they are related by.
struct Together<'a> {
    input: &'a PairBatch,
    pair: &'a mut [Complex32],
}

impl NullaryFnOnce for Together<'_> {
    type Output = Largest;

    #[inline(always)]
    fn call(self) -> Largest {
        for ((z, &a), &b) in self.pair.iter_mut().zip(&self.input.a).zip(&self.input.b) {
            *z = Complex32::new(a, b);
        }
        Largest::of(self.input)
    }
}

/// Takes the channels of a pair apart.
struct Apart<'a> {
    pair: &'a [Complex32],
    output: &'a mut PairBatch,
}

impl NullaryFnOnce for Apart<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let PairBatch { a, b } = self.output;
        for ((z, a), b) in self.pair.iter().zip(a).zip(b) {
            (*a, *b) = (z.re, z.im);
        }
    }
}

/// The products of two spectra, added to sums or put in their place.
struct Product<'a> {
    sums: &'a mut [Complex32],
    spectrum: &'a [Complex32],
    response: &'a [Complex32],
    adds: bool,
}

impl NullaryFnOnce for Product<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let products = self.spectrum.iter().zip(self.response).map(|(bin, gain)| bin * gain);
        if self.adds {
            self.sums.iter_mut().zip(products).for_each(|(sum, product)| *sum += product);
        } else {
            self.sums.iter_mut().zip(products).for_each(|(sum, product)| *sum = product);
        }
    }
}

#[cfg(test)]
mod tests;
