//! Memory that an instance's measures and entries take.

use anyhow::Result;
use ledgerline::bus::Bus;
use ledgerline::entries::board::Board;
use ledgerline::entries::keeper::Keeper;
use ledgerline_measure::entries::{MOST_ENTRIES, OpenedBy};
use ledgerline_measure::{Meter, Settings, View};

use super::tracks;

/// Instances made; one alone would drown in the allocator's rounding.
const INSTANCES: usize = 4;
const BUS: Bus = Bus { rate_hz: 96_000.0, main: 2, side_chain: 0 };
/// Length of an entry, in frames.
const ENTRY_FRAMES: usize = 57_600;

/// Resident memory of one instance at 96 kHz in MB, with as many entries as are kept; `None` where the
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
        let mut meter = Meter::new(BUS.rate_hz, BUS.main, BUS.side_chain, Settings::default())?;
        let (mut keeper, board) = (Keeper::default(), Board::default());
        let mut stream = keeper.begin(BUS, Settings::default(), true);
        for index in 0..MOST_ENTRIES + 5 {
            let start = index * 1_000;
            let piece = [&left[start..start + ENTRY_FRAMES], &right[start..start + ENTRY_FRAMES]];
            meter.process(&piece, &[]);
            stream.open(OpenedBy::Mark);
            stream.push(&piece, &[], false);
            keeper.take(View::default(), &board, |_| ());
        }
        kept.push((meter, keeper, stream));
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
