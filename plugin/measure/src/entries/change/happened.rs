//! What is found out of a change, with the words for it.

use super::comb::CopyFound;
use super::what::What;

/// What a change says about the summing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Summing {
    /// That it is right.
    Right,
    /// Nothing.
    Nothing,
}

/// What happened.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Verdict {
    pub(super) what: What,
    /// What else the signal allows.
    pub(super) or: Vec<What>,
    pub(super) copy: Option<CopyFound>,
    /// What happened, as sentences.
    pub(super) happened: String,
    pub(super) summing: Summing,
}

impl Verdict {
    /// What the signal leaves no doubt of.
    pub(super) fn sure(what: What, happened: String) -> Self {
        Self { what, or: Vec::new(), copy: None, happened, summing: Summing::Nothing }
    }

    /// What else the signal allows.
    pub(super) fn or(mut self, others: impl IntoIterator<Item = What>) -> Self {
        self.or.extend(others);
        self
    }

    /// The copy behind it.
    pub(super) fn with_copy(mut self, copy: CopyFound) -> Self {
        self.copy = Some(copy);
        self
    }

    /// It is what the law of addition makes of such sounds.
    pub(super) fn by_right_summing(mut self) -> Self {
        self.summing = Summing::Right;
        self
    }
}
