//! Settings that no meter can have: each is refused with a clear message, or leaves the measurement
//! alone.

use ledgerline_measure::{
    ChannelRole, Edges, Halves, Meter, Settings, SettingsError, Target, View,
};
use ledgerline_tests::formulas::peak_dbfs;
use ledgerline_tests::readings::{Checks, feed_by, stereo_meter};
use ledgerline_tests::signals::{Stereo, frames, noise};

const RATE_HZ: f64 = 48_000.0;

#[test]
fn rates_that_no_meter_has_are_refused_with_their_value() {
    let absurd = [
        0.0,
        -48_000.0,
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        1.0,
        7_999.0,
        768_001.0,
        1e300,
    ];
    for rate_hz in absurd {
        let mut checks = Checks::of(format!("a rate of {rate_hz} Hz"), "8 to 768 kHz");
        match Meter::new(rate_hz, 2, 0, Settings::default()) {
            Ok(_) => checks.that(false, "an error", "a meter"),
            Err(error) => {
                let is_rate = matches!(error, SettingsError::Rate { .. });
                checks.that(is_rate, "an error on the rate", error);
                let text = error.to_string();
                checks.that(text.contains(&format!("{rate_hz}")), "its value", &text);
            }
        }
    }
    for rate_hz in [8_000.0, 11_025.0, 31_337.5, 768_000.0] {
        let made = Meter::new(rate_hz, 2, 0, Settings::default()).is_ok();
        Checks::of(format!("{rate_hz} Hz"), "8 to 768 kHz").that(made, "a meter", made);
    }
}

#[test]
fn edges_that_no_band_has_are_refused_and_high_ones_are_not() {
    let new = |low_hz, high_hz| {
        let edges = Edges::new(low_hz, high_hz)?;
        Meter::new(RATE_HZ, 2, 0, Settings { edges, ..Settings::default() }).map(|_| ())
    };
    for (low_hz, high_hz) in [
        (f64::NAN, 20_000.0),
        (20.0, f64::NAN),
        (20.0, f64::INFINITY),
        (0.0, 20_000.0),
        (-20.0, 20_000.0),
        (20.0, 1e9),
        (20_000.0, 20.0),
        (20.0, 20.0),
        (201.0, 20_000.0),
    ] {
        let mut checks = Checks::of(format!("{low_hz} to {high_hz} Hz"), "the edges' ranges");
        let made = new(low_hz, high_hz);
        let refused =
            matches!(made, Err(SettingsError::Edge { .. } | SettingsError::EdgesCrossed { .. }));
        checks.that(refused, "an error on the edges", made);
    }
    let crossed = new(20_000.0, 20.0);
    let mut checks = Checks::of("20 000 to 20 Hz", "the edges' order");
    checks.that(matches!(crossed, Err(SettingsError::EdgesCrossed { .. })), "crossed", crossed);
    for high_hz in [5_000.0, 23_999.0, 24_000.0, 40_000.0] {
        let made = new(20.0, high_hz);
        Checks::of(format!("20 to {high_hz} Hz at 48 kHz"), "any edge up to 40 kHz").that(
            made.is_ok(),
            "a meter",
            made,
        );
    }
}

#[test]
fn layouts_that_have_no_halves_are_refused() {
    let new = |main, side_chain, halves| {
        Meter::new(RATE_HZ, main, side_chain, Settings { halves, ..Settings::default() })
            .map(|_| ())
    };
    for (main, side_chain) in [(0, 0), (3, 0), (6, 0), (0, 2), (2, 3), (usize::MAX, usize::MAX)] {
        for halves in [Halves::LeftRight, Halves::MainSidechain, Halves::Mono] {
            let made = new(main, side_chain, halves);
            let refused = matches!(made, Err(SettingsError::Channels { .. }));
            Checks::of(format!("{main} and {side_chain} channels, {halves:?}"), "mono or stereo")
                .that(refused, "an error on the channels", made);
        }
    }
}

#[test]
fn a_bus_without_channels_or_with_more_than_64_is_refused() {
    for channels in [0, 65, 4096] {
        let roles = vec![ChannelRole::Other; channels];
        let mut checks = Checks::of(format!("{channels} channels"), "1 to 64 channels");
        match Meter::for_channels(RATE_HZ, &roles, Settings::default()) {
            Ok(_) => checks.that(false, "an error", "a meter"),
            Err(error) => {
                let is_count = matches!(error, SettingsError::ChannelCount { .. });
                checks.that(is_count, "an error on the channels", error);
                let text = error.to_string();
                let tells = text.contains(&channels.to_string()) && text.contains("1 and 64");
                checks.that(tells, "what came and what would do", text);
            }
        }
    }
}

#[test]
fn views_that_make_no_sense_leave_the_measurement_alone() {
    let music = noise::pink(82, 0.1, RATE_HZ, frames(RATE_HZ, 3.0));
    let signal = Stereo::both(RATE_HZ, music);
    let record = |meter: &Meter| {
        let reading = meter.reading(&View::default());
        serde_json::to_string(&reading).expect("a reading can be written")
    };
    let mut meter = stereo_meter(RATE_HZ, Settings::default());
    feed_by(&mut meter, &signal, 512);
    meter.finish();
    let before = record(&meter);
    for odd in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 0.0, 1e300] {
        let target = Some(Target { value: odd, ..Target::default() });
        let view = View { target, ceiling_db: odd, peak_window_s: odd, ..View::default() };
        let reading = meter.reading(&view);
        let mut checks = Checks::of(format!("music seen with {odd} for everything"), "the music");
        let expected = peak_dbfs(&signal.left);
        checks.level("held peak", reading.whole.bus.sample_peak_dbfs, expected, 0.0001);
        let peak = reading.windows.whole.bus.sample_peak_dbfs;
        checks.at_most("peak window", peak, expected + 0.0001);
        meter.set_ceiling_db(odd);
        checks.that(meter.rate_hz() == RATE_HZ, "a meter still", meter.rate_hz());
    }
    meter.set_ceiling_db(View::default().ceiling_db);
    meter.reset();
    feed_by(&mut meter, &signal, 512);
    meter.finish();
    let after = record(&meter);
    Checks::of("music seen as usual again", "the reading before").that(
        after == before,
        "it",
        after,
    );
}
