//! What export chains do to a mix, each step by a long exact method, so that the answer is known.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;

use crate::memory::Memory;
use crate::signals::noise::uniform;

/// Delays a signal by any number of samples, whole or not, by turning the phase of its whole
/// spectrum. The signal grows by 2 s or more so that nothing wraps round.
///
/// # Panics
///
/// Never: the transform's lengths are made by its own planner.
#[must_use]
pub fn delayed(signal: &[f64], samples: f64) -> Vec<f64> {
    let pad = 48_000;
    let length = signal.len() + pad;
    let size = fast_length(length + pad);
    let mut bins = spectrum(signal, size);
    for (k, bin) in bins.iter_mut().enumerate() {
        *bin *=
            Complex64::from_polar(1.0, -std::f64::consts::TAU * k as f64 * samples / size as f64);
    }
    let mut out = waveform(bins, size);
    out.truncate(length);
    out
}

/// Resamples a signal to `numerator/denominator` as many samples, by cutting or extending its whole
/// spectrum: a brick wall at half the lower rate.
///
/// # Panics
///
/// Never: the transform's lengths are made by its own planner.
#[must_use]
pub fn resampled(signal: &[f64], numerator: usize, denominator: usize) -> Vec<f64> {
    // Silence at the end, so that end and beginning do not meet.
    let size = (signal.len() + 4_800).next_multiple_of(2 * denominator);
    let to = size / denominator * numerator;
    let mut bins = spectrum(signal, size);
    bins.resize(to / 2 + 1, Complex64::default());
    // A bin at half the rate has no partner.
    bins[to.min(size) / 2] = Complex64::default();
    let scale = 1.0;
    let mut out = waveform_scaled(bins, to, scale / size as f64);
    out.truncate((signal.len() * numerator).div_ceil(denominator));
    out
}

/// Cuts a signal's spectrum off at a frequency, given as a share of the sample rate.
///
/// # Panics
///
/// Never: the transform's lengths are made by its own planner.
#[must_use]
pub fn cut_off(signal: &[f64], share: f64) -> Vec<f64> {
    let size = fast_length(signal.len() + 48_000);
    let mut bins = spectrum(signal, size);
    let last = (share * size as f64) as usize;
    bins[last..].fill(Complex64::default());
    let mut out = waveform(bins, size);
    out.truncate(signal.len());
    out
}

/// Multiplies a signal's spectrum by a gain that depends on the frequency, given as a share of the
/// sample rate: a filter of zero phase.
///
/// # Panics
///
/// Never: the transform's lengths are made by its own planner.
#[must_use]
pub fn shaped(signal: &[f64], gain: impl Fn(f64) -> f64) -> Vec<f64> {
    let size = fast_length(signal.len() + 48_000);
    let mut bins = spectrum(signal, size);
    for (k, bin) in bins.iter_mut().enumerate() {
        *bin *= gain(k as f64 / size as f64);
    }
    let mut out = waveform(bins, size);
    out.truncate(signal.len());
    out
}

/// Words of `bits` bits; `dither` is its peak in steps of rectangular noise, added `times` times:
/// `(0.0, 0)` for none, `(0.5, 1)` rectangular, `(0.5, 2)` triangular.
#[must_use]
pub fn quantised(mix: &Memory, bits: u32, times: u64) -> Memory {
    let steps = 2f64.powi(bits as i32 - 1);
    let channels = (0u64..)
        .zip(&mix.channels)
        .map(|(index, channel)| {
            (0u64..)
                .zip(channel)
                .map(|(n, x)| {
                    let dither: f64 =
                        (0..times).map(|k| 0.5 * uniform(900 + 10 * index + k, n)).sum();
                    ((x * steps + dither).round()).clamp(-steps, steps - 1.0) / steps
                })
                .collect()
        })
        .collect();
    mix.with(channels).stated(bits)
}

/// A limiter: look-ahead, linked channels, instant attack over `hold` samples, release in seconds.
#[must_use]
pub fn limited(mix: &Memory, ceiling: f64, release_s: f64) -> Memory {
    const LOOK_AHEAD: usize = 48;
    let frames = mix.frames();
    let peak = |n: usize| {
        let end = (n + LOOK_AHEAD).min(frames);
        mix.channels.iter().fold(0f64, |held, c| c[n..end].iter().fold(held, |h, x| h.max(x.abs())))
    };
    let release = (-1.0 / (release_s * f64::from(mix.rate_hz))).exp();
    let mut reduction_db = 0f64;
    let gains: Vec<f64> = (0..frames)
        .map(|n| {
            let wanted = 20.0 * (peak(n) / ceiling).max(1.0).log10();
            reduction_db = wanted.max(reduction_db * release);
            10f64.powf(-reduction_db / 20.0)
        })
        .collect();
    let limit = |channel: &Vec<f64>| channel.iter().zip(&gains).map(|(x, g)| x * g).collect();
    mix.with(mix.channels.iter().map(limit).collect())
}

/// A piece taken out of all channels.
#[must_use]
pub fn without(mix: &Memory, range: std::ops::Range<usize>) -> Memory {
    mix.each(|channel| [&channel[..range.start], &channel[range.end..]].concat())
}

/// A piece put into all channels before a frame.
#[must_use]
pub fn with_piece(mix: &Memory, at: usize, piece: &Memory) -> Memory {
    let channels = mix
        .channels
        .iter()
        .zip(&piece.channels)
        .map(|(channel, piece)| [&channel[..at], piece, &channel[at..]].concat())
        .collect();
    mix.with(channels)
}

/// A length of few small factors.
fn fast_length(least: usize) -> usize {
    (least..).find(|n| n % 2 == 0 && is_smooth(*n)).unwrap_or(least)
}

fn is_smooth(mut n: usize) -> bool {
    for factor in [2, 3, 5] {
        while n.is_multiple_of(factor) {
            n /= factor;
        }
    }
    n == 1
}

fn spectrum(signal: &[f64], size: usize) -> Vec<Complex64> {
    let forward = RealFftPlanner::<f64>::new().plan_fft_forward(size);
    let mut time = signal.to_vec();
    time.resize(size, 0.0);
    let mut bins = forward.make_output_vec();
    forward.process(&mut time, &mut bins).expect("lengths are the plan's own");
    bins
}

fn waveform(bins: Vec<Complex64>, size: usize) -> Vec<f64> {
    waveform_scaled(bins, size, 1.0 / size as f64)
}

fn waveform_scaled(mut bins: Vec<Complex64>, size: usize, scale: f64) -> Vec<f64> {
    let inverse = RealFftPlanner::<f64>::new().plan_fft_inverse(size);
    bins[0].im = 0.0;
    if let Some(last) = bins.last_mut() {
        last.im = 0.0;
    }
    let mut time = inverse.make_output_vec();
    inverse.process(&mut bins, &mut time).expect("lengths are the plan's own");
    time.iter_mut().for_each(|x| *x *= scale);
    time
}
