//! What is left in step 4, where opposite polarities should cancel, in all and band by band.

use std::borrow::Cow;
use std::ops::Range;

use realfft::num_complex::{Complex32, Complex64};

use super::GAIN_RANGE_HZ;
use super::references::References;
use super::regression::dot;
use super::response::{Path, narrow, wide};
use super::takes::{Silence, Takes, part};

/// Bands of a third of an octave, from this frequency on, in Hz.
const LOWEST_HZ: f64 = 20.0;
/// They end here, in Hz, or at this share of the rate.
const HIGHEST: (f64, f64) = (20_000.0, 0.44);

/// Step 4 in a range of frequencies; powers over step 1's there.
#[derive(Debug, Clone, Copy)]
pub(in crate::sum_test) struct Cancelled {
    /// The range, in Hz.
    pub range_hz: (f64, f64),
    /// What is left.
    pub left: f64,
    /// What the channels' difference in level and delay leaves.
    pub predicted: f64,
    /// What the recording's noise can be.
    pub noise: f64,
}

/// Step 4.
#[derive(Debug, Clone)]
pub(in crate::sum_test) struct Null {
    /// Over the range of gains.
    pub whole: Cancelled,
    /// By third of an octave.
    pub bands: Vec<Cancelled>,
}

/// What the channels differ in beside level and delay: feed 2's path without what the best gain and
/// delay of feed 1's make of it. Powers over feed 1's.
#[derive(Debug, Clone)]
pub(in crate::sum_test) struct Unlike {
    /// By third of an octave; none where the recording's noise is not known from its sums.
    pub bands: Vec<Cancelled>,
    /// Over the range of gains, what of it follows feed 1's noise, the recording's own hardly counts;
    /// predicted is what of it may be made by the recorder.
    pub following: Cancelled,
}

/// What follows a noise keeps its phase against it over so many Hz, if it comes less than some 4 ms
/// apart from it.
const FOLLOWING_HZ: f64 = 125.0;

/// What is left in step 4, where `relative` leads from feed 1's channel to feed 2's.
pub(super) fn null(takes: &Takes, relative: &Path, references: &References) -> Option<Null> {
    let spectra = Spectra::of(takes)?;
    let bands = bands(references).into_iter();
    let bands = bands.map(|range_hz| cancelled(range_hz, &spectra, relative, references)).collect();
    Some(Null { whole: cancelled(GAIN_RANGE_HZ, &spectra, relative, references), bands })
}

/// What the channels differ in, where `relative` leads from feed 1's to feed 2's. Where there is no
/// other take of feed 1's path, its `modelled` one stands in, and the recorder may have made a part of
/// the difference: `recorded`, over feed 1's power.
pub(super) fn unlike(
    takes: &Takes,
    relative: &Path,
    modelled: Option<&Path>,
    recorded: f64,
    references: &References,
) -> Option<Unlike> {
    let ((one, other), (two, _)) = (takes.best(0)?, takes.best(1)?);
    // What holds none of the noise in these.
    let (again, recorded) = match other {
        Some(take) => (Cow::Borrowed(&take.spectrum), 0.0),
        None => (Cow::Owned(modelled?.applied(&references.a, references.size)), recorded),
    };
    let bins = one.spectrum.iter().zip(&two.spectrum).zip(relative.plain(0, references.size));
    let left: Vec<Complex32> = bins.map(|((one, two), plain)| two - one * narrow(plain)).collect();
    let spectra = Spectra {
        left: &left,
        one: [&one.spectrum, &again],
        noise: noise(takes),
        silence: &takes.silence,
        silences: (two.most() + relative.gain.abs() * one.most()).powi(2),
    };
    let cancelled = |range_hz| cancelled(range_hz, &spectra, relative, references);
    let bands = if spectra.noise.is_some() { bands(references) } else { Vec::new() };
    let whole = cancelled(GAIN_RANGE_HZ);
    Some(Unlike {
        bands: bands.into_iter().map(cancelled).collect(),
        following: Cancelled { predicted: recorded, ..following(whole, &spectra, references) },
    })
}

