//! The audible band: a linear-phase low-pass at the upper edge and a fourth-order high-pass at the
//! lower edge.
//!
//! The low-pass is flat to the edge and 100 dB down 4 % above it (or at half the sample rate, where
//! that is nearer). Linear phase, so that it takes away what is out of band and leaves the waveform
//! alone. It runs by overlap-save convolution: cost per sample grows with the logarithm of its
//! length. What it takes away is had by subtraction from the delayed input.

use std::sync::Arc;

use realfft::num_complex::Complex32;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use crate::biquad::{Lanes, butterworth4};
use crate::fir;
use crate::settings::Edges;

/// Samples move through the filters in steps of this many frames.
pub(crate) const STEP_FRAMES: usize = 64;

/// Stop-band and pass-band ripple designed for, in decibels; 6 dB better than promised.
const ATTENUATION_DB: f64 = 106.0;
/// Width of the transition as a share of the upper edge.
const TRANSITION_SHARE: f64 = 0.04;
/// An upper edge closer than this to half the sample rate hides nothing above it.
const LEAST_TRANSITION_SHARE: f64 = 0.01;

/// Where the low-pass has fallen to its stop band, in Hz; `None` if nothing can lie above the
/// upper edge at this rate.
pub(crate) fn stop_edge_hz(rate_hz: f64, upper_edge_hz: f64) -> Option<f64> {
    let stop_hz = f64::min(upper_edge_hz * (1.0 + TRANSITION_SHARE), rate_hz / 2.0);
    (stop_hz >= upper_edge_hz * (1.0 + LEAST_TRANSITION_SHARE)).then_some(stop_hz)
}

/// Plans and response shared by the channels of one meter.
pub(crate) struct LowPassPlan {
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    response: Vec<Complex32>,
    /// Transform length.
    length: usize,
    /// Delay of the linear phase.
    lag: usize,
}

impl LowPassPlan {
    /// A plan, or `None` where nothing can lie above the upper edge.
    pub(crate) fn new(rate_hz: f64, upper_edge_hz: f64) -> Option<Self> {
        let stop_hz = stop_edge_hz(rate_hz, upper_edge_hz)?;
        let width = (stop_hz - upper_edge_hz) / rate_hz;
        // Whole steps of lag keep every hand-over on a step's boundary.
        let lag = fir::half_length(ATTENUATION_DB, width).next_multiple_of(STEP_FRAMES);
        let taps = fir::low_pass((upper_edge_hz + stop_hz) / 2.0 / rate_hz, lag, ATTENUATION_DB);
        // Two and a half filter lengths: short delay, and still few transforms a second.
        let length = (taps.len() * 5 / 2).next_power_of_two();
        let mut planner = RealFftPlanner::new();
        let forward = planner.plan_fft_forward(length);
        let inverse = planner.plan_fft_inverse(length);
        let mut padded = forward.make_input_vec();
        for (slot, tap) in padded.iter_mut().zip(&taps) {
            *slot = (tap / length as f64) as f32;
        }
        let mut response = forward.make_output_vec();
        // Lengths come from the plan itself, so the transform cannot refuse them.
        let _ = forward.process(&mut padded, &mut response);
        Some(Self { forward, inverse, response, length, lag })
    }

    /// New samples taken by one transform.
    fn hop(&self) -> usize {
        self.length - 2 * self.lag
    }

    /// Frames by which the output is late.
    pub(crate) fn delay_frames(&self) -> usize {
        self.lag + self.hop()
    }
}

/// Splits one channel at the upper edge, step by step.
pub(crate) struct LowPass {
    plan: Arc<LowPassPlan>,
    /// The latest `length` samples; new ones are written from `length − hop`.
    input: Vec<f32>,
    /// The delayed input, one hop long.
    delayed: Vec<f32>,
    /// What the latest transform gave; its last hop is the low-passed signal.
    time: Vec<f32>,
    position: usize,
    bins: Vec<Complex32>,
    scratch: Vec<Complex32>,
}

impl LowPass {
    pub(crate) fn new(plan: Arc<LowPassPlan>) -> Self {
        let scratch = plan.forward.get_scratch_len().max(plan.inverse.get_scratch_len());
        Self {
            input: vec![0.0; plan.length],
            delayed: vec![0.0; plan.hop()],
            time: plan.forward.make_input_vec(),
            position: 0,
            bins: plan.forward.make_output_vec(),
            scratch: vec![Complex32::default(); scratch],
            plan,
        }
    }

    pub(crate) fn reset(&mut self) {
        self.input.fill(0.0);
        self.delayed.fill(0.0);
        self.time.fill(0.0);
        self.position = 0;
    }

    /// Readies a fresh filter for a signal whose first frame is frame `frame`, on a step's boundary,
    /// of a longer one, so that it makes the transforms that the longer one would have.
    pub(crate) fn start_at(&mut self, frame: u64) {
        self.position = (frame % self.plan.hop() as u64) as usize;
    }

