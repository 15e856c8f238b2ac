//! Something else: other programmes, and what is mixed over.

use crate::real_chains::effects::{added, factor, frame};
use crate::real_chains::kind::{Kind, Made};
use crate::real_chains::tools;
use crate::signals::session;

const NOT_THE_SAME: &[&[&str]] = &[&["not_the_same"]];

/// How exactly the ends of spoken words can be told, in seconds.
const SPOKEN_S: f64 = 0.3;

pub(super) const KINDS: &[Kind] = &[
    Kind {
        name: "voice_over",
        done: "6 s of speech mixed over, from 5 s on",
        named: &[&["second_programme"], &["edited"]],
        allowed: &[],
        make: |scene| {
            let mix = scene.mix();
            let end = frame(scene.voice, 6.0);
            let words = scene.voice.each(|channel| channel[..end].to_vec());
            let peak = words.channels[0].iter().fold(1e-9, |held: f64, x| held.max(x.abs()));
            let made = scene.export(&added(mix, &words, frame(mix, 5.0), 0.4 / peak))?;
            Ok(made.number("second_programme", "from_s", 5.0, SPOKEN_S).number(
                "second_programme",
                "to_s",
                11.0,
                1.0,
            ))
        },
    },
    Kind {
        name: "other_programme",
        done: "another piece",
        named: NOT_THE_SAME,
        allowed: &[],
        make: |scene| Ok(scene.made(scene.other.file.clone())),
    },
    Kind {
        name: "shared_loop",
        done: "another piece over the same loop, which is as high as each",
        named: NOT_THE_SAME,
        allowed: &[],
        make: |scene| {
            let bar = session::play(9, scene.mix().rate_hz, 2.0);
            let bars = scene.mix().frames().div_ceil(bar.frames());
            let loops = bar.each(|channel| channel.repeat(bars));
            let gain = factor(-6.0);
            let [mix, export] = [scene.mix(), &scene.other.sound]
                .map(|sound| added(&sound.map(|x| gain * x), &loops, 0, 0.5 * gain));
            let mix = scene.own_mix(&mix)?;
            let made = scene.export(&export)?;
            Ok(Made { mix, ..made })
        },
    },
    Kind {
        name: "other_take",
        done: "1.3 % faster with the pitch kept, and the halves of the band out of tune by 12 cents",
        named: &[&["not_the_same"], &["speed"]],
        allowed: &[],
        make: |scene| {
            let made = scene.made(scene.file("export.wav"));
            let filter = "asplit[a][b];\
                [a]lowpass=f=900,rubberband=tempo=1.013:pitch=1.00348[low];\
                [b]highpass=f=900,rubberband=tempo=1.013:pitch=0.99654[high];\
                [low][high]amix=inputs=2:normalize=0";
            let options = ["-filter_complex", filter, "-c:a", "pcm_s24le"];
            tools::ffmpeg(&made.mix, &options, &made.export)?;
            Ok(made.any_gain().late(&[]).faster_within(1.3, 0.1))
        },
    },
];
