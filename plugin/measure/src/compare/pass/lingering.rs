//! Whether what is left over is the sound of a moment ago, as reverberation and echoes are: the
//! residual's cross-spectra with predictions one, two and three windows before.

use realfft::num_complex::Complex64;

/// How many half windows ago, so that windows do not overlap.
const AGO: [usize; 3] = [2, 3, 5];
/// Half windows kept.
const KEPT: usize = 6;
/// Windows that it takes to tell.
const LEAST_WINDOWS: f64 = 30.0;

/// Sums by channel.
pub(super) struct Lingering {
    channels: Vec<Channel>,
    windows: f64,
}

struct Channel {
    /// Predictions of the last windows, the latest at `latest`.
    before: Vec<Vec<Complex64>>,
    held: usize,
    latest: usize,
    /// By how long ago.
    cross: [Vec<Complex64>; AGO.len()],
    zz: Vec<f64>,
    rr: Vec<f64>,
}

impl Lingering {
    pub fn new(channels: usize, bins: usize) -> Self {
        let none = vec![Complex64::default(); bins];
        let channel = || Channel {
            before: vec![none.clone(); KEPT],
            held: 0,
            latest: 0,
            cross: [(); AGO.len()].map(|()| none.clone()),
            zz: vec![0.0; bins],
            rr: vec![0.0; bins],
        };
        Self { channels: (0..channels).map(|_| channel()).collect(), windows: 0.0 }
    }

    /// Takes a channel's window.
    pub fn take(&mut self, channel: usize, heard: &[Complex64], filtered: &[Complex64]) {
        let channel = &mut self.channels[channel];
        if channel.held >= KEPT {
            for (cross, ago) in channel.cross.iter_mut().zip(AGO) {
                let before = &channel.before[(channel.latest + KEPT + 1 - ago) % KEPT];
                for (((cross, z), y), f) in cross.iter_mut().zip(before).zip(heard).zip(filtered) {
                    *cross += z.conj() * (y - f);
                }
            }
            for (rr, (y, f)) in channel.rr.iter_mut().zip(heard.iter().zip(filtered)) {
                *rr += (y - f).norm_sqr();
            }
            for (zz, z) in channel.zz.iter_mut().zip(filtered) {
                *zz += z.norm_sqr();
            }
        }
        channel.latest = (channel.latest + 1) % KEPT;
        channel.before[channel.latest].copy_from_slice(filtered);
        channel.held += 1;
    }

    /// All channels have had their window.
    pub fn next(&mut self) {
        if self.channels.first().is_some_and(|channel| channel.held > KEPT) {
            self.windows += 1.0;
        }
    }

    /// What follows does not continue what was.
    pub fn forget(&mut self) {
        self.channels.iter_mut().for_each(|channel| channel.held = 0);
    }

    /// Share of the residual that the sound of a moment ago explains.
    pub fn share(&self) -> f64 {
        if self.windows < LEAST_WINDOWS {
            return 0.0;
        }
        let (mut explained, mut left) = (0.0, 0.0);
        for channel in &self.channels {
            for (bin, (zz, rr)) in channel.zz.iter().zip(&channel.rr).enumerate() {
                left += rr;
                if *zz > 0.0 {
                    let cross = channel.cross.iter().map(|cross| cross[bin].norm_sqr());
                    explained += cross.sum::<f64>() / zz;
                }
            }
        }
        // As much is explained of anything by chance.
        let chance = 2.0 * AGO.len() as f64 / self.windows;
        if left > 0.0 { (explained / left - chance).clamp(0.0, 1.0) } else { 0.0 }
    }
}
