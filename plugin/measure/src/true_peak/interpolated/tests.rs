//! The search for the waveform's maximum against the waveform at many places a sample.

use proptest::prelude::*;
use pulp::Scalar;

use super::*;
use crate::fir;
use crate::scalar::energy::double;
use crate::scalar::signals::{blocks, signal};
use crate::scalar::{ROUNDING, UNDERFLOW, filter, peak, tries};

/// Places to a sample at which the waveform is looked at: between two of them, what reaches up to half
/// the rate rises by a share of 1 − cos(π/128), 0.0003, at the most.
const PLACES: u32 = 64;
/// How far apart the two maxima may lie, as a share, 0.01 dB: five points are taken for a sinusoid that they
/// miss by 0.001, and a parabola through points an eighth apart falls short by 0.0002 at half the rate.
const APART: f64 = 0.001_15;
/// Magnitudes that single precision squares to nothing, so that no fit is made of them.
const DENORMAL: f64 = 1e-18;

/// The waveform `share` of a sample behind each sample as the windowed sinc has it, late by its reach.
fn waveform<const REACH: usize>(signal: &[f64], share: f64) -> Vec<f64> {
    let beta = fir::kaiser_beta(ATTENUATION_DB);
    let weight = |k: usize| {
        let t = REACH as f64 - k as f64 - share;
        fir::sinc(t) * fir::kaiser(t / REACH as f64, beta)
    };
    let weights: Vec<f64> = (0..=2 * REACH).map(weight).collect();
    let gain: f64 = weights.iter().sum();
    let taps: Vec<f64> = weights.iter().map(|weight| weight / gain).collect();
    filter::filtered(signal, &taps)
}

/// The largest magnitude of the waveform.
fn maximum<const REACH: usize>(signal: &[f64]) -> f64 {
    let shares = (0..PLACES).map(|place| f64::from(place) / f64::from(PLACES));
    let largest = shares.map(|share| peak::largest(&waveform::<REACH>(signal, share)));
    largest.fold(0.0, f64::max)
}

fn play<const REACH: usize>(
    arch: Arch,
    signals: &mut [Interpolator<REACH>; 3],
    pairs: &[[Batch; 2]],
) {
    for [a, b] in pairs {
        let sum = std::array::from_fn(|i| a[i] + b[i]);
        Interpolator::take_all(signals, arch, &[a, b, &sum], None);
    }
}

fn three<const REACH: usize>() -> [Interpolator<REACH>; 3] {
    Interpolator::three(0.5)
}

fn pairs(count: std::ops::RangeInclusive<usize>) -> impl Strategy<Value = Vec<[Batch; 2]>> {
    blocks::<{ 2 * BATCH_FRAMES }>(count).prop_map(|both| {
        let half = |both: &[f32]| both.try_into().expect("half of both");
        both.iter().map(|both| [half(&both[..BATCH_FRAMES]), half(&both[BATCH_FRAMES..])]).collect()
    })
}

/// Works out what lies between the samples: the halfway points, and eight points around each sample and
/// around each halfway point.
struct Between<'a, const REACH: usize>(&'a mut Interpolator<REACH>);

impl<const REACH: usize> WithSimd for Between<'_, REACH> {
    /// `[halves][eighth]`, from the first sample that is not history on.
    type Output = Vec<[f32; PHASES]>;

    fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
        self.0.interpolate_halfway(simd);
        let Interpolator { weights, samples, .. } = self.0;
        let around = |halves: usize| weights.eighths(simd, samples, 2 * REACH + halves);
        (0..2 * BATCH_FRAMES - 1).map(around).collect()
    }
}

