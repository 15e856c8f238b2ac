//! Every bus is measured as what it is: side-chains of any width, surround buses, and buses of which
//! a host leaves something out.

use std::path::Path;

use ledgerline_measure::{Halves, Settings};
use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::command::records;
use ledgerline_tests::hosts::{Layout, LeftOut, Setup, Take};
use ledgerline_tests::journal::{assert_same, files, last_reading_of, logged_by};
use ledgerline_tests::wav;
use serde_json::Value;

use crate::material::{assert_same_bits, noises, side_chain};
use crate::readings::{measure, meter};

/// What an instance of its own logs last of a take, halves being main and side-chain if asked.
fn logged<H: BuiltFor>(folder: &Path, setup: Setup, take: &Take<'_>, halves: &str) -> Value {
    let mut host = H::load(&H::built()).expect("the plugin");
    for (id, text) in [("halves", halves), ("rms_window", "Since reset")] {
        let value = host.value_of_text(id, text).unwrap_or_else(|| panic!("{id} reads {text}"));
        host.set(id, value);
    }
    host.activate(setup).unwrap_or_else(|error| panic!("{:?}: {error}", setup.layout));
    host.play(take).expect("audio");
    host.deactivate();
    let files = files(folder);
    last_reading_of(files.last().expect("a log"))
}

fn a_side_chain_of_any_width_is_half_b<H: BuiltFor>(folder: &Path) {
    for layout in Layout::WITH_SIDE_CHAIN {
        let main = noises(layout.main_channels(), 96_000, 11);
        let side_chain = side_chain(layout, 96_000);
        let take = Take::new(&main).with_side_chain(&side_chain);
        let setup = Setup::new(48_000.0, layout);
        let logged = logged::<H>(folder, setup, &take, "Main and side-chain");

        let settings = Settings { halves: Halves::MainSidechain, ..Settings::default() };
        let mut meter = meter(48_000.0, layout, settings);
        measure(&mut meter, &main, &side_chain);
        meter.finish();
        let expected = logged_by(&meter);
        assert_eq!(logged["halves"], "main_sidechain", "{layout:?}");
        for half in ["a", "b", "sum"] {
            for key in ["sample_peak_dbfs", "true_peak_dbtp", "integrated_lufs"] {
                let (got, wanted) = (&logged["whole"][half][key], &expected["whole"][half][key]);
                assert!(wanted.is_number(), "{layout:?}: {half} has no {key}");
                assert_eq!(got, wanted, "{layout:?}: {key} of {half}");
            }
        }
    }
}

/// The loudspeakers of the file are stated by its channel mask; the halves of a surround bus are
/// left and right, whatever is chosen for other buses.
fn a_surround_bus_is_measured_as_read_measures_a_file_of_it<H: BuiltFor>(folder: &Path) {
    let rate_hz = 48_000;
    for layout in Layout::SURROUND {
        let channels = unlike(layout.main_channels(), 3 * rate_hz as usize);
        let path = folder.join("bus.wav").to_string_lossy().into_owned();
        let slices: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
        wav::write_for_speakers(&path, rate_hz, layout.speakers(), &slices);
        let (_, read) = records(&["read", &path]);
        let read = &read[0]["reading"];
        for halves in ["Left and right", "Main and side-chain"] {
            let setup = Setup::new(f64::from(rate_hz), layout);
            let logged = logged::<H>(folder, setup, &Take::new(&channels), halves);
            assert_eq!(logged["halves"], "left_right", "{layout:?}");
            assert_same(&over_the_whole(&logged), &over_the_whole(read));
        }
    }
}

/// Noises whose levels and contents tell the channels apart.
fn unlike(channels: usize, frames: usize) -> Vec<Vec<f32>> {
    let mut noises = noises(channels, frames, 31);
    for (index, channel) in noises.iter_mut().enumerate() {
        let gain = 0.9_f32.powi(i32::try_from(index * index % 7).expect("a few"));
        channel.iter_mut().for_each(|sample| *sample *= gain);
    }
    noises
}

/// The parts of a reading that know no window of time.
fn over_the_whole(reading: &Value) -> Value {
    let levels = |band: &str, of: &str| {
        let levels = &reading[band][of];
        let keys = ["sample_peak_dbfs", "true_peak_dbtp", "rms_dbfs", "integrated_lufs", "lra_lu"];
        keys.map(|key| levels[key].clone())
    };
    let band = |band: &str| ["a", "b", "sum", "bus"].map(|of| levels(band, of));
    serde_json::json!({
        "whole": band("whole"), "audible": band("audible"),
        "hidden": reading["hidden"], "room": reading["room"],
    })
}

fn what_a_host_leaves_out_is_silent<H: BuiltFor>(folder: &Path) {
    let setup = Setup::new(48_000.0, Layout::StereoWithSideChain);
    let (main, side_chain) = (noises(2, 48_000, 41), noises(2, 48_000, 42));
    let silence = vec![0.0; 48_000];
    let cases = [
        (LeftOut::SideChain, [true, true, false, false]),
        (LeftOut::SideChainChannels, [true, true, false, false]),
        (LeftOut::LastSideChainChannel, [true, true, true, false]),
        (LeftOut::LastMainChannel, [true, false, true, true]),
        (LeftOut::Everything, [false; 4]),
    ];
    for (left_out, there) in cases {
        let heard =
            |channel: &Vec<f32>, there| if there { channel.clone() } else { silence.clone() };
        let heard_main = [heard(&main[0], there[0]), heard(&main[1], there[1])];
        let heard_side = [heard(&side_chain[0], there[2]), heard(&side_chain[1], there[3])];
        let take = Take::new(&main).with_side_chain(&side_chain).without(left_out);

        let mut host = H::load(&H::built()).expect("the plugin");
        host.activate(setup).expect("activation");
        let output = host.play(&take).expect("audio");
        assert_same_bits(&output, &heard_main, &format!("{left_out:?}"));
        drop(host);

        let logged = logged::<H>(folder, setup, &take, "Main and side-chain");
        let settings = Settings { halves: Halves::MainSidechain, ..Settings::default() };
        let mut meter = meter(48_000.0, setup.layout, settings);
        measure(&mut meter, &heard_main, &heard_side);
        meter.finish();
        let expected = logged_by(&meter);
        for half in ["a", "b", "sum"] {
            for key in ["sample_peak_dbfs", "true_peak_dbtp", "integrated_lufs"] {
                let (got, wanted) = (&logged["whole"][half][key], &expected["whole"][half][key]);
                assert_eq!(got, wanted, "{left_out:?}: {key} of {half}");
            }
        }
    }
}

in_both_formats!(
    a_side_chain_of_any_width_is_half_b,
    a_surround_bus_is_measured_as_read_measures_a_file_of_it,
    what_a_host_leaves_out_is_silent,
);
