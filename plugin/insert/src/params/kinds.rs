//! The choices among a few, as a host sees them: a plain name to show and an id to save. Each is
//! the same choice as one of the measures' or the screen's, one to one.

use ledgerline_measure as measure;
use ledgerline_measure::detector::Detector;
use nice_plug::prelude::Enum;

use crate::choices::{Aim, FeedsPlay, Listen, MeterBand, SumTest};

/// Declares an enum for hosts and its conversions from and to the plain one.
macro_rules! kind {
    ($(#[$doc:meta])* $kind:ident = $plain:ty { $($variant:ident = $id:literal, $name:literal;)* }
     $($other:pat => $fallback:ident)?) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Enum)]
        pub enum $kind {
            $(#[doc = $name] #[id = $id] #[name = $name] $variant,)*
        }

        impl From<$plain> for $kind {
            fn from(plain: $plain) -> Self {
                match plain {
                    $(<$plain>::$variant => Self::$variant,)*
                    $($other => Self::$fallback,)?
                }
            }
        }

        impl From<$kind> for $plain {
            fn from(kind: $kind) -> Self {
                match kind {
                    $($kind::$variant => Self::$variant,)*
                }
            }
        }
    };
}

kind! {
    /// What kind of level is aimed at, if any.
    TargetKind = Aim {
        None = "none", "None";
        Loudness = "loudness", "Loudness (LUFS)";
        Rms = "rms", "RMS (dBFS)";
        Peak = "peak", "True peak (dBTP)";
    }
}

kind! {
    /// What the halves are. A mono bus has one half whatever this says.
    HalvesKind = measure::Halves {
        LeftRight = "left_right", "Left and right";
        MainSidechain = "main_sidechain", "Main and side-chain";
    }
    measure::Halves::Mono => LeftRight
}

kind! {
    /// Length of the RMS window.
    WindowKind = measure::RmsWindow {
        Short = "0.3_s", "0.3 s";
        Medium = "1_s", "1 s";
        Long = "3_s", "3 s";
        SinceReset = "since_reset", "Since reset";
    }
}

kind! {
    /// What 0 dBFS means for RMS.
    ReferenceKind = measure::RmsReference {
        FullScaleSquare = "full_scale_square", "Full-scale square";
        FullScaleSine = "full_scale_sine", "Full-scale sine (AES17)";
    }
}

kind! {
    /// How the true peak is found.
    TruePeakKind = measure::TruePeakFilter {
        Interpolated = "interpolated", "Interpolated";
        Bs1770 = "bs1770", "ITU-R BS.1770 filter";
    }
}

kind! {
    /// Where clipping is thought, to tell what it would add.
    ClipAtKind = measure::ClipAt {
        FullScale = "full_scale", "At full scale";
        Ceiling = "ceiling", "At the ceiling";
    }
}

kind! {
    /// What the output carries.
    ListenKind = Listen {
        Off = "off", "Off";
        Audible = "audible", "Audible band only";
        Hidden = "hidden", "Hidden content, shifted down";
        Damage = "damage", "Damage of clipping alone";
    }
}

kind! {
    /// The band that the user's own meter reads.
    MeterBandKind = MeterBand {
        Whole = "whole", "Whole band";
        Audible = "audible", "Audible band";
    }
}

kind! {
    /// What this instance does in the sum test.
    SumTestKind = SumTest {
        Off = "off", "Off";
        Feed1 = "feed_1", "Feed 1";
        Feed2 = "feed_2", "Feed 2";
        Bus = "bus", "Bus";
    }
}
kind! {
    /// What the feeds play.
    FeedsPlayKind = FeedsPlay {
        Test = "test", "The test";
        Uniform = "loop_uniform", "Loop, uniform noise";
        Gaussian = "loop_gaussian", "Loop, Gaussian noise";
        Pink = "loop_pink", "Loop, pink noise";
    }
}

/// How the user's own meter reads, if that is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Enum)]
#[allow(missing_docs, reason = "the names say it")]
pub enum MeterDetectorKind {
    #[id = "off"]
    #[name = "Off"]
    Off,
    #[id = "sample_peak"]
    #[name = "Sample peak"]
    SamplePeak,
    #[id = "true_peak"]
    #[name = "True peak"]
    TruePeak,
    #[id = "rms"]
    #[name = "RMS"]
    Rms,
    #[id = "needle"]
    #[name = "Needle"]
    Needle,
    #[id = "programme_1"]
    #[name = "Programme peak I"]
    Programme1,
    #[id = "programme_2"]
    #[name = "Programme peak II"]
    Programme2,
    #[id = "momentary"]
    #[name = "Momentary loudness"]
    Momentary,
}

/// Each kind of detector beside its parameter's value.
const DETECTORS: [(MeterDetectorKind, Detector); Detector::ALL.len()] = [
    (MeterDetectorKind::SamplePeak, Detector::SamplePeak),
    (MeterDetectorKind::TruePeak, Detector::TruePeak),
    (MeterDetectorKind::Rms, Detector::Rms),
    (MeterDetectorKind::Needle, Detector::Needle),
    (MeterDetectorKind::Programme1, Detector::Programme1),
    (MeterDetectorKind::Programme2, Detector::Programme2),
    (MeterDetectorKind::Momentary, Detector::Momentary),
];

impl From<Option<Detector>> for MeterDetectorKind {
    fn from(plain: Option<Detector>) -> Self {
        let found = DETECTORS.iter().find(|(_, detector)| Some(*detector) == plain);
        found.map_or(Self::Off, |(kind, _)| *kind)
    }
}

impl From<MeterDetectorKind> for Option<Detector> {
    fn from(kind: MeterDetectorKind) -> Self {
        DETECTORS.iter().find(|(other, _)| *other == kind).map(|(_, detector)| *detector)
    }
}
