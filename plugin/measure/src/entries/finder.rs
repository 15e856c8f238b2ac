//! Finds level steps: where a steady sound passes into another steady one at once.
//!
//! Every 50 ms, the latest stretch is laid beside the one before it, with a pause between them in which
//! the step lies. What is found is held for a while, and told only if the level stays.

mod rows;
mod stretch;

use std::collections::VecDeque;

use crate::batch::PairBatch;
use crate::settings::Edges;
use rows::RowMaker;
pub(crate) use rows::{
    BANDS, BUS, FIRST_EDGE_HZ, Powers, ROWS_A_SECOND, Row, SIGNALS, SUM, band_at, band_width_hz,
};
use stretch::Step;

/// Rows in a block: 50 ms.
const ROWS_A_BLOCK: usize = 5;
/// Blocks before a step: what it takes at least (1.5 s), and what is looked at at most (3 s).
const LEAST_BEFORE: usize = 30;
const MOST_BEFORE: usize = 60;
/// Blocks between the stretches and blocks after them: a step of 3 dB is found half a second after it
/// happened, a small one or one that takes a moment to happen later.
const SHAPES: [(usize, usize); 3] = [(2, 7), (2, 28), (10, 14)];
/// The pause that a step done by hand needs.
const BY_HAND: usize = 10;
/// Blocks after which a level has stayed: 1.2 s.
const STAYS: usize = 24;
/// Blocks beside the place of a step that may belong to either side of it.
const BESIDE: usize = 2;
/// Blocks kept.
const MOST_BLOCKS: usize = MOST_BEFORE + 48;
/// By how far, in seconds, what comes in is ahead of what is sure to hold no more steps.
pub(crate) const LOOKS_BACK_S: f64 = 2.4;

/// Where one steady stretch ends and the next begins, in frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Edge {
    pub(crate) end: u64,
    pub(crate) start: u64,
}

/// What the finder says of a batch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Found {
    /// A step, which may yet turn out to be none.
    Likely(Edge),
    /// That step is one.
    Sure(Edge),
    /// That step is none.
    Not,
}

struct Candidate {
    edge: Edge,
    /// Blocks from here on come after it.
    from: usize,
    /// Blocks between what comes before and after.
    pause: usize,
}

pub(crate) struct Finder {
    maker: RowMaker,
    /// Rows of the blocks that are kept and of the one that fills.
    rows: VecDeque<Row>,
    blocks: Vec<[Powers; SIGNALS]>,
    candidate: Option<Candidate>,
}

impl Finder {
    pub(crate) fn new(rate_hz: f64, edges: Edges, pairs: usize, halves_pairs: usize) -> Self {
        Self {
            maker: RowMaker::new(rate_hz, edges, pairs, halves_pairs),
            rows: VecDeque::new(),
            blocks: Vec::new(),
            candidate: None,
        }
    }

    /// What comes does not go on from what came, or belongs to another entry.
    pub(crate) fn cut(&mut self) {
        self.maker.reset();
        self.rows.clear();
        self.blocks.clear();
        self.candidate = None;
    }

    /// Takes a batch that ends at frame `end`; `heard` hears of each row.
    pub(crate) fn take(
        &mut self,
        batch: &[PairBatch],
        end: u64,
        mut heard: impl FnMut(&Row),
    ) -> Option<Found> {
        let rows = &mut self.rows;
        self.maker.take(batch, end, |row| {
            heard(&row);
            rows.push_back(row);
        });
        let first = self.blocks.len() * ROWS_A_BLOCK;
        if self.rows.len() < first + ROWS_A_BLOCK {
            return None;
        }
        let mut block = [Powers::default(); SIGNALS];
        for row in self.rows.range(first..first + ROWS_A_BLOCK) {
            block.iter_mut().zip(&row.signals).for_each(|(sum, powers)| sum.add(powers));
        }
        self.blocks.push(block);
        let found = self.look();
        self.forget();
        found
    }

    /// Drops what is no longer looked at.
    fn forget(&mut self) {
        while self.blocks.len() > MOST_BLOCKS {
            self.drop_first(1);
        }
    }

