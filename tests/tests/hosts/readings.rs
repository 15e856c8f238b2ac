//! The logged reading is what the measures read from the same samples.

use std::path::Path;

use ledgerline_measure::{Edges, Halves, Meter, Settings, TruePeakFilter};
use ledgerline_tests::alone::alone;
use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{Change, ClapHost, Host, Layout, Setup, Take, Vst3Host};
use ledgerline_tests::journal::{
    assert_same, files, last_reading, last_reading_at, last_reading_of, logged_by,
};

use crate::material::{CHANGING_BLOCKS, RATES_HZ, any_bits, noises, side_chain};

/// A meter as the plugin makes it for a layout.
pub fn meter(rate_hz: f64, layout: Layout, settings: Settings) -> Meter {
    let halves = match settings.halves {
        Halves::LeftRight if layout.main_channels() == 1 => Halves::Mono,
        halves => halves,
    };
    let settings = Settings { halves, ..settings };
    Meter::new(rate_hz, layout.main_channels(), layout.side_chain_channels(), settings)
        .expect("a setup that can be measured")
}

/// Measures a whole take in one block, as far from the host's cutting as can be.
pub fn measure(meter: &mut Meter, main: &[Vec<f32>], side_chain: &[Vec<f32>]) {
    let slices = |channels: &'_ [Vec<f32>]| -> Vec<_> {
        channels.iter().map(|channel| channel.to_vec()).collect()
    };
    let (main, side_chain) = (slices(main), slices(side_chain));
    let main: Vec<&[f32]> = main.iter().map(Vec::as_slice).collect();
    let side_chain: Vec<&[f32]> = side_chain.iter().map(Vec::as_slice).collect();
    meter.process(&main, &side_chain);
}

fn the_last_line_is_the_meters_reading<H: BuiltFor>(folder: &Path) {
    for layout in [Layout::Mono, Layout::Stereo, Layout::StereoWithSideChain] {
        for rate_hz in RATES_HZ {
            let frames = (1.7 * rate_hz) as usize;
            let main = noises(layout.main_channels(), frames, 10);
            let side_chain = side_chain(layout, frames);
            let before = files_or_none(folder);
            let mut host = H::load(&H::built()).expect("the plugin");
            host.activate(Setup::new(rate_hz, layout)).expect("activation");
            let take = Take::new(&main).with_side_chain(&side_chain).in_blocks(&CHANGING_BLOCKS);
            host.play(&take).expect("audio");
            host.deactivate();

            let mut meter = meter(rate_hz, layout, Settings::default());
            measure(&mut meter, &main, &side_chain);
            meter.finish();
            let after = files(folder);
            assert_eq!(after.len(), before + 1, "one file an instance: {after:?}");
            let newest = after.last().expect("a file");
            assert_same(&last_reading_of(newest), &logged_by(&meter));
        }
    }
}

fn files_or_none(folder: &Path) -> usize {
    files(folder).len()
}

fn settings_reach_the_measures<H: BuiltFor>(folder: &Path) {
    let main = noises(2, 144_000, 13);
    let mut host = H::load(&H::built()).expect("the plugin");
    for (id, text) in
        [("low_edge", "40 Hz"), ("high_edge", "16000 Hz"), ("true_peak", "ITU-R BS.1770 filter")]
    {
        let value = host.value_of_text(id, text).unwrap_or_else(|| panic!("{id} reads {text}"));
        host.set(id, value);
    }
    host.activate(Setup::new(96_000.0, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&main)).expect("audio");
    host.deactivate();

    let settings = Settings {
        edges: Edges::nearest(40.0, 16_000.0),
        true_peak: TruePeakFilter::Bs1770,
        ..Settings::default()
    };
    let mut meter = meter(96_000.0, Layout::Stereo, settings);
    measure(&mut meter, &main, &[]);
    meter.finish();
    assert_same(&last_reading(folder), &logged_by(&meter));
}

fn ceiling_and_target_reach_the_reading_at_once<H: BuiltFor>(folder: &Path) {
    let main = noises(2, 48_000, 14);
    let mut host = H::load(&H::built()).expect("the plugin");
    let ceiling = host.value_of_text("ceiling", "-3 dB").expect("a ceiling");
    let target = host.value_of_text("target", "-16").expect("a target");
    let kind = host.value_of_text("target_kind", "loudness").expect("a kind of target");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    let changes = [
        Change { at_frame: 24_000, id: "ceiling", value: ceiling },
        Change { at_frame: 24_000, id: "target", value: target },
        Change { at_frame: 24_000, id: "target_kind", value: kind },
    ];
    host.play(&Take::new(&main).with_changes(&changes)).expect("audio");
    host.deactivate();
    let room = &last_reading(folder)["room"];
    assert_eq!(room["ceiling_db"], -3.0);
    assert_eq!(room["target"], serde_json::json!({ "kind": "loudness", "value": -16.0 }));
}

fn reset_clears_what_was_measured<H: BuiltFor>(folder: &Path) {
    let (first, second) = (noises(2, 60_000, 15), noises(2, 70_000, 16));
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&first)).expect("audio");
    let reset = [Change { at_frame: 0, id: "reset", value: 1.0 }];
    host.play(&Take::new(&second).with_changes(&reset)).expect("audio");
    host.deactivate();

    let mut meter = meter(48_000.0, Layout::Stereo, Settings::default());
    measure(&mut meter, &first, &[]);
    meter.reset();
    measure(&mut meter, &second, &[]);
    meter.finish();
    assert_same(&last_reading(folder), &logged_by(&meter));
}

