//! Levels and ceilings that published documents ask for.
//!
//! None was read in the document itself. Both figures of EBU R 128 were read where a measuring library
//! quotes it, the levels of the others in the trade press; their ceilings, and the year of TD1008, are
//! from memory. Look into the document before a delivery depends on one of them.

use super::{Target, TargetKind};

/// A target with the ceiling that goes with it, and who asks for both.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Preset {
    /// What is typed for it: lower-case letters, digits and hyphens.
    pub word: &'static str,
    /// The level aimed at.
    pub target: Target,
    /// The highest peak allowed, in dBTP.
    pub ceiling_db: f64,
    /// The document that asks for both, and for what.
    pub source: &'static str,
}

/// All of them.
pub const PRESETS: [Preset; 5] = [
    preset("r128", -23.0, -1.0, "EBU R 128 (2023), broadcast"),
    preset("a85", -24.0, -2.0, "ATSC A/85 (2013), broadcast, ±2 dB"),
    preset("td1004", -16.0, -1.0, "AES TD1004 (2015), streams, from −20 to −16 LUFS"),
    preset("td1008-speech", -18.0, -1.0, "AES TD1008 (2021), speech"),
    preset("td1008-music", -16.0, -1.0, "AES TD1008 (2021), a track of music"),
];

impl Preset {
    /// The preset of that word.
    #[must_use]
    pub fn of_word(word: &str) -> Option<&'static Self> {
        PRESETS.iter().find(|preset| preset.word.eq_ignore_ascii_case(word))
    }
}

const fn preset(
    word: &'static str,
    target_lufs: f64,
    ceiling_db: f64,
    source: &'static str,
) -> Preset {
    let target = Target { kind: TargetKind::Loudness, value: target_lufs };
    Preset { word, target, ceiling_db, source }
}
