//! Short blocks of the comparison: gain and residual over time, at a low rate.

use crate::biquad::{Biquad, Lanes, butterworth4};

/// Length of a block, in seconds; longer in files so long that blocks would fill the memory.
const BLOCK_S: f64 = 0.01;
const MOST_BLOCKS: f64 = 400_000.0;
/// The band in which gains are compared, in Hz: what any export keeps.
const BAND_HZ: (f64, f64) = (100.0, 7_000.0);
/// Share of the rate that the band may reach.
const HIGHEST_SHARE: f64 = 0.35;
/// Mean square in the band below which a block's gain is not judged: −66 dBFS.
const LEAST_POWER: f64 = 2.5e-7;
/// Coherence of a block whose gain can be judged.
const LEAST_COHERENCE: f64 = 0.98;

/// One block; sums of squares and products over its frames, all channels together.
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::compare) struct Block {
    /// First frame of the export.
    pub frame: i64,
    /// Frames.
    pub frames: u32,
    /// Filtered prediction with itself, in the band.
    pub zz: f32,
    /// The same with the export.
    pub zy: f32,
    /// Export with itself, in the band.
    pub yy: f32,
    /// Export with itself, as stored.
    pub heard: f32,
    /// Prediction with itself, as stored.
    pub predicted: f32,
    /// Difference from the plain prediction with itself.
    pub left: f32,
    /// Difference from the filtered prediction with itself.
    pub rest: f32,
    /// Largest magnitude of the filtered prediction.
    pub peak: f32,
}

impl Block {
    /// Gain against the prediction, in dB; `None` where it cannot be told.
    pub fn gain_db(&self) -> Option<f64> {
        let [zz, zy, yy] = [self.zz, self.zy, self.yy].map(f64::from);
        let judged = zz > LEAST_POWER * f64::from(self.frames)
            && zy > 0.0
            && zy * zy >= LEAST_COHERENCE * zz * yy;
        judged.then(|| 20.0 * (zy / zz).log10())
    }
}

/// Gathers them.
pub(super) struct BlockBook {
    length: usize,
    filters: Vec<[Lanes; 3]>,
    open: Sums,
    blocks: Vec<Block>,
}

#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    frame: i64,
    frames: usize,
    zz: f64,
    zy: f64,
    yy: f64,
    heard: f64,
    predicted: f64,
    left: f64,
    rest: f64,
    peak: f64,
}

impl BlockBook {
    pub fn new(rate_hz: f64, frames: i64, channels: usize) -> Self {
        let length_s = BLOCK_S.max(frames as f64 / rate_hz / MOST_BLOCKS);
        let high = butterworth4(rate_hz, BAND_HZ.0).map(|(high, _)| Lanes::new([high; 4]));
        let low: Biquad = butterworth4(rate_hz, BAND_HZ.1.min(HIGHEST_SHARE * rate_hz))[0].1;
        let [first, second] = high;
        Self {
            length: ((length_s * rate_hz) as usize).max(1),
            filters: vec![[first, second, Lanes::new([low; 4])]; channels],
            open: Sums::default(),
            blocks: Vec::new(),
        }
    }

    pub fn take(
        &mut self,
        heard: &[Vec<f64>],
        predicted: &[Vec<f64>],
        filtered: &[Vec<f64>],
        start: i64,
    ) {
        let count = heard.first().map_or(0, Vec::len);
        let mut from = 0;
        while from < count {
            if self.open.frames == 0 {
                self.open.frame = start + from as i64;
            }
            let to = count.min(from + self.length - self.open.frames);
            for (channel, filters) in self.filters.iter_mut().enumerate() {
                let signals = [heard, predicted, filtered].map(|all| &all[channel][from..to]);
                self.open.take(signals, filters);
            }
            self.open.frames += to - from;
            from = to;
            if self.open.frames == self.length {
                self.end_segment();
            }
        }
    }

    /// Closes the open block.
    pub fn end_segment(&mut self) {
        let open = std::mem::take(&mut self.open);
        if open.frames > 0 {
            self.blocks.push(Block {
                frame: open.frame,
                frames: open.frames as u32,
                zz: open.zz as f32,
                zy: open.zy as f32,
                yy: open.yy as f32,
                heard: open.heard as f32,
                predicted: open.predicted as f32,
                left: open.left as f32,
                rest: open.rest as f32,
                peak: open.peak as f32,
            });
        }
    }

    pub fn finish(self) -> Vec<Block> {
        self.blocks
    }
}

impl Sums {
    fn take(&mut self, [heard, predicted, filtered]: [&[f64]; 3], stages: &mut [Lanes; 3]) {
        for ((&y, &z), &f) in heard.iter().zip(predicted).zip(filtered) {
            let in_band = stages.iter_mut().fold([f, y, 0.0, 0.0], |x, stage| stage.process(x));
            let [z_band, y_band, ..] = in_band;
            self.zz += z_band * z_band;
            self.zy += z_band * y_band;
            self.yy += y_band * y_band;
            self.heard += y * y;
            self.predicted += z * z;
            self.left += (y - z) * (y - z);
            self.rest += (y - f) * (y - f);
            self.peak = self.peak.max(f.abs());
        }
        stages.iter_mut().for_each(Lanes::settle);
    }
}
