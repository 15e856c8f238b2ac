//! What can happen between two entries.

use serde::Serialize;

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum What {
    /// All levels move alike.
    Gain,
    /// Another sound came.
    SourceAdded,
    /// A sound went.
    SourceRemoved,
    /// The sound ended.
    Silence,
    /// Two sounds that were different are one and the same now.
    Identical,
    /// Two sounds that were one and the same are different now.
    Decorrelated,
    /// A sound is heard again, later.
    Copy,
    /// One of two equal sounds was turned over in polarity.
    Inverted,
    /// Two sounds cancel each other.
    Null,
    /// Some frequencies moved, others did not.
    Filter,
    /// What lies outside the audible band came or went.
    Hidden,
    /// Something that is none of these.
    Other,
    /// There is not enough to tell it by.
    CannotTell,
    /// Nothing.
    None,
}

impl What {
    /// What happened, in a few words.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Gain => "gain",
            Self::SourceAdded => "source added",
            Self::SourceRemoved => "source removed",
            Self::Silence => "silence",
            Self::Identical => "identical",
            Self::Decorrelated => "decorrelated",
            Self::Copy => "late copy",
            Self::Inverted => "inverted",
            Self::Null => "null",
            Self::Filter => "filter",
            Self::Hidden => "hidden content",
            Self::Other => "other",
            Self::CannotTell => "cannot tell",
            Self::None => "unchanged",
        }
    }
}
