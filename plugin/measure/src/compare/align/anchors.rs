//! Anchors: moments at which export and mix are laid over each other sample by sample.
//!
//! First by correlation around the place that is roughly known, which gives the delay to a small
//! part of a sample; then, once the mix can be evaluated at the places found, by the slope of the
//! phase that is left, which gives it as exactly as the noise between the two files allows.

mod correlate;
mod weight;

use realfft::num_complex::Complex64;

use super::mapping::Covariance;
use crate::compare::Source;
use crate::compare::median::median;
use crate::compare::play::{Failed, Path, Player, Predictor, Reel};
use crate::compare::spectra::{MeanSpectrum, WindowedTransform};
use crate::compare::timeline::{Segment, Timeline};
use correlate::Correlator;
use weight::Weight;

/// Length of an anchor's window, in seconds, before it is rounded up to a power of two.
const WINDOW_S: f64 = 0.2;
/// Anchors are this far apart, in seconds: a 400th of the file, within limits.
const APART_S: (f64, f64) = (0.25, 2.0);
const ANCHORS: f64 = 400.0;
/// Most channels of each file that are correlated with each other.
const MOST_CHANNELS: usize = 8;
/// A window with less than this mean square, in both files, tells nothing: −130 dBFS.
const SILENCE_POWER: f64 = 1e-13;
/// Content below is left out of the covariances, in Hz, and above this share of half the lower rate.
const LOW_HZ: f64 = 60.0;
const HIGH_SHARE: f64 = 0.75;
/// Likeness of a tapered window with the same sound without a taper: mean over root mean square.
const TAPERED: f64 = 0.816_496_58;
/// Likeness of a channel whose delay against others counts, how many such windows that needs, and how
/// near they have to lie, in frames.
const LEAST_PAIR: f64 = 0.5;
const LEAST_PAIRS: usize = 5;
const PAIR_FRAMES: f64 = 0.75;
/// How many errors, and how many frames, a channel's delay has to lie from none.
const LATE_ERRORS: f64 = 5.0;
const LEAST_LATE: f64 = 0.004;

/// A moment that both files hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::compare) struct Anchor {
    /// Frame of the export: where the sound's energy lies in the window, so that a clock that runs
    /// differently does not shift it.
    pub export: f64,
    /// The mix's frame that belongs to it.
    pub mix: f64,
    /// Segment of the timeline that led to it.
    pub segment: usize,
    /// Correlation of the likest pair of channels, or of the export with what the mix predicts.
    pub likeness: f64,
    /// Gain that is left in the prediction (second round only).
    pub gain: f64,
    /// Whether another place nearby fits as well.
    pub ambiguous: bool,
}

/// What a round gives.
pub(in crate::compare) struct Round {
    pub anchors: Vec<Anchor>,
    /// Covariances of the channels at the anchors.
    pub covariance: Covariance,
    /// By how many frames of the mix each export channel is later than the anchors say (first round),
    /// or than it was taken to be (second round).
    pub late: Vec<f64>,
}

/// What the anchors are measured with, and how.
pub(in crate::compare) struct Plan {
    /// Window, in frames of the export.
    pub frames: usize,
    /// Distance of two windows, in frames of the export.
    pub apart: usize,
    /// How far the place may be off, in frames of the export.
    pub search: usize,
    rates_hz: [f64; 2],
    weight: Weight,
}

impl Plan {
    /// For files at `rates_hz` (mix, export) whose shorter one, in frames of the export, has
    /// `frames`, and whose mean spectra are `spectra`. `search_s` is how far the places may be off.
    pub fn new(
        rates_hz: [f64; 2],
        frames: i64,
        search_s: f64,
        spectra: [&MeanSpectrum; 2],
    ) -> Self {
        let rate_hz = rates_hz[1];
        let duration_s = frames as f64 / rate_hz;
        let wished = ((WINDOW_S * rate_hz) as usize).next_power_of_two();
        // Two windows at least, so that there is a line to draw.
        let longest = prev_power_of_two((frames / 2).max(256) as usize);
        let apart_s = (duration_s / ANCHORS).clamp(APART_S.0, APART_S.1);
        let frames = wished.min(longest);
        let apart = ((apart_s * rate_hz) as usize).min(frames.max(1));
        let apart =
            if frames < wished { frames / 2 } else { apart.max((apart_s * rate_hz) as usize) };
        let highest_hz = HIGH_SHARE * rates_hz[0].min(rates_hz[1]) / 2.0;
        let weight = Weight::new(spectra, (LOW_HZ, highest_hz));
        Self { frames, apart, search: (search_s * rate_hz).ceil() as usize, rates_hz, weight }
    }

