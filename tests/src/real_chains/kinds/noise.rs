//! Noise and hum, added and taken away.

use std::f64::consts::TAU;

use crate::memory::Memory;
use crate::real_chains::effects::{added, factor};
use crate::real_chains::kind::{Kind, Scene};
use crate::real_chains::tools;
use crate::signals::noise::gaussian;

pub(super) const KINDS: &[Kind] = &[
    Kind {
        name: "noise_added",
        done: "white noise of −60 dBFS added",
        named: &[&["noise_added"]],
        allowed: &[],
        make: |scene| scene.export(&added(scene.mix(), &white(scene), 0, factor(-60.0))),
    },
    Kind {
        name: "hum_added",
        done: "hum of 50, 100 and 150 Hz added, −50 dBFS each",
        named: &[&["noise_added"], &["hum_added"]],
        allowed: &["second_programme"],
        make: |scene| {
            let hum = |n: usize| -> f64 {
                let phase = TAU * n as f64 / f64::from(scene.mix().rate_hz);
                [50.0, 100.0, 150.0].iter().map(|hz| (hz * phase).sin()).sum()
            };
            let hum = scene.mix().with(vec![(0..scene.mix().frames()).map(hum).collect()]);
            scene.export(&added(scene.mix(), &hum, 0, 2f64.sqrt() * factor(-50.0)))
        },
    },
    Kind {
        name: "denoised",
        done: "a noise of −50 dBFS in the mix reduced, by ffmpeg",
        named: &[&["denoised"]],
        // Above the music there was noise alone, and now there is less.
        allowed: &["band_limited"],
        make: |scene| {
            let noisy = added(scene.mix(), &white(scene), 0, factor(-50.0));
            let mut made = scene.made(scene.file("export.wav"));
            made.mix = scene.own_mix(&noisy)?;
            // The filter comes 1200 samples late.
            let chain = "apad=pad_len=1200,afftdn=nr=20:nf=-50,atrim=start_sample=1200";
            let filter = ["-af", chain, "-c:a", "pcm_s24le"];
            tools::ffmpeg(&made.mix, &filter, &made.export)?;
            Ok(made)
        },
    },
];

/// White noise of RMS 1, another one in each channel.
fn white(scene: &Scene) -> Memory {
    let noise = |seed: u64| (0..scene.mix().frames() as u64).map(|n| gaussian(seed, n)).collect();
    scene.mix().with(vec![noise(1), noise(2)])
}
