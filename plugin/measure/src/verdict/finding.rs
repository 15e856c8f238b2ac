//! A finding: a code, a severity, the numbers behind it, and one plain sentence.

use serde::ser::{SerializeMap, SerializeStruct};
use serde::{Serialize, Serializer};

use super::sentence;
use crate::reading::serialize_list;
use crate::settings::Halves;

/// How many findings a reading can hold.
pub const MOST_FINDINGS: usize = 8;
/// How many numbers a finding can carry.
const MOST_NUMBERS: usize = 12;

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Nothing separates meter and ear.
    Clear,
    /// Good to know.
    Note,
    /// The meter misleads, or the mix is about to go wrong.
    Caution,
    /// Something is broken: it clips, cancels, or is no audio.
    Fault,
}

impl Severity {
    /// The severity in a word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Clear => "Clear",
            Self::Note => "Note",
            Self::Caution => "Caution",
            Self::Fault => "Fault",
        }
    }
}

/// What was found. In the order in which findings of one severity are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Code {
    /// The input holds samples that are no audio.
    InvalidInput,
    /// The bus reaches full scale.
    Overs,
    /// The halves cancel each other.
    HalvesCancel,
    /// A meter shows less room than the audible band leaves: it reads hidden content.
    RoomWithheld,
    /// The audible true peak lies above the ceiling.
    OverCeiling,
    /// The sum's peaks add as if the halves were identical, its energy does not.
    PeaksMislead,
    /// A meter shows more room than there is: the audible waveform rises above the largest sample.
    RoomOverstated,
    /// A limiter at the ceiling would work on inaudible content.
    LimiterOnHidden,
    /// A loudness meter reads inaudible content.
    LoudnessReadsHidden,
    /// The mix is below the target, and audible room allows only part of the way.
    LiftLimited,
    /// The mix is below the target, and there is room.
    LiftFree,
    /// The mix is above the target.
    AboveTarget,
    /// The halves are one signal, or all but one.
    HalvesIdentical,
    /// A steady tone outside the audible band.
    HiddenTone,
    /// The waveform stands still at its peaks, below full scale.
    FlatTops,
    /// Energy below the lower edge.
    Rumble,
    /// The samples have a mean.
    Dc,
    /// No signal.
    Silence,
    /// Nothing to report.
    Clean,
}

/// One finding, as plain data.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finding {
    /// What was found.
    pub code: Code,
    /// How much it matters.
    pub severity: Severity,
    numbers: [(&'static str, f64); MOST_NUMBERS],
    /// Which halves it speaks of.
    pub(super) halves: Halves,
}

impl Finding {
    /// A finding with the numbers behind it, each under a name that ends in its unit. Numbers past
    /// the twelfth are left out.
    #[must_use]
    pub fn new(code: Code, severity: Severity, numbers: &[(&'static str, f64)]) -> Self {
        let mut kept = [("", 0.0); MOST_NUMBERS];
        for (slot, number) in kept.iter_mut().zip(numbers) {
            *slot = *number;
        }
        Self { code, severity, numbers: kept, halves: Halves::LeftRight }
    }

    /// The same, of halves other than left and right.
    #[must_use]
    pub fn between(self, halves: Halves) -> Self {
        Self { halves, ..self }
    }

    /// The numbers behind the finding.
    pub fn numbers(&self) -> impl Iterator<Item = (&'static str, f64)> {
        self.numbers.into_iter().filter(|(name, _)| !name.is_empty())
    }

    /// The number of that name, NaN if the finding does not carry it.
    #[must_use]
    pub fn number(&self, name: &str) -> f64 {
        self.numbers().find(|(known, _)| *known == name).map_or(f64::NAN, |(_, value)| value)
    }

    /// The finding in plain words. Allocates.
    #[must_use]
    pub fn sentence(&self) -> String {
        sentence::of(self)
    }
}

impl Serialize for Finding {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        struct Numbers<'a>(&'a Finding);
        impl Serialize for Numbers<'_> {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                let mut map = serializer.serialize_map(None)?;
                for (name, value) in self.0.numbers() {
                    map.serialize_entry(name, &value)?;
                }
                map.end()
            }
        }
        let mut record = serializer.serialize_struct("finding", 4)?;
        record.serialize_field("code", &self.code)?;
        record.serialize_field("severity", &self.severity)?;
        record.serialize_field("sentence", &self.sentence())?;
        record.serialize_field("numbers", &Numbers(self))?;
        record.end()
    }
}

/// A short list of findings, most important first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Findings {
    count: usize,
    findings: [Finding; MOST_FINDINGS],
}

impl Default for Findings {
    fn default() -> Self {
        let none = Finding::new(Code::Clean, Severity::Clear, &[]);
        Self { count: 0, findings: [none; MOST_FINDINGS] }
    }
}

impl Findings {
    /// Adds a finding if there is space for it.
    pub fn push(&mut self, finding: Finding) {
        if let Some(slot) = self.findings.get_mut(self.count) {
            *slot = finding;
            self.count += 1;
        }
    }

    /// Puts the most severe first, and within a severity in the order of the codes.
    pub(crate) fn sort(&mut self) {
        self.findings[..self.count]
            .sort_unstable_by_key(|finding| (std::cmp::Reverse(finding.severity), finding.code));
    }

    /// The findings, most important first.
    #[must_use]
    pub fn as_slice(&self) -> &[Finding] {
        &self.findings[..self.count]
    }
}

impl Serialize for Findings {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serialize_list(self.as_slice(), serializer)
    }
}
