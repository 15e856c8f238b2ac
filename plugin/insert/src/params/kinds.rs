//! The choices among a few, as a host sees them: a plain name to show and an id to save. Each is
//! the same choice as one of the measures' or the screen's, one to one.

use ledgerline_measure as measure;
use nice_plug::prelude::Enum;

use crate::choices::{Aim, Listen, SumTest};

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
    /// What the output carries.
    ListenKind = Listen {
        Off = "off", "Off";
        Audible = "audible", "Audible band only";
        Hidden = "hidden", "Hidden content, shifted down";
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
