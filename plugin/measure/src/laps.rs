//! Where measuring spends its time: a meter that is timed says which part of its work has just ended. It
//! knows no clock, and one that is not timed says nothing, at no cost.

/// A part of a meter's work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Work {
    /// Samples are taken in and put into batches.
    Inlet,
    /// The delay of the whole band and the low-pass at the upper edge.
    LowPass,
    /// What lies below the lower edge is found.
    LowerEdge,
    /// The audible band and what lies outside are told apart.
    TakingApart,
    /// True peaks of the whole band.
    WholeTruePeaks,
    /// True peaks of the audible band.
    AudibleTruePeaks,
    /// K-weighted energies of both bands.
    Weighting,
    /// Energies, sample peaks, overs, flat tops and limiter drive of both bands.
    Books,
    /// Ends of hops: windows, loudness, causes, rows of history.
    Hops,
    /// Transforms, tones, what is drawn, late copies.
    Spectra,
}

impl Work {
    /// All of them, in the order of the work.
    pub const ALL: [Self; 10] = [
        Self::Inlet,
        Self::LowPass,
        Self::LowerEdge,
        Self::TakingApart,
        Self::WholeTruePeaks,
        Self::Weighting,
        Self::Books,
        Self::AudibleTruePeaks,
        Self::Hops,
        Self::Spectra,
    ];

    /// The part in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Inlet => "taking samples in",
            Self::LowPass => "delay, low-pass at the upper edge",
            Self::LowerEdge => "filter at the lower edge",
            Self::TakingApart => "telling the bands apart",
            Self::WholeTruePeaks => "true peaks, whole band",
            Self::AudibleTruePeaks => "true peaks, audible band",
            Self::Weighting => "K-weighting",
            Self::Books => "energies and sample peaks",
            Self::Hops => "loudness, causes, history",
            Self::Spectra => "spectra and tones",
        }
    }
}

/// Hears when a part of the work has ended, and the next begins.
pub trait Laps {
    /// `part` has ended: everything since the call before belonged to it.
    fn lap(&mut self, part: Work);
}

/// Nobody wants to know.
impl Laps for () {
    #[inline(always)]
    fn lap(&mut self, _: Work) {}
}
