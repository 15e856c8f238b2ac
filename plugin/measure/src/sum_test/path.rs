//! What the mixer made of each feed: gain, delay and response, and how well the steps in which both
//! feeds play follow from those in which one does.
//!
//! The noises are known to the sample, so this is a fit, not a statistic: cross-spectra of feed and
//! recording over one long window, averaged in bands (Bendat, Piersol, "Random Data", frequency
//! response functions).

mod references;
mod turns;

use std::f64::consts::TAU;

use realfft::num_complex::{Complex32, Complex64};

use super::schedule::STEPS;
pub(super) use references::{References, references};
use turns::Turns;

/// Steps that a fit is made for: the first seven.
pub(super) const FITTED_STEPS: usize = 7;
/// Width of the bands in which a response is taken, in Hz.
const BAND_HZ: f64 = 250.0;
/// Gains are taken over this range, in Hz: what every mixer passes.
const GAIN_RANGE_HZ: (f64, f64) = (250.0, 16_000.0);
/// A feed this far below the other is missing: 40 dB, as a ratio.
pub(super) const MISSING_RATIO: f64 = 0.01;
/// 20·log10(e): decibels of a small relative error of an amplitude.
const DB_PER_AMPLITUDE: f64 = 8.685_889_638;
/// Share of a bin's noise power that a fit through many bins feels: half of it lies across the
/// signal, and a Hann window makes one and a half bins out of each independent one.
const NOISE_SHARE: f64 = 0.75;
/// Where the loudest samples begin, as a share of the largest.
const KNEE: f32 = 0.8;
/// Paths that leave less than this share of their powers in a step's sum cancel there: −20 dB.
const CANCELS: f64 = 0.01;

/// The way of one feed through the mixer, against the feed at full scale.
#[derive(Debug, Clone)]
pub(super) struct Path {
    /// Linear gain in the range that every mixer passes; negative if the polarity is turned.
    pub gain: f64,
    /// How late it comes against the alignment, in frames.
    pub delay_frames: f64,
    /// Response in bands of `band_bins` bins, without the whole frames of delay.
    bands: Vec<Complex64>,
    band_bins: usize,
    whole_delay: f64,
    bins: usize,
}

impl Path {
    /// The path from what was heard while the feed played `known` alone.
    fn fit(known: &[Complex32], heard: &[Complex32], references: &References) -> Self {
        let rate_hz = references.rate_hz;
        let size = references.size;
        let cross: Vec<Complex32> =
            known.iter().zip(heard).map(|(known, heard)| known.conj() * heard).collect();
        let whole_delay = peak_lag(&cross, references);
        let band_bins = (BAND_HZ * size as f64 / rate_hz).round() as usize;
        let bands: Vec<Complex64> = (0..known.len() / band_bins)
            .map(|band| {
                let range = band * band_bins..(band + 1) * band_bins;
                let (mut product, mut power) = (Complex64::default(), 0.0);
                for (bin, turn) in range.clone().zip(Turns::new(range.start, -whole_delay, size)) {
                    let cross = Complex64::new(cross[bin].re.into(), cross[bin].im.into());
                    product += cross * turn;
                    power += f64::from(known[bin].norm_sqr());
                }
                product / power
            })
            .collect();
        let mut path = Self {
            gain: 0.0,
            delay_frames: whole_delay,
            bands,
            band_bins,
            whole_delay,
            bins: known.len(),
        };
        path.fit_delay_and_gain(rate_hz, size);
        path
    }

    /// The part of a frame from the slope of the phase, then the gain free of it.
    fn fit_delay_and_gain(&mut self, rate_hz: f64, size: usize) {
        let last = self.bands.len();
        let range = GAIN_RANGE_HZ.0.max(BAND_HZ)..GAIN_RANGE_HZ.1;
        let used: Vec<(f64, Complex64)> = (0..last)
            .map(|band| {
                let bin = (band as f64 + 0.5) * self.band_bins as f64 - 0.5;
                (bin, self.bands[band])
            })
            .filter(|(bin, _)| range.contains(&(bin * rate_hz / size as f64)))
            .collect();
        let mean: Complex64 = used.iter().map(|(_, band)| band).sum();
        let sign = if mean.re < 0.0 { -1.0 } else { 1.0 };
        let mut part = 0.0;
        // Each round takes the phase left by the one before, so that it never wraps.
        for _ in 0..4 {
            let (mut above, mut below) = (0.0, 0.0);
            for (bin, band) in &used {
                let omega = TAU * bin / size as f64;
                let left = sign * band * Complex64::from_polar(1.0, omega * part);
                above += left.norm_sqr() * omega * -left.arg();
                below += left.norm_sqr() * omega * omega;
            }
            if below > 0.0 {
                part += above / below;
            }
        }
        let gain: Complex64 = used
            .iter()
            .map(|(bin, band)| band * Complex64::from_polar(1.0, TAU * bin * part / size as f64))
            .sum();
        let overlap = references::overlap(self.whole_delay.abs() / size as f64);
        self.gain = gain.re / used.len() as f64 / overlap;
        self.delay_frames = self.whole_delay + part;
    }

