//! When a page was made, by whom and how.

use crate::utc::Utc;

/// When a page was made, by whom and how.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Made<'a> {
    /// When.
    pub at: Utc,
    /// By whom, if that is to be said.
    pub by: Option<&'a str>,
    /// The command that makes the page again, if a command made it.
    pub command: Option<&'a str>,
}

impl<'a> Made<'a> {
    /// At this moment.
    #[must_use]
    pub fn now(by: Option<&'a str>, command: Option<&'a str>) -> Self {
        Self { at: Utc::now(), by, command }
    }
}
