//! Instances that play a feed.

use std::path::Path;

use ledgerline_measure::sum_test::Feed;
use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{Change, Cue, Layout, Setup, Take};

use super::{choose, name, pure, schedule};
use crate::material::{CHANGING_BLOCKS, RATES_HZ, any_bits, assert_same_bits, noises};

/// Frames after which any fade is over at 48 kHz.
const FADE_FRAMES: usize = 960;

fn player<H: BuiltFor>(feed: Feed, setup: Setup) -> H {
    let mut host = H::load(&H::built()).expect("the plugin");
    choose(&mut host, "sum_test", name(feed));
    if setup.offline {
        host.set("feed_offline", 1.0);
    }
    host.activate(setup).expect("activation");
    host
}

fn a_feed_is_the_pure_function_bit_for_bit<H: BuiltFor>(_: &Path) {
    for rate_hz in RATES_HZ {
        // Markers, floor and the first step.
        let frames = (8.0 * rate_hz) as usize;
        for feed in [Feed::One, Feed::Two] {
            let expected = pure(feed, rate_hz, 0, frames);
            for (layout, offline) in [(Layout::Stereo, false), (Layout::Mono, true)] {
                let setup = Setup { offline, ..Setup::new(rate_hz, layout) };
                let mut host: H = player(feed, setup);
                let input = any_bits(layout.main_channels(), frames);
                let output =
                    host.play(&Take::new(&input).in_blocks(&CHANGING_BLOCKS)).expect("audio");
                let expected = vec![expected.clone(); layout.main_channels()];
                let what = format!("{feed:?} at {rate_hz} Hz, offline: {offline}");
                assert_same_bits(&output, &expected, &what);
            }
        }
    }
}

fn a_whole_feed_is_the_pure_function_bit_for_bit<H: BuiltFor>(_: &Path) {
    let frames = schedule(48_000.0).length_frames() as usize + 10_000;
    for feed in [Feed::One, Feed::Two] {
        let mut host: H = player(feed, Setup::new(48_000.0, Layout::Mono));
        let input = vec![vec![0.25; frames]];
        let output = host.play(&Take::new(&input).in_blocks(&[441, 512])).expect("audio");
        assert_same_bits(&output, &[pure(feed, 48_000.0, 0, frames)], &format!("{feed:?}"));
    }
}

/// Two instances that are told to jump, loop and stop agree all the way, and with the function
/// wherever a fade is over.
fn feeds_follow_the_transport<H: BuiltFor>(_: &Path) {
    let setup = Setup::new(48_000.0, Layout::Mono);
    let (first, second) = (250_000, 990_000);
    let cues = [
        Cue { at_frame: 0, to: None },
        Cue { at_frame: 5_000, to: Some(first) },
        Cue { at_frame: 30_000, to: Some(second) },
        Cue { at_frame: 60_123, to: Some(second) },
        Cue { at_frame: 80_000, to: None },
        Cue { at_frame: 90_000, to: Some(-500) },
    ];
    let input = noises(1, 100_000, 50);
    let play = |blocks: &[usize]| {
        let mut host: H = player(Feed::One, setup);
        let take = Take::new(&input).with_cues(&cues).in_blocks(blocks);
        host.play(&take).expect("audio").remove(0)
    };
    let output = play(&[512]);
    assert_same_bits(&[play(&CHANGING_BLOCKS)], std::slice::from_ref(&output), "in other blocks");
    assert!(output[..5_000].iter().all(|x| *x == 0.0), "sound while the transport stood");
    for (start, end, from) in
        [(5_000, 30_000, first), (30_000, 60_123, second), (60_123, 80_000, second)]
    {
        let expected = pure(Feed::One, 48_000.0, from as u64, end - start);
        let exact = start + FADE_FRAMES..end;
        assert_same_bits(
            &[output[exact].to_vec()],
            &[expected[FADE_FRAMES..].to_vec()],
            &format!("from frame {start} on"),
        );
        assert!(output[start].abs() < 0.1, "no fade at {start}");
    }
    assert!(output[80_000 + FADE_FRAMES..90_500].iter().all(|x| *x == 0.0), "after the stop");
}

fn a_feed_is_off_in_an_offline_render_unless_asked<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    choose(&mut host, "sum_test", "Feed 1");
    host.activate(Setup { offline: true, ..Setup::new(48_000.0, Layout::Stereo) })
        .expect("activation");
    let input = any_bits(2, 300_000);
    let output = host.play(&Take::new(&input)).expect("audio");
    assert_same_bits(&output, &input, "an offline render");
}

fn no_feed_is_louder_than_its_limit<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    choose(&mut host, "sum_test", "Feed 2");
    assert!(host.text("feed_level", 1.0).starts_with("−6.0"), "{}", host.text("feed_level", 1.0));
    let started = host.value("feed_level");
    assert!(host.text("feed_level", started).starts_with("−20.0"), "the level it starts at");
    host.set("feed_level", 1.0);
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    let input = noises(2, 700_000, 51);
    let output = host.play(&Take::new(&input)).expect("audio");
    let limit = 10f32.powf(-6.0 / 20.0);
    let largest = output.iter().flatten().fold(0f32, |held, x| held.max(x.abs()));
    assert!(largest <= limit && largest > 0.99 * limit, "{largest}");
}

fn switched_on_and_off_while_it_plays_all_bits_pass_again<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    let on = host.value_of_text("sum_test", "Feed 1").expect("a feed");
    let changes = [
        Change { at_frame: 240_000, id: "sum_test", value: on },
        Change { at_frame: 264_000, id: "sum_test", value: 0.0 },
    ];
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    let input = any_bits(2, 300_000);
    let output = host.play(&Take::new(&input).with_changes(&changes)).expect("audio");
    let part = |channels: &[Vec<f32>], range: std::ops::Range<usize>| -> Vec<Vec<f32>> {
        channels.iter().map(|channel| channel[range.clone()].to_vec()).collect()
    };
    let (before, after) = (0..240_000 - 512, 264_000 + 512 + FADE_FRAMES..300_000);
    assert_same_bits(&part(&output, before.clone()), &part(&input, before), "before");
    assert_same_bits(&part(&output, after.clone()), &part(&input, after), "after");
    let during = 240_000 + 512 + FADE_FRAMES..264_000 - 512;
    let expected = pure(Feed::One, 48_000.0, during.start as u64, during.len());
    assert_same_bits(&part(&output, during), &[expected.clone(), expected], "during");
}

fn a_feed_is_silent_until_the_transport_plays<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    choose(&mut host, "sum_test", "Feed 1");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    let cues = [Cue { at_frame: 0, to: None }, Cue { at_frame: 48_000, to: Some(250_000) }];
    let input = noises(2, 60_000, 52);
    let output = host.play(&Take::new(&input).with_cues(&cues)).expect("audio");
    for channel in output {
        assert!(channel[..48_000].iter().all(|x| *x == 0.0), "sound on its own");
        assert!(channel[48_000..48_048].iter().all(|x| x.abs() < 0.002), "no fade in");
        assert!(channel[50_000..].iter().any(|x| x.abs() > 0.05), "no feed");
    }
}

in_both_formats!(
    a_feed_is_the_pure_function_bit_for_bit,
    a_whole_feed_is_the_pure_function_bit_for_bit,
    feeds_follow_the_transport,
    a_feed_is_off_in_an_offline_render_unless_asked,
    no_feed_is_louder_than_its_limit,
    switched_on_and_off_while_it_plays_all_bits_pass_again,
    a_feed_is_silent_until_the_transport_plays,
);
