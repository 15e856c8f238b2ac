//! The whole measurement beside the `ebur128` crate, run by run in turn.

use std::time::Duration;

use anyhow::{Result, ensure};
use cpu_time::ThreadTime;
use ebur128::{EbuR128, Mode};
use ledgerline_measure::detector::MeterKind;
use ledgerline_measure::{Meter, Settings, View, YourMeter};
use serde_json::{Value, json};

use super::tracks::Track;
use super::{READINGS_A_SECOND, median};

/// Runs of each side.
const RUNS: usize = 7;
/// How far the two loudnesses may lie apart: the crate's K-weighting drifts by up to 0.04 dB at
/// high rates, and its first gate works on other blocks.
const AGREEMENT_LU: f64 = 0.05;

/// Figures of one track and one block length.
pub struct Paired {
    /// Name of the track.
    pub track: String,
    /// Block length, in frames.
    pub block: usize,
    /// Processor time of the measures, in nanoseconds a frame: the median of the runs.
    pub ours_ns: f64,
    /// The same of the crate.
    pub peer_ns: f64,
    /// Median of the ratios of paired runs.
    pub ratio: f64,
    /// Processor time as a share of the audio's length, in percent.
    pub realtime_percent: f64,
    runs_ns: Vec<[f64; 2]>,
}

impl Paired {
    /// The figures as a record, raw runs included.
    pub fn record(&self) -> Value {
        json!({
            "track": self.track,
            "block_frames": self.block,
            "ours_ns_per_frame": self.ours_ns,
            "ebur128_ns_per_frame": self.peer_ns,
            "cpu_ratio_vs_ebur128": self.ratio,
            "realtime_percent": self.realtime_percent,
            "runs_ns_per_frame": self.runs_ns,
        })
    }
}

/// Times both sides on a track.
///
/// # Errors
///
/// When they read different loudnesses: then at least one of them did not do its work.
pub fn run(track: &Track, block: usize) -> Result<Paired> {
    let frames = track.audio.frames() as f64;
    let mut runs_ns = Vec::new();
    for _ in 0..RUNS {
        let (ours, ours_lufs) = ours(track, block, Besides::default())?;
        let (peer, peer_lufs) = peer(track, block)?;
        ensure!(
            (ours_lufs - peer_lufs).abs() <= AGREEMENT_LU,
            "{}: the measures read {ours_lufs:.3} LUFS, ebur128 {peer_lufs:.3}",
            track.name
        );
        runs_ns.push([ours, peer].map(|time| time.as_secs_f64() * 1e9 / frames));
    }
    let median = |of: &dyn Fn(&[f64; 2]) -> f64| median(runs_ns.iter().map(of).collect());
    let ours_ns = median(&|run| run[0]);
    Ok(Paired {
        track: track.name.clone(),
        block,
        ours_ns,
        peer_ns: median(&|run| run[1]),
        ratio: median(&|run| run[0] / run[1]),
        realtime_percent: ours_ns * 1e-9 * track.audio.rate_hz * 100.0,
        runs_ns,
    })
}

/// What is chosen besides the usual measures, or has happened.
#[derive(Clone, Copy, Default)]
pub struct Besides {
    /// The user's own meter.
    pub your_meter: Option<MeterKind>,
    /// Whether there was a reset that can be undone all the while.
    pub after_a_reset: bool,
}

/// What a second track with something besides costs more than a first without, in parts of what the crate
/// takes for a third.
///
/// # Errors
///
/// When a track cannot be measured.
pub fn added_by(usual: &Track, [without, with]: [&Track; 2], besides: Besides) -> Result<f64> {
    /// Frames of a block.
    const BLOCK: usize = 64;
    let mut ratios = Vec::new();
    for _ in 0..RUNS {
        let (without, _) = ours(without, BLOCK, Besides::default())?;
        let (with, _) = ours(with, BLOCK, besides)?;
        let (peer, _) = peer(usual, BLOCK)?;
        ratios.push((with.as_secs_f64() - without.as_secs_f64()) / peer.as_secs_f64());
    }
    Ok(median(ratios))
}

fn ours(track: &Track, block: usize, besides: Besides) -> Result<(Duration, f64)> {
    let rate_hz = track.audio.rate_hz;
    let mut meter = Meter::new(rate_hz, 2, 0, Settings::default())?;
    // As the plugin's audio thread does.
    meter.keep_history();
    meter.set_your_meter(besides.your_meter);
    let your_meter = besides.your_meter.map(|kind| YourMeter { kind, offset_db: 0.0 });
    let view = View { your_meter, ..View::default() };
    if besides.after_a_reset {
        meter.keep_resets(track.audio.frames() as u64);
        meter.reset();
    }
    let [left, right] = track.audio.channels();
    let between_readings = (rate_hz / READINGS_A_SECOND) as usize;
    let mut until_reading = between_readings;
    let start = ThreadTime::now();
    for (left, right) in left.chunks(block).zip(right.chunks(block)) {
        meter.process(&[left, right], &[]);
        std::hint::black_box(meter.drain_history().count());
        if until_reading <= block {
            until_reading += between_readings;
            std::hint::black_box((meter.reading(&view), meter.spectrum()));
        }
        until_reading -= block;
    }
    let time = start.elapsed();
    meter.finish();
    let lufs = meter.reading(&view).whole.bus.integrated_lufs;
    Ok((time, lufs.db().unwrap_or(f64::NAN)))
}

fn peer(track: &Track, block: usize) -> Result<(Duration, f64)> {
    let mode = Mode::I | Mode::M | Mode::S | Mode::LRA | Mode::TRUE_PEAK;
    let mut peer = EbuR128::new(2, track.audio.rate_hz as u32, mode)?;
    let [left, right] = track.audio.channels();
    let start = ThreadTime::now();
    for (left, right) in left.chunks(block).zip(right.chunks(block)) {
        peer.add_frames_planar_f32(&[left, right])?;
    }
    let time = start.elapsed();
    Ok((time, peer.loudness_global()?))
}
