//! How a run ended, and the exit status that says so.

/// How a run ended; of several, the last in this order counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    /// Done, and nothing is wrong.
    Fine,
    /// Done, and something was found: what was judged is faulty, or a file holds what it should not.
    Faulty,
    /// It could not be done, or no verdict was possible.
    NotDone,
}

impl Outcome {
    /// The exit status.
    #[must_use]
    pub fn status(self) -> u8 {
        match self {
            Self::Fine => 0,
            Self::Faulty => 1,
            Self::NotDone => 2,
        }
    }
}
