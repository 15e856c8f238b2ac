//! The low-pass at the upper edge: flat to the edge and 100 dB down 4 % above it (or at half the
//! sample rate, where that is nearer), with linear phase.
//!
//! It runs by overlap-save convolution. No transform is longer than [`LONGEST_TRANSFORM`], so that
//! no block of a host bears more than a short one: a longer filter is cut into partitions, whose
//! spectra are multiplied with those of as many blocks of the past and added up (T. G. Stockham,
//! "High-speed convolution and correlation", 1966; partitions: W. G. Gardner, "Efficient convolution
//! without input-output delay", J. Audio Eng. Soc. 43, 1995, in its uniform form). Channels take
//! turns: one transform a batch. Their blocks begin together all the same, so that two channels that
//! cancel do so to the last bit.

use std::sync::Arc;

use pulp::{Arch, NullaryFnOnce};
use realfft::num_complex::Complex32;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use crate::batch::{BATCH_FRAMES, Batch};
use crate::fir;

/// Stop-band and pass-band ripple designed for, in decibels; 6 dB better than promised.
const ATTENUATION_DB: f64 = 106.0;
/// Width of the transition as a share of the upper edge.
const TRANSITION_SHARE: f64 = 0.04;
/// An upper edge closer than this to half the sample rate hides nothing above it.
const LEAST_TRANSITION_SHARE: f64 = 0.01;
/// Frames of the longest transform: some 20 µs of work on a processor of today.
const LONGEST_TRANSFORM: usize = 4096;

/// Where the low-pass has fallen to its stop band, in Hz; `None` if nothing can lie above the
/// upper edge at this rate.
pub(crate) fn stop_edge_hz(rate_hz: f64, upper_edge_hz: f64) -> Option<f64> {
    let stop_hz = f64::min(upper_edge_hz * (1.0 + TRANSITION_SHARE), rate_hz / 2.0);
    (stop_hz >= upper_edge_hz * (1.0 + LEAST_TRANSITION_SHARE)).then_some(stop_hz)
}

/// Plans and response shared by the channels of one meter.
pub(super) struct LowPassPlan {
    arch: Arch,
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    /// `[partition][bin]`, the first partition weighing the latest samples.
    response: Vec<Vec<Complex32>>,
    /// Transform length.
    length: usize,
    /// New samples taken by one transform.
    hop: usize,
    /// Delay of the linear phase.
    lag: usize,
    /// In how many batches behind a hop the channels have had their turns.
    turns: usize,
}

/// What a transform needs and leaves nothing in: one serves all channels.
pub(super) struct LowPassScratch {
    time: Vec<f32>,
    bins: Vec<Complex32>,
    work: Vec<Complex32>,
}

impl LowPassPlan {
    /// A plan for some channels, or `None` where nothing can lie above the upper edge.
    pub(super) fn new(rate_hz: f64, upper_edge_hz: f64, channels: usize) -> Option<Self> {
        let stop_hz = stop_edge_hz(rate_hz, upper_edge_hz)?;
        let width = (stop_hz - upper_edge_hz) / rate_hz;
        // Whole batches of lag keep every hand-over on a batch's boundary.
        let lag = fir::half_length(ATTENUATION_DB, width).next_multiple_of(BATCH_FRAMES);
        let taps = fir::low_pass((upper_edge_hz + stop_hz) / 2.0 / rate_hz, lag, ATTENUATION_DB);
        // Two and a half filter lengths in one transform: short delay, and still few of them.
        let wanted = (taps.len() * 5 / 2).next_power_of_two();
        let length = wanted.min(LONGEST_TRANSFORM);
        let fits = 2 * taps.len() <= length + length / 4;
        let hop = if fits { length - 2 * lag } else { length / 2 };
        let partition = if fits { taps.len() } else { hop };
        let mut planner = RealFftPlanner::new();
        let forward = planner.plan_fft_forward(length);
        let inverse = planner.plan_fft_inverse(length);
        let response = taps
            .chunks(partition)
            .map(|taps| {
                let mut padded = forward.make_input_vec();
                for (slot, tap) in padded.iter_mut().zip(taps) {
                    *slot = (tap / length as f64) as f32;
                }
                let mut response = forward.make_output_vec();
                // Lengths come from the plan itself, so the transform cannot refuse them.
                let _ = forward.process(&mut padded, &mut response);
                response
            })
            .collect();
        let turns = channels.clamp(1, hop / BATCH_FRAMES);
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
        let work = self.forward.get_scratch_len().max(self.inverse.get_scratch_len());
        LowPassScratch {
            time: self.forward.make_input_vec(),
            bins: self.forward.make_output_vec(),
            work: vec![Complex32::default(); work],
        }
    }
}

