//! Gain that depends on the level or on time.

use crate::chains;
use crate::real_chains::effects::{factor, ridden};
use crate::real_chains::kind::Kind;

/// How exactly a place within a fade can be told, in seconds: near its end that is loud it is flat.
const FADE_S: f64 = 0.3;
/// How exactly a ride's ends can be told, in seconds.
const RIDE_S: f64 = 0.01;

pub(super) const KINDS: &[Kind] = &[
    Kind {
        name: "limiter",
        done: "limiter with look-ahead, down to 4 dB below the peak",
        named: &[&["limiting"]],
        allowed: &["gain_moves"],
        make: |scene| scene.export(&chains::limited(scene.mix(), 0.5 * factor(-4.0), 0.08)),
    },
    Kind {
        name: "compressor",
        done: "compressor, 3 : 1 above −26 dBFS, by ffmpeg",
        named: &[&["compressed"], &["limiting"]],
        allowed: &["gain_moves"],
        make: |scene| {
            let filter = "acompressor=threshold=0.05:ratio=3:attack=15:release=200:makeup=1.5";
            Ok(scene.ffmpeg(filter)?.any_gain())
        },
    },
    Kind {
        name: "hard_clip",
        done: "gain +9 dB into full scale",
        named: &[&["clipping"]],
        allowed: &[],
        make: |scene| Ok(scene.export(&scene.mix().map(|x| factor(9.0) * x))?.gain(9.0)),
    },
    Kind {
        name: "soft_clip",
        done: "tanh, 3 dB off the peaks",
        named: &[&["distorted"]],
        allowed: &[],
        make: |scene| Ok(scene.export(&scene.mix().map(|x| (2.1 * x).tanh() / 2.1))?.any_gain()),
    },
    Kind {
        name: "normaliser",
        done: "dynamic normaliser, by ffmpeg",
        named: &[&["normalised"], &["gain_moves"]],
        allowed: &[],
        make: |scene| Ok(scene.ffmpeg("dynaudnorm=f=400:g=11:p=0.7:m=6")?.any_gain()),
    },
    Kind {
        name: "ride",
        done: "−6 dB from 9 to 14 s",
        named: &[&["ride"], &["gain_moves"]],
        allowed: &[],
        make: |scene| {
            let inside = |at_s: f64| {
                let ramp_s = 0.01;
                ((at_s - 9.0).min(14.0 - at_s) / ramp_s + 0.5).clamp(0.0, 1.0)
            };
            let made = scene.export(&ridden(scene.mix(), |at_s| factor(-6.0 * inside(at_s))))?;
            Ok(made
                .number("ride", "from_s", 9.0, RIDE_S)
                .number("ride", "to_s", 14.0, RIDE_S)
                .number("ride", "change_db", -6.0, 0.1))
        },
    },
    Kind {
        name: "fade_out",
        done: "fade-out over the last 6 s",
        named: &[&["fade"], &["gain_moves"]],
        allowed: &[],
        make: |scene| {
            let length_s = scene.mix().frames() as f64 / f64::from(scene.mix().rate_hz);
            let fade = |at_s: f64| ((length_s - at_s) / 6.0).min(1.0);
            let made = scene.export(&ridden(scene.mix(), fade))?;
            Ok(made
                .number("fade", "from_s", length_s - 6.0, FADE_S)
                .number("fade", "to_s", length_s, FADE_S))
        },
    },
    Kind {
        name: "fade_in",
        done: "fade-in over the first 4 s",
        named: &[&["fade"], &["gain_moves"]],
        allowed: &[],
        make: |scene| {
            let made = scene.export(&ridden(scene.mix(), |at_s| (at_s / 4.0).min(1.0)))?;
            Ok(made.number("fade", "from_s", 0.0, FADE_S).number("fade", "to_s", 4.0, FADE_S))
        },
    },
];
