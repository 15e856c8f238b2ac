//! Gain, polarity, channels and delay of a whole path.

use crate::chains;
use crate::real_chains::effects::{added, factor, late_in, widened};
use crate::real_chains::kind::{Kind, Made};

pub(super) const KINDS: &[Kind] = &[
    Kind {
        name: "identical",
        done: "nothing",
        named: &[&["clean"]],
        allowed: &[],
        make: |scene| scene.export(scene.mix()),
    },
    Kind {
        name: "gain_down",
        done: "gain −3.7 dB",
        named: &[&["gain"]],
        allowed: &[],
        make: |scene| Ok(scene.export(&scene.mix().map(|x| factor(-3.7) * x))?.gain(-3.7)),
    },
    Kind {
        name: "gain_up",
        done: "gain +0.3 dB, by sox",
        named: &[&["gain"]],
        allowed: &[],
        make: |scene| Ok(scene.sox(&["gain", "0.3"])?.gain(0.3)),
    },
    Kind {
        name: "polarity",
        done: "polarity inverted",
        named: &[&["polarity_inverted"]],
        allowed: &[],
        make: |scene| scene.export(&scene.mix().map(|x| -x)),
    },
    Kind {
        name: "polarity_right",
        done: "polarity of the right channel inverted",
        named: &[&["polarity_inverted"]],
        allowed: &["channels_changed"],
        make: |scene| {
            let mut export = scene.mix().clone();
            export.channels[1].iter_mut().for_each(|x| *x = -*x);
            Ok(scene.export(&export)?.matrix(&[&[1.0, 0.0], &[0.0, -1.0]]))
        },
    },
    Kind {
        name: "swap",
        done: "left and right swapped",
        named: &[&["channels_changed"], &["channel_order"]],
        allowed: &[],
        make: |scene| {
            let [left, right] = [0, 1].map(|side| scene.mix().channels[side].clone());
            let made = scene.export(&scene.mix().with(vec![right, left]))?;
            Ok(made.matrix(&[&[0.0, 1.0], &[1.0, 0.0]]))
        },
    },
    Kind {
        name: "mono_fold",
        done: "both channels replaced by half their sum",
        named: &[&["channels_changed"], &["downmix"]],
        allowed: &[],
        make: |scene| {
            let made = scene.export(&widened(scene.mix(), 1.0, 0.0))?;
            Ok(made.matrix(&[&[0.5, 0.5], &[0.5, 0.5]]))
        },
    },
    Kind {
        name: "left_only",
        done: "right channel silent",
        named: &[&["channels_changed"], &["channel_missing"]],
        allowed: &[],
        make: |scene| {
            let mut export = scene.mix().clone();
            export.channels[1].fill(0.0);
            Ok(scene.export(&export)?.matrix(&[&[1.0, 0.0], &[0.0, 0.0]]))
        },
    },
    Kind {
        name: "widened",
        done: "side +3 dB, middle as it was",
        named: &[&["channels_changed"], &["widened"]],
        allowed: &[],
        make: |scene| {
            let side = factor(3.0);
            let made = scene.export(&widened(scene.mix(), 1.0, side))?;
            let [own, other] = [0.5 * (1.0 + side), 0.5 * (1.0 - side)];
            Ok(made.any_gain().matrix(&[&[own, other], &[other, own]]))
        },
    },
    Kind {
        name: "late_silence",
        done: "1 234 samples of silence in front",
        named: &[&["delay"]],
        allowed: &[],
        make: |scene| {
            let late = scene.mix().each(|channel| [&vec![0.0; 1_234], channel].concat());
            Ok(scene.export(&late)?.late(&[1_234.0]))
        },
    },
    Kind {
        name: "late_fraction",
        done: "0.37 samples late",
        named: &[&["delay"]],
        allowed: &[],
        make: |scene| {
            let late = scene.mix().each(|channel| chains::delayed(channel, 0.37));
            Ok(scene.export(&late)?.late(&[0.37]))
        },
    },
    Kind {
        name: "right_late_17",
        done: "right channel 17 samples late",
        named: &[&["channel_delay"]],
        allowed: &[],
        make: |scene| Ok(right_late(scene.export(&late_in(scene.mix(), 1, 17))?, 17.0)),
    },
    Kind {
        name: "right_late_1_ms",
        done: "right channel 1 ms late",
        named: &[&["channel_delay"]],
        allowed: &[],
        make: |scene| Ok(right_late(scene.export(&late_in(scene.mix(), 1, 48))?, 48.0)),
    },
    Kind {
        name: "right_late_fraction",
        done: "right channel 0.3 samples late",
        named: &[&["channel_delay"]],
        allowed: &[],
        make: |scene| {
            let mut export = scene.mix().clone();
            let frames = export.frames();
            export.channels[1] = chains::delayed(&export.channels[1], 0.3);
            export.channels[1].truncate(frames);
            Ok(right_late(scene.export(&export)?, 0.3))
        },
    },
    Kind {
        name: "dc",
        done: "DC of −40 dBFS added",
        named: &[&["hidden"], &["dc_added"]],
        allowed: &[],
        make: |scene| {
            let dc = scene.mix().with(vec![vec![1.0; scene.mix().frames()]]);
            scene.export(&added(scene.mix(), &dc, 0, 0.01))
        },
    },
];

/// An export whose right channel is late. It is as true that the left one is early, and that the
/// whole is as late as either.
fn right_late(made: Made, samples: f64) -> Made {
    let either = [samples, -samples];
    made.late(&[0.0, samples]).one_of("channel_delay", "delay_samples", &either, 0.02)
}
