//! Anchors: moments at which export and mix are laid over each other sample by sample.
//!
//! First by correlation around the place that is roughly known, which gives the delay to a small
//! part of a sample; then, once the mix can be evaluated at the places found, by the slope of the
//! phase that is left, which gives it as exactly as the noise between the two files allows.

mod correlate;

use realfft::num_complex::Complex64;

use super::mapping::Covariance;
use super::player::Player;
use super::spectra::WindowedTransform;
use super::timeline::{Segment, Timeline};
use super::{Reel, Source};
use correlate::Correlator;

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

/// A moment that both files hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Anchor {
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

/// What a round gives: anchors, and the covariances of the channels at them.
type Round = (Vec<Anchor>, Covariance);

/// What the anchors are measured with, and how.
pub(super) struct Plan {
    /// Window, in frames of the export.
    pub frames: usize,
    /// Distance of two windows, in frames of the export.
    pub apart: usize,
    /// How far the place may be off, in frames of the export.
    pub search: usize,
    rates_hz: [f64; 2],
}

impl Plan {
    /// For files at `rates_hz` (mix, export) whose shorter one, in frames of the export, has
    /// `frames`. `search_s` is how far the places may be off.
    pub fn new(rates_hz: [f64; 2], frames: i64, search_s: f64) -> Self {
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
        Self { frames, apart, search: (search_s * rate_hz).ceil() as usize, rates_hz }
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
pub(super) fn find<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    rough: &Timeline,
    plan: &Plan,
) -> Result<Round, Failed<M::Error, X::Error>> {
    let channels = [mix.channels().min(MOST_CHANNELS), export.channels().min(MOST_CHANNELS)];
    let band_hz = band_hz(plan);
    let mut correlator =
        Correlator::new(plan.frames, plan.search, channels, band_hz, plan.rates_hz[1]);
    let mut covariance = Covariance::new(channels);
    let mut player = Player::rough(rough.step);
    let mut windows = [
        vec![vec![0.0; plan.frames + 2 * plan.search]; channels[0]],
        vec![vec![0.0; plan.frames]; channels[1]],
    ];
    let mut anchors = Vec::new();
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
            let Some(best) = correlator.best(mix_window, export_window) else { continue };
            covariance.add(correlator.covariance(best.lag));
            let export_frame = start as f64 + centre_of_energy(export_window);
            let lag = best.lag as f64 + best.fraction;
            anchors.push(Anchor {
                export: export_frame,
                // The player may have rounded place and step; it says what it played.
                mix: player.began + player.step * (export_frame - start as f64 + lag),
                segment: index,
                likeness: best.likeness,
                gain: 1.0,
                ambiguous: best.ambiguous,
            });
        }
    }
    Ok((anchors, covariance))
}

/// Second round: anchors where the timeline puts them, each with what is left of delay and gain
/// against the prediction by `gains[export channel][mix channel]`, and the covariances anew, of those
/// that leave over no more than `most_left` of their power.
pub(super) fn tune<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    timeline: &Timeline,
    gains: &[Vec<f64>],
    plan: &Plan,
    most_left: f64,
) -> Result<Round, Failed<M::Error, X::Error>> {
    let channels = [mix.channels().min(MOST_CHANNELS), export.channels().min(MOST_CHANNELS)];
    let mut transform = WindowedTransform::new(plan.frames);
    let mut spectra =
        channels.map(|count| (0..count).map(|_| transform.make_bins()).collect::<Vec<_>>());
    let bins = bins(band_hz(plan), plan.frames, plan.rates_hz[1]);
    let mut covariance = Covariance::new(channels);
    let mut player = Player::exact(timeline.step);
    let mut windows = channels.map(|count| vec![vec![0.0; plan.frames]; count]);
    let mut anchors = Vec::new();
    for (index, segment) in timeline.segments.iter().enumerate() {
        for start in plan.windows(segment) {
            let [mix_window, export_window] = &mut windows;
            export.show(start, start + plan.frames as i64).map_err(Failed::Export)?;
            for (channel, window) in export_window.iter_mut().enumerate() {
                export.copy(channel, start, window);
            }
            let place = timeline.place(segment, start as f64);
            player.play(mix, place, timeline.step, mix_window).map_err(Failed::Mix)?;
            if quiet(mix_window) || quiet(export_window) {
                continue;
            }
            for (window, bins) in mix_window.iter().zip(&mut spectra[0]) {
                transform.take(window, bins);
            }
            for (window, bins) in export_window.iter().zip(&mut spectra[1]) {
                transform.take(window, bins);
            }
            let left = left_over(&spectra, gains, bins.clone(), plan.frames);
            if 1.0 - left.likeness * left.likeness.abs() <= most_left {
                covariance.add_spectra(&spectra, bins.clone());
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
    Ok((anchors, covariance))
}

/// What is left between the export and its prediction at an anchor.
struct LeftOver {
    /// By how much the export is late, in its frames.
    delay_frames: f64,
    gain: f64,
    likeness: f64,
}

/// One step of Newton's method on the cross-correlation around no delay: exact as the delay goes to
/// nothing.
fn left_over(
    spectra: &[Vec<Vec<Complex64>>; 2],
    gains: &[Vec<f64>],
    bins: std::ops::Range<usize>,
    frames: usize,
) -> LeftOver {
    let (mut zz, mut yy) = (0.0, 0.0);
    let (mut value, mut slope, mut bend) = (0.0, 0.0, 0.0);
    for (export, gains) in spectra[1].iter().zip(gains) {
        for bin in bins.clone() {
            let prediction: Complex64 =
                spectra[0].iter().zip(gains).map(|(mix, gain)| mix[bin] * gain).sum();
            let cross = prediction.conj() * export[bin];
            let omega = std::f64::consts::TAU * bin as f64 / frames as f64;
            zz += prediction.norm_sqr();
            yy += export[bin].norm_sqr();
            value += cross.re;
            // A delay turns the phase by −ωτ; the correlation at lag τ is Σ Re(cross·e^{jωτ}).
            slope -= omega * cross.im;
            bend -= omega * omega * cross.re;
        }
    }
    let delay = if bend < 0.0 { (-slope / bend).clamp(-1.0, 1.0) } else { 0.0 };
    LeftOver {
        delay_frames: delay,
        gain: if zz > 0.0 { value / zz } else { 0.0 },
        likeness: if zz * yy > 0.0 { value / (zz * yy).sqrt() } else { 0.0 },
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

/// Which of the two files could not be read.
pub(super) enum Failed<M, X> {
    Mix(M),
    Export(X),
}
