//! Filters: equalisers, cuts, an all-pass, a room.

use crate::chains;
use crate::real_chains::effects::{all_passed, belled, factor};
use crate::real_chains::kind::Kind;
use crate::real_chains::piece::RATE_HZ;

/// What any filter may be called.
const EQUALISED: &[&[&str]] = &[&["equalised"]];

/// Sample rate of the pieces, in Hz.
const RATE: f64 = RATE_HZ as f64;

pub(super) const KINDS: &[Kind] = &[
    Kind {
        name: "bell_100",
        done: "bell, +2 dB at 100 Hz, by ffmpeg",
        named: EQUALISED,
        allowed: &[],
        make: |scene| scene.ffmpeg("equalizer=f=100:t=q:w=1:g=2"),
    },
    Kind {
        name: "bell_300",
        done: "bell, +2 dB at 300 Hz, by sox",
        named: EQUALISED,
        allowed: &[],
        make: |scene| scene.sox(&["equalizer", "300", "1q", "2"]),
    },
    Kind {
        name: "bell_3k",
        done: "bell, +2 dB at 3 kHz",
        named: EQUALISED,
        allowed: &[],
        make: |scene| scene.export(&belled(scene.mix(), 3_000.0, 1.0, 2.0)),
    },
    Kind {
        name: "low_cut_1",
        done: "high-pass of first order at 80 Hz, by sox",
        named: EQUALISED,
        allowed: &[],
        make: |scene| scene.sox(&["highpass", "-1", "80"]),
    },
    Kind {
        name: "low_cut_2",
        done: "high-pass of second order at 100 Hz, by ffmpeg",
        named: EQUALISED,
        allowed: &[],
        make: |scene| scene.ffmpeg("highpass=f=100:t=q:w=0.7071"),
    },
    Kind {
        name: "low_cut_4",
        done: "high-pass of fourth order at 120 Hz, by ffmpeg",
        named: EQUALISED,
        allowed: &[],
        make: |scene| scene.ffmpeg("highpass=f=120:t=q:w=0.5412,highpass=f=120:t=q:w=1.3066"),
    },
    Kind {
        name: "high_shelf",
        done: "high shelf, +3 dB above 6 kHz, by sox",
        named: EQUALISED,
        allowed: &[],
        make: |scene| scene.sox(&["treble", "3", "6000", "0.7q"]),
    },
    Kind {
        name: "low_pass_15k",
        done: "low-pass at 15 kHz, steep, linear phase, by sox",
        named: &[&["band_limited"], &["equalised"]],
        allowed: &[],
        make: |scene| scene.sox(&["sinc", "-15k"]),
    },
    Kind {
        name: "all_pass",
        done: "all-pass of first order at 500 Hz",
        named: &[&["all_pass"]],
        allowed: &[],
        make: |scene| scene.export(&all_passed(scene.mix(), 500.0)),
    },
    Kind {
        name: "linear_phase",
        done: "equaliser of linear phase: −3 dB below 200 Hz, +2 dB from 2 to 5 kHz",
        named: EQUALISED,
        allowed: &[],
        make: |scene| {
            let bend = |hz: f64, at: f64| 1.0 / (1.0 + (hz / at).powi(2));
            let gain = |share: f64| {
                let hz = share * RATE;
                let middle = bend(hz, 5_000.0) - bend(hz, 2_000.0);
                factor(2.0 * middle - 3.0 * bend(hz, 200.0))
            };
            scene.export(&scene.mix().each(|channel| chains::shaped(channel, gain)))
        },
    },
    Kind {
        name: "notches",
        done: "a third of an octave taken away at 400 Hz, 1.2 and 3 kHz",
        named: EQUALISED,
        allowed: &[],
        make: |scene| {
            let gain = |share: f64| {
                let near = |hz: &f64| (share * RATE / hz).log2().abs() < 1.0 / 6.0;
                if [400.0, 1_200.0, 3_000.0].iter().any(near) { 0.0 } else { 1.0 }
            };
            scene.export(&scene.mix().each(|channel| chains::shaped(channel, gain)))
        },
    },
    Kind {
        name: "reverb",
        done: "a room added, by sox",
        named: &[&["reverb"]],
        allowed: &[],
        make: |scene| Ok(scene.sox(&["reverb", "40", "50", "60"])?.any_gain()),
    },
];