/// Takes away what lies above the upper edge of one channel, batch by batch.
pub(super) struct LowPass {
    plan: Arc<LowPassPlan>,
    /// In which batch behind a hop this channel is transformed.
    turn: usize,
    /// Frames between the end of a hop and the reading of its output.
    late: usize,
    /// The `length` samples up to the latest hop, then those of the hop that fills.
    input: Vec<f32>,
    /// Frames of the hop that fills.
    filled: usize,
    /// `[block][bin]`: spectra of as many blocks as the response has partitions, in a ring.
    spectra: Vec<Vec<Complex32>>,
    latest: usize,
    /// Outputs, whole hops of them in a ring, and where the next are written and read.
    output: Vec<f32>,
    write_at: usize,
    read_at: usize,
}

impl LowPass {
    /// The filter of the channel `index`, late by the plan's delay and by whole batches more.
    pub(super) fn new(plan: Arc<LowPassPlan>, index: usize, more_frames: usize) -> Self {
        // The hop that is being read stays whole while the next is written.
        let late = (plan.turns - 1) * BATCH_FRAMES + more_frames;
        let ring = (late + 2 * plan.hop).next_multiple_of(plan.hop);
        let mut filter = Self {
            turn: index % plan.turns,
            late,
            input: vec![0.0; plan.length + plan.hop],
            filled: 0,
            spectra: vec![plan.forward.make_output_vec(); plan.response.len()],
            latest: 0,
            output: vec![0.0; ring],
            write_at: 0,
            read_at: 0,
            plan,
        };
        filter.align();
        filter
    }

    pub(super) fn reset(&mut self) {
        self.input.fill(0.0);
        self.filled = 0;
        self.spectra.iter_mut().for_each(|bins| bins.fill(Complex32::default()));
        self.output.fill(0.0);
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
        self.write_at = if self.turn * BATCH_FRAMES > self.filled { ring - hop } else { 0 };
        self.read_at = (ring - hop - self.late + self.filled) % ring;
    }

    /// Takes a batch of samples and gives one, late by what was asked for.
    pub(super) fn process(
        &mut self,
        input: &Batch,
        output: &mut Batch,
        scratch: &mut LowPassScratch,
    ) {
        let LowPassPlan { length, hop, .. } = *self.plan;
        output.copy_from_slice(&self.output[self.read_at..self.read_at + BATCH_FRAMES]);
        self.read_at += BATCH_FRAMES;
        if self.read_at == self.output.len() {
            self.read_at = 0;
        }
        let write = length + self.filled;
        self.input[write..write + BATCH_FRAMES].copy_from_slice(input);
        self.filled += BATCH_FRAMES;
        if self.filled == hop {
            self.filled = 0;
            self.input.copy_within(hop.., 0);
        }
        if self.filled == self.turn * BATCH_FRAMES {
            self.transform(scratch);
        }
    }

    fn transform(&mut self, scratch: &mut LowPassScratch) {
        let LowPassPlan { arch, forward, inverse, response, length, hop, .. } = &*self.plan;
        let LowPassScratch { time, bins, work } = scratch;
        time.copy_from_slice(&self.input[..*length]);
        self.latest = (self.latest + 1) % self.spectra.len();
        // Lengths come from the plans; bins 0 and length/2 stay real, as the taps are.
        let _ = forward.process_with_scratch(time, &mut self.spectra[self.latest], work);
        for (age, response) in response.iter().enumerate() {
            let block = (self.latest + self.spectra.len() - age) % self.spectra.len();
            let spectrum = &self.spectra[block];
            arch.dispatch(Product { sums: bins, spectrum, response, adds: age > 0 });
        }
        let last = bins.len() - 1;
        bins[0].im = 0.0;
        bins[last].im = 0.0;
        let _ = inverse.process_with_scratch(bins, time, work);
        self.output[self.write_at..self.write_at + hop].copy_from_slice(&time[length - hop..]);
        self.write_at = (self.write_at + hop) % self.output.len();
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
