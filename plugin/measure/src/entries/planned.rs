//! Where entries meet, as far as that lies ahead of the meter.

use std::collections::VecDeque;

use super::finder::Edge;
use super::stretch::OpenedBy;

/// Where two entries meet.
#[derive(Debug, Clone, Copy)]
pub(super) struct Planned {
    pub(super) edge: Edge,
    /// What the next one begins with; none where nothing is measured from there on.
    pub(super) opened_by: Option<OpenedBy>,
}

/// The edges to come, in order.
#[derive(Debug, Default)]
pub(super) struct Plan {
    edges: VecDeque<Planned>,
}

impl Plan {
    /// Adds an edge. One that comes less than `least` frames after another moves that one: what lies
    /// between is a transition. So it does with the one at which the entry under way began, `since`: then
    /// nothing is added, and this says so.
    pub(super) fn add(
        &mut self,
        edge: Edge,
        opened_by: Option<OpenedBy>,
        since: Option<u64>,
        least: u64,
    ) -> bool {
        let place = self.edges.partition_point(|planned| planned.edge.end <= edge.end);
        let is_step = opened_by == Some(OpenedBy::Step);
        if let Some(later) = self.edges.get(place)
            && is_step
            && later.edge.end < edge.start + least
        {
            // Somebody has said where it is.
            return true;
        }
        match place.checked_sub(1) {
            Some(before) if edge.end < self.edges[before].edge.start + least => {
                let before = &mut self.edges[before];
                if !is_step {
                    (before.edge.start, before.opened_by) = (edge.start, opened_by);
                }
                true
            }
            None if opened_by.is_some() && since.is_some_and(|since| edge.end < since + least) => {
                is_step
            }
            _ => {
                self.edges.insert(place, Planned { edge, opened_by });
                true
            }
        }
    }

    /// The next edge.
    pub(super) fn next(&self) -> Option<&Planned> {
        self.edges.front()
    }

    /// The next edge lies behind.
    pub(super) fn pass(&mut self) {
        self.edges.pop_front();
    }

    /// The frame at which the entry under way ends.
    pub(super) fn next_end(&self) -> Option<u64> {
        self.edges.front().map(|planned| planned.edge.end)
    }

    /// The frame at which the last of them begins.
    pub(super) fn last_start(&self) -> Option<u64> {
        self.edges.back().map(|planned| planned.edge.start)
    }

    /// What begins with the last edge.
    pub(super) fn last_opened_by(&self) -> Option<Option<OpenedBy>> {
        self.edges.back().map(|planned| planned.opened_by)
    }
}