    /// The response at a bin, without the whole frames of delay.
    fn response(&self, bin: usize) -> Complex64 {
        let place = (bin as f64 + 0.5) / self.band_bins as f64 - 0.5;
        let last = self.bands.len() - 1;
        let low = place.max(0.0).min(last as f64);
        let (near, share) = (low as usize, low.fract());
        self.bands[near] * (1.0 - share) + self.bands[(near + 1).min(last)] * share
    }

    /// Adds what the path makes of a feed to a spectrum.
    fn add_to(&self, spectrum: &mut [Complex64], known: &[Complex32], sign: f64, size: usize) {
        let turns = Turns::new(0, self.whole_delay, size);
        let bins = spectrum.iter_mut().zip(known).zip(turns).enumerate().take(self.bins);
        for (bin, ((sum, known), turn)) in bins {
            let known = Complex64::new(known.re.into(), known.im.into());
            *sum += self.response(bin) * turn * known * sign;
        }
    }

    /// Where the response has fallen by 3 dB for good, in Hz; `None` if it holds to the end.
    pub fn upper_edge_hz(&self, rate_hz: f64) -> Option<f64> {
        /// Where a response is taken for flat, in Hz.
        const FLAT_HZ: (f64, f64) = (1_000.0, 8_000.0);
        let hz = |band: usize| (band as f64 + 0.5) * BAND_HZ;
        let bands = (0.5 * rate_hz / BAND_HZ) as usize;
        let levels: Vec<f64> = self.bands.iter().take(bands).map(|band| band.norm_sqr()).collect();
        let flat: Vec<f64> = (0..levels.len())
            .filter(|&band| (FLAT_HZ.0..FLAT_HZ.1).contains(&hz(band)))
            .map(|band| levels[band])
            .collect();
        let half = flat.iter().sum::<f64>() / flat.len() as f64 / 2.0;
        let last = levels.iter().rposition(|&level| level > half)?;
        let next = *levels.get(last + 1)?;
        let share = (levels[last] - half) / (levels[last] - next);
        Some(hz(last) + share * BAND_HZ)
    }
}

/// How a step in which both feeds play compares with the sum of their paths.
#[derive(Debug, Clone, Copy)]
pub(super) struct SumFit {
    /// Measured over predicted, for what feed 1 and feed 2 bring; one number where they play the
    /// same. 1 is a perfect sum. `None` for a feed that is missing.
    pub shares: [Option<f64>; 2],
    /// Standard error of a share, in dB, from what the fit leaves over.
    pub share_error_db: f64,
    /// Gain of the loudest samples against that of the others, in dB: 0 is linear.
    pub top_gain_db: f64,
    /// Its standard error, from what the fit leaves over.
    pub top_gain_error_db: f64,
}

/// Everything that the fits say.
#[derive(Debug, Clone)]
pub(super) struct Paths {
    /// By feed; `None` for a feed that is not heard.
    pub feeds: [Option<Path>; 2],
    /// By step, for the first seven; `None` where nothing is expected, or the paths cancel.
    pub sums: Vec<Option<SumFit>>,
    /// Power left in step 4, and power that two paths that differ as these do leave, over step 1's.
    pub null: Option<(f64, f64)>,
    /// Power, in the step that one feed plays alone, that does not come from the feed, over the
    /// feed's.
    pub noise_ratio: f64,
    /// Standard error of a fitted gain, in dB, from that noise.
    pub gain_error_db: f64,
}

