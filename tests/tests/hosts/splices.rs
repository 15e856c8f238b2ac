//! In a host, no splice leaves a peak: a sine that is reset, bypassed, jumped in, stopped or measured
//! with new settings in the middle never reads higher than its amplitude.

use std::path::Path;

use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{Change, Cue, Layout, Setup, Take};
use ledgerline_tests::journal::{files, last_reading_of};
use ledgerline_tests::signals::tone::Sine;

const RATE_HZ: f64 = 48_000.0;
const AMPLITUDE: f64 = 0.45;
/// 20·log10 of the amplitude.
const EXPECTED_DB: f64 = -6.9357;
/// The ripple of the band's edges, and a hundredth for the interpolation.
const TOLERANCE_DB: f64 = 0.03;

/// A 60 Hz sine that swells in its first second and fades in its last.
fn sine(length_s: f64) -> Vec<Vec<f32>> {
    let tone = Sine::new(60.0, AMPLITUDE).faded(RATE_HZ, length_s, 1.0);
    vec![tone.clone(), tone]
}

fn stretch(take: &[Vec<f32>], from: usize, until: usize) -> Vec<Vec<f32>> {
    take.iter().map(|channel| channel[from..until].to_vec()).collect()
}

fn assert_no_higher(folder: &Path, what: &str) {
    let latest = files(folder).pop().expect("a log file");
    let reading = last_reading_of(&latest);
    for band in ["whole", "audible"] {
        for key in ["sample_peak_dbfs", "true_peak_dbtp"] {
            let level = reading[band]["bus"][key].as_f64().expect("a level");
            let is_expected = (level - EXPECTED_DB).abs() < TOLERANCE_DB;
            assert!(is_expected, "{what}: {band} {key} {level:.3}, expected {EXPECTED_DB}");
        }
    }
}

fn no_peak_comes_from_changes_while_it_plays<H: BuiltFor>(folder: &Path) {
    let take = sine(8.0);
    for (what, changes) in [
        ("reset", vec![("reset", 1.0, 100_003)]),
        ("bypass off and on", vec![("bypass", 1.0, 100_003), ("bypass", 0.0, 141_777)]),
        ("a lower edge of 40 Hz", vec![("low_edge", f64::NAN, 100_003)]),
    ] {
        let mut host = H::load(&H::built()).expect("the plugin");
        let low_edge = host.value_of_text("low_edge", "40 Hz").expect("an edge");
        let changes: Vec<Change> = changes
            .into_iter()
            .map(|(id, value, at_frame)| {
                let value = if f64::is_nan(value) { low_edge } else { value };
                Change { at_frame, id, value }
            })
            .collect();
        // A render waits for the meter of new edges. Played live, faster than time passes, most of
        // the sine could be over before that meter is made.
        let offline = what.contains("edge");
        let setup = Setup { offline, ..Setup::new(RATE_HZ, Layout::Stereo) };
        host.activate(setup).expect("activation");
        host.play(&Take::new(&take).with_changes(&changes)).expect("audio");
        host.deactivate();
        assert_no_higher(folder, what);
    }
}

fn no_peak_comes_from_a_jump_of_the_transport<H: BuiltFor>(folder: &Path) {
    let whole = sine(8.0);
    let mut take = stretch(&whole, 0, 100_003);
    // Goes on half a period later, as behind a jump.
    for (channel, whole) in take.iter_mut().zip(&whole) {
        channel.extend(&whole[130_403..]);
    }
    let cues = [Cue { at_frame: 0, to: Some(0) }, Cue { at_frame: 100_003, to: Some(130_403) }];
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(RATE_HZ, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&take).with_cues(&cues)).expect("audio");
    host.deactivate();
    assert_no_higher(folder, "a jump");
}

fn no_peak_comes_from_a_hosts_reset_or_stop<H: BuiltFor>(folder: &Path) {
    let whole = sine(8.0);
    let setup = Setup::new(RATE_HZ, Layout::Stereo);
    for stops in [false, true] {
        let mut host = H::load(&H::built()).expect("the plugin");
        host.activate(setup).expect("activation");
        host.play(&Take::new(&stretch(&whole, 0, 100_003))).expect("audio");
        if stops {
            host.deactivate();
            host.activate(setup).expect("activation again");
        } else {
            host.reset();
        }
        host.play(&Take::new(&stretch(&whole, 130_403, 384_000))).expect("audio");
        host.deactivate();
        assert_no_higher(folder, if stops { "a stop" } else { "a host's reset" });
    }
}

in_both_formats!(
    no_peak_comes_from_changes_while_it_plays,
    no_peak_comes_from_a_jump_of_the_transport,
    no_peak_comes_from_a_hosts_reset_or_stop,
);
