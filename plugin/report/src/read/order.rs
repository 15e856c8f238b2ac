//! Which file needs attention most.

use std::cmp::Ordering;

use ledgerline_measure::reading::Reading;

use super::ReadPage;

/// Orders two readings, the one that needs attention more first: by the severity and then the kind
/// of their first findings, then by how much room is withheld.
#[must_use]
pub fn by_need(one: &Reading, other: &Reading) -> Ordering {
    let first = |reading: &Reading| {
        reading
            .findings
            .as_slice()
            .first()
            .map(|finding| (std::cmp::Reverse(finding.severity), finding.code))
    };
    let withheld = |reading: &Reading| reading.room.withheld_db.finite().unwrap_or(0.0).abs();
    // A reading without any finding has nothing to say.
    let empty = |reading: &Reading| first(reading).is_none();
    empty(one)
        .cmp(&empty(other))
        .then_with(|| first(one).cmp(&first(other)))
        .then_with(|| withheld(other).total_cmp(&withheld(one)))
}

/// Indices of the files, the one that needs attention most first. Equals keep their order.
#[must_use]
pub fn worst_first(files: &[ReadPage]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..files.len()).collect();
    order.sort_by(|&one, &other| by_need(files[one].reading, files[other].reading));
    order
}