/// Fits the paths to windows of the recording, one for each of the first seven steps.
pub(super) fn fit(windows: &[Vec<f32>], references: &References) -> Paths {
    let spectra: Vec<Vec<Complex32>> =
        windows.iter().map(|window| references.spectrum(window)).collect();
    let alone = [0, 1].map(|step| Path::fit(&references.a, &spectra[step], references));
    let gains = alone.each_ref().map(|path| path.gain.abs());
    let heard = [gains[0] > MISSING_RATIO * gains[1], gains[1] > MISSING_RATIO * gains[0]];
    let noise_ratio = noise_ratio(&alone, &spectra, heard, references);
    let [one, two] = alone;
    let feeds = [heard[0].then_some(one), heard[1].then_some(two)];
    let sums =
        (0..FITTED_STEPS).map(|step| sum_fit(step, &feeds, &spectra[step], references)).collect();
    let null = null(&feeds, &spectra, references);
    let bins = references.bins(GAIN_RANGE_HZ).len() as f64;
    let gain_error_db = DB_PER_AMPLITUDE * (NOISE_SHARE * noise_ratio / bins).sqrt();
    Paths { feeds, sums, null, noise_ratio, gain_error_db }
}

/// The spectra that the paths of both feeds predict for a step, apart.
fn predictions(
    step: usize,
    feeds: &[Option<Path>; 2],
    references: &References,
) -> [Option<Vec<Complex64>>; 2] {
    let sounds = [STEPS[step].feed_1, STEPS[step].feed_2];
    [0, 1].map(|feed| {
        let path = feeds[feed].as_ref()?;
        let (known, sign) = references.of(sounds[feed])?;
        let mut spectrum = vec![Complex64::default(); references.a.len()];
        path.add_to(&mut spectrum, known, sign, references.size);
        Some(spectrum)
    })
}

fn sum_fit(
    step: usize,
    feeds: &[Option<Path>; 2],
    heard: &[Complex32],
    references: &References,
) -> Option<SumFit> {
    let parts = predictions(step, feeds, references);
    let range = references.bins(GAIN_RANGE_HZ);
    let dot = |x: &[Complex64], y: &[Complex64]| -> f64 {
        range.clone().map(|bin| (x[bin].conj() * y[bin]).re).sum()
    };
    let heard: Vec<Complex64> =
        heard.iter().map(|bin| Complex64::new(bin.re.into(), bin.im.into())).collect();
    // The two feeds play the same, so only their sum can be fitted.
    let same = step == 2 || step == 3;
    let (shares, sum) = match parts {
        [Some(one), Some(two)] => {
            let sum: Vec<Complex64> = one.iter().zip(&two).map(|(one, two)| one + two).collect();
            if dot(&sum, &sum) < CANCELS * (dot(&one, &one) + dot(&two, &two)) {
                return None;
            }
            let shares = if same {
                let share = dot(&sum, &heard) / dot(&sum, &sum);
                [Some(share); 2]
            } else {
                // Two normal equations: the noises are independent, but not quite.
                let (xx, xy, yy) = (dot(&one, &one), dot(&one, &two), dot(&two, &two));
                let (hx, hy) = (dot(&one, &heard), dot(&two, &heard));
                let determinant = xx * yy - xy * xy;
                [(hx * yy - hy * xy) / determinant, (hy * xx - hx * xy) / determinant].map(Some)
            };
            (shares, sum)
        }
        [Some(one), None] => ([Some(dot(&one, &heard) / dot(&one, &one)), None], one),
        [None, Some(two)] => ([None, Some(dot(&two, &heard) / dot(&two, &two))], two),
        [None, None] => return None,
    };
    let gain = dot(&sum, &heard) / dot(&sum, &sum);
    let left: Vec<Complex64> =
        heard.iter().zip(&sum).map(|(heard, sum)| heard - sum * gain).collect();
    // Each of two feeds brings half of the sum.
    let noise = 2.0 * dot(&left, &left) / dot(&sum, &sum) / range.len() as f64;
    let share_error_db = DB_PER_AMPLITUDE * (NOISE_SHARE * noise).sqrt();
    let (top_gain_db, top_gain_error_db) = top_gain_db(step, feeds, &left, references);
    Some(SumFit { shares, share_error_db, top_gain_db, top_gain_error_db })
}

