//! The drawn spectrum: tones at their level and place, the latest half second beside the mean.

use ledgerline_measure::spectrum::SPECTRUM_POINTS;
use ledgerline_measure::{Settings, Spectrum};
use ledgerline_tests::readings::{Checks, feed, stereo_meter};
use ledgerline_tests::signals::tone::{Sine, silence};
use ledgerline_tests::signals::{Stereo, amplitude};

fn spectrum(signals: &[Stereo]) -> Spectrum {
    let mut meter = stereo_meter(signals[0].rate_hz, Settings::default());
    for signal in signals {
        feed(&mut meter, signal);
    }
    meter.finish();
    meter.spectrum()
}

/// The point nearest to a frequency.
fn point(spectrum: &Spectrum, hz: f64) -> usize {
    let distance = |i: &usize| (f64::from(spectrum.hz(*i)) / hz).ln().abs();
    (0..SPECTRUM_POINTS).min_by(|a, b| distance(a).total_cmp(&distance(b))).unwrap_or(0)
}

#[test]
fn a_steady_tone_stands_at_its_frequency_with_its_rms_level() {
    for rate_hz in [44_100.0, 96_000.0, 192_000.0] {
        for hz in [12.0, 60.0, 440.0, 997.0, 5_000.0, 15_000.0, 0.35 * rate_hz, 0.48 * rate_hz] {
            let tone = Sine::new(hz, amplitude(-20.0)).play(rate_hz, 4.0);
            let spectrum = spectrum(&[Stereo::both(rate_hz, tone)]);
            let mut checks = Checks::of(format!("{hz} Hz at {rate_hz} Hz"), "RMS of a sine");
            for (name, points) in [("now", spectrum.now_dbfs), ("mean", spectrum.mean_dbfs)] {
                let highest = (0..SPECTRUM_POINTS)
                    .max_by(|a, b| points[*a].total_cmp(&points[*b]))
                    .unwrap_or(0);
                let near = highest.abs_diff(point(&spectrum, hz)) <= 2;
                checks.that(near, &format!("{name} highest near {hz} Hz"), spectrum.hz(highest));
                let level = f64::from(points[highest]);
                checks.number(&format!("{name} dbfs"), Some(level), -23.01, 1.0);
                // An octave and a half away nothing is drawn that anybody would see.
                let away = point(&spectrum, hz / 2.8);
                let level = f64::from(points[away]);
                checks.that(
                    level < -90.0,
                    &format!("{name} below −90 dBFS at {}", spectrum.hz(away)),
                    level,
                );
            }
        }
    }
}

#[test]
fn now_forgets_what_the_mean_keeps() {
    let rate_hz = 48_000.0;
    let tone = Sine::new(997.0, 0.1).play(rate_hz, 3.0);
    let spectrum =
        spectrum(&[Stereo::both(rate_hz, tone), Stereo::both(rate_hz, silence(rate_hz, 3.0))]);
    let at = point(&spectrum, 997.0);
    let mut checks = Checks::of("997 Hz, then as long silence", "the length of a mean");
    checks.number("mean", Some(f64::from(spectrum.mean_dbfs[at])), -26.02, 1.0);
    checks.that(spectrum.now_dbfs[at] < -80.0, "now below −80 dBFS", spectrum.now_dbfs[at]);
}
