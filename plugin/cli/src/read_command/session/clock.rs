//! Where moments of a log lie on the clock.

use ledgerline_report::utc::Utc;

/// The clock may run ahead of what was measured by so much, in seconds, before that is a pause:
/// rows come as the host's blocks do.
const SLACK_S: f64 = 3.0;

/// A clock that goes on from each row to the next.
pub(super) struct Clock {
    /// When the latest moment was; at first, when the log was begun.
    at: Option<Utc>,
    /// Whether the system's clock was seen to go back.
    pub(super) went_back: bool,
}

/// Where a moment lies.
pub(super) struct Placed {
    /// When it was.
    pub(super) at: Utc,
    /// Whether nothing was measured for a while before it.
    pub(super) after_pause: bool,
}

impl Clock {
    /// A clock that starts when the log was begun, where that is known.
    pub(super) fn new(begun: Option<Utc>) -> Self {
        Self { at: begun, went_back: false }
    }

    /// A moment `step_s` measured seconds after the one before, which says when it was, or not. None
    /// where neither it nor anything before it tells.
    pub(super) fn place(&mut self, step_s: f64, utc: Option<Utc>) -> Option<Placed> {
        let counted = self.at.map(|at| at.plus(step_s));
        let (at, after_pause) = match (utc, counted, self.at) {
            (Some(utc), Some(counted), Some(before)) => {
                if before.since(utc) > SLACK_S {
                    // A clock that somebody set: seconds are counted on until it has caught up.
                    self.went_back = true;
                    (counted, false)
                } else {
                    let at = if utc < before { before } else { utc };
                    (at, utc.since(counted) > SLACK_S)
                }
            }
            (utc, counted, _) => (utc.or(counted)?, false),
        };
        self.at = Some(at);
        Some(Placed { at, after_pause })
    }
}