/// Gain of the loudest samples against that of the others, and its standard error, in decibels: from
/// how much of what lies beyond the knee is missing in what the fit leaves over.
///
/// What lies beyond the knee follows from the feeds, not from the recording, so that noise and
/// filters in the recording cannot pass for clipping.
fn top_gain_db(
    step: usize,
    feeds: &[Option<Path>; 2],
    left: &[Complex64],
    references: &References,
) -> (f64, f64) {
    let bus = bus_waveform(step, feeds, references);
    let largest = bus.iter().fold(0f32, |held, x| held.max(x.abs()));
    let knee = KNEE * largest;
    let beyond: Vec<f32> = bus.iter().map(|x| x - x.clamp(-knee, knee)).collect();
    let [bus, beyond] = [bus, beyond].map(|waveform| references.spectrum(&waveform));
    let range = references.bins(GAIN_RANGE_HZ);
    let dot = |x: &[Complex32], y: &[Complex32]| -> f64 {
        range.clone().map(|bin| f64::from((x[bin].conj() * y[bin]).re)).sum()
    };
    // Only the part that no gain explains tells of a bend.
    let linear = (dot(&bus, &beyond) / dot(&bus, &bus)) as f32;
    let bend: Vec<Complex32> =
        beyond.iter().zip(&bus).map(|(beyond, bus)| beyond - bus * linear).collect();
    let (mut found, mut power, mut noise) = (0.0, 0.0, 0.0);
    for bin in range.clone() {
        noise += left[bin].norm_sqr();
        let bend = Complex64::new(bend[bin].re.into(), bend[bin].im.into());
        found += (bend.conj() * left[bin]).re;
        power += bend.norm_sqr();
    }
    let share = (found / power).clamp(-1.0, 1.0);
    let error = (NOISE_SHARE * noise / range.len() as f64 / power).sqrt();
    let beyond = f64::from(1.0 - KNEE);
    (20.0 * (1.0 + share * beyond).log10(), DB_PER_AMPLITUDE * error * beyond)
}

/// What the feeds make on the bus in a step, by gains and delays alone.
fn bus_waveform(step: usize, feeds: &[Option<Path>; 2], references: &References) -> Vec<f32> {
    let mut spectrum = vec![Complex32::default(); references.a.len()];
    for (path, sound) in feeds.iter().zip([STEPS[step].feed_1, STEPS[step].feed_2]) {
        let (Some(path), Some((plain, sign))) = (path, references.plain(sound)) else { continue };
        let turns = Turns::new(0, path.delay_frames, references.size);
        let gain = path.gain * sign;
        for ((sum, plain), turn) in spectrum.iter_mut().zip(plain).zip(turns) {
            *sum += plain * Complex32::new((gain * turn.re) as f32, (gain * turn.im) as f32);
        }
    }
    references.waveform(&spectrum)
}

/// The gains of feed 1 and feed 2, from windows of the steps in which each plays alone; linear.
pub(super) fn gains(windows: &[Vec<f32>; 2], references: &References) -> [f64; 2] {
    windows
        .each_ref()
        .map(|window| Path::fit(&references.a, &references.spectrum(window), references).gain.abs())
}

/// What is left in step 4, and what two paths that differ as these do leave, over step 1's power.
fn null(
    feeds: &[Option<Path>; 2],
    spectra: &[Vec<Complex32>],
    references: &References,
) -> Option<(f64, f64)> {
    let [Some(one), Some(two)] = predictions(3, feeds, references) else { return None };
    let range = references.bins(GAIN_RANGE_HZ);
    let power: f64 = range.clone().map(|bin| one[bin].norm_sqr()).sum();
    let left: f64 = range.clone().map(|bin| f64::from(spectra[3][bin].norm_sqr())).sum();
    let predicted: f64 = range.map(|bin| (one[bin] + two[bin]).norm_sqr()).sum();
    Some((left / power, predicted / power))
}

fn noise_ratio(
    paths: &[Path; 2],
    spectra: &[Vec<Complex32>],
    heard: [bool; 2],
    references: &References,
) -> f64 {
    let step = usize::from(!heard[0]);
    let mut predicted = vec![Complex64::default(); references.a.len()];
    paths[step].add_to(&mut predicted, &references.a, 1.0, references.size);
    let (mut noise, mut power) = (0.0, 0.0);
    for bin in references.bins(GAIN_RANGE_HZ) {
        let heard = spectra[step][bin];
        let left = Complex64::new(heard.re.into(), heard.im.into()) - predicted[bin];
        noise += left.norm_sqr();
        power += predicted[bin].norm_sqr();
    }
    noise / power
}

/// The lag, in whole frames, at which a cross-spectrum's correlation is largest.
fn peak_lag(cross: &[Complex32], references: &References) -> f64 {
    let correlation = references.waveform(cross);
    let size = references.size;
    let best = (0..size)
        .max_by(|&x, &y| correlation[x].abs().total_cmp(&correlation[y].abs()))
        .unwrap_or(0);
    if best > size / 2 { best as f64 - size as f64 } else { best as f64 }
}