/// A meter that forgot when the transport stops would be no help; what the cuts would make is not
/// read.
fn a_hosts_reset_and_reactivation_keep_what_was_measured<H: BuiltFor>(folder: &Path) {
    let takes = [noises(2, 50_001, 17), noises(2, 33_333, 18), noises(2, 48_000, 19)];
    let mut host = H::load(&H::built()).expect("the plugin");
    let setup = Setup::new(48_000.0, Layout::Stereo);
    host.activate(setup).expect("activation");
    host.play(&Take::new(&takes[0])).expect("audio");
    host.reset();
    host.play(&Take::new(&takes[1])).expect("audio");
    host.deactivate();
    host.activate(setup).expect("activation again");
    host.play(&Take::new(&takes[2])).expect("audio");
    host.deactivate();

    let mut meter = meter(48_000.0, Layout::Stereo, Settings::default());
    measure(&mut meter, &takes[0], &[]);
    if H::RESET_STOPS {
        meter.pause();
    } else {
        meter.splice();
    }
    measure(&mut meter, &takes[1], &[]);
    meter.pause();
    measure(&mut meter, &takes[2], &[]);
    meter.finish();
    assert_same(&last_reading(folder), &logged_by(&meter));
}

fn another_rate_or_layout_starts_afresh<H: BuiltFor>(folder: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    let setups = [(48_000.0, Layout::Stereo), (96_000.0, Layout::Stereo), (96_000.0, Layout::Mono)];
    for (rate_hz, layout) in setups {
        let main = noises(layout.main_channels(), 65_000, 20);
        host.activate(Setup::new(rate_hz, layout)).expect("activation");
        host.play(&Take::new(&main)).expect("audio");
        host.deactivate();
        let mut meter = meter(rate_hz, layout, Settings::default());
        measure(&mut meter, &main, &[]);
        meter.finish();
        assert_same(&last_reading(folder), &logged_by(&meter));
    }
}

fn any_bits_are_read_as_the_meter_reads_them<H: BuiltFor>(folder: &Path) {
    let main = any_bits(2, 100_000);
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&main).in_blocks(&CHANGING_BLOCKS)).expect("audio");
    host.deactivate();
    let mut meter = meter(48_000.0, Layout::Stereo, Settings::default());
    measure(&mut meter, &main, &[]);
    meter.finish();
    assert_same(&last_reading(folder), &logged_by(&meter));
}

in_both_formats!(
    the_last_line_is_the_meters_reading,
    settings_reach_the_measures,
    ceiling_and_target_reach_the_reading_at_once,
    reset_clears_what_was_measured,
    a_hosts_reset_and_reactivation_keep_what_was_measured,
    another_rate_or_layout_starts_afresh,
    any_bits_are_read_as_the_meter_reads_them,
);

#[test]
fn both_formats_log_the_same_reading() {
    alone(|folder| {
        let main = noises(2, 150_000, 21);
        fn play<H: BuiltFor>(main: &[Vec<f32>]) {
            let mut host = H::load(&H::built()).expect("the plugin");
            host.activate(Setup::new(96_000.0, Layout::Stereo)).expect("activation");
            host.play(&Take::new(main)).expect("audio");
            host.deactivate();
        }
        play::<ClapHost>(&main);
        play::<Vst3Host>(&main);
        let files = files(folder);
        assert_eq!(files.len(), 2, "{files:?}");
        assert_same(&last_reading_of(&files[0]), &last_reading_of(&files[1]));
    });
}

/// Whether the host activates anew for it or, as CLAP lets it do, not.
#[test]
fn clap_starts_afresh_for_an_offline_render() {
    alone(|folder| {
        let (heard, rendered) = (noises(2, 80_000, 22), noises(2, 70_000, 23));
        for activates_anew in [true, false] {
            let mut host = ClapHost::load(&ClapHost::built()).expect("the plugin");
            let setup = Setup::new(48_000.0, Layout::Stereo);
            host.activate(setup).expect("activation");
            host.play(&Take::new(&heard)).expect("audio");
            if activates_anew {
                host.activate(Setup { offline: true, ..setup }).expect("activation");
            } else {
                host.render_offline(true);
            }
            host.play(&Take::new(&rendered)).expect("audio");
            host.deactivate();
            let mut meter = meter(48_000.0, Layout::Stereo, Settings::default());
            measure(&mut meter, &rendered, &[]);
            meter.finish();
            let files = files(folder);
            let logged = last_reading_of(files.last().expect("a log"));
            assert_same(&logged, &logged_by(&meter));
        }
    });
}

/// A stop of the transport ends what is measured: the last frames leave the filters, and the log
/// gets its line, though the instance stays active.
#[test]
fn vst3_measures_to_the_end_when_processing_stops() {
    alone(|folder| {
        let main = noises(2, 70_001, 24);
        let mut host = Vst3Host::load(&Vst3Host::built()).expect("the plugin");
        host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
        host.play(&Take::new(&main)).expect("audio");
        host.stop();
        let mut meter = meter(48_000.0, Layout::Stereo, Settings::default());
        measure(&mut meter, &main, &[]);
        meter.finish();
        let expected = logged_by(&meter);
        assert_same(&last_reading_at(folder, &expected["time_s"]), &expected);
    });
}
