//! Setups that no host should ask for: refused, or harmless.

use std::path::Path;

use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{Layout, Setup, Take};
use ledgerline_tests::journal::last_reading;

use crate::material::{CHANGING_BLOCKS, any_bits, assert_same_bits, noises};

fn bad_rates_are_refused_or_harmless_and_a_good_one_works_after<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    let take = any_bits(2, 20_000);
    for rate_hz in [0.0, -48_000.0, 1.0, 8_000.0, 1e9, 1e300, f64::NAN, f64::INFINITY] {
        if host.activate(Setup::new(rate_hz, Layout::Stereo)).is_ok() {
            let output = host.play(&Take::new(&take)).expect("audio");
            assert_same_bits(&output, &take, &format!("at {rate_hz} Hz"));
        }
        host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("a good rate");
        let output = host.play(&Take::new(&take)).expect("audio");
        assert_same_bits(&output, &take, &format!("at 48 kHz after {rate_hz} Hz"));
    }
}

fn edges_that_cross_or_lie_too_high_still_measure<H: BuiltFor>(folder: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    let take = noises(2, 50_000, 50);
    for (low, high) in [(1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (0.0, 0.0)] {
        host.set("low_edge", low);
        host.set("high_edge", high);
        host.activate(Setup::new(44_100.0, Layout::Stereo)).expect("activation");
        let output = host.play(&Take::new(&take)).expect("audio");
        assert_same_bits(&output, &take, &format!("edges at {low} and {high}"));
        host.deactivate();
        let reading = last_reading(folder);
        assert!(
            reading["whole"]["bus"]["sample_peak_dbfs"].is_number(),
            "no reading with edges at {low} and {high}: {reading}"
        );
    }
}

fn after_any_bits_the_windows_recover<H: BuiltFor>(folder: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&any_bits(2, 48_000)).in_blocks(&CHANGING_BLOCKS)).expect("audio");
    // The longest window that starts out: 3 s of sample peak and of short-term loudness.
    let take = noises(2, 5 * 48_000, 51);
    host.play(&Take::new(&take)).expect("audio");
    host.deactivate();
    let reading = last_reading(folder);
    let number = |value: &serde_json::Value| value.as_f64().expect("a level");
    for band in ["whole", "audible"] {
        let window = &reading["windows"][band]["bus"];
        for key in ["sample_peak_dbfs", "rms_dbfs"] {
            let level_db = number(&window[key]);
            assert!((-30.0..0.0).contains(&level_db), "{band} {key} reads {level_db}");
        }
        for key in ["momentary_lufs", "short_term_lufs"] {
            let level = number(&reading[band]["bus"][key]);
            assert!((-30.0..0.0).contains(&level), "{band} {key} reads {level}");
        }
    }
    assert!(number(&reading["windows"]["invalid_frames"]) > 10_000.0);
}

in_both_formats!(
    bad_rates_are_refused_or_harmless_and_a_good_one_works_after,
    edges_that_cross_or_lie_too_high_still_measure,
    after_any_bits_the_windows_recover,
);