    /// First frames of the windows in a segment.
    fn windows(&self, segment: &Segment) -> impl Iterator<Item = i64> + use<> {
        let (start, last) = (segment.start, segment.end - self.frames as i64);
        (start..=last).step_by(self.apart.max(1))
    }
}

fn prev_power_of_two(n: usize) -> usize {
    if n.is_power_of_two() { n } else { n.next_power_of_two() / 2 }
}

/// First round: anchors along a rough timeline, and the covariances of the channels at them.
pub(in crate::compare) fn find<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    rough: &Timeline,
    plan: &Plan,
) -> Result<Round, Failed<M::Error, X::Error>> {
    let channels = [mix.channels().min(MOST_CHANNELS), export.channels().min(MOST_CHANNELS)];
    let weight = |hz: f64| plan.weight.at(hz);
    let mut correlator =
        Correlator::new(plan.frames, plan.search, channels, weight, plan.rates_hz[1]);
    let mut covariance = Covariance::new(channels);
    let mut player = Player::rough(rough.step);
    let mut windows = [
        vec![vec![0.0; plan.frames + 2 * plan.search]; channels[0]],
        vec![vec![0.0; plan.frames]; channels[1]],
    ];
    // The edges of a window would be heard in every band that holds little, and there the weights are
    // high.
    let taper: Vec<f64> = (0..plan.frames)
        .map(|n| {
            let turn = std::f64::consts::TAU * (n as f64 + 0.5) / plan.frames as f64;
            (1.0 - turn.cos()) / 1.5f64.sqrt()
        })
        .collect();
    let edge: Vec<f64> = (0..plan.search.min(plan.frames / 2))
        .map(|n| {
            let turn = std::f64::consts::PI * (n as f64 + 0.5) / plan.search as f64;
            0.5 - 0.5 * turn.cos()
        })
        .collect();
    // By window and export channel.
    let mut found: Vec<Vec<Option<Anchor>>> = Vec::new();
    for (index, segment) in rough.segments.iter().enumerate() {
        for start in plan.windows(segment) {
            let [mix_window, export_window] = &mut windows;
            export.show(start, start + plan.frames as i64).map_err(Failed::Export)?;
            for (channel, window) in export_window.iter_mut().enumerate() {
                export.copy(channel, start, window);
            }
            let place = rough.place(segment, start as f64) - rough.step * plan.search as f64;
            player.play(mix, place, rough.step, mix_window).map_err(Failed::Mix)?;
            if quiet(mix_window) || quiet(export_window) {
                continue;
            }
            let export_frame = start as f64 + centre_of_energy(export_window);
            for window in export_window.iter_mut() {
                window.iter_mut().zip(&taper).for_each(|(x, taper)| *x *= taper);
            }
            for window in mix_window.iter_mut() {
                let ends = window.len() - edge.len();
                window.iter_mut().zip(&edge).for_each(|(x, edge)| *x *= edge);
                window[ends..].iter_mut().zip(edge.iter().rev()).for_each(|(x, edge)| *x *= edge);
            }
            let best = correlator.best(mix_window, export_window);
            let lags: Vec<usize> =
                best.iter().map(|best| best.map_or(plan.search, |best| best.lag)).collect();
            covariance.add(correlator.covariance(&lags));
            let anchor = |best: &Option<correlate::Best>| {
                let best = (*best)?;
                let lag = best.lag as f64 + best.fraction;
                Some(Anchor {
                    export: export_frame,
                    // The player may have rounded place and step; it says what it played.
                    mix: player.began + player.step * (export_frame - start as f64 + lag),
                    segment: index,
                    likeness: (best.likeness / TAPERED).min(1.0),
                    gain: 1.0,
                    ambiguous: best.ambiguous,
                })
            };
            found.push(best.iter().map(anchor).collect());
        }
    }
    let (anchors, late) = together(&found, channels[1]);
    Ok(Round { anchors, covariance, late })
}

/// One anchor a window, and by how much each channel is later than it: the channel that is likest
/// over the whole file speaks, and where it is silent, another one in its place.
fn together(found: &[Vec<Option<Anchor>>], channels: usize) -> (Vec<Anchor>, Vec<f64>) {
    let weight = |channel: usize| -> f64 {
        found.iter().filter_map(|window| window[channel]).map(|anchor| anchor.likeness).sum()
    };
    // Channels that are alike must not take turns: a later one has to be clearly likelier.
    let leading = (1..channels).fold(0, |leading, channel| {
        if weight(channel) > 1.02 * weight(leading) { channel } else { leading }
    });
    let mut late = vec![0.0; channels];
    for (channel, late) in late.iter_mut().enumerate() {
        let both = found.iter().filter_map(|window| Some((window[leading]?, window[channel]?)));
        let clear = both.filter(|(lead, own)| {
            lead.likeness.min(own.likeness) >= LEAST_PAIR && !lead.ambiguous && !own.ambiguous
        });
        // What lies later in the export has its place earlier in the mix.
        let mut apart: Vec<f64> = clear.map(|(lead, own)| lead.mix - own.mix).collect();
        if apart.len() < LEAST_PAIRS {
            continue;
        }
        let middle = median(&mut apart).unwrap_or(0.0);
        let near = apart.iter().filter(|apart| (*apart - middle).abs() <= PAIR_FRAMES).count();
        if middle.abs() > PAIR_FRAMES && 2 * near > apart.len() {
            *late = middle;
        }
    }
    let anchors = found
        .iter()
        .filter_map(|window| {
            window[leading].or_else(|| {
                let (channel, anchor) =
                    window.iter().enumerate().find_map(|(n, anchor)| Some((n, (*anchor)?)))?;
                Some(Anchor { mix: anchor.mix + late[channel], ..anchor })
            })
        })
        .collect();
    (anchors, late)
}

