//! What the user's choices are called: the same on every screen, page and terminal.

use super::fixed;
use crate::settings::{
    ClipAt, Halves, RmsReference, RmsWindow, Target, TargetKind, TruePeakFilter,
};

impl Halves {
    /// What the bus is made of.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::LeftRight => "left and right",
            Self::MainSidechain => "main and side-chain",
            Self::Mono => "mono",
        }
    }

    /// The same where width is short.
    #[must_use]
    pub fn short(self) -> &'static str {
        match self {
            Self::LeftRight => "left, right",
            Self::MainSidechain => "main, side-chain",
            Self::Mono => "mono",
        }
    }

    /// The names of half A and half B. One channel has no second half; who asks all the same gets
    /// those of left and right.
    #[must_use]
    pub fn names(self) -> [&'static str; 2] {
        match self {
            Self::MainSidechain => ["main", "side-chain"],
            Self::LeftRight | Self::Mono => ["left", "right"],
        }
    }

    /// The same in a letter each, by which sentences and tables speak of them.
    #[must_use]
    pub fn letters(self) -> [&'static str; 2] {
        match self {
            Self::MainSidechain => ["M", "S"],
            Self::LeftRight | Self::Mono => ["L", "R"],
        }
    }

    /// What is added: `L + R`.
    #[must_use]
    pub fn sum(self) -> String {
        self.letters().join(" + ")
    }

    /// What is left when one is taken from the other: `L − R`.
    #[must_use]
    pub fn difference(self) -> String {
        self.letters().join(" − ")
    }

    /// The two of them: `L and R`.
    #[must_use]
    pub fn both(self) -> String {
        self.letters().join(" and ")
    }
}

impl RmsWindow {
    /// How far back it reaches.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Short => "0.3 s",
            Self::Medium => "1 s",
            Self::Long => "3 s",
            Self::SinceReset => "since reset",
        }
    }

    /// The same where width is short.
    #[must_use]
    pub fn short(self) -> &'static str {
        match self {
            Self::SinceReset => "all",
            other => other.word(),
        }
    }
}

impl RmsReference {
    /// What reads 0 dBFS.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::FullScaleSquare => "full-scale square",
            Self::FullScaleSine => "full-scale sine (AES17)",
        }
    }

    /// The same where width is short.
    #[must_use]
    pub fn short(self) -> &'static str {
        match self {
            Self::FullScaleSquare => "square",
            Self::FullScaleSine => "sine (AES17)",
        }
    }
}

impl TruePeakFilter {
    /// How the true peak is found.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Interpolated => "interpolated",
            Self::Bs1770 => "ITU-R BS.1770 filter",
        }
    }

    /// The same where width is short.
    #[must_use]
    pub fn short(self) -> &'static str {
        match self {
            Self::Interpolated => "interpolated",
            Self::Bs1770 => "BS.1770 filter",
        }
    }
}

impl ClipAt {
    /// Where clipping is thought.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::FullScale => "at full scale",
            Self::Ceiling => "at the ceiling",
        }
    }
}

impl TargetKind {
    /// What is aimed at.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Loudness => "loudness",
            Self::Rms => "RMS",
            Self::Peak => "true peak",
        }
    }

    /// The unit of the level aimed at.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Loudness => "LUFS",
            Self::Rms => "dBFS",
            Self::Peak => "dBTP",
        }
    }

    /// The unit of a distance from the level aimed at.
    #[must_use]
    pub fn lift_unit(self) -> &'static str {
        match self {
            Self::Loudness => "LU",
            Self::Rms | Self::Peak => "dB",
        }
    }
}

impl Target {
    /// The level with its unit: `−23.0 LUFS`.
    #[must_use]
    pub fn words(self) -> String {
        format!("{} {}", fixed(self.value, 1), self.kind.unit())
    }
}
