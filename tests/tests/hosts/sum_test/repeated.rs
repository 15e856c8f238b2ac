//! The loop in the plugin: feeds that are the pattern, and a bus whose entries tell what it does.

use std::path::Path;

use ledgerline_measure::entries::change::What;
use ledgerline_measure::sum_test::{Feed, NoiseKind, Pattern};
use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{Cue, Layout, Setup, Take};
use ledgerline_tests::watched::Instance;

use super::{choose, name};
use crate::material::{CHANGING_BLOCKS, assert_same_bits, noises};

const RATE_HZ: f64 = 48_000.0;

fn pattern(noise: NoiseKind, each_s: f64) -> Pattern {
    Pattern::new(RATE_HZ as u32, noise, each_s).expect("a pattern")
}

fn played(pattern: &Pattern, feed: Feed, from: i64, frames: usize) -> Vec<f32> {
    let mut samples = vec![0.0; frames];
    pattern.fill(feed, from, -20.0, &mut samples);
    samples
}

/// Wherever the transport runs, before the project's beginning too, and however blocks are cut.
fn a_loop_is_the_pattern_bit_for_bit<H: BuiltFor>(_: &Path) {
    for (feed, plays, noise) in [
        (Feed::One, "Loop, uniform noise", NoiseKind::Uniform),
        (Feed::Two, "Loop, pink noise", NoiseKind::Pink),
    ] {
        let mut host = H::load(&H::built()).expect("the plugin");
        choose(&mut host, "sum_test", name(feed));
        choose(&mut host, "feeds_play", plays);
        choose(&mut host, "loop_pair", "2 s");
        host.activate(Setup::new(RATE_HZ, Layout::Stereo)).expect("activation");
        let from = -100_000;
        let cues = [Cue { at_frame: 0, to: Some(from) }];
        let frames = 400_000;
        let take = noises(2, frames, 53);
        let take = Take::new(&take).with_cues(&cues).in_blocks(&CHANGING_BLOCKS);
        let output = host.play(&take).expect("audio");
        let expected = played(&pattern(noise, 2.0), feed, from, frames);
        for channel in output {
            // Behind the fade from the input.
            let (heard, expected) = (channel[960..].to_vec(), expected[960..].to_vec());
            assert_same_bits(&[heard], &[expected], plays);
        }
    }
}

/// A round and the beginning of the next on a bus, both feeds in the middle.
#[test]
fn the_entries_of_a_bus_tell_what_the_loop_does() {
    for noise in NoiseKind::ALL {
        let pattern = pattern(noise, 6.0);
        let frames = 30 * RATE_HZ as usize;
        let two = played(&pattern, Feed::Two, 0, frames);
        let one = played(&pattern, Feed::One, 0, frames);
        let sum: Vec<f32> = one.iter().zip(&two).map(|(one, two)| one + two).collect();
        // What each pair after the first is named, or is among others; the first again at the end.
        let expected = [What::Decorrelated, What::Copy, What::Null, What::SourceAdded];
        for (expected, pairs) in expected.into_iter().zip(2..) {
            let heard = &sum[..pairs * 6 * RATE_HZ as usize];
            let entries = Instance::new(RATE_HZ, 2).play(&[heard, heard]).watched().entries;
            let change = &entries.latest.as_ref().expect("a change").change;
            let told = change.what == expected || change.or.contains(&expected);
            assert!(told, "{noise:?}, pair {pairs}: {:?}, {}", change.what, change.sentence);
            let late = change.sentence.contains("0.100 s late");
            assert_eq!(late, pairs == 3, "{noise:?}, pair {pairs}: {}", change.sentence);
        }
    }
}

in_both_formats!(a_loop_is_the_pattern_bit_for_bit);
