//! Powers by bin against the transforms of each channel by itself.

use proptest::prelude::*;
use rustfft::num_complex::Complex64;

use super::*;
use crate::scalar::energy::double;
use crate::scalar::fourier::bin;
use crate::scalar::signals::{blocks, signals};
use crate::scalar::{ROUNDING, UNDERFLOW, tries};

/// Frames of a transform.
const SIZE: usize = 48;

/// A pair's transforms by the definition: of A + iB, rounded, and of A and of B.
fn transforms(a: &[f32], b: &[f32]) -> (Vec<Complex32>, [Vec<Complex64>; 2]) {
    let [a, b] = [a, b].map(|half| {
        let half = double(half);
        (0..SIZE).map(|k| bin(&half, k, SIZE)).collect::<Vec<_>>()
    });
    let both = a.iter().zip(&b).map(|(a, b)| a + Complex64::i() * b);
    (both.map(|z| Complex32::new(z.re as f32, z.im as f32)).collect(), [a, b])
}

/// Share of what is in a bin of both by which a result may be wrong: a transform is rounded, which its
/// square feels twice, then a square, two sums and the scale.
const ROUNDINGS: f64 = 8.0;

fn dirty_powers() -> BinPowers {
    BinPowers { latest: vec![3.0; SIZE], sum: vec![5.0; SIZE] }
}

fn dirty_halves() -> HalvesBins {
    let [aa, bb, real, imaginary] = [(); 4].map(|()| vec![7.0; SIZE]);
    HalvesBins { aa, bb, real, imaginary }
}

fn all(halves: &HalvesBins) -> Vec<u64> {
    let HalvesBins { aa, bb, real, imaginary } = halves;
    [aa, bb, real, imaginary].into_iter().flatten().copied().map(f64::to_bits).collect()
}

fn kept() -> impl Strategy<Value = Kept> {
    (0f32..=1.0, prop_oneof![Just(0.0), Just(1.0)]).prop_map(|(latest, sum)| Kept { latest, sum })
}

proptest! {
    #![proptest_config(tries(128))]

    #[test]
    fn bins_hold_twice_the_powers_of_the_channels(
        [a, b] in signals::<2>(SIZE..=SIZE),
        bins in (0usize..SIZE / 2, 0usize..=SIZE / 2).prop_map(|(x, y)| x.min(y)..y.max(x + 1)),
        scale in 0.001f32..=1.0,
        kept in kept(),
        fresh in 0f32..=1.0,
    ) {
        let (transform, [x, y]) = transforms(&a, &b);
        let mut powers = dirty_powers();
        let mut halves = dirty_halves();
        let transformed = Transformed::new(&transform, bins.clone(), scale, kept);
        transformed.add_powers(Arch::new(), &mut powers, fresh);
        transformed.add_halves(Arch::new(), &mut halves);
        for k in 0..SIZE {
            if k == 0 || !bins.contains(&k) {
                let left = (powers.latest[k], powers.sum[k], halves.aa[k], halves.imaginary[k]);
                prop_assert_eq!(left, (3.0, 5.0, 7.0, 7.0));
                continue;
            }
            let doubled = 2.0 * f64::from(scale);
            let power = doubled * (x[k].norm_sqr() + y[k].norm_sqr());
            let cross = doubled * x[k] * y[k].conj();
            let left = kept.sum * 7.0;
            let apart = ROUNDINGS * ROUNDING * power + 8.0 * UNDERFLOW;
            // The sums themselves are in double precision.
            let apart_sum = apart + 16.0 * f64::EPSILON;
            let faded = f64::from(kept.latest) * 3.0;
            for (found, expected, apart) in [
                (
                    powers.latest[k].into(),
                    faded + f64::from(fresh) * power,
                    apart + 3.0 * ROUNDING * (faded + power),
                ),
                (powers.sum[k], kept.sum * 5.0 + power, apart_sum),
                (halves.aa[k], left + doubled * x[k].norm_sqr(), apart_sum),
                (halves.bb[k], left + doubled * y[k].norm_sqr(), apart_sum),
                (halves.real[k], left + cross.re, apart_sum),
                (halves.imaginary[k], left + cross.im, apart_sum),
            ] {
                prop_assert!((found - expected).abs() <= apart, "{found}, not {expected} in {k}");
            }
        }
    }

    #[test]
    fn every_processor_finds_the_same_bins(
        [a, b] in signals::<2>(SIZE..=SIZE), kept in kept(), fresh in 0f32..=1.0
    ) {
        let (transform, _) = transforms(&a, &b);
        let transformed = Transformed::new(&transform, 0..SIZE / 2 + 1, 0.1, kept);
        let run = |arch| {
            let (mut powers, mut halves) = (dirty_powers(), dirty_halves());
            transformed.add_powers(arch, &mut powers, fresh);
            transformed.add_halves(arch, &mut halves);
            let sums: Vec<u64> = powers.sum.iter().copied().map(f64::to_bits).collect();
            let latest: Vec<u32> = powers.latest.iter().copied().map(f32::to_bits).collect();
            (sums, latest, all(&halves))
        };
        prop_assert_eq!(run(Arch::Scalar), run(Arch::new()));
    }

    #[test]
    fn a_window_weighs_each_frame(frames in blocks::<3>(0..=70)) {
        let pairs: Vec<_> = frames.iter().map(|[a, b, _]| Complex32::new(*a, *b)).collect();
        let window: Vec<f32> = frames.iter().map(|[.., w]| *w).collect();
        let expected: Vec<_> =
            frames.iter().map(|[a, b, w]| [(a * w).to_bits(), (b * w).to_bits()]).collect();
        for arch in [Arch::Scalar, Arch::new()] {
            let mut frames = pairs.clone();
            arch.dispatch(Windowed { frames: &mut frames, window: &window });
            let found: Vec<_> = frames.iter().map(|z| [z.re.to_bits(), z.im.to_bits()]).collect();
            prop_assert_eq!(&found, &expected);
        }
    }
}
