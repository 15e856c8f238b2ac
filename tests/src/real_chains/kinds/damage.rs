//! Samples lost, repeated and wrong.

use std::io::{Error, Result};

use crate::real_chains::effects::{frame, moments};
use crate::real_chains::kind::{Kind, Made, Scene};
use crate::signals::noise::uniform;

/// Frames of a buffer.
const BUFFER: usize = 512;

pub(super) const KINDS: &[Kind] = &[
    Kind {
        name: "buffer_twice",
        done: "a buffer of 512 samples played twice, all after it late",
        named: &[&["repeated"], &["edited"]],
        allowed: &["dropout"],
        make: |scene| {
            let at = frame(scene.mix(), 10.0);
            let made = scene.export(
                &scene.mix().each(|channel| [&channel[..at + BUFFER], &channel[at..]].concat()),
            )?;
            Ok(made.number("edited", "mix_s", 10.0, 0.011).number(
                "edited",
                "length_s",
                BUFFER as f64 / 48_000.0,
                0.001,
            ))
        },
    },
    Kind {
        name: "buffer_stuck",
        done: "a buffer of 512 samples in place of the next one",
        named: &[&["repeated"], &["dropout"], &["edited"]],
        allowed: &["wrong_samples"],
        make: |scene| {
            let at = frame(scene.mix(), 10.0);
            scene.export(&scene.mix().each(|channel| {
                let mut channel = channel.to_vec();
                channel.copy_within(at..at + BUFFER, at + BUFFER);
                channel
            }))
        },
    },
    Kind {
        name: "dropout",
        done: "40 samples of silence in both channels, once",
        named: &[&["dropout"]],
        allowed: &[],
        make: |scene| dropped(scene, 1, 40),
    },
    Kind {
        name: "dropouts_150",
        done: "64 samples of silence in both channels, 150 times",
        named: &[&["dropout"]],
        allowed: &[],
        make: |scene| dropped(scene, 150, 64),
    },
    Kind {
        name: "wrong_samples",
        done: "5 samples of any value",
        named: &[&["wrong_samples"]],
        allowed: &[],
        make: |scene| {
            let mut export = scene.mix().clone();
            for (index, at) in (0u64..).zip(moments(scene.mix(), 5, 40)) {
                export.channels[index as usize % 2][at] = 0.9 * uniform(77, index);
            }
            scene.export(&export)
        },
    },
];

/// The mix with dropouts.
fn dropped(scene: &Scene, count: usize, length: usize) -> Result<Made> {
    let mut export = scene.mix().clone();
    let moments = moments(scene.mix(), count, length);
    let first = *moments.first().ok_or_else(|| Error::other("nothing plays in the mix"))?;
    for at in moments {
        for channel in &mut export.channels {
            channel[at..at + length].fill(0.0);
        }
    }
    let made = scene.export(&export)?;
    Ok(made.number("dropout", "export_s", first as f64 / 48_000.0, 0.01))
}
