//! A programme meter that moves by batches, on a pair of channels: what the higher
//! [`QuasiPeak`](crate::detector::QuasiPeak) of the two shows of the same samples, in a fraction of its
//! time. On bursts of 1 ms and more, noise and music its highest is within 0.1 dB of that, on bursts of
//! 0.4 ms within 0.3 dB.
//!
//! Attacks take milliseconds, so that what charges a follower in a small part of one may come at once, as
//! so many samples of their mean; and which samples charge may be asked of where the follower stood a
//! little before, since one so near to where it stands hardly moves it. What has to wait for the stride
//! before is then one multiplication and one sum.

use pulp::{Arch, Scalar, Simd, WithSimd};

use crate::batch::{BATCH_FRAMES, Batch, PairBatch};
use crate::detector::{Branch, ProgrammeType};

/// The longest stretch whose samples come at once to a quick follower, in seconds: a seventh of the
/// shortest attack.
const LONGEST_STRIDE_S: f64 = 0.2e-3;
/// Below this a voltage means nothing, and is dropped before it becomes denormal and slow.
const NOTHING: f32 = 1e-20;
/// Added to a count, it leaves it in the lowest bits.
const TO_LOWEST_BITS: f32 = 8_388_608.0;

/// What some number of samples, come at once, make of a voltage.
#[derive(Debug, Clone, Copy)]
struct Charge {
    /// The share of it that is left, once it has fallen over the others.
    keep: f32,
    /// How much of their sum is added.
    add: f32,
}

/// A charging and falling voltage on each of two channels.
#[derive(Debug, Clone, Copy)]
struct Follower {
    /// Its part in what is shown.
    weight: f32,
    /// By the number of samples that charge it.
    charges: [Charge; BATCH_FRAMES + 1],
    values: [f32; 2],
}

impl Follower {
    /// One that takes so many samples at once.
    fn new(rate_hz: f64, (weight, attack_s, release_s): Branch, stride: usize) -> Self {
        let charge = |count: usize| {
            let attacks = count as f64 / (rate_hz * attack_s);
            let releases = stride.saturating_sub(count) as f64 / (rate_hz * release_s);
            Charge {
                keep: (-attacks - releases).exp() as f32,
                add: (-(-attacks).exp_m1() / count.max(1) as f64) as f32,
            }
        };
        Self { weight: weight as f32, charges: std::array::from_fn(charge), values: [0.0; 2] }
    }

    #[inline(always)]
    fn charge(&mut self, channel: usize, (sum, count): (f32, usize)) {
        let Charge { keep, add } = self.charges[count.min(BATCH_FRAMES)];
        self.values[channel] = self.values[channel] * keep + add * sum;
    }

    #[inline(always)]
    fn shown(&self) -> [f32; 2] {
        self.values.map(|value| self.weight * value)
    }

    #[inline(always)]
    fn settle(&mut self) {
        self.values = self.values.map(|value| if value < NOTHING { 0.0 } else { value });
    }
}

/// Sum and number of the magnitudes above `value`.
#[inline(always)]
fn above<S: Simd>(simd: S, samples: &[S::f32s], value: f32) -> (f32, usize) {
    let [none, one, start] = [0.0, 1.0, value].map(|value| simd.splat_f32s(value));
    let (mut beyond, mut count) = (none, none);
    for &sample in samples {
        let magnitude = simd.abs_f32s(sample);
        let charges = simd.less_than_f32s(start, magnitude);
        beyond = simd.add_f32s(beyond, simd.max_f32s(simd.sub_f32s(magnitude, start), none));
        count = simd.add_f32s(count, simd.select_f32s(charges, one, none));
    }
    let [beyond, count] = [beyond, count].map(|lanes| simd.reduce_sum_f32s(lanes));
    // A conversion would first look for what no count is.
    let bits = (count + TO_LOWEST_BITS).to_bits() & 0xFF;
    (beyond + count * value, bits as usize)
}

