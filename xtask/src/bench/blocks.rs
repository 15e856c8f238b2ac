//! How long single blocks take: an average hides the one block that is late.

use std::time::Instant;

use ledgerline_measure::{Meter, Settings, View};

use super::READINGS_A_SECOND;
use super::tracks::Track;

/// Passes over the track. The same work falls on the same block in each, so the shortest time of
/// a block is its own and what the rest of the machine adds falls away.
const PASSES: usize = 5;

/// Block times as shares of the block's duration.
pub struct BlockTimes {
    /// Half the blocks take no longer.
    pub median_share: f64,
    /// One block in a thousand takes longer.
    pub p999_share: f64,
    /// The slowest.
    pub slowest_share: f64,
}

/// Times every block of a track.
///
/// # Panics
///
/// When the track cannot be measured, which the comparison before it has ruled out.
pub fn time(track: &Track, block: usize) -> BlockTimes {
    let rate_hz = track.audio.rate_hz;
    let blocks = track.audio.frames() / block;
    let mut shortest_s = vec![f64::INFINITY; blocks];
    for _ in 0..PASSES {
        let meter = Meter::new(rate_hz, 2, 0, Settings::default());
        pass(track, block, &mut meter.expect("this track was measured before"), &mut shortest_s);
    }
    shortest_s.sort_by(f64::total_cmp);
    let duration_s = block as f64 / rate_hz;
    let share = |position: f64| {
        let index = (position * (blocks - 1) as f64).round() as usize;
        shortest_s[index] / duration_s
    };
    BlockTimes { median_share: share(0.5), p999_share: share(0.999), slowest_share: share(1.0) }
}

fn pass(track: &Track, block: usize, meter: &mut Meter, shortest_s: &mut [f64]) {
    let view = View::default();
    let [left, right] = track.audio.channels();
    let between_readings = (track.audio.rate_hz / READINGS_A_SECOND) as usize / block;
    let pieces = left.chunks_exact(block).zip(right.chunks_exact(block));
    for (index, ((left, right), shortest_s)) in pieces.zip(shortest_s).enumerate() {
        let start = Instant::now();
        meter.process(&[left, right], &[]);
        if index % between_readings == between_readings - 1 {
            std::hint::black_box((meter.reading(&view), meter.spectrum()));
        }
        *shortest_s = shortest_s.min(start.elapsed().as_secs_f64());
    }
}
