//! Meters that have done their work, for the next file of the same kind.
//!
//! To make a meter takes a tenth of what ten seconds of sound take: filters and transforms are planned,
//! and megabytes are got from the system. Of many short files all but the first few are spared that.

use std::sync::{Mutex, PoisonError};

use ledgerline_measure::{ChannelRole, Meter};

/// Kinds of meter beyond which the oldest is let go.
const MOST: usize = 8;

/// What a meter is made for, as far as it differs from file to file.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Kind {
    pub(super) rate_hz: u32,
    /// Of the main input.
    pub(super) roles: Vec<ChannelRole>,
    pub(super) side_chain: usize,
    pub(super) word_bits: Option<u32>,
}

/// Meters that are as if they were new.
#[derive(Default)]
pub(in crate::read_command) struct Spares {
    meters: Mutex<Vec<(Kind, Meter)>>,
}

impl Spares {
    /// One of that kind, if there is one.
    pub(super) fn take(&self, kind: &Kind) -> Option<Meter> {
        let mut meters = self.meters.lock().unwrap_or_else(PoisonError::into_inner);
        let index = meters.iter().rposition(|(of, _)| of == kind)?;
        Some(meters.remove(index).1)
    }

    /// Keeps one that nobody reads any more.
    pub(super) fn keep(&self, kind: Kind, mut meter: Meter) {
        meter.restart();
        let mut meters = self.meters.lock().unwrap_or_else(PoisonError::into_inner);
        if meters.len() == MOST {
            meters.remove(0);
        }
        meters.push((kind, meter));
    }
}