/// See the module.
#[derive(Debug, Clone, Copy)]
pub(super) struct Programme {
    quick: Follower,
    /// Of Type II. A batch is little of its attack.
    slow: Option<Follower>,
    /// Samples that come to the quick one at once.
    stride: usize,
}

impl Programme {
    pub(super) fn new(rate_hz: f64, programme: ProgrammeType) -> Self {
        let longest = LONGEST_STRIDE_S * rate_hz;
        let stride = [32, 16, 8].into_iter().find(|&stride| f64::from(stride) <= longest);
        let stride = stride.unwrap_or(1) as usize;
        let rest = programme.rest_on_sine();
        let [quick, slow] = programme.branches().map(|(weight, attack_s, release_s)| {
            // A steady sine of amplitude 1 is shown as 1.
            (weight / rest, attack_s, release_s)
        });
        Self {
            quick: Follower::new(rate_hz, quick, stride),
            slow: (slow.0 > 0.0).then(|| Follower::new(rate_hz, slow, BATCH_FRAMES)),
            stride,
        }
    }

    pub(super) fn reset(&mut self) {
        self.quick.values = [0.0; 2];
        self.slow.iter_mut().for_each(|slow| slow.values = [0.0; 2]);
    }

    /// What it shows now of the channel where that is more, linear: 1.0 is full scale.
    pub(super) fn linear(&self) -> f32 {
        let slow = self.slow.map_or([0.0; 2], |slow| slow.shown());
        let quick = self.quick.shown();
        (quick[0] + slow[0]).max(quick[1] + slow[1])
    }

    /// Takes the next samples of both channels, and returns the highest that it shows of them, linear.
    pub(super) fn take(&mut self, arch: Arch, batch: &PairBatch) -> f32 {
        let batches = [&batch.a, &batch.b];
        match self.stride {
            32 => arch.dispatch(Take::<32> { programme: self, batches }),
            16 => arch.dispatch(Take::<16> { programme: self, batches }),
            8 => arch.dispatch(Take::<8> { programme: self, batches }),
            _ => Scalar::new().vectorize(Take::<1> { programme: self, batches }),
        }
    }
}

/// The way through a batch by strides of one length.
struct Take<'a, const STRIDE: usize> {
    programme: &'a mut Programme,
    batches: [&'a Batch; 2],
}

impl<const STRIDE: usize> WithSimd for Take<'_, STRIDE> {
    type Output = f32;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> f32 {
        const { assert!(S::F32_LANES <= STRIDE, "a stride is made up of whole vectors") };
        let Programme { quick, slow, .. } = self.programme;
        let batches = self.batches.map(|batch| S::as_simd_f32s(batch).0);
        let (mut slowly, mut rises) = ([0f32; 2], [0f32; 2]);
        if let Some(slow) = slow {
            slowly = slow.shown();
            for (channel, samples) in batches.into_iter().enumerate() {
                slow.charge(channel, above(simd, samples, slow.values[channel]));
            }
            let strides = (BATCH_FRAMES / STRIDE) as f32;
            let end = slow.shown();
            rises = std::array::from_fn(|channel| (end[channel] - slowly[channel]) / strides);
            slow.settle();
        }
        let mut highest = [0f32; 2];
        let width = batches[0].len() * STRIDE / BATCH_FRAMES;
        for pair in 0..BATCH_FRAMES / STRIDE / 2 {
            // What charges is asked once for two strides: the sums of the second need not wait.
            let before = quick.values;
            for stride in [2 * pair, 2 * pair + 1] {
                for (channel, samples) in batches.into_iter().enumerate() {
                    let samples = &samples[stride * width..][..width];
                    quick.charge(channel, above(simd, samples, before[channel]));
                    slowly[channel] += rises[channel];
                    let shown = quick.weight * quick.values[channel] + slowly[channel];
                    // Not `f32::max`: its treatment of NaN takes three instructions, and none is here.
                    highest[channel] =
                        if shown > highest[channel] { shown } else { highest[channel] };
                }
            }
        }
        quick.settle();
        highest[0].max(highest[1])
    }
}

#[cfg(test)]
mod tests;
