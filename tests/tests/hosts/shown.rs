//! What a host shows of the plugin before it plays.

use std::path::Path;

use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{ClapHost, Host, HostError, Layout, Setup, Vst3Host, parameter_hash};

/// Every parameter's id, in the order of the manual. Ids are promises to saved projects.
pub const IDS: [&str; 24] = [
    "target_kind",
    "target",
    "ceiling",
    "low_edge",
    "high_edge",
    "halves",
    "rms_window",
    "rms_reference",
    "peak_hold",
    "true_peak",
    "clip_at",
    "listen",
    "sum_test",
    "feed_level",
    "feed_offline",
    "reset",
    "mark",
    "log",
    "bypass",
    "your_meter",
    "your_meter_band",
    "your_meter_offset",
    "feeds_play",
    "loop_pair",
];

fn a_scan_finds_one_plugin_with_name_maker_and_version<H: BuiltFor>(_: &Path) {
    let found = H::scan(&H::built()).expect("a module");
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].name, "Ledgerline");
    assert_eq!(found[0].vendor, "Ledgerline");
    assert_eq!(found[0].version, env!("CARGO_PKG_VERSION"));
    assert!(!found[0].id.is_empty() && !found[0].features.is_empty(), "{found:?}");
}

fn every_layout_is_there_and_none_has_latency<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    for layout in Layout::OFFERED {
        host.activate(Setup::new(48_000.0, layout)).unwrap_or_else(|e| panic!("{layout:?}: {e}"));
        assert_eq!(host.latency_frames(), 0, "{layout:?}");
    }
}

fn a_layout_that_is_not_offered_is_refused_and_the_others_still_work<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    let refused = host.activate(Setup::new(48_000.0, Layout::Five));
    assert_eq!(refused, Err(HostError::Layout(Layout::Five)));
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("stereo");
}

fn the_parameters_are_those_of_the_manual<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    let shown: Vec<u32> = host.parameters().iter().map(|parameter| parameter.hash).collect();
    assert_eq!(shown, IDS.map(parameter_hash));
    let bypasses: Vec<_> =
        host.parameters().into_iter().filter(|parameter| parameter.bypass).collect();
    assert_eq!(bypasses.len(), 1);
    assert_eq!(bypasses[0].hash, parameter_hash("bypass"));
}

fn every_parameter_starts_at_its_default_and_reads_what_it_writes<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    for (id, parameter) in IDS.into_iter().zip(host.parameters()) {
        assert!((host.value(id) - parameter.default).abs() < 1e-6, "{id}");
        for value in (0..=500).map(|step| f64::from(step) / 500.0) {
            let text = host.text(id, value);
            let read = host
                .value_of_text(id, &text)
                .unwrap_or_else(|| panic!("{id} cannot read its own {text:?}"));
            assert_eq!(host.text(id, read), text, "{id}, {value} written and read again");
        }
    }
}

fn an_edge_is_read_in_kilohertz_as_well<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    for text in ["16 kHz", "16k", "16,0 KHZ", "16000", "16000 Hz", " 16000hz "] {
        let value = host.value_of_text("high_edge", text).unwrap_or_else(|| panic!("{text}"));
        // VST3 keeps the unit apart.
        assert!(host.text("high_edge", value).starts_with("16000"), "{text}");
    }
    assert_eq!(host.value_of_text("high_edge", "sixteen"), None);
}

fn values_are_read_as_people_type_them<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    for (id, typed, shown) in [
        ("target", "-23 LUFS", "−23.0"),
        ("target", "−14,5 dBTP", "−14.5"),
        ("target", "-18dBFS", "−18.0"),
        ("ceiling", "−1.5 dB", "−1.5"),
        ("ceiling", "-1,5", "−1.5"),
        ("ceiling", "-3dB", "−3.0"),
        ("feed_level", "−20 dBFS", "−20.0"),
        ("low_edge", "30Hz", "30"),
        ("high_edge", "16 kHz", "16000"),
        ("peak_hold", "2,5 s", "2.5"),
        ("peak_hold", "500 ms", "0.5"),
        ("log", "yes", "On"),
        ("bypass", "off", "Off"),
        ("feed_offline", "ON", "On"),
        ("listen", " off ", "Off"),
        ("listen", "hidden", "Hidden content, shifted down"),
        ("sum_test", "feed2", "Feed 2"),
        ("halves", "main_sidechain", "Main and side-chain"),
        ("true_peak", "BS.1770", "ITU-R BS.1770 filter"),
        ("rms_window", "0,3 s", "0.3 s"),
        ("feeds_play", "loop, pink noise", "Loop, pink noise"),
        ("loop_pair", "15 s", "15"),
    ] {
        let value = host.value_of_text(id, typed).unwrap_or_else(|| panic!("{id}: {typed}"));
        let text = host.text(id, value);
        // VST3 keeps the unit apart.
        assert!(text == shown || text.starts_with(&format!("{shown} ")), "{id} {typed}: {text}");
    }
    for id in IDS {
        assert_eq!(host.value_of_text(id, "a slip of the pen"), None, "{id}");
    }
}

in_both_formats!(
    a_scan_finds_one_plugin_with_name_maker_and_version,
    every_layout_is_there_and_none_has_latency,
    a_layout_that_is_not_offered_is_refused_and_the_others_still_work,
    the_parameters_are_those_of_the_manual,
    every_parameter_starts_at_its_default_and_reads_what_it_writes,
    an_edge_is_read_in_kilohertz_as_well,
    values_are_read_as_people_type_them,
);

#[test]
fn both_formats_show_the_same_parameters() {
    ledgerline_tests::alone::alone(|_| {
        let clap = ClapHost::load(&ClapHost::built()).expect("the plugin").parameters();
        let vst3 = Vst3Host::load(&Vst3Host::built()).expect("the plugin").parameters();
        for (clap, vst3) in clap.iter().zip(&vst3) {
            assert_eq!((clap.hash, &clap.name), (vst3.hash, &vst3.name));
            assert!((clap.default - vst3.default).abs() < 1e-6, "{}", clap.name);
        }
        assert_eq!(clap.len(), vst3.len());
    });
}

/// Hosts may know the scale before they give the plugin a window.
#[test]
fn a_scale_told_before_there_is_a_window_is_taken_in_both_formats() {
    ledgerline_tests::alone::alone(|_| {
        let mut clap = ClapHost::load(&ClapHost::built()).expect("the plugin");
        let (taken, [before, after]) = clap.scale_a_window(1.5).expect("a window");
        assert!(taken, "CLAP");
        assert_eq!(after.map(|side| side * 2), before.map(|side| side * 3), "CLAP");

        let mut vst3 = Vst3Host::load(&Vst3Host::built()).expect("the plugin");
        let (taken, [before, after]) = vst3.scale_a_view(1.5).expect("a view");
        assert!(taken, "VST3");
        assert_eq!(after.map(|side| side * 2), before.map(|side| side * 3), "VST3");
        let (taken, [before, after]) = vst3.scale_a_view(-1.0).expect("a view");
        assert!(!taken && before == after, "a scale that cannot be");
    });
}
