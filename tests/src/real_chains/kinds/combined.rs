//! Several steps one after the other.

use crate::chains;
use crate::real_chains::effects::{belled, factor, frame};
use crate::real_chains::kind::Kind;
use crate::real_chains::tools;
use crate::wav;

pub(super) const KINDS: &[Kind] = &[
    Kind {
        name: "mastered",
        done: "bell of +3 dB at 3 kHz, limiter, AAC of 192 kbit/s and back",
        named: &[&["equalised", "limiting", "lossy_coding"]],
        // The gain does move.
        allowed: &["band_limited", "noise_added", "gain_moves"],
        make: |scene| {
            let equalised = belled(scene.mix(), 3_000.0, 1.0, 3.0);
            let limited = chains::limited(&equalised, 0.5 * factor(-4.0), 0.08);
            let [before, coded] = [scene.file("before.wav"), scene.file("coded.m4a")];
            wav::write_words(&before, 24, &limited)?;
            let made = scene.made(scene.file("export.wav"));
            tools::ffmpeg(&before, &["-c:a", "aac", "-b:a", "192k"], &coded)?;
            tools::ffmpeg(&coded, &["-c:a", "pcm_s24le"], &made.export)?;
            Ok(made)
        },
    },
    Kind {
        name: "delivered",
        done: "480 samples late, −2.5 dB, 16 bits with triangular dither",
        named: &[&["delay", "gain", "word_length"]],
        allowed: &[],
        make: |scene| {
            let late = scene.mix().each(|channel| [&vec![0.0; 480], channel].concat());
            let export = chains::quantised(&late.map(|x| factor(-2.5) * x), 16, 2);
            Ok(scene.export_words(&export, 16)?.gain(-2.5).late(&[480.0]))
        },
    },
    Kind {
        name: "cut_and_filtered",
        done: "high-pass of second order at 100 Hz, then 2 s cut out at 11 s",
        named: &[&["equalised", "edited"]],
        allowed: &[],
        make: |scene| {
            let mix = scene.mix();
            let cut = chains::without(mix, frame(mix, 11.0)..frame(mix, 13.0));
            let before = scene.file("before.wav");
            wav::write_words(&before, 24, &cut)?;
            let made = scene.made(scene.file("export.wav"));
            tools::sox(&before, &["-b", "24"], &made.export, &["highpass", "100", "0.707q"])?;
            Ok(made.number("edited", "mix_s", 11.0, 0.01).number("edited", "length_s", 2.0, 0.01))
        },
    },
];
