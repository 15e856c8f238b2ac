//! Audio passes bit for bit unless the user turned on a listening mode.

use std::path::Path;

use ledgerline_tests::alone::alone;
use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{Change, ClapHost, Host, Layout, Setup, Take, Vst3Host};

use crate::material::{CHANGING_BLOCKS, RATES_HZ, any_bits, assert_same_bits, noises, side_chain};

fn any_bits_pass_at_every_rate_in_every_layout_in_changing_blocks<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    for layout in Layout::OFFERED {
        for rate_hz in RATES_HZ {
            host.activate(Setup::new(rate_hz, layout)).expect("activation");
            let input = any_bits(layout.main_channels(), 30_000);
            let side_chain = side_chain(layout, 30_000);
            let take = Take::new(&input).with_side_chain(&side_chain).in_blocks(&CHANGING_BLOCKS);
            let output = host.play(&take).expect("audio");
            assert_same_bits(&output, &input, &format!("{layout:?} at {rate_hz} Hz"));
        }
    }
}

fn blocks_of_every_length_up_to_8192_pass<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    // Every length up to 300, then steps that share no factor with a power of two.
    let lengths: Vec<usize> = (1..=300).chain((301..8192).step_by(89)).chain([8192]).collect();
    let input = noises(2, lengths.iter().sum(), 1);
    let output = host.play(&Take::new(&input).in_blocks(&lengths)).expect("audio");
    assert_same_bits(&output, &input, "every length");
}

fn blocks_longer_than_announced_pass<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    let setup = Setup { most_frames: 64, ..Setup::new(48_000.0, Layout::Stereo) };
    host.activate(setup).expect("activation");
    let input = noises(2, 40_000, 2);
    let output = host.play(&Take::new(&input).in_blocks(&[64, 65, 8192, 16_384])).expect("audio");
    assert_same_bits(&output, &input, "blocks of up to 16384 where 64 were announced");
}

fn bypass_passes_and_comes_back_within_a_take<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    let input = any_bits(2, 48_000);
    let changes = [
        Change { at_frame: 10_000, id: "bypass", value: 1.0 },
        Change { at_frame: 30_001, id: "bypass", value: 0.0 },
    ];
    let output = host.play(&Take::new(&input).with_changes(&changes)).expect("audio");
    assert_same_bits(&output, &input, "bypass on and off");
}

/// Also the proof that these tests could fail: the output does change when it should.
fn listening_changes_the_output_and_bypass_overrules_it<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    let audible = host.value_of_text("listen", "Audible band only").expect("a listening mode");
    host.set("listen", audible);
    let input = noises(2, 96_000, 3);
    host.activate(Setup::new(96_000.0, Layout::Stereo)).expect("activation");
    let output = host.play(&Take::new(&input)).expect("audio");
    assert!(output != input, "the audible band of white noise at 96 kHz is another signal");

    let bypass = [Change { at_frame: 0, id: "bypass", value: 1.0 }];
    let output = host.play(&Take::new(&input).with_changes(&bypass)).expect("audio");
    // Listening fades out in 20 ms; the change itself waits for a block.
    let faded = 96_000 / 25;
    let after = |channels: &[Vec<f32>]| -> Vec<Vec<f32>> {
        channels.iter().map(|channel| channel[faded..].to_vec()).collect()
    };
    assert_same_bits(&after(&output), &after(&input), "bypassed while listening");
}

fn audio_passes_across_reset_and_reactivation<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    let input = noises(2, 20_000, 4);
    for round in 0..3 {
        host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
        for _ in 0..2 {
            let output = host.play(&Take::new(&input)).expect("audio");
            assert_same_bits(&output, &input, &format!("round {round}"));
            host.reset();
        }
        host.deactivate();
        host.deactivate();
    }
}

fn changes_of_every_parameter_while_it_plays_leave_the_audio_alone<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(48_000.0, Layout::StereoWithSideChain)).expect("activation");
    let input = noises(2, 200_000, 5);
    let side_chain = noises(2, 200_000, 6);
    // Listening is meant to change the audio, and so are the feeds: the sum test is off or on the
    // bus here.
    let ids = crate::shown::IDS.into_iter().filter(|id| *id != "listen");
    let changes: Vec<Change<'_>> = ids
        .cycle()
        .zip([1.0, 0.0, 0.5, 0.2].into_iter().cycle())
        .take(190)
        .enumerate()
        .map(|(index, (id, value))| {
            let value = if id == "sum_test" { f64::round(value) } else { value };
            Change { at_frame: 1000 * index + 17, id, value }
        })
        .collect();
    let take = Take::new(&input)
        .with_side_chain(&side_chain)
        .in_blocks(&CHANGING_BLOCKS)
        .with_changes(&changes);
    let output = host.play(&take).expect("audio");
    assert_same_bits(&output, &input, "parameters on the move");
}

/// The framework tells the editor of every change on another thread, which may be late.
fn an_instance_can_go_right_after_its_parameters_moved<H: BuiltFor>(_: &Path) {
    let input = noises(2, 640, 8);
    let changes: Vec<Change<'_>> = (0..640)
        .map(|frame| Change { at_frame: frame, id: "ceiling", value: frame as f64 / 640.0 })
        .collect();
    for _ in 0..300 {
        let mut host = H::load(&H::built()).expect("the plugin");
        host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
        host.play(&Take::new(&input).with_changes(&changes)).expect("audio");
    }
}

in_both_formats!(
    any_bits_pass_at_every_rate_in_every_layout_in_changing_blocks,
    blocks_of_every_length_up_to_8192_pass,
    blocks_longer_than_announced_pass,
    bypass_passes_and_comes_back_within_a_take,
    listening_changes_the_output_and_bypass_overrules_it,
    audio_passes_across_reset_and_reactivation,
    changes_of_every_parameter_while_it_plays_leave_the_audio_alone,
    an_instance_can_go_right_after_its_parameters_moved,
);

#[test]
fn vst3_passes_in_place() {
    alone(|_| {
        let mut host = Vst3Host::load(&Vst3Host::built()).expect("the plugin");
        host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
        let input = any_bits(2, 30_000);
        let take = Take { in_place: true, ..Take::new(&input) };
        assert_same_bits(&host.play(&take).expect("audio"), &input, "in place");
    });
}

#[test]
fn clap_does_not_listen_in_an_offline_render() {
    alone(|_| {
        let mut host = ClapHost::load(&ClapHost::built()).expect("the plugin");
        let audible = host.value_of_text("listen", "Audible band only").expect("a listening mode");
        host.set("listen", audible);
        let setup = Setup { offline: true, ..Setup::new(96_000.0, Layout::Stereo) };
        host.activate(setup).expect("activation");
        let input = noises(2, 96_000, 7);
        let output = host.play(&Take::new(&input)).expect("audio");
        assert_same_bits(&output, &input, "an offline render");

        host.render_offline(false);
        let output = host.play(&Take::new(&input)).expect("audio");
        assert!(output != input, "listening goes on after the render");
        host.render_offline(true);
        let output = host.play(&Take::new(&input)).expect("audio");
        // What is heard fades out in 20 ms.
        let after = |channels: &[Vec<f32>]| channels.iter().map(|c| c[3840..].to_vec()).collect();
        let (output, input): (Vec<_>, Vec<_>) = (after(&output), after(&input));
        assert_same_bits(&output, &input, "a render that begins while the instance is active");
    });
}