/// Second round: anchors where the timeline puts them, each with what is left of delay and gain
/// against the prediction by `path`, and the covariances anew, of those that leave over no more than
/// `most_left` of their power.
pub(in crate::compare) fn tune<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    timeline: &Timeline,
    path: &Path,
    plan: &Plan,
    most_left: f64,
) -> Result<Round, Failed<M::Error, X::Error>> {
    let channels = [mix.channels().min(MOST_CHANNELS), export.channels().min(MOST_CHANNELS)];
    let mut transform = WindowedTransform::new(plan.frames);
    let mut spectra =
        channels.map(|count| (0..count).map(|_| transform.make_bins()).collect::<Vec<_>>());
    let mut predicted: Vec<Vec<Complex64>> =
        (0..channels[1]).map(|_| transform.make_bins()).collect();
    let bins = bins(band_hz(plan), plan.frames, plan.rates_hz[1]);
    let bin_hz = plan.rates_hz[1] / plan.frames as f64;
    let weights: Vec<f64> =
        (0..bins.end).map(|bin| plan.weight.at(bin as f64 * bin_hz).powi(2)).collect();
    let mut covariances = Vec::new();
    let mut predictor = Predictor::new(timeline, path, mix.channels());
    let mut player = Player::exact(timeline.step);
    let mut windows = channels.map(|count| vec![vec![0.0; plan.frames]; count]);
    let mut played = vec![vec![vec![0.0; plan.frames]; channels[1]]; 2];
    let mut anchors = Vec::new();
    let mut each: Vec<Vec<f64>> = vec![Vec::new(); channels[1]];
    for (index, segment) in timeline.segments.iter().enumerate() {
        for start in plan.windows(segment) {
            let [mix_window, export_window] = &mut windows;
            export.show(start, start + plan.frames as i64).map_err(Failed::Export)?;
            for (channel, window) in export_window.iter_mut().enumerate() {
                export.copy(channel, start, window);
            }
            let [plain, filtered] = &mut played[..] else { continue };
            predictor.both(mix, segment, start, plain, filtered).map_err(Failed::Mix)?;
            if quiet(plain) || quiet(export_window) {
                continue;
            }
            for (window, bins) in filtered.iter().zip(&mut predicted) {
                transform.take(window, bins);
            }
            for (window, bins) in export_window.iter().zip(&mut spectra[1]) {
                transform.take(window, bins);
            }
            let sums: Vec<Sums> = predicted
                .iter()
                .zip(&spectra[1])
                .map(|(z, y)| Sums::of(z, y, &weights, bins.clone(), plan.frames))
                .collect();
            let left = Sums::together(&sums).left_over();
            if 1.0 - left.likeness * left.likeness.abs() <= most_left {
                let mut covariance = Covariance::new(channels);
                let place = timeline.place(segment, start as f64);
                for (channel, late) in path.late.iter().enumerate().take(channels[1]) {
                    // Channels that come together share a reading.
                    if channel == 0 || path.late[channel - 1] != *late {
                        player
                            .play(mix, place - late, timeline.step, mix_window)
                            .map_err(Failed::Mix)?;
                        for (window, bins) in mix_window.iter().zip(&mut spectra[0]) {
                            transform.take(window, bins);
                        }
                    }
                    covariance.add_spectra(&spectra, channel, bins.clone());
                }
                covariances.push((left.gain, covariance));
            }
            for (each, sums) in each.iter_mut().zip(&sums) {
                let own = sums.left_over();
                if own.likeness >= LEAST_PAIR {
                    each.push(timeline.step * (own.delay_frames - left.delay_frames));
                }
            }
            let export_frame = start as f64 + centre_of_energy(export_window);
            let place = timeline.place(segment, export_frame);
            anchors.push(Anchor {
                export: export_frame,
                mix: place - timeline.step * left.delay_frames,
                segment: index,
                likeness: left.likeness,
                gain: left.gain,
                ambiguous: false,
            });
        }
    }
    let late = each.iter_mut().map(|apart| settled(apart)).collect();
    Ok(Round { anchors, covariance: Covariance::of_windows(channels, covariances), late })
}

