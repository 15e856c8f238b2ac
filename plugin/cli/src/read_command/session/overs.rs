//! When overs happened, from counts since reset.

use ledgerline_report::session::Overs;
use ledgerline_report::utc::Utc;

/// Counts of overs on their way.
#[derive(Default)]
pub(super) struct OverCounts {
    /// The latest count since reset; none before the first.
    latest: Option<u64>,
    /// Overs that the first count already held.
    pub(super) before: u64,
    /// Those that came, oldest first.
    pub(super) found: Vec<Overs>,
}

impl OverCounts {
    /// A reset: counting begins anew.
    pub(super) fn reset(&mut self) {
        self.latest = self.latest.map(|_| 0);
    }

    /// Takes a count since reset. The first count is from before the log if `began_before`.
    pub(super) fn take(&mut self, count: u64, at: Utc, host_s: Option<f64>, began_before: bool) {
        let latest = self.latest.replace(count).unwrap_or_else(|| {
            self.before = if began_before { count } else { 0 };
            self.before
        });
        let more = count.saturating_sub(latest);
        if more > 0 {
            self.found.push(Overs { at, host_s, count: more });
        }
    }
}