/// Thirds of octaves, in Hz.
fn bands(references: &References) -> Vec<(f64, f64)> {
    let top_hz = HIGHEST.0.min(HIGHEST.1 * references.rate_hz);
    let edge_hz = |band: i32| LOWEST_HZ * 2f64.powf(f64::from(band) / 3.0);
    let bands = (0..).map(|band| (edge_hz(band), edge_hz(band + 1)));
    bands.take_while(|range| range.1 <= top_hz * 1.01).collect()
}

/// Of what is left in the whole range, what follows feed 1's path.
fn following(whole: Cancelled, spectra: &Spectra, references: &References) -> Cancelled {
    let (bins, range) = (references.bins_in(FOLLOWING_HZ), references.bins(whole.range_hz));
    let (mut left, mut power) = (0.0, 0.0);
    for first in range.clone().step_by(bins) {
        let cluster = first..(first + bins).min(range.end);
        let one = part(spectra.one[1], &cluster);
        let own = dot(&one, &one);
        let product: Complex64 =
            one.iter().zip(part(spectra.left, &cluster)).map(|(one, left)| one.conj() * left).sum();
        if own > 0.0 {
            left += product.norm_sqr() / own;
        }
        power += own;
    }
    Cancelled { left: left / power, noise: whole.noise / bins as f64, ..whole }
}

/// What step 4 is compared with.
struct Spectra<'a> {
    left: &'a [Complex32],
    /// Two takes of feed 1's path, so that noise does not count, if there are two.
    one: [&'a [Complex32]; 2],
    /// What step 3 differs by from its parts: the recording's noise, and all that follows the sound.
    noise: Option<Vec<Complex32>>,
    silence: &'a Silence,
    /// How many times the power of the silence may be in what is left: hum of several steps adds.
    silences: f64,
}

impl<'a> Spectra<'a> {
    fn of(takes: &'a Takes) -> Option<Self> {
        let left = takes.heard[3].as_ref()?;
        let (one, other) = takes.without(0, 3).or_else(|| takes.best(0))?;
        let again = other.unwrap_or(one);
        let one = [&one.spectrum[..], &again.spectrum];
        Some(Self { left, one, noise: noise(takes), silence: &takes.silence, silences: 1.0 })
    }
}

/// What step 3 differs by from its parts, where those were heard apart from it.
fn noise(takes: &Takes) -> Option<Vec<Complex32>> {
    let three = takes.heard[2].as_ref()?;
    let [one, two] = [0, 1].map(|feed| takes.without(feed, 2));
    let (one, two) = (&one?.0.spectrum, &two?.0.spectrum);
    let parts = one.iter().zip(two);
    Some(three.iter().zip(parts).map(|(three, (one, two))| three - one - two).collect())
}

fn cancelled(
    range_hz: (f64, f64),
    spectra: &Spectra,
    relative: &Path,
    references: &References,
) -> Cancelled {
    let range: Range<usize> = references.bins(range_hz);
    let [one, again] = spectra.one;
    let (mut power, mut left, mut predicted, mut noise) = (0.0, 0.0, 0.0, 0.0);
    for (bin, plain) in range.clone().zip(relative.plain(range.start, references.size)) {
        let own = f64::from((again[bin].conj() * one[bin]).re);
        power += own;
        predicted += own * (1.0 - plain).norm_sqr();
        left += wide(spectra.left[bin]).norm_sqr();
        noise += spectra.noise.as_ref().map_or(0.0, |noise| wide(noise[bin]).norm_sqr());
    }
    let silence = spectra.silence.power(range_hz, references.size as f64 / references.rate_hz);
    let noise = noise.max(spectra.silences * silence);
    if power <= 0.0 {
        return Cancelled { range_hz, left: 0.0, predicted: 0.0, noise: f64::INFINITY };
    }
    Cancelled {
        range_hz,
        left: left / power,
        predicted: predicted.max(0.0) / power,
        noise: noise / power,
    }
}
