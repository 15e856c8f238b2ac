//! Which part of measuring takes how long: the meter tells when each has ended, and the clock is read
//! then. What reading it takes is found by a run in which nothing else is done, and taken off.

use std::time::{Duration, Instant};

use anyhow::Result;
use ledgerline_measure::laps::{Laps, Work};
use ledgerline_measure::{ChannelRole, Meter, Settings, View};

use super::tracks::{self, Track};
use super::{READINGS_A_SECOND, median};

/// Runs, of which the middle one counts for each part.
const RUNS: usize = 5;
/// Frames of a block.
const BLOCK: usize = 64;
/// How often the clock is read to find what that takes.
const CLOCK_READINGS: u32 = 100_000;

/// A stopwatch with a total a part.
struct Stopwatch {
    last: Instant,
    totals: [Duration; Work::ALL.len()],
    laps: [u32; Work::ALL.len()],
}

impl Laps for Stopwatch {
    fn lap(&mut self, part: Work) {
        let now = Instant::now();
        let index = Work::ALL.iter().position(|&other| other == part).unwrap_or_default();
        self.totals[index] += now - self.last;
        self.laps[index] += 1;
        self.last = now;
    }
}

impl Stopwatch {
    fn start() -> Self {
        Self { last: Instant::now(), totals: Default::default(), laps: Default::default() }
    }

    /// What each part has taken, less what the clock has, in nanoseconds a frame.
    fn ns_a_frame(&self, frames: f64) -> Vec<f64> {
        let clock_ns = lap_ns();
        let parts = self.totals.iter().zip(self.laps);
        let net = parts.map(|(total, laps)| total.as_secs_f64() * 1e9 - f64::from(laps) * clock_ns);
        net.map(|ns| ns.max(0.0) / frames).collect()
    }
}

/// What a lap takes by itself, in nanoseconds.
fn lap_ns() -> f64 {
    let mut watch = Stopwatch::start();
    let start = Instant::now();
    (0..CLOCK_READINGS).for_each(|_| watch.lap(Work::Books));
    std::hint::black_box(&watch.totals);
    start.elapsed().as_secs_f64() * 1e9 / f64::from(CLOCK_READINGS)
}

/// Prints a table of the parts on each track, and of a bus of six channels.
///
/// # Errors
///
/// When a track cannot be measured.
pub fn print() -> Result<()> {
    let mut tracks = tracks::at_96_khz();
    tracks.extend([48_000.0, 192_000.0].map(tracks::noise));
    let mut columns = Vec::new();
    for track in &tracks {
        columns.push((track.name.clone(), of_track(track, &[0, 1])?));
    }
    columns.push(("5.1, white noise, 96 kHz".into(), of_track(&tracks[1], &[0, 1, 0, 1, 0, 1])?));
    println!("Nanoseconds a frame, wall time, blocks of {BLOCK}\n");
    for (number, (name, _)) in columns.iter().enumerate() {
        println!("({}) {name}", number + 1);
    }
    let heads: String =
        (1..=columns.len()).map(|number| format!("{:>8}", format!("({number})"))).collect();
    println!("\n{:<34}{heads}", "part");
    let names = Work::ALL.iter().map(|part| part.words()).chain(["readings, 30 a second"]);
    for (row, name) in names.enumerate() {
        println!("{}", line(name, &columns, |parts| parts[row]));
    }
    println!("{}", line("all", &columns, |parts| parts.iter().sum()));
    Ok(())
}

fn line(name: &str, columns: &[(String, Vec<f64>)], of: impl Fn(&[f64]) -> f64) -> String {
    let cells: String = columns.iter().map(|(_, parts)| format!("{:>8.2}", of(parts))).collect();
    format!("{name:<34}{cells}")
}

/// Nanoseconds a frame of each part, and of the readings, of a bus that has these channels of a track.
fn of_track(track: &Track, channels: &[usize]) -> Result<Vec<f64>> {
    let runs = (0..RUNS).map(|_| run(track, channels)).collect::<Result<Vec<_>>>()?;
    let parts = 0..=Work::ALL.len();
    Ok(parts.map(|part| median(runs.iter().map(|run| run[part]).collect())).collect())
}

fn run(track: &Track, channels: &[usize]) -> Result<Vec<f64>> {
    let rate_hz = track.audio.rate_hz;
    let mut meter = Meter::for_channels(rate_hz, roles(channels.len()), Settings::default())?;
    meter.keep_history();
    let both = track.audio.channels();
    let between_readings = (rate_hz / READINGS_A_SECOND) as usize;
    let mut until_reading = between_readings;
    let mut reading = Duration::ZERO;
    let mut watch = Stopwatch::start();
    for start in (0..both[0].len()).step_by(BLOCK) {
        let end = (start + BLOCK).min(both[0].len());
        let block: Vec<&[f32]> =
            channels.iter().map(|&channel| &both[channel][start..end]).collect();
        watch.last = Instant::now();
        meter.process_in_laps(&block, &[], &mut watch);
        std::hint::black_box(meter.drain_history().count());
        if until_reading <= BLOCK {
            until_reading += between_readings;
            let begin = Instant::now();
            std::hint::black_box((meter.reading(&View::default()), meter.spectrum()));
            reading += begin.elapsed();
        }
        until_reading -= BLOCK;
    }
    let frames = both[0].len() as f64;
    let mut parts = watch.ns_a_frame(frames);
    parts.push(reading.as_secs_f64() * 1e9 / frames);
    Ok(parts)
}

/// What the channels of a bus are for.
fn roles(channels: usize) -> &'static [ChannelRole] {
    use ChannelRole::{Center, Left, LowFrequency, Right, Surround};
    &[Left, Right, Center, LowFrequency, Surround, Surround][..channels]
}
