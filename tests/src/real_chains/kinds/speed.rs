//! Speed and clocks.

use std::io::Result;

use crate::chains;
use crate::real_chains::kind::{Kind, Made, Scene};

/// The converter's low-pass takes what there is next to half the rate, be it noise.
const CONVERTED: &[&str] = &["band_limited"];

pub(super) const KINDS: &[Kind] = &[
    Kind {
        name: "speed_01",
        done: "0.1 % faster, the pitch with it",
        named: &[&["speed"], &["drift"]],
        allowed: CONVERTED,
        make: |scene| played_at(scene, 48_048),
    },
    Kind {
        name: "speed_04",
        done: "0.4 % faster, the pitch with it",
        named: &[&["speed"], &["drift"]],
        allowed: CONVERTED,
        make: |scene| played_at(scene, 48_192),
    },
    Kind {
        name: "speed_25_24",
        done: "25/24 as fast, the pitch with it",
        named: &[&["speed"], &["drift"]],
        allowed: CONVERTED,
        make: |scene| played_at(scene, 50_000),
    },
    Kind {
        name: "speed_24_25",
        done: "24/25 as fast, the pitch with it",
        named: &[&["speed"], &["drift"]],
        allowed: CONVERTED,
        make: |scene| played_at(scene, 46_080),
    },
    Kind {
        name: "tempo",
        done: "25/24 as fast, the pitch kept, by ffmpeg",
        named: &[&["speed"]],
        allowed: &[],
        make: |scene| {
            let made = scene.ffmpeg("atempo=1.0416666667")?.any_gain().late(&[]);
            Ok(made.faster_within(100.0 / 24.0, 0.05).number("speed", "pitch_kept", 1.0, 0.0))
        },
    },
    Kind {
        name: "drift",
        done: "a clock 20 ppm slow",
        named: &[&["drift"], &["speed"]],
        allowed: &[],
        make: |scene| {
            let slow = scene.mix().each(|channel| chains::resampled(channel, 50_001, 50_000));
            Ok(scene.export(&slow)?.faster(100.0 * (50_000.0 / 50_001.0 - 1.0)))
        },
    },
];

/// The mix as if its rate had been this one, by ffmpeg's converter of highest quality.
fn played_at(scene: &Scene, rate_hz: u32) -> Result<Made> {
    let filters = format!("asetrate={rate_hz},aresample=48000:resampler=soxr:precision=28");
    let percent = 100.0 * (f64::from(rate_hz) / f64::from(scene.mix().rate_hz) - 1.0);
    Ok(scene.ffmpeg(&filters)?.faster(percent).number("speed", "pitch_kept", 0.0, 0.0))
}
