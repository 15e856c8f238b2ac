//! What a sample-peak meter shows after conversion: the estimate against a conversion by one Fourier
//! transform, and against a converter's low-pass that is sampled between the samples.

use ledgerline_measure::Edges;
use ledgerline_measure::after_conversion::AfterConversion;
use ledgerline_tests::chains;
use ledgerline_tests::readings::{Checks, read};
use ledgerline_tests::signals::{Stereo, amplitude, bench_mix, noise};

const TRANSFORM: &str = "the whole signal through one Fourier transform";

fn highest_dbfs(signal: &Stereo, convert: impl Fn(&[f64]) -> Vec<f64>) -> f64 {
    let peak = |channel: &[f32]| {
        let channel: Vec<f64> = channel.iter().map(|&x| f64::from(x)).collect();
        convert(&channel).into_iter().fold(0.0, |peak: f64, x| peak.max(x.abs()))
    };
    20.0 * peak(&signal.left).max(peak(&signal.right)).log10()
}

/// A converter's filter at 20 kHz, sampled 0.37 samples off.
fn out_and_in(channel: &[f64], rate_hz: f64) -> Vec<f64> {
    chains::delayed(&chains::cut_off(channel, 20_000.0 / rate_hz), 0.37)
}

#[test]
fn the_estimate_is_near_on_noise_and_on_a_mix() {
    let noise_at = |rate_hz: f64| {
        let white = |seed| noise::white(seed, amplitude(-10.0), 10 * rate_hz as usize);
        Stereo::new(rate_hz, white(1), white(2))
    };
    for (name, signal) in [
        ("uniform white noise, 96 kHz", noise_at(96_000.0)),
        ("uniform white noise, 48 kHz", noise_at(48_000.0)),
        ("bench mix", bench_mix::play()),
    ] {
        let reading = read(&signal);
        let estimate = AfterConversion::of(&reading, Edges::default()).expect("sound");
        let mut checks = Checks::of(name, TRANSFORM);
        let out_and_in = highest_dbfs(&signal, |channel| out_and_in(channel, signal.rate_hz));
        checks.level("out and in", estimate.with_lows_dbfs, out_and_in, 1.0);
        if signal.rate_hz > 48_000.0 {
            let converted = highest_dbfs(&signal, |channel| chains::resampled(channel, 1, 2));
            checks.level("to 48 kHz", estimate.with_lows_dbfs, converted, 1.0);
        }
    }
}