/// What a channel's delays against all channels together agree on: nothing where they scatter about
/// none.
fn settled(apart: &mut [f64]) -> f64 {
    if apart.len() < LEAST_PAIRS {
        return 0.0;
    }
    let middle = median(apart).unwrap_or(0.0);
    let mut misses: Vec<f64> = apart.iter().map(|apart| (apart - middle).abs()).collect();
    let scatter = 1.4826 * median(&mut misses).unwrap_or(0.0);
    let error = 1.25 * scatter / (apart.len() as f64).sqrt();
    if middle.abs() > LATE_ERRORS * error + LEAST_LATE { middle } else { 0.0 }
}

/// What is left between the export and its prediction at an anchor.
struct LeftOver {
    /// By how much the export is late, in its frames.
    delay_frames: f64,
    gain: f64,
    likeness: f64,
}

/// Sums over the bins of a window, by which what is left is found.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    zz: f64,
    yy: f64,
    value: f64,
    slope: f64,
    bend: f64,
    /// Without weights: prediction with itself, and with the export.
    power: f64,
    shared: f64,
}

impl Sums {
    fn of(
        predicted: &[Complex64],
        heard: &[Complex64],
        weights: &[f64],
        bins: std::ops::Range<usize>,
        frames: usize,
    ) -> Self {
        let mut sums = Self::default();
        for bin in bins {
            let (z, y) = (predicted[bin], heard[bin]);
            let cross = z.conj() * y;
            sums.power += z.norm_sqr();
            sums.shared += cross.re;
            let cross = cross * weights[bin];
            let omega = std::f64::consts::TAU * bin as f64 / frames as f64;
            sums.zz += weights[bin] * z.norm_sqr();
            sums.yy += weights[bin] * y.norm_sqr();
            sums.value += cross.re;
            // A delay turns the phase by −ωτ; the correlation at lag τ is Σ Re(cross·e^{jωτ}).
            sums.slope -= omega * cross.im;
            sums.bend -= omega * omega * cross.re;
        }
        sums
    }

    fn together(parts: &[Self]) -> Self {
        let mut sum = Self::default();
        for part in parts {
            sum.zz += part.zz;
            sum.yy += part.yy;
            sum.value += part.value;
            sum.slope += part.slope;
            sum.bend += part.bend;
            sum.power += part.power;
            sum.shared += part.shared;
        }
        sum
    }

    /// One step of Newton's method on the cross-correlation around no delay: exact as the delay goes
    /// to nothing.
    fn left_over(&self) -> LeftOver {
        // Where most of it is inverted, the correlation has a minimum in place of its maximum.
        let bend = self.bend * self.value.signum();
        let delay = if bend < 0.0 { (-self.slope / self.bend).clamp(-1.0, 1.0) } else { 0.0 };
        let norm = (self.zz * self.yy).sqrt();
        LeftOver {
            delay_frames: delay,
            gain: if self.power > 0.0 { self.shared / self.power } else { 0.0 },
            likeness: if norm > 0.0 { self.value / norm } else { 0.0 },
        }
    }
}

/// The band that is compared, in Hz.
fn band_hz(plan: &Plan) -> (f64, f64) {
    let lowest = plan.rates_hz[0].min(plan.rates_hz[1]);
    (LOW_HZ, HIGH_SHARE * lowest / 2.0)
}

fn bins(band_hz: (f64, f64), frames: usize, rate_hz: f64) -> std::ops::Range<usize> {
    let bin = |hz: f64| (hz * frames as f64 / rate_hz).ceil() as usize;
    bin(band_hz.0).max(1)..bin(band_hz.1).min(frames / 2)
}

fn quiet(windows: &[Vec<f64>]) -> bool {
    windows.iter().all(|window| {
        let power: f64 = window.iter().map(|x| x * x).sum();
        power < SILENCE_POWER * window.len() as f64
    })
}

/// Where the energy of what changes lies, in frames from the window's first.
fn centre_of_energy(windows: &[Vec<f64>]) -> f64 {
    let (mut moment, mut energy) = (0.0, 0.0);
    for window in windows {
        let length = window.len() as f64;
        for (n, pair) in window.windows(2).enumerate() {
            // Under the same window as the spectra.
            let hann = (std::f64::consts::PI * n as f64 / length).sin().powi(4);
            let power = hann * (pair[1] - pair[0]).powi(2);
            moment += power * n as f64;
            energy += power;
        }
    }
    if energy > 0.0 { moment / energy } else { windows[0].len() as f64 / 2.0 }
}
