//! Word lengths and sample rates.

use std::io::Result;
use std::path::Path;

use crate::chains;
use crate::memory::Memory;
use crate::real_chains::effects::{added, factor};
use crate::real_chains::kind::{Kind, Made, Scene};
use crate::real_chains::tools;
use crate::signals::noise::gaussian;

const SHORTENED: &[&[&str]] = &[&["word_length"]];

/// A conversion and back leaves what the pieces hold as it was; where something above 20 kHz is lost,
/// that is the band's end.
const THERE_AND_BACK: &[&[&str]] = &[&["rate_converted"], &["band_limited"], &["clean"]];

pub(super) const KINDS: &[Kind] = &[
    Kind {
        name: "16_bits",
        done: "24 → 16 bits, rounded",
        named: SHORTENED,
        allowed: &[],
        make: |scene| shortened(scene, scene.mix(), 0),
    },
    Kind {
        name: "16_bits_dither",
        done: "24 → 16 bits, triangular dither",
        named: SHORTENED,
        allowed: &[],
        make: |scene| shortened(scene, scene.mix(), 2),
    },
    Kind {
        name: "16_bits_low",
        done: "24 → 16 bits, triangular dither, of a mix 40 dB lower",
        named: SHORTENED,
        allowed: &[],
        make: |scene| {
            let low = scene.mix().map(|x| factor(-40.0) * x);
            let mix = scene.own_mix(&low)?;
            Ok(Made { mix, ..shortened(scene, &low, 2)? })
        },
    },
    Kind {
        name: "16_bits_shaped",
        done: "24 → 16 bits, shaped dither, by sox",
        named: SHORTENED,
        allowed: &[],
        make: |scene| {
            let made = scene.made(scene.file("export.wav"));
            tools::sox(&made.mix, &["-b", "16"], &made.export, &["dither", "-s"])?;
            Ok(to_16(made))
        },
    },
    Kind {
        name: "to_44",
        done: "48 → 44.1 kHz, by sox",
        named: &[&["rate_converted"]],
        allowed: &["band_limited"],
        make: |scene| scene.sox(&["rate", "-v", "44100"]),
    },
    Kind {
        name: "to_44_and_back",
        done: "48 → 44.1 → 48 kHz, by sox",
        named: THERE_AND_BACK,
        allowed: &[],
        make: |scene| scene.sox(&["rate", "-v", "44100", "rate", "-v", "48000"]),
    },
    Kind {
        name: "to_44_and_back_ffmpeg",
        done: "48 → 44.1 → 48 kHz, by ffmpeg",
        named: THERE_AND_BACK,
        allowed: &[],
        make: |scene| scene.ffmpeg("aresample=44100,aresample=48000"),
    },
    Kind {
        name: "96_to_48",
        done: "96 → 48 kHz, by sox, with noise of −75 dBFS above 24 kHz lost",
        named: &[&["rate_converted"]],
        allowed: &["band_limited"],
        make: |scene| {
            from_96(scene, |mix, export| {
                tools::sox(mix, &["-b", "24"], export, &["rate", "-v", "48000"])
            })
        },
    },
    Kind {
        name: "96_to_48_ffmpeg",
        done: "the same by ffmpeg",
        named: &[&["rate_converted"]],
        allowed: &["band_limited"],
        make: |scene| {
            let filter = ["-af", "aresample=48000:resampler=soxr", "-c:a", "pcm_s24le"];
            from_96(scene, |mix, export| tools::ffmpeg(mix, &filter, export))
        },
    },
];

/// A mix in words of 16 bits with so many layers of rectangular dither.
fn shortened(scene: &Scene, mix: &Memory, layers: u64) -> Result<Made> {
    Ok(to_16(scene.export_words(&chains::quantised(mix, 16, layers), 16)?))
}

fn to_16(made: Made) -> Made {
    made.number("word_length", "mix_bits", 24.0, 0.0).number(
        "word_length",
        "export_bits",
        16.0,
        0.0,
    )
}

/// A mix at 96 kHz that holds something above 24 kHz, converted.
fn from_96(scene: &Scene, convert: impl Fn(&Path, &Path) -> Result<()>) -> Result<Made> {
    let mut wide = scene.mix().each(|channel| chains::resampled(channel, 2, 1));
    wide.rate_hz = 96_000;
    let high = |seed: u64| {
        let noise: Vec<f64> = (0..wide.frames() as u64).map(|n| gaussian(seed, n)).collect();
        chains::shaped(&noise, |share| if share > 0.26 { 1.0 } else { 0.0 })
    };
    let noise = wide.with(vec![high(3), high(4)]);
    let mut made = scene.made(scene.file("export.wav"));
    made.mix = scene.own_mix(&added(&wide, &noise, 0, factor(-75.0)))?;
    convert(&made.mix, &made.export)?;
    Ok(made)
}
