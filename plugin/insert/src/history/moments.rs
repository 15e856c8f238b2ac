//! Whole snapshots of moments that have passed: close together of late, further apart before.

use std::collections::VecDeque;
use std::sync::Arc;

use crate::handover::Snapshot;

/// Seconds between two of the latest minute, and of the latest ten.
const CLOSE_S: f64 = 1.0;
const APART_S: f64 = 10.0;
/// How many of each are kept.
const KEPT: usize = 61;
/// How many of everything are kept at most; with half as many, they are twice as far apart.
const MOST_KEPT: usize = 128;

/// What was read at a moment.
#[derive(Debug, Clone)]
pub struct Kept {
    /// When, in seconds since the first frame.
    pub at_s: f64,
    /// Where the host's transport stood, in seconds, if it ran.
    pub host_s: Option<f64>,
    /// What was read.
    pub snapshot: Arc<Snapshot>,
}

/// The snapshots.
#[derive(Debug, Clone)]
pub struct Moments {
    close: VecDeque<Kept>,
    apart: VecDeque<Kept>,
    all: Vec<Kept>,
    all_s: f64,
}

impl Default for Moments {
    fn default() -> Self {
        let (close, apart) = (VecDeque::new(), VecDeque::new());
        Self { close, apart, all: Vec::new(), all_s: APART_S }
    }
}

impl Moments {
    /// Keeps a moment, later than all others.
    pub fn push(&mut self, kept: Kept) {
        let is_due = |last: Option<&Kept>, pause_s: f64| {
            last.is_none_or(|last| kept.at_s - last.at_s >= pause_s - CLOSE_S / 2.0)
        };
        if is_due(self.apart.back(), APART_S) {
            self.apart.push_back(kept.clone());
        }
        if is_due(self.all.last(), self.all_s) {
            self.all.push(kept.clone());
        }
        self.close.push_back(kept);
        for kept in [&mut self.close, &mut self.apart] {
            if kept.len() > KEPT {
                kept.pop_front();
            }
        }
        if self.all.len() > MOST_KEPT {
            self.all_s *= 2.0;
            let mut index = 0;
            self.all.retain(|_| {
                index += 1;
                index % 2 == 1
            });
        }
    }

    /// The moment kept that lies nearest.
    #[must_use]
    pub fn nearest(&self, at_s: f64) -> Option<&Kept> {
        let all = self.close.iter().chain(&self.apart).chain(&self.all);
        all.min_by(|one, other| (one.at_s - at_s).abs().total_cmp(&(other.at_s - at_s).abs()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_kept_in_few_and_any_moment_has_one_near() {
        let mut moments = Moments::default();
        let snapshot = Arc::new(Snapshot::default());
        for second in 1..=86_400 {
            let at_s = f64::from(second);
            moments.push(Kept { at_s, host_s: None, snapshot: snapshot.clone() });
        }
        assert!(moments.all.len() <= MOST_KEPT && moments.all.len() > MOST_KEPT / 2);
        assert_eq!(Arc::strong_count(&snapshot), 1 + 2 * KEPT + moments.all.len());
        for (age_s, most_s) in [(0.4, 0.5), (30.0, 0.5), (300.0, 5.5), (40_000.0, 650.0)] {
            let at_s = 86_400.0 - age_s;
            let kept = moments.nearest(at_s).expect("there are some");
            assert!((kept.at_s - at_s).abs() <= most_s, "{} for {at_s}", kept.at_s);
        }
    }
}
