//! Whether one half holds the other again, later: a peak of their cross-correlation away from 0.
//!
//! The cross spectrum of the halves, averaged since reset and divided by their own spectra, goes back
//! to a correlation over lags ("smoothed coherence transform": G. C. Carter, A. H. Nuttall,
//! P. G. Cable, Proc. IEEE 61, 1973). Both halves of a pair lie under one window, so a copy is seen
//! the less the later it comes, and not at all beyond `MOST_SHARE` of a transform. Nothing found is
//! therefore no proof of independence.

use rustfft::num_complex::Complex32;

use super::analyser::Analyser;
use super::window;
use crate::reading::{Half, LateCopy};

/// Fewer transforms leave too much of the halves' own in the mean.
const LEAST_TRANSFORMS: u64 = 8;
/// Shortest delay that counts as one, in seconds: below it lie what spaced microphones and phase
/// differences make.
const LEAST_DELAY_S: f64 = 0.000_1;
/// Longest delay looked for, as a share of a transform.
const MOST_SHARE: f64 = 0.6;
/// How far a peak has to stand above the root mean square of all lags. The highest of eight thousand
/// lags of independent noises stands 4 times above it.
const LEAST_PROMINENCE: f64 = 8.0;
/// How high the next peak may be, against the highest: what repeats itself has many.
const MOST_SECOND: f64 = 0.5;
/// Lags this close to a peak belong to it, in seconds.
const PEAK_REACH_S: f64 = 0.002;
/// Bins weaker than this, against the strongest, are left out: products of two powers.
const LEAST_PRODUCT: f64 = 1e-18;
/// Least correlation of a copy with what it copies part of.
const LEAST_CORRELATION: f64 = 0.3;
/// Largest standard deviation of a correlation that is told.
const MOST_SCATTER: f64 = 0.03;

/// The copy of one half in the other, if there is one.
pub(crate) fn find_late_copy(analyser: &mut Analyser) -> Option<LateCopy> {
    if analyser.transforms() < LEAST_TRANSFORMS {
        return None;
    }
    let products = (1..analyser.bins()).map(|bin| {
        let halves = analyser.halves(bin);
        halves.aa * halves.bb
    });
    let least = products.fold(0.0, f64::max) * LEAST_PRODUCT;
    if least <= 0.0 {
        return None;
    }
    let rate_hz = analyser.bin_hz() * analyser.length() as f64;
    let lags = analyser.back(|analyser, bin| coherence(analyser, bin, least));
    let lag_frames = peak_frames(lags, rate_hz)?;
    let share = lag_frames / analyser.length() as f64;
    let overlap = window::overlap(share);
    let (correlation, scatter) = correlation(analyser, share);
    let correlation = correlation / overlap;
    (correlation.abs() >= LEAST_CORRELATION).then(|| LateCopy {
        later: if lag_frames > 0.0 { Half::B } else { Half::A },
        delay_ms: (lag_frames / rate_hz).abs() * 1e3,
        inverted: correlation < 0.0,
        correlation: (scatter <= MOST_SCATTER * overlap).then(|| correlation.clamp(-1.0, 1.0)),
    })
}

/// Cross spectrum over the halves' own.
fn coherence(analyser: &Analyser, bin: usize, least: f64) -> Complex32 {
    let halves = analyser.halves(bin);
    let product = halves.aa * halves.bb;
    if product <= least {
        return Complex32::default();
    }
    let both = product.sqrt();
    Complex32::new((halves.real / both) as f32, (halves.imaginary / both) as f32)
}

/// Where a correlation over lags, positive ones first, has its peak, if it is one of a kind: positive
/// where B comes later.
fn peak_frames(lags: &[Complex32], rate_hz: f64) -> Option<f64> {
    let length = lags.len();
    let lag = |index: usize| match index {
        index if index < length / 2 => index as f64,
        index => index as f64 - length as f64,
    };
    let height = |index: usize| lags[index % length].re.abs();
    let highest = (0..length).max_by(|&a, &b| height(a).total_cmp(&height(b)))?;
    let within = LEAST_DELAY_S * rate_hz..=MOST_SHARE * length as f64;
    if !within.contains(&lag(highest).abs()) {
        return None;
    }
    let reach = (PEAK_REACH_S * rate_hz).ceil() as usize;
    let (mut second, mut energy, mut count) = (0f32, 0.0, 0.0);
    for index in 0..length {
        let away = index.abs_diff(highest);
        if away.min(length - away) > reach {
            second = second.max(height(index));
            energy += f64::from(height(index)).powi(2);
            count += 1.0;
        }
    }
    let scatter = (energy / count).sqrt();
    let [before, here, behind] =
        [highest + length - 1, highest, highest + 1].map(|index| f64::from(height(index)));
    if here < LEAST_PROMINENCE * scatter || f64::from(second) > MOST_SECOND * here {
        return None;
    }
    let bend = before - 2.0 * here + behind;
    let offset = if bend < 0.0 { 0.5 * (before - behind) / bend } else { 0.0 };
    Some(lag(highest) + offset)
}

/// Correlation of A with B taken back by `share` of a transform, by energy, and its standard deviation
/// were the two independent: in each bin, the mean of as many products as there were transforms.
fn correlation(analyser: &Analyser, share: f64) -> (f64, f64) {
    let (mut aa, mut bb, mut ab, mut products) = (0.0, 0.0, 0.0, 0.0);
    for bin in 1..analyser.bins() {
        let halves = analyser.halves(bin);
        let angle = std::f64::consts::TAU * (bin as f64 * share).fract();
        aa += halves.aa;
        bb += halves.bb;
        ab += halves.real * angle.cos() + halves.imaginary * angle.sin();
        products += halves.aa * halves.bb;
    }
    let both = (aa * bb).sqrt();
    (ab / both, (products / (2.0 * analyser.transforms() as f64)).sqrt() / both)
}
