//! The audible band by its measured response: tones through the meter, audible against whole RMS.

use ledgerline_measure::{Edges, Level, Meter, Settings, View};
use ledgerline_tests::readings::{Checks, read_on, stereo_meter};
use ledgerline_tests::signals::Stereo;
use ledgerline_tests::signals::tone::{Sine, smooth};

const SOURCE: &str = "the band's definition";

/// Rates and edges that are measured, in Hz.
const BANDS_HZ: [(f64, f64, f64); 9] = [
    (44_100.0, 20.0, 20_000.0),
    (48_000.0, 20.0, 20_000.0),
    (88_200.0, 20.0, 20_000.0),
    (96_000.0, 20.0, 20_000.0),
    (192_000.0, 20.0, 20_000.0),
    (96_000.0, 50.0, 15_000.0),
    (48_000.0, 200.0, 5_000.0),
    (192_000.0, 10.0, 40_000.0),
    (48_000.0, 20.0, 23_000.0),
];

fn meter(rate_hz: f64, low_hz: f64, high_hz: f64) -> Meter {
    let edges = Edges::nearest(low_hz, high_hz);
    stereo_meter(rate_hz, Settings { edges, ..Settings::default() })
}

/// What the band leaves of a tone, in dB. The tone swells and fades over the whole stretch, so that
/// nothing of it but the tone itself lies in the band.
fn response(meter: &mut Meter, hz: f64) -> Level {
    let rate_hz = meter.rate_hz();
    let length_s = (60.0 / hz).max(0.2);
    let tone = Sine::new(hz, 0.9).shaped(rate_hz, length_s, smooth);
    let reading = read_on(meter, &Stereo::both(rate_hz, tone), &View::default());
    reading.audible.a.rms_dbfs.minus(reading.whole.a.rms_dbfs)
}

fn name(rate_hz: f64, low_hz: f64, high_hz: f64) -> String {
    format!("{low_hz} to {high_hz} Hz at {rate_hz} Hz")
}

#[test]
fn the_pass_band_is_flat_to_the_upper_edge() {
    for (rate_hz, low_hz, high_hz) in BANDS_HZ {
        let mut meter = meter(rate_hz, low_hz, high_hz);
        let mut checks = Checks::of(name(rate_hz, low_hz, high_hz), SOURCE);
        let from_hz = low_hz;
        for step in 0..=24 {
            let hz = from_hz * (high_hz / from_hz).powf(f64::from(step) / 24.0);
            checks.level(&format!("{hz:.1} Hz"), response(&mut meter, hz), 0.0, 0.02);
        }
        // The response ripples fastest next to the edge.
        for share in [0.9, 0.95, 0.97, 0.98, 0.99, 0.995] {
            let hz = share * high_hz;
            checks.level(&format!("{hz:.1} Hz"), response(&mut meter, hz), 0.0, 0.02);
        }
    }
}

#[test]
fn the_stop_band_is_100_db_down() {
    for (rate_hz, low_hz, high_hz) in BANDS_HZ {
        let stop_hz = (1.1 * high_hz).min(0.5 * rate_hz);
        // The last tone before half the rate that still has room to swell and fade.
        let last_hz = 0.4995 * rate_hz;
        if stop_hz >= last_hz {
            continue;
        }
        let mut meter = meter(rate_hz, low_hz, high_hz);
        let mut checks = Checks::of(name(rate_hz, low_hz, high_hz), SOURCE);
        for step in 0..=24 {
            // Squared, so that most tones lie next to the edge.
            let share = (f64::from(step) / 24.0).powi(2);
            let hz = stop_hz + share * (last_hz - stop_hz);
            checks.at_most(&format!("{hz:.1} Hz"), response(&mut meter, hz), -100.0);
        }
    }
}

#[test]
fn the_lower_edge_is_flat_from_the_edge_on_and_60_db_down_below_0_6_times_the_edge() {
    for (rate_hz, low_hz, high_hz) in BANDS_HZ {
        let mut meter = meter(rate_hz, low_hz, high_hz);
        let mut checks = Checks::of(name(rate_hz, low_hz, high_hz), SOURCE);
        for share in [1.0, 1.02, 1.05, 1.1, 1.25, 1.5, 1.75, 2.0] {
            let got = response(&mut meter, share * low_hz);
            checks.level(&format!("{share} × lower edge"), got, 0.0, 0.02);
        }
        for share in [0.6, 0.55, 0.5, 0.4, 0.25, 0.1] {
            // The tone's side bands, which swelling and fading give it, keep clear of the slope.
            let got = response(&mut meter, share * low_hz - 0.02 * low_hz);
            checks.at_most(&format!("{share} × lower edge"), got, -60.0);
        }
    }
}

#[test]
fn an_upper_edge_above_half_the_rate_hides_nothing_above() {
    for (rate_hz, high_hz) in [(44_100.0, 30_000.0), (48_000.0, 24_000.0), (22_050.0, 20_000.0)] {
        let mut meter = meter(rate_hz, 20.0, high_hz);
        let mut checks = Checks::of(name(rate_hz, 20.0, high_hz), SOURCE);
        for share in [0.5, 0.9, 0.95] {
            let hz = share * 0.5 * rate_hz;
            checks.level(&format!("{hz:.1} Hz"), response(&mut meter, hz), 0.0, 0.02);
        }
        let tone = Sine::new(0.45 * rate_hz, 0.5).shaped(rate_hz, 0.5, smooth);
        let reading = read_on(&mut meter, &Stereo::both(rate_hz, tone), &View::default());
        checks.number("above_share", reading.hidden.above_share, 0.0, 1e-6);
    }
}
