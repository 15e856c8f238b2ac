//! When overs happened, from counts since reset.

use ledgerline_report::session::Overs;
use ledgerline_report::utc::Utc;

/// Counts of overs on their way.
#[derive(Default)]
pub(super) struct OverCounts {
    /// The latest count since reset; none before the first.
    latest: Option<u64>,
    /// The latest count before that reset.
    before_reset: u64,
    /// Overs that the first count already held.
    pub(super) before: u64,
    /// Those that came, oldest first.
    pub(super) found: Vec<Overs>,
}

impl OverCounts {
    /// A reset: counting begins anew.
    pub(super) fn reset(&mut self) {
        self.before_reset = self.latest.unwrap_or(0);
        self.latest = self.latest.map(|_| 0);
    }

    /// The latest reset was undone: counting goes on from before it, which the log knows of or not.
    pub(super) fn undo_reset(&mut self, is_known: bool) {
        self.latest = self.latest.filter(|_| is_known).map(|latest| latest + self.before_reset);
        self.before_reset = 0;
    }

    /// Takes a count since reset. The first count is from before the log if `began_before`.
    pub(super) fn take(&mut self, count: u64, at: Utc, host_s: Option<f64>, began_before: bool) {
        let latest = self.latest.replace(count).unwrap_or_else(|| {
            let found: u64 = self.found.iter().map(|overs| overs.count).sum();
            self.before = if began_before { count.saturating_sub(found) } else { 0 };
            self.before + found
        });
        let more = count.saturating_sub(latest);
        if more > 0 {
            self.found.push(Overs { at, host_s, count: more });
        }
    }
}