    fn drop_first(&mut self, blocks: usize) {
        self.blocks.drain(..blocks);
        self.rows.drain(..blocks * ROWS_A_BLOCK);
        if let Some(candidate) = &mut self.candidate {
            candidate.from = candidate.from.saturating_sub(blocks);
        }
    }

    fn look(&mut self) -> Option<Found> {
        match self.candidate.take() {
            Some(candidate) if self.blocks.len() < candidate.from + STAYS => {
                self.candidate = Some(candidate);
                None
            }
            Some(candidate) => {
                let Some(edge) = self.confirmed(&candidate) else { return Some(Found::Not) };
                self.drop_first(candidate.from);
                Some(Found::Sure(edge))
            }
            None => {
                let found =
                    SHAPES.into_iter().find_map(|(pause, after)| self.seek(pause, after))?;
                let edge = found.edge;
                self.candidate = Some(found);
                Some(Found::Likely(edge))
            }
        }
    }

    /// Where a step happened that has been found, if the level stayed.
    fn confirmed(&self, &Candidate { edge, from, pause }: &Candidate) -> Option<Edge> {
        // Where it was found first, the step may lie at the very edge of a block.
        let before = &self.blocks[..from.saturating_sub(pause + BESIDE - 1)];
        let before = &before[before.len().saturating_sub(MOST_BEFORE)..];
        let after = &self.blocks[from + BESIDE..];
        let near = &before[before.len().saturating_sub(STAYS)..];
        if before.len() + BESIDE < LEAST_BEFORE {
            return None;
        }
        let step = stretch::step(before, after)?;
        step.is_sudden(near, pause + 2 * BESIDE - 1, after).then(|| {
            if edge.end < edge.start {
                return edge;
            }
            let frame = self.place(&step, from - pause - BESIDE + 1, from + BESIDE);
            Edge { end: frame, start: frame }
        })
    }

    /// A step before the latest `after` blocks, within `pause` blocks.
    fn seek(&self, pause: usize, after: usize) -> Option<Candidate> {
        let end = self.blocks.len().checked_sub(pause + after)?;
        if end < LEAST_BEFORE {
            return None;
        }
        let before = &self.blocks[end.saturating_sub(MOST_BEFORE)..end];
        let step = stretch::step(before, &self.blocks[end + pause..])?;
        let edge = if pause == BY_HAND {
            let frame = |block: usize| self.rows[block * ROWS_A_BLOCK].frame;
            Edge { end: frame(end), start: frame(end + pause) }
        } else {
            let frame = self.place(&step, end, end + pause);
            Edge { end: frame, start: frame }
        };
        Some(Candidate { edge, from: end + pause, pause })
    }

    /// The frame at which a step happened that lies between two blocks: where two levels, one before
    /// and one after, fit best.
    fn place(&self, step: &Step, end: usize, start: usize) -> u64 {
        const ROWS_BESIDE: usize = 4;
        let first = (end * ROWS_A_BLOCK).saturating_sub(ROWS_BESIDE);
        let last = (start * ROWS_A_BLOCK + ROWS_BESIDE).min(self.rows.len());
        let [low, high] = step.levels;
        let (least, most) = (low.min(high) - 3.0, low.max(high) + 3.0);
        let misfits: Vec<[f64; 2]> = self
            .rows
            .range(first..last)
            .map(|row| {
                let level = step.measure.level(&row.signals) + block_db();
                let level = level.clamp(least, most);
                [(level - low).powi(2), (level - high).powi(2)]
            })
            .collect();
        let misfit = |place: usize| -> f64 {
            let one = misfits[..place].iter().map(|misfit| misfit[0]).sum::<f64>();
            one + misfits[place..].iter().map(|misfit| misfit[1]).sum::<f64>()
        };
        let place = (1..misfits.len())
            .min_by(|&one, &other| misfit(one).total_cmp(&misfit(other)))
            .unwrap_or(0);
        let [before, after] =
            [place.saturating_sub(1), place].map(|row| self.rows[first + row].frame);
        before.midpoint(after)
    }
}

/// A block's powers are the sum of its rows'.
fn block_db() -> f64 {
    10.0 * (ROWS_A_BLOCK as f64).log10()
}
