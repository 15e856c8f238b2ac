//! A finding: what was found, how much it matters, the numbers behind it, one plain sentence, and a
//! line of what to do.

mod action;
mod fact;
mod sentence;
pub mod thresholds;

use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

use crate::settings::Halves;
pub use fact::{Clipped, Fact, Misleading, Taker, Withheld};

/// How many findings a reading can hold.
pub const MOST_FINDINGS: usize = 8;

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
    /// Samples lie over the ceiling, where clipping is thought.
    Damage,
    /// The halves cancel each other.
    HalvesCancel,
    /// A meter shows less room than the audible band leaves: hidden content takes it.
    RoomWithheld,
    /// The audible true peak lies above the ceiling.
    OverCeiling,
    /// The sum's peaks add as if the halves were identical, its energy does not.
    PeaksMislead,
    /// A meter shows more room than there is: the audible waveform rises above the largest sample.
    /// Where it rises above the ceiling this stands in place of [`OverCeiling`](Self::OverCeiling).
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
    /// No signal yet, or none any more.
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
    /// The numbers behind it.
    pub fact: Fact,
    /// Which halves it speaks of.
    halves: Halves,
}

impl Finding {
    /// A finding of left and right.
    #[must_use]
    pub fn new(severity: Severity, fact: Fact) -> Self {
        Self { code: fact.code(), severity, fact, halves: Halves::LeftRight }
    }

    /// The same, of halves other than left and right.
    #[must_use]
    pub fn between(self, halves: Halves) -> Self {
        Self { halves, ..self }
    }

    /// The finding in plain words, twenty at most. Allocates.
    #[must_use]
    pub fn sentence(&self) -> String {
        sentence::of(self)
    }

    /// What to do about it, in twelve words at most; `None` where there is nothing to do. Allocates.
    #[must_use]
    pub fn action(&self) -> Option<String> {
        action::of(&self.fact)
    }

    /// Whether it says that the signal has gone.
    fn is_closing_silence(&self) -> bool {
        matches!(self.fact, Fact::Silence { silent_s } if silent_s.is_finite())
    }
}

impl Serialize for Finding {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut record = serializer.serialize_struct("finding", 5)?;
        record.serialize_field("code", &self.code)?;
        record.serialize_field("severity", &self.severity)?;
        record.serialize_field("sentence", &self.sentence())?;
        record.serialize_field("action", &self.action())?;
        record.serialize_field("numbers", &self.fact)?;
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
        // A number, so that equal lists are equal.
        let none = Finding::new(Severity::Clear, Fact::Silence { silent_s: 0.0 });
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

    /// Puts silence first, then the most severe, and within a severity in the order of the codes.
    pub(crate) fn sort(&mut self) {
        self.findings[..self.count].sort_unstable_by_key(|finding| {
            (!finding.is_closing_silence(), std::cmp::Reverse(finding.severity), finding.code)
        });
    }

    /// Of something that has ended: that it closes with silence is no finding. Puts `clean` where
    /// nothing else is.
    pub(crate) fn leave_closing_silence(&mut self, clean: Finding) {
        let all = *self;
        self.count = 0;
        let others = all.as_slice().iter().filter(|finding| !finding.is_closing_silence());
        others.for_each(|finding| self.push(*finding));
        if self.count == 0 && all.count > 0 {
            self.push(clean);
        }
    }

    /// The findings, most important first.
    #[must_use]
    pub fn as_slice(&self) -> &[Finding] {
        &self.findings[..self.count]
    }
}

impl Serialize for Findings {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.as_slice())
    }
}
