//! How long single blocks take: an average hides the one block that is late.
//!
//! The cases are those where much falls together: a side-chain, listening, a low upper edge, high
//! rates, and a reset.

use std::time::Instant;

use anyhow::{Result, anyhow};
use ledgerline::bus::Bus;
use ledgerline::choices::Listen;
use ledgerline::rebuild::succession::Succession;
use ledgerline::rebuild::{Measuring, exchange};
use ledgerline_measure::{Edges, Halves, Settings, View};
use serde_json::{Value, json};

use super::READINGS_A_SECOND;
use super::tracks::{self, Track};

/// Length of the blocks, in frames.
const BLOCK_FRAMES: usize = 64;
/// Passes over the track. The same work falls on the same block in each, so the shortest time of
/// a block is its own and what the rest of the machine adds falls away.
const PASSES: usize = 5;

/// What is measured, and how.
struct Case {
    name: &'static str,
    rate_hz: f64,
    edges: Edges,
    side_chain: bool,
    listens: bool,
}

/// Block times of a case as shares of the block's duration.
pub struct BlockTimes {
    /// What was measured.
    pub name: &'static str,
    /// Half the blocks take no longer.
    pub median_share: f64,
    /// One block in a thousand takes longer.
    pub p999_share: f64,
    /// The slowest.
    pub slowest_share: f64,
    /// A reset in the middle of the sound, in microseconds.
    pub reset_us: f64,
}

impl BlockTimes {
    /// The figures as a record.
    pub fn record(&self) -> Value {
        json!({
            "case": self.name,
            "median_block_share": self.median_share,
            "p999_block_share": self.p999_share,
            "slowest_block_share": self.slowest_share,
            "reset_us": self.reset_us,
        })
    }
}

/// Times every block of every case, the ferry mix first.
///
/// # Errors
///
/// When a track cannot be measured.
pub fn time_all(ferry: &Track) -> Result<Vec<BlockTimes>> {
    let plain = |name, rate_hz| Case {
        name,
        rate_hz,
        edges: Edges::default(),
        side_chain: false,
        listens: false,
    };
    let low_edge = Edges::nearest(5.0, 5_000.0);
    let cases = [
        plain("noise, 48 kHz", 48_000.0),
        plain("noise, 96 kHz", 96_000.0),
        Case {
            side_chain: true,
            listens: true,
            ..plain("side-chain and listening, 96 kHz", 96_000.0)
        },
        Case { edges: low_edge, ..plain("edges at 5 Hz and 5 kHz, 96 kHz", 96_000.0) },
        plain("noise, 192 kHz", 192_000.0),
        Case {
            side_chain: true,
            listens: true,
            ..plain("side-chain and listening, 192 kHz", 192_000.0)
        },
        Case { edges: low_edge, ..plain("edges at 5 Hz and 5 kHz, 192 kHz", 192_000.0) },
    ];
    let mut times = vec![time(&plain("the benchmark's ferry mix", 96_000.0), ferry)?];
    for case in &cases {
        times.push(time(case, &tracks::noise(case.rate_hz))?);
    }
    Ok(times)
}

fn time(case: &Case, track: &Track) -> Result<BlockTimes> {
    let blocks = track.audio.frames() / BLOCK_FRAMES;
    let mut shortest_s = vec![f64::INFINITY; blocks];
    let mut reset_us = f64::INFINITY;
    for _ in 0..PASSES {
        reset_us = reset_us.min(pass(case, track, &mut shortest_s)?);
    }
    shortest_s.sort_by(f64::total_cmp);
    let duration_s = BLOCK_FRAMES as f64 / case.rate_hz;
    let share = |position: f64| {
        let index = (position * (blocks - 1) as f64).round() as usize;
        shortest_s[index] / duration_s
    };
    Ok(BlockTimes {
        name: case.name,
        median_share: share(0.5),
        p999_share: share(0.999),
        slowest_share: share(1.0),
        reset_us,
    })
}

/// Plays a track through what the plugin does with a block, and says how long a reset takes at its
/// end, in microseconds.
fn pass(case: &Case, track: &Track, shortest_s: &mut [f64]) -> Result<f64> {
    let halves = if case.side_chain { Halves::MainSidechain } else { Halves::LeftRight };
    let settings = Settings { edges: case.edges, halves, ..Settings::default() };
    let side_channels = if case.side_chain { 2 } else { 0 };
    let bus = Bus { rate_hz: case.rate_hz, main: 2, side_chain: side_channels };
    let (measuring, error) = Measuring::build(bus, settings);
    if let Some(error) = error {
        return Err(anyhow!("{}: {error}", case.name));
    }
    let mut succession = Succession::new(exchange().0);
    succession.begin(case.rate_hz);
    succession.put(measuring);
    let listen = if case.listens { Listen::Hidden } else { Listen::Off };
    let view = View::default();
    let [left, right] = track.audio.channels();
    let between_readings = (case.rate_hz / READINGS_A_SECOND) as usize / BLOCK_FRAMES;
    let pieces = left.chunks_exact(BLOCK_FRAMES).zip(right.chunks_exact(BLOCK_FRAMES));
    for (index, ((left, right), shortest_s)) in pieces.zip(shortest_s).enumerate() {
        let (mut heard_left, mut heard_right) = (left.to_vec(), right.to_vec());
        let side_chain: &[&[f32]] = &[right, left];
        let start = Instant::now();
        let Some(meter) = succession.meter_mut() else { continue };
        meter.process(&[left, right], &side_chain[..side_channels]);
        if index % between_readings == between_readings - 1 {
            std::hint::black_box((meter.reading(&view), meter.spectrum()));
        }
        succession.listen(listen, &mut [&mut heard_left, &mut heard_right]);
        *shortest_s = shortest_s.min(start.elapsed().as_secs_f64());
    }
    let start = Instant::now();
    succession.meter_mut().into_iter().for_each(|meter| meter.reset());
    Ok(start.elapsed().as_secs_f64() * 1e6)
}
