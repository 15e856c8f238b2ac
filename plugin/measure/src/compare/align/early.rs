//! Where the export lies in the mix when features tell nothing: short files, steady sounds. The
//! first minute of both, at a low rate, correlated as waveforms.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;

use crate::compare::Source;
use crate::compare::play::{Failed, Player, Reel};
use crate::compare::timeline::{Segment, Timeline};

/// How much of each file is taken, in seconds.
const LENGTH_S: f64 = 60.0;
/// The rate at which it is compared, in Hz, where the files' rates are higher.
const RATE_HZ: f64 = 12_000.0;
/// Share of the shorter stretch that has to overlap.
const LEAST_OVERLAP: f64 = 0.25;
/// Least likeness of a place.
const LEAST_LIKENESS: f64 = 0.2;
/// Likeness at which a stretch is surely found; how far from its own time it is looked for, in seconds;
/// and its least length, in frames at the low rate.
const SURE_LIKENESS: f64 = 0.5;
const AROUND_S: f64 = 180.0;
const LEAST_FRAMES: usize = 4_000;
/// Maxima this near to the highest count as high.
const AS_HIGH: f64 = 0.97;

/// One segment at the best place; `None` where there is none, or no sound.
pub(in crate::compare) fn align<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    rates_hz: [f64; 2],
    frames: [i64; 2],
) -> Result<Option<Timeline>, Failed<M::Error, X::Error>> {
    let rate_hz = RATE_HZ.min(rates_hz[0]).min(rates_hz[1]);
    let lengths = [0, 1].map(|file| {
        let length_s = (frames[file] as f64 / rates_hz[file]).min(LENGTH_S);
        (length_s * rate_hz) as usize
    });
    let first = stretch(mix, 0.0, rates_hz[0] / rate_hz, lengths[0]).map_err(Failed::Mix)?;
    let second = stretch(export, 0.0, rates_hz[1] / rate_hz, lengths[1]).map_err(Failed::Export)?;
    let Some((lag, _)) = best_lag(&first, &second, LEAST_OVERLAP, 0) else { return Ok(None) };
    let mix_at_zero = lag as f64 * rates_hz[0] / rate_hz;
    let segment = Segment { start: 0, end: frames[1], mix_at_zero };
    Ok(Some(Timeline { segments: vec![segment], step: rates_hz[0] / rates_hz[1] }))
}

/// The mix's frame that belongs to frame 0 of the export by a stretch of the export, from frame `start`
/// on and `length_s` long, that is looked for in the whole mix, or in as much of it around as can be
/// compared at once; `None` where it is not there.
pub(in crate::compare) fn place<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    rates_hz: [f64; 2],
    mix_frames: i64,
    start: i64,
    length_s: f64,
) -> Result<Option<f64>, Failed<M::Error, X::Error>> {
    let rate_hz = RATE_HZ.min(rates_hz[0]).min(rates_hz[1]);
    let steps = rates_hz.map(|own_hz| own_hz / rate_hz);
    let length = (length_s * rate_hz) as usize;
    // As far to either side as a minute goes several times.
    let middle = start as f64 * rates_hz[0] / rates_hz[1];
    let first = (middle - AROUND_S * rates_hz[0]).max(0.0);
    let end = (middle + AROUND_S * rates_hz[0]).min(mix_frames as f64);
    let whole = ((end - first) / steps[0]).max(0.0) as usize;
    if length < LEAST_FRAMES || whole < length {
        return Ok(None);
    }
    let heard = stretch(export, start as f64, steps[1], length).map_err(Failed::Export)?;
    let searched = stretch(mix, first, steps[0], whole).map_err(Failed::Mix)?;
    let Some((lag, likeness)) =
        best_lag(&searched, &heard, 1.0, ((middle - first) / steps[0]) as i64)
    else {
        return Ok(None);
    };
    let place = first + lag as f64 * steps[0];
    Ok((likeness >= SURE_LIKENESS).then(|| place - start as f64 * rates_hz[0] / rates_hz[1]))
}

