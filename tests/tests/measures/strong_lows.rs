//! Sound with strong lows and nothing below the lower edge keeps its peaks in the audible band.
//!
//! What is expected is the whole band's own reading where nothing lies below the edge, and elsewhere
//! one Fourier transform of the whole signal. A filter that turned phases in the lowest octaves would
//! raise the peaks of all of these by 2 to 7 dB.

use ledgerline_measure::{Edges, Settings, View};
use ledgerline_tests::formulas::fourier;
use ledgerline_tests::readings::{Checks, read_with};
use ledgerline_tests::signals::Stereo;
use ledgerline_tests::signals::filter::Chain;
use ledgerline_tests::signals::tone::{Sine, fade};

const LENGTH_S: f64 = 4.0;
/// Ripple of 0.02 dB on each of a signal's partials, and 0.0002 of the energy that is below the edge
/// where the signal is faded in and out.
const PEAK_TOLERANCE_DB: f64 = 0.1;

/// A square wave of `hz`, low-passed at 8 kHz: −1.2 dBFS with what the low-pass adds.
fn square(rate_hz: f64, hz: f64) -> Vec<f64> {
    let mut low_pass = Chain::<2>::low_pass(rate_hz, 8_000.0);
    let sign =
        |index: usize| if (index as f64 * hz / rate_hz).fract() < 0.5 { 0.75 } else { -0.75 };
    (0..(LENGTH_S * rate_hz) as usize).map(|index| low_pass.next(sign(index))).collect()
}

/// A bass of `hz`, driven hard into a clipper.
fn distorted_bass(rate_hz: f64, hz: f64) -> Vec<f64> {
    let sine = Sine::new(hz, 4.0);
    let samples = (0..(LENGTH_S * rate_hz) as usize).map(|index| sine.at(rate_hz, index));
    samples.map(|x| 0.85 * x.clamp(-1.0, 1.0)).collect()
}

/// A drum eight times a second: a sine that falls from 150 to 45 Hz, saturated. Its partials lie
/// 8 Hz apart, and the lowest and DC are below an edge of 15 Hz.
fn saturated_kick(rate_hz: f64) -> Vec<f64> {
    let frames = (LENGTH_S * rate_hz) as usize;
    let mut phase: f64 = 0.0;
    let beat = |index: usize| (index as f64 / rate_hz * 8.0).fract() / 8.0;
    let sample = |index: usize| {
        let time_s = beat(index);
        phase = if time_s < 0.5 / rate_hz { 0.0 } else { phase };
        phase += (45.0 + 105.0 * (-time_s / 0.03).exp()) / rate_hz;
        // Each beat swells and fades by itself, so that it has no step.
        let swell = (time_s / 0.004).min(1.0) * ((0.125 - time_s) / 0.02).clamp(0.0, 1.0);
        0.9 * (3.0 * swell * (std::f64::consts::TAU * phase).sin()).tanh()
    };
    (0..frames).map(sample).collect()
}

fn faded(rate_hz: f64, samples: &[f64]) -> Stereo {
    let faded = samples.iter().enumerate();
    let faded = faded.map(|(i, x)| (x * fade(i as f64 / rate_hz, LENGTH_S, 0.5)) as f32);
    Stereo::both(rate_hz, faded.collect())
}

/// Holds the audible band's peaks to those of `expected`.
fn check(name: &str, source: &'static str, signal: &Stereo, low_hz: f64, expected: &Stereo) {
    let edges = Edges::nearest(low_hz, 20_000.0);
    let settings = Settings { edges, ..Settings::default() };
    let reading = read_with(signal, settings, &View::default());
    let name = format!("{name}, {} Hz, lower edge {low_hz} Hz", signal.rate_hz);
    let mut checks = Checks::of(name, source);
    let peak_db = 20.0 * f64::from(expected.peak()).log10();
    let true_peak_db = fourier::true_peak_dbtp(&expected.left);
    let audible = &reading.audible;
    for (of, levels, more_db) in
        [("L", &audible.a, 0.0), ("sum", &audible.sum, 6.0206), ("bus", &audible.bus, 0.0)]
    {
        let (sample_peak, true_peak) = (levels.sample_peak_dbfs, levels.true_peak_dbtp);
        let what = format!("{of} sample peak");
        checks.level(&what, sample_peak, peak_db + more_db, PEAK_TOLERANCE_DB);
        let what = format!("{of} true peak");
        checks.level(&what, true_peak, true_peak_db + more_db, PEAK_TOLERANCE_DB);
    }
}

#[test]
fn square_waves_and_distorted_basses_keep_their_peaks() {
    for rate_hz in [44_100.0, 48_000.0, 96_000.0] {
        for low_hz in [10.0, 20.0] {
            for (name, samples) in [
                ("square wave, 60 Hz", square(rate_hz, 60.0)),
                ("square wave, 25 Hz", square(rate_hz, 25.0)),
                ("bass, 45 Hz", distorted_bass(rate_hz, 45.0)),
                ("bass, 31 Hz", distorted_bass(rate_hz, 31.0)),
            ] {
                let signal = faded(rate_hz, &samples);
                check(name, "the same signal's whole band", &signal, low_hz, &signal);
            }
        }
    }
}

#[test]
fn a_saturated_kick_peaks_where_its_fourier_transform_does() {
    for rate_hz in [48_000.0, 96_000.0] {
        let signal = faded(rate_hz, &saturated_kick(rate_hz));
        let expected = fourier::audible(&signal, 15.0, 20_000.0);
        check("kick", "Fourier transform of the whole signal", &signal, 15.0, &expected);
    }
}
