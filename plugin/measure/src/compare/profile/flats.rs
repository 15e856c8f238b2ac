//! Overs, and flat tops: runs of equal samples at the top of the file, as clipping leaves them.

/// Samples of a flat top.
const LEAST_RUN: u32 = 3;
/// How near to the file's peak a flat top lies: within 0.1 dB.
const NEAR_PEAK: f64 = 0.988;
/// How many different heights of flat runs are kept.
const MOST_HEIGHTS: usize = 32;

/// Peak, overs and flat runs of one channel.
#[derive(Debug, Clone, Default)]
pub(super) struct Flats {
    /// Largest magnitude.
    pub peak: f64,
    /// Runs of samples at or over full scale.
    pub overs: u64,
    over: bool,
    last: f64,
    run: u32,
    /// Magnitude and number of flat runs, the highest of them.
    heights: Vec<(f64, u64)>,
}

impl Flats {
    pub fn take(&mut self, samples: &[f64]) {
        for &sample in samples {
            let magnitude = sample.abs();
            self.peak = if magnitude > self.peak { magnitude } else { self.peak };
            let over = magnitude >= 1.0;
            self.overs += u64::from(over && !self.over);
            self.over = over;
            if sample == self.last {
                self.run += 1;
                if self.run == LEAST_RUN {
                    self.note(magnitude);
                }
            } else {
                self.last = sample;
                self.run = 1;
            }
        }
    }

    fn note(&mut self, magnitude: f64) {
        if magnitude < NEAR_PEAK * self.peak || magnitude == 0.0 {
            return;
        }
        if let Some((_, count)) = self.heights.iter_mut().find(|(height, _)| *height == magnitude) {
            *count += 1;
            return;
        }
        if self.heights.len() == MOST_HEIGHTS {
            // The lowest goes: it is the likeliest to lie too far below the peak in the end.
            let lowest = (0..MOST_HEIGHTS)
                .min_by(|&a, &b| self.heights[a].0.total_cmp(&self.heights[b].0))
                .unwrap_or(0);
            self.heights.swap_remove(lowest);
        }
        self.heights.push((magnitude, 1));
    }

    /// Flat tops within 0.1 dB of a peak.
    pub fn count(&self, peak: f64) -> u64 {
        let near = |(height, _): &&(f64, u64)| *height >= NEAR_PEAK * peak;
        self.heights.iter().filter(near).map(|(_, count)| count).sum()
    }
}