/// All channels together, and the first less the second, at the low rate.
fn stretch<S: Source>(
    reel: &mut Reel<S>,
    start: f64,
    step: f64,
    length: usize,
) -> Result<[Vec<f64>; 2], S::Error> {
    let mut channels = vec![vec![0.0; length]; reel.channels()];
    Player::exact(step).play(reel, start, step, &mut channels)?;
    let mut sum = vec![0.0; length];
    for channel in &channels {
        sum.iter_mut().zip(channel).for_each(|(sum, x)| *sum += x);
    }
    let difference = match &channels[..] {
        [left, right, ..] => left.iter().zip(right).map(|(left, right)| left - right).collect(),
        _ => vec![0.0; length],
    };
    // The mean and slow drifts say nothing about the place.
    Ok([changes(&sum), changes(&difference)])
}

/// First differences.
fn changes(signal: &[f64]) -> Vec<f64> {
    let mut last = signal.first().copied().unwrap_or(0.0);
    signal.iter().map(|&x| x - std::mem::replace(&mut last, x)).collect()
}

/// Frames of the mix less frames of the export where the two agree best, and how well; at least
/// `overlap` of the shorter stretch has to lie in the other. Of places that are as good, the one nearest
/// to `expected`.
fn best_lag(
    mix: &[Vec<f64>; 2],
    export: &[Vec<f64>; 2],
    overlap: f64,
    expected: i64,
) -> Option<(i64, f64)> {
    let (longer, shorter) = (mix[0].len(), export[0].len());
    let size = (longer + shorter).next_power_of_two().max(2);
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let transform = |signal: &[f64]| -> Vec<Complex64> {
        let mut time = forward.make_input_vec();
        time[..signal.len()].copy_from_slice(signal);
        let mut bins = forward.make_output_vec();
        // Lengths come from the plan, so the transform cannot refuse them.
        let _ = forward.process(&mut time, &mut bins);
        bins
    };
    let spectra = [mix, export].map(|file| file.each_ref().map(|signal| transform(signal)));
    let energies = [mix, export].map(|file| file.each_ref().map(|signal| energy_sums(signal)));
    let least = (overlap * longer.min(shorter) as f64).max(32.0) as i64;
    let (first, last) = (least - shorter as i64, longer as i64 - least);
    let mut best = vec![0f64; usize::try_from(last - first + 1).ok()?];
    for (x, x_sums) in spectra[0].iter().zip(&energies[0]) {
        for (y, y_sums) in spectra[1].iter().zip(&energies[1]) {
            let mut product: Vec<Complex64> = x.iter().zip(y).map(|(x, y)| x * y.conj()).collect();
            product[0].im = 0.0;
            product[size / 2].im = 0.0;
            let mut curve = inverse.make_output_vec();
            let _ = inverse.process(&mut product, &mut curve);
            for (held, lag) in best.iter_mut().zip(first..) {
                let (from, to) = (0.max(-lag), (shorter as i64).min(longer as i64 - lag));
                let part =
                    |sums: &[f64], from: i64, to: i64| sums[to as usize] - sums[from as usize];
                let xx = part(x_sums, from + lag, to + lag);
                let yy = part(y_sums, from, to);
                let whole = x_sums[longer] * y_sums[shorter];
                // A near-silent overlap would divide by nothing.
                if xx * yy > 1e-4 * whole && whole > 0.0 {
                    let at = usize::try_from(lag).unwrap_or((size as i64 + lag) as usize);
                    let likeness = curve[at].abs() / size as f64 / (xx * yy).sqrt();
                    *held = held.max(likeness);
                }
            }
        }
    }
    let highest = best.iter().copied().fold(0.0, f64::max);
    if highest < LEAST_LIKENESS {
        return None;
    }
    let high = (0..best.len()).filter(|&n| best[n] >= AS_HIGH * highest);
    high.map(|n| n as i64 + first)
        .min_by_key(|lag| (lag - expected).abs())
        .map(|lag| (lag, highest))
}

fn energy_sums(signal: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    let running = signal.iter().map(|x| {
        sum += x * x;
        sum
    });
    std::iter::once(0.0).chain(running).collect()
}
