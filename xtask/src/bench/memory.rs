//! Memory that an instance's measures, entries and history take.

use std::sync::Arc;

use anyhow::{Context, Result};
use ledgerline::bus::Bus;
use ledgerline::choices::Choices;
use ledgerline::entries::board::Board;
use ledgerline::entries::keeper::Keeper;
use ledgerline::handover::Snapshot;
use ledgerline::history::Kept;
use ledgerline::rebuild::Measuring;
use ledgerline_measure::entries::{MOST_ENTRIES, OpenedBy};
use ledgerline_measure::{Settings, View};

use super::{frames, tracks};

/// Instances made; one alone would drown in the allocator's rounding.
const INSTANCES: usize = 4;
const BUS: Bus = Bus { rate_hz: 96_000.0, main: 2, side_chain: 0 };
/// Length of an entry, in frames.
const ENTRY_FRAMES: usize = 57_600;

/// Resident memory of one instance at 96 kHz in MB, with as many entries as are kept and a day of history; `None` where the
/// system does not say.
///
/// # Errors
///
/// Never: the bus can be measured.
pub fn of_an_instance() -> Result<Option<f64>> {
    let noise = tracks::noise(BUS.rate_hz).audio;
    let [left, right] = noise.channels();
    let Some(before) = resident_mb() else { return Ok(None) };
    let mut kept = Vec::new();
    for _ in 0..INSTANCES {
        let (mut measuring, _) = Measuring::build(BUS, Settings::default());
        let meter = measuring.meter.as_mut().context("a usual bus")?;
        let (mut keeper, board) = (Keeper::default(), Board::default());
        let mut stream = keeper.begin(BUS, Settings::default(), true);
        for index in 0..MOST_ENTRIES + 5 {
            let start = index * 1_000;
            let piece = [&left[start..start + ENTRY_FRAMES], &right[start..start + ENTRY_FRAMES]];
            meter.process(&piece, &[]);
            std::hint::black_box(meter.drain_history().count());
            stream.open(OpenedBy::Mark);
            stream.push(&piece, &[], false);
            keeper.take(View::default(), &board, |_| (), || ());
        }
        let mut history = frames::a_day();
        for second in 0..86_400u32 {
            let snapshot = Arc::new(Snapshot::of(meter, &Choices::default()));
            let at_s = f64::from(second);
            history.moments.push(Kept { at_s, host_s: None, snapshot });
        }
        kept.push((measuring, keeper, stream, history));
    }
    Ok(resident_mb().map(|after| (after - before) / kept.len() as f64))
}

/// Linux tells it in /proc; elsewhere it stays unknown.
fn resident_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes * 1024.0 / 1e6)
}
