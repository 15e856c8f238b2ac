//! Long filters over a stream of chunks, by overlap-save transforms.

use std::sync::Arc;

use realfft::num_complex::Complex64;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

/// The filters of all channels, and what they have heard so far.
pub(super) struct Stream {
    taps: usize,
    /// By channel, at the present length of transform.
    bins: Vec<Vec<Complex64>>,
    filters: Vec<Vec<f64>>,
    forward: Option<Arc<dyn RealToComplex<f64>>>,
    inverse: Option<Arc<dyn ComplexToReal<f64>>>,
    /// What lies up to half the taps before and behind the last chunk, by channel.
    held: Vec<Vec<f64>>,
    /// Segment and frame at which the next chunk continues.
    next: Option<(i64, i64)>,
}

impl Stream {
    pub fn new(filters: &[Vec<f64>]) -> Self {
        Self {
            taps: filters.first().map_or(0, Vec::len),
            bins: Vec::new(),
            filters: filters.to_vec(),
            forward: None,
            inverse: None,
            held: vec![Vec::new(); filters.len()],
            next: None,
        }
    }

    /// From which frame on, and how much, has to be played for a chunk of `count` frames at `at` (its
    /// segment's first frame, and its own).
    pub fn wanted(&mut self, at: (i64, i64), count: usize) -> (i64, Vec<Vec<f64>>) {
        let half = (self.taps / 2) as i64;
        let channels = self.filters.len();
        if self.next == Some(at) {
            return (at.1 + half, vec![vec![0.0; count]; channels]);
        }
        self.held.iter_mut().for_each(Vec::clear);
        (at.1 - half, vec![vec![0.0; count + self.taps]; channels])
    }

    /// Takes what was played, and gives the chunk plain and filtered.
    pub fn push(
        &mut self,
        at: (i64, i64),
        ahead: Vec<Vec<f64>>,
        plain: &mut [Vec<f64>],
        filtered: &mut [Vec<f64>],
    ) {
        let count = plain.first().map_or(0, Vec::len);
        let size = (self.taps + count).next_power_of_two();
        self.prepare(size);
        let (Some(forward), Some(inverse)) = (&self.forward, &self.inverse) else { return };
        let half = self.taps / 2;
        let mut time = forward.make_input_vec();
        let mut spectrum = forward.make_output_vec();
        for (channel, ahead) in ahead.into_iter().enumerate() {
            let held = &mut self.held[channel];
            held.extend(ahead);
            plain[channel].copy_from_slice(&held[half..half + count]);
            time.fill(0.0);
            time[..self.taps + count].copy_from_slice(&held[..self.taps + count]);
            // Lengths come from the plans, so the transforms cannot refuse them.
            let _ = forward.process(&mut time, &mut spectrum);
            for (bin, filter) in spectrum.iter_mut().zip(&self.bins[channel]) {
                *bin *= filter;
            }
            spectrum[0].im = 0.0;
            spectrum[size / 2].im = 0.0;
            let _ = inverse.process(&mut spectrum, &mut time);
            let scale = 1.0 / size as f64;
            let out = &time[self.taps..self.taps + count];
            filtered[channel].iter_mut().zip(out).for_each(|(y, x)| *y = x * scale);
            held.drain(..count);
        }
        self.next = Some((at.0, at.1 + count as i64));
    }

    fn prepare(&mut self, size: usize) {
        if self.forward.as_ref().is_some_and(|plan| plan.len() == size) {
            return;
        }
        let mut planner = RealFftPlanner::<f64>::new();
        let (forward, inverse) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
        self.bins = self
            .filters
            .iter()
            .map(|taps| {
                let mut time = forward.make_input_vec();
                time[..taps.len()].copy_from_slice(taps);
                let mut bins = forward.make_output_vec();
                let _ = forward.process(&mut time, &mut bins);
                bins
            })
            .collect();
        (self.forward, self.inverse) = (Some(forward), Some(inverse));
    }
}
