//! Pieces cut out, put in, moved and left off.

use crate::chains;
use crate::real_chains::effects::frame;
use crate::real_chains::kind::Kind;

/// How exactly a cut has to be placed, in seconds.
const CUT_S: f64 = 0.01;

pub(super) const KINDS: &[Kind] = &[
    Kind {
        name: "cut_out",
        done: "2.5 s cut out at 12 s",
        named: &[&["edited"]],
        allowed: &[],
        make: |scene| {
            let mix = scene.mix();
            let made = scene.export(&chains::without(mix, frame(mix, 12.0)..frame(mix, 14.5)))?;
            Ok(made
                .number("edited", "mix_s", 12.0, CUT_S)
                .number("edited", "export_s", 12.0, CUT_S)
                .number("edited", "length_s", 2.5, CUT_S)
                .number("edited", "edits", 1.0, 0.0))
        },
    },
    Kind {
        name: "inserted",
        done: "1.5 s of another piece put in at 8 s",
        named: &[&["edited"]],
        allowed: &[],
        make: |scene| {
            let mix = scene.mix();
            let range = frame(mix, 3.0)..frame(mix, 4.5);
            let part = scene.other.sound.each(|channel| channel[range.clone()].to_vec());
            let made = scene.export(&chains::with_piece(mix, frame(mix, 8.0), &part))?;
            Ok(made
                .number("edited", "mix_s", 8.0, CUT_S)
                .number("edited", "export_s", 8.0, CUT_S)
                .number("edited", "length_s", 1.5, CUT_S)
                .number("edited", "edits", 1.0, 0.0))
        },
    },
    Kind {
        name: "reordered",
        done: "5 to 9 s and 9 to 13 s in the other order",
        named: &[&["reordered"], &["edited"]],
        allowed: &[],
        make: |scene| {
            let mix = scene.mix();
            let at = [5.0, 9.0, 13.0].map(|at_s| frame(mix, at_s));
            scene.export(&mix.each(|channel| {
                let parts = [
                    &channel[..at[0]],
                    &channel[at[1]..at[2]],
                    &channel[at[0]..at[1]],
                    &channel[at[2]..],
                ];
                parts.concat()
            }))
        },
    },
    Kind {
        name: "start_trimmed",
        done: "the first 1.3 s missing",
        named: &[&["trimmed"]],
        allowed: &[],
        make: |scene| {
            let at = frame(scene.mix(), 1.3);
            let made = scene.export(&scene.mix().each(|channel| channel[at..].to_vec()))?;
            Ok(made.late(&[-(at as f64)]).number("trimmed", "start_s", 1.3, CUT_S))
        },
    },
    Kind {
        name: "end_trimmed",
        done: "the last 2 s missing",
        named: &[&["trimmed"]],
        allowed: &[],
        make: |scene| {
            let end = scene.mix().frames() - frame(scene.mix(), 2.0);
            let made = scene.export(&scene.mix().each(|channel| channel[..end].to_vec()))?;
            Ok(made.number("trimmed", "end_s", 2.0, CUT_S))
        },
    },
    Kind {
        name: "silence_appended",
        done: "3 s of silence at the end",
        named: &[&["clean"], &["edited"], &["silence_appended"]],
        allowed: &[],
        make: |scene| {
            let silence = vec![0.0; frame(scene.mix(), 3.0)];
            scene.export(&scene.mix().each(|channel| [channel, &silence].concat()))
        },
    },
];
