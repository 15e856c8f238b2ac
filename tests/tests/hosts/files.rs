//! The command on a file beside the plugin's log on the same samples: the same numbers.

use std::path::Path;

use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::command::records;
use ledgerline_tests::hosts::{Layout, Setup, Take};
use ledgerline_tests::journal::{assert_same, last_reading};
use ledgerline_tests::signals::bench_mix;
use ledgerline_tests::wav;
use serde_json::Value;

/// Takes out what differs by definition: the log's momentary and short-term loudness are the
/// latest, a file's the highest, and windows are no part of a file's reading.
fn comparable(mut reading: Value) -> Value {
    for band in ["whole", "audible"] {
        for signal in ["a", "b", "sum", "bus"] {
            let levels = reading[band][signal].as_object_mut().expect("levels");
            levels.remove("momentary_lufs");
            levels.remove("short_term_lufs");
        }
    }
    let record = reading.as_object_mut().expect("a reading");
    record.remove("windows");
    // The plugin's audio thread has no transforms that are long enough.
    record.remove("decorrelation_ms");
    reading
}

fn a_file_reads_as_the_plugin_logs<H: BuiltFor>(folder: &Path) {
    let mix = bench_mix::play();
    let mix = mix.cut(960_000..1_500_000);
    let main = [mix.left.clone(), mix.right.clone()];
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(mix.rate_hz, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&main)).expect("audio");
    host.deactivate();
    drop(host);
    let path = folder.join("mix.wav").display().to_string();
    wav::write(&path, mix.rate_hz as u32, &mix.channels());
    let file = records(&["read", "--fail-on", "never", &path]).1.remove(0)["reading"].take();
    assert_same(&comparable(last_reading(folder)), &comparable(file));
}

in_both_formats!(a_file_reads_as_the_plugin_logs);
