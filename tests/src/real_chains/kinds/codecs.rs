//! Lossy codecs, back to words and as they are.

use crate::real_chains::kind::Kind;

const CODED: &[&[&str]] = &[&["lossy_coding"]];

/// What is true of lossy coding besides.
const BESIDES: &[&str] = &["band_limited", "noise_added"];

/// Gain of this MP3 encoder in dB, which multiplies by 0.95 at 128 kbit/s and by 0.97 at 192.
const MP3_128_DB: f64 = -0.4455;
const MP3_192_DB: f64 = -0.2646;

pub(super) const KINDS: &[Kind] = &[
    Kind {
        name: "aac_128",
        done: "AAC of 128 kbit/s and back",
        named: CODED,
        allowed: BESIDES,
        make: |scene| scene.decoded("coded.m4a", &["-c:a", "aac", "-b:a", "128k"]),
    },
    Kind {
        name: "aac_192",
        done: "AAC of 192 kbit/s and back",
        named: CODED,
        allowed: BESIDES,
        make: |scene| scene.decoded("coded.m4a", &["-c:a", "aac", "-b:a", "192k"]),
    },
    Kind {
        name: "aac_256",
        done: "AAC of 256 kbit/s and back",
        named: CODED,
        allowed: BESIDES,
        make: |scene| scene.decoded("coded.m4a", &["-c:a", "aac", "-b:a", "256k"]),
    },
    Kind {
        name: "aac_file",
        done: "AAC of 192 kbit/s, the coded file",
        named: CODED,
        allowed: BESIDES,
        make: |scene| scene.coded("export.m4a", &["-c:a", "aac", "-b:a", "192k"]),
    },
    Kind {
        name: "mp3_128",
        done: "MP3 of 128 kbit/s and back",
        named: CODED,
        allowed: BESIDES,
        make: |scene| {
            let made = scene.decoded("coded.mp3", &["-c:a", "libmp3lame", "-b:a", "128k"])?;
            Ok(made.gain(MP3_128_DB))
        },
    },
    Kind {
        name: "mp3_320",
        done: "MP3 of 320 kbit/s and back",
        named: CODED,
        allowed: BESIDES,
        make: |scene| scene.decoded("coded.mp3", &["-c:a", "libmp3lame", "-b:a", "320k"]),
    },
    Kind {
        name: "mp3_file",
        done: "MP3 of 192 kbit/s, the coded file",
        named: CODED,
        allowed: BESIDES,
        make: |scene| {
            let made = scene.coded("export.mp3", &["-c:a", "libmp3lame", "-b:a", "192k"])?;
            Ok(made.gain(MP3_192_DB))
        },
    },
    Kind {
        name: "vorbis",
        done: "Vorbis of 160 kbit/s and back",
        named: CODED,
        allowed: BESIDES,
        make: |scene| scene.decoded("coded.ogg", &["-c:a", "libvorbis", "-b:a", "160k"]),
    },
    Kind {
        name: "vorbis_file",
        done: "Vorbis of 160 kbit/s, the coded file",
        named: CODED,
        allowed: BESIDES,
        make: |scene| scene.coded("export.ogg", &["-c:a", "libvorbis", "-b:a", "160k"]),
    },
    Kind {
        name: "opus",
        done: "Opus of 128 kbit/s and back",
        named: CODED,
        allowed: BESIDES,
        make: |scene| scene.decoded("coded.opus", &["-c:a", "libopus", "-b:a", "128k"]),
    },
];