/// Halfway points and points an eighth apart, against the formula.
fn points_are_the_waveforms<const REACH: usize>(samples: &[f32]) -> Result<(), TestCaseError> {
    let [mut interpolator, ..] = Interpolator::<REACH>::three(0.5);
    interpolator.samples[..samples.len()].copy_from_slice(samples);
    let signal = double(samples);
    let taps = 2 * REACH;
    // Weights, products and sums are rounded; magnitudes of weights sum up to less than the bound.
    let bound = f64::from(interpolator.weights.bound);
    let apart =
        (taps + 3) as f64 * ROUNDING * bound * peak::largest(&signal) + taps as f64 * UNDERFLOW;
    let around = Arch::new().dispatch(Between(&mut interpolator));
    let halfway = interpolator.halfway.points;
    for phase in 0..PHASES {
        let waveform = waveform::<REACH>(&signal, phase as f64 / PHASES as f64);
        let is = |point: f32, sample: usize| {
            let expected = waveform[taps + sample];
            let miss = (f64::from(point) - expected).abs();
            prop_assert!(miss <= apart, "{point} in phase {phase} of {sample}, not {expected}");
            Ok(())
        };
        for sample in 0..BATCH_FRAMES {
            if phase == HALFWAY {
                is(halfway[sample + 2], sample)?;
            }
            if phase < HALFWAY {
                is(around[2 * sample][HALFWAY + phase], sample)?;
            } else if sample + 1 < BATCH_FRAMES {
                is(around[2 * sample + 2][phase - HALFWAY], sample)?;
            }
            if sample + 1 < BATCH_FRAMES {
                is(around[2 * sample + 1][phase], sample)?;
            }
        }
    }
    Ok(())
}

fn peaks_are_the_waveforms<const REACH: usize>(pairs: &[[Batch; 2]]) -> Result<(), TestCaseError> {
    let mut signals = three::<REACH>();
    let silence = [[[0.0; BATCH_FRAMES]; 2]; 2];
    let all = [pairs, &silence[..]].concat();
    play(Arch::new(), &mut signals, &all);
    let [a, b] = [0, 1].map(|half| all.iter().flat_map(|pair| pair[half]).collect::<Vec<f32>>());
    let sum: Vec<f32> = a.iter().zip(&b).map(|(a, b)| a + b).collect();
    for (signal, of) in signals.iter().zip([a, b, sum]) {
        let (found, expected) = (f64::from(signal.held), maximum::<REACH>(&double(&of)));
        let apart = APART * expected + DENORMAL;
        prop_assert!((found - expected).abs() <= apart, "{found}, not {expected}");
    }
    Ok(())
}

proptest! {
    #![proptest_config(tries(48))]

    #[test]
    fn points_between_samples_are_the_waveforms(
        samples in signal(MOST_HISTORY + BATCH_FRAMES..=MOST_HISTORY + BATCH_FRAMES)
    ) {
        points_are_the_waveforms::<24>(&samples)?;
        points_are_the_waveforms::<16>(&samples[..2 * 16 + BATCH_FRAMES])?;
        points_are_the_waveforms::<8>(&samples[..2 * 8 + BATCH_FRAMES])?;
    }

    #[test]
    fn what_is_held_is_the_waveforms_maximum(pairs in pairs(1..=3)) {
        peaks_are_the_waveforms::<24>(&pairs)?;
    }
}

proptest! {
    #![proptest_config(tries(64))]

    #[test]
    fn nothing_is_left_after_a_reset_and_every_processor_holds_the_same(
        signal in pairs(1..=4), before in pairs(0..=3)
    ) {
        let [mut plain, mut fresh, mut used] = [three::<24>(), three::<24>(), three::<24>()];
        play(Arch::new(), &mut used, &before);
        used.iter_mut().for_each(Interpolator::reset);
        play(Arch::Scalar, &mut plain, &signal);
        play(Arch::new(), &mut fresh, &signal);
        play(Arch::new(), &mut used, &signal);
        for ((fresh, used), plain) in fresh.iter().zip(&used).zip(&plain) {
            prop_assert_eq!(fresh.held.to_bits(), used.held.to_bits());
            prop_assert_eq!(fresh.samples.map(f32::to_bits), used.samples.map(f32::to_bits));
            // Products are added with one rounding where the processor can.
            let apart = f64::from(fresh.held - plain.held).abs();
            prop_assert!(apart <= APART * f64::from(plain.held) + DENORMAL);
        }
    }
}

/// Three points that a sinusoid of amplitude 1.01 meets, and outer ones that rise by 0.28 where they are
/// its own, and sum up to −0.04.
#[test]
fn outer_points_are_a_sinusoids_only_if_both_sum_and_rise_are() {
    let looks = |before, behind| fit::may_top(Scalar, [before, 0.6, 1.0, 0.8, behind], 1.05);
    assert!(!looks(-0.16, 0.12), "a sinusoid stays below what is held");
    assert!(looks(-0.02, -0.02), "the sum alone is right");
    assert!(looks(0.04, 0.32), "the rise alone is right");
}
