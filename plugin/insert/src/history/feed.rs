//! From the audio thread to the board, wait-free.

use ledgerline_measure::Meter;
use rtrb::{Consumer, Producer, RingBuffer};

use super::{Board, Column, Kept};
use crate::handover::Snapshot;

/// Rows that may wait: a minute.
const ROWS_WAITING: usize = 600;
/// Snapshots that may wait.
const MOMENTS_WAITING: usize = 8;

/// A snapshot on its way.
#[derive(Clone, Copy)]
struct Moment {
    at_s: f64,
    host_s: Option<f64>,
    snapshot: Snapshot,
}

/// The audio thread's end.
pub struct Feed {
    rows: Producer<Column>,
    moments: Producer<Moment>,
    /// Seconds since the first frame of all.
    passed_s: f64,
    /// Overs since reset that have been told of, and those that there were when time last passed.
    told_overs: u64,
    seen_overs: u64,
    /// Where the host has stopped since the latest row.
    stop_s: Option<f64>,
}

/// The background's end.
pub struct Keeper {
    rows: Consumer<Column>,
    moments: Consumer<Moment>,
}

/// Makes both ends. Allocates.
#[must_use]
pub fn feed() -> (Feed, Keeper) {
    let (rows_in, rows_out) = RingBuffer::new(ROWS_WAITING);
    let (moments_in, moments_out) = RingBuffer::new(MOMENTS_WAITING);
    (
        Feed {
            rows: rows_in,
            moments: moments_in,
            passed_s: 0.0,
            told_overs: 0,
            seen_overs: 0,
            stop_s: None,
        },
        Keeper { rows: rows_out, moments: moments_out },
    )
}

impl Feed {
    /// Time has passed, measured or not, of which `meter` has new rows; the transport stands at
    /// `host_s`. Neither waits nor allocates; a row without space is lost.
    pub fn pass(&mut self, seconds: f64, meter: &mut Meter, host_s: Option<f64>) {
        self.passed_s += seconds;
        let (measured_s, delay_s) =
            (meter.measured_s(), meter.delay_frames() as f64 / meter.rate_hz());
        let overs = meter.overs();
        self.notice_reset(overs);
        for row in meter.drain_history() {
            let ago_s = delay_s + (measured_s - row.time_s).max(0.0);
            let host_s = host_s.map(|host_s| host_s - ago_s);
            // Those of this block may have come behind the row's end: they wait for the next row.
            let overs_of_row = self.seen_overs - self.told_overs;
            self.told_overs = self.seen_overs;
            let column = Column::of(&row, self.passed_s - ago_s, host_s, overs_of_row);
            let _ = self.rows.push(Column { stop_s: self.stop_s.take(), ..column });
        }
        self.seen_overs = overs;
    }

    /// A reset takes the overs back to none.
    fn notice_reset(&mut self, overs: u64) {
        if overs < self.seen_overs {
            (self.told_overs, self.seen_overs) = (0, 0);
        }
    }

    /// The host has stopped processing.
    pub fn stop(&mut self) {
        self.stop_s = Some(self.passed_s).filter(|passed_s| *passed_s > 0.0);
    }

    /// A reset is undone: `meter` had `overs` since then, and now has what it had before as well.
    pub fn undo_reset(&mut self, overs: u64, meter: &Meter) {
        self.notice_reset(overs);
        let before = meter.overs().saturating_sub(overs);
        self.told_overs += before;
        self.seen_overs += before;
    }

    /// A second has passed since the last snapshot; readings are `delay_s` behind.
    pub fn keep(&mut self, snapshot: Snapshot, delay_s: f64, host_s: Option<f64>) {
        let (at_s, host_s) = (self.passed_s - delay_s, host_s.map(|host_s| host_s - delay_s));
        let _ = self.moments.push(Moment { at_s, host_s, snapshot });
    }
}

impl Keeper {
    /// Puts what has come in the board.
    pub fn take(&mut self, board: &Board) {
        if self.rows.is_empty() && self.moments.is_empty() {
            return;
        }
        let mut history = board.lock();
        while let Ok(row) = self.rows.pop() {
            history.columns.push(row);
        }
        while let Ok(Moment { at_s, host_s, snapshot }) = self.moments.pop() {
            history.moments.push(Kept { at_s, host_s, snapshot: snapshot.into() });
        }
    }
}