    /// How many frames of the input a transform takes in.
    pub(crate) fn reach_frames(&self) -> usize {
        self.plan.length
    }

    /// Takes a step of samples and gives one, late by the plan's delay: the input as it was, and
    /// what of it lies below the upper edge.
    pub(crate) fn step(
        &mut self,
        input: &[f32; STEP_FRAMES],
        delayed: &mut [f32; STEP_FRAMES],
        low: &mut [f32; STEP_FRAMES],
    ) {
        let here = self.position..self.position + STEP_FRAMES;
        delayed.copy_from_slice(&self.delayed[here]);
        let low_from = 2 * self.plan.lag + self.position;
        low.copy_from_slice(&self.time[low_from..low_from + STEP_FRAMES]);
        let hop = self.plan.hop();
        let write = self.plan.length - hop + self.position;
        self.input[write..write + STEP_FRAMES].copy_from_slice(input);
        self.position += STEP_FRAMES;
        if self.position == hop {
            self.position = 0;
            self.transform();
        }
    }

    fn transform(&mut self) {
        let LowPassPlan { forward, inverse, response, length, lag } = &*self.plan;
        let hop = self.delayed.len();
        self.time.copy_from_slice(&self.input);
        // Lengths come from the plans; bins 0 and length/2 stay real, as the taps are.
        let _ = forward.process_with_scratch(&mut self.time, &mut self.bins, &mut self.scratch);
        for (bin, gain) in self.bins.iter_mut().zip(response) {
            *bin *= gain;
        }
        let last = self.bins.len() - 1;
        self.bins[0].im = 0.0;
        self.bins[last].im = 0.0;
        let _ = inverse.process_with_scratch(&mut self.bins, &mut self.time, &mut self.scratch);
        self.delayed.copy_from_slice(&self.input[length - hop - lag..length - lag]);
        self.input.copy_within(hop.., 0);
    }
}

/// Splits one channel of a stream into what is audible and what lies above the upper edge, for
/// listening.
///
/// Construction allocates; [`process`](Self::process) and [`reset`](Self::reset) do not.
pub struct BandFilter {
    low_pass: Option<LowPass>,
    high_pass: [Lanes; 2],
    delay_frames: usize,
    input: [f32; STEP_FRAMES],
    delayed: [f32; STEP_FRAMES],
    low: [f32; STEP_FRAMES],
    position: usize,
}

impl BandFilter {
    /// A filter for a stream at `rate_hz`. An upper edge above half the rate leaves everything
    /// below it.
    #[must_use]
    pub fn new(rate_hz: f64, edges: Edges) -> Self {
        let plan = LowPassPlan::new(rate_hz, edges.high_hz).map(Arc::new);
        let delay = plan.as_ref().map_or(0, |plan| plan.delay_frames());
        Self {
            low_pass: plan.map(LowPass::new),
            high_pass: butterworth4(rate_hz, edges.low_hz).map(|(high, _)| Lanes::new([high; 4])),
            delay_frames: delay + STEP_FRAMES,
            input: [0.0; STEP_FRAMES],
            delayed: [0.0; STEP_FRAMES],
            low: [0.0; STEP_FRAMES],
            position: 0,
        }
    }

    /// Frames by which both outputs are late.
    #[must_use]
    pub fn delay_frames(&self) -> usize {
        self.delay_frames
    }

    /// Forgets what came before.
    pub fn reset(&mut self) {
        if let Some(low_pass) = &mut self.low_pass {
            low_pass.reset();
        }
        self.high_pass.iter_mut().for_each(Lanes::reset);
        self.input = [0.0; STEP_FRAMES];
        self.delayed = [0.0; STEP_FRAMES];
        self.low = [0.0; STEP_FRAMES];
        self.position = 0;
    }

    /// Filters as many samples as the shortest of the three slices holds. Samples that are no
    /// number count as zero.
    pub fn process(&mut self, input: &[f32], audible: &mut [f32], above: &mut [f32]) {
        for ((&input, audible), above) in input.iter().zip(audible).zip(above) {
            let low = self.low[self.position];
            *above = self.delayed[self.position] - low;
            let filtered =
                self.high_pass.iter_mut().fold([f64::from(low); 4], |x, stage| stage.step(x));
            *audible = filtered[0] as f32;
            self.input[self.position] = if input.is_finite() { input } else { 0.0 };
            self.position += 1;
            if self.position == STEP_FRAMES {
                self.position = 0;
                self.step();
            }
        }
    }

    fn step(&mut self) {
        match &mut self.low_pass {
            Some(low_pass) => low_pass.step(&self.input, &mut self.delayed, &mut self.low),
            None => {
                self.delayed = self.input;
                self.low = self.input;
            }
        }
        self.high_pass.iter_mut().for_each(Lanes::settle);
    }
}
