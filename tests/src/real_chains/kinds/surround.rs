//! Six channels: left, right, centre, low frequencies, both surrounds.

use std::io::Result;

use crate::chains;
use crate::memory::Memory;
use crate::real_chains::kind::{Kind, Made, Scene};

/// Centre and surrounds in the usual fold to stereo (ITU-R BS.775): −3 dB.
const FOLDED: f64 = std::f64::consts::FRAC_1_SQRT_2;

pub(super) const KINDS: &[Kind] = &[
    Kind {
        name: "downmix",
        done: "5.1 folded to stereo, centre and surrounds at −3 dB",
        named: &[&["downmix"], &["channels_changed"]],
        allowed: &[],
        make: |scene| {
            let rows: [&[f64]; 2] =
                [&[1.0, 0.0, FOLDED, 0.0, FOLDED, 0.0], &[0.0, 1.0, FOLDED, 0.0, 0.0, FOLDED]];
            mapped(scene, &rows)
        },
    },
    Kind {
        name: "channel_order",
        done: "5.1 as left, centre, right, surrounds, low frequencies",
        named: &[&["channel_order"], &["channels_changed"]],
        allowed: &[],
        make: |scene| {
            let rows: Vec<[f64; 6]> = [0, 2, 1, 4, 5, 3].map(only).to_vec();
            mapped(scene, &rows.iter().map(<[f64; 6]>::as_slice).collect::<Vec<_>>())
        },
    },
    Kind {
        name: "low_frequencies_missing",
        done: "5.1 with a silent channel of low frequencies",
        named: &[&["channel_missing"], &["channels_changed"]],
        allowed: &[],
        make: |scene| {
            let mut rows = [0, 1, 2, 3, 4, 5].map(only);
            rows[3][3] = 0.0;
            mapped(scene, &rows.iter().map(<[f64; 6]>::as_slice).collect::<Vec<_>>())
        },
    },
];

/// A row that takes one channel.
fn only(channel: usize) -> [f64; 6] {
    std::array::from_fn(|index| if index == channel { 1.0 } else { 0.0 })
}

/// Six channels as the mix, and as its export what this matrix makes of them.
fn mapped(scene: &Scene, rows: &[&[f64]]) -> Result<Made> {
    let mix = six(scene);
    let row = |row: &&[f64]| {
        let sample =
            |n: usize| row.iter().zip(&mix.channels).map(|(gain, from)| gain * from[n]).sum();
        (0..mix.frames()).map(sample).collect()
    };
    let made = scene.export(&mix.with(rows.iter().map(row).collect()))?;
    Ok(Made { mix: scene.own_mix(&mix)?, ..made }.matrix(rows))
}

/// Six channels: the piece in front, a voice in the middle, another piece's low end, and that piece
/// around. The headroom is that of the fold.
fn six(scene: &Scene) -> Memory {
    let scaled =
        |channel: &[f64], gain: f64| channel.iter().map(|x| gain * x).collect::<Vec<f64>>();
    let [left, right] = [0, 1].map(|side| scaled(&scene.mix().channels[side], 0.7));
    let [around_left, around_right] =
        [0, 1].map(|side| scaled(&scene.other.sound.channels[side], 0.4));
    let mut centre = scaled(&scene.voice.channels[0], 0.4);
    centre.resize(left.len(), 0.0);
    let edge = 120.0 / f64::from(scene.mix().rate_hz);
    let low = chains::cut_off(&around_left, edge);
    let channels = vec![left, right, centre, low, around_left, around_right];
    chains::quantised(&scene.mix().with(channels), 24, 0)
}
