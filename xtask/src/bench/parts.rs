//! Which part of measuring takes how long: the meter tells when each has ended, and the clock is read
//! then. Every pass over a track ends the same parts in the same order, so each counts with the shortest time of
//! all passes, whatever else the machine did in between. What reading the clock takes is found by itself,
//! and taken off.

use std::time::{Duration, Instant};

use anyhow::Result;
use ledgerline_measure::laps::{Laps, Work};
use ledgerline_measure::{ChannelRole, Meter, Settings, View};

use super::tracks::{self, Track};
use super::{READINGS_A_SECOND, median};

/// Passes over a track.
const PASSES: usize = 5;
/// Frames of a block.
const BLOCK: usize = 64;
/// How often the clock is read to find what that takes.
const CLOCK_READINGS: u32 = 100_000;
/// No track is longer, in seconds.
const LONGEST_S: f64 = 600.0;

/// A stopwatch that keeps the shortest time of each lap of a pass.
struct Stopwatch {
    last: Instant,
    /// Of each lap in order: what ended then, and its time.
    laps: Vec<(Work, Duration)>,
    /// Laps of this pass so far.
    count: usize,
}

impl Laps for Stopwatch {
    fn lap(&mut self, part: Work) {
        let now = Instant::now();
        let time = now - self.last;
        match self.laps.get_mut(self.count) {
            Some((_, shortest)) => *shortest = time.min(*shortest),
            None => self.laps.push((part, time)),
        }
        self.count += 1;
        self.last = now;
    }
}

impl Stopwatch {
    fn new() -> Self {
        Self { last: Instant::now(), laps: Vec::new(), count: 0 }
    }

    /// What a part has taken, less what the clock has, in nanoseconds.
    fn ns(&self, part: Work, clock_ns: f64) -> f64 {
        let of_part = self.laps.iter().filter(|(of, _)| *of == part);
        of_part.map(|(_, time)| (time.as_secs_f64() * 1e9 - clock_ns).max(0.0)).sum()
    }
}

/// What a lap takes by itself, in nanoseconds: the middle one of many.
fn lap_ns() -> f64 {
    let mut watch = Stopwatch::new();
    (0..CLOCK_READINGS).for_each(|_| watch.lap(Work::Books));
    median(watch.laps.iter().map(|(_, time)| time.as_secs_f64() * 1e9).collect())
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
    println!("Nanoseconds a frame, shortest of {PASSES} passes, blocks of {BLOCK}\n");
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
    let mut watch = Stopwatch::new();
    let mut readings = vec![Duration::MAX; (LONGEST_S * READINGS_A_SECOND) as usize];
    for _ in 0..PASSES {
        pass(track, channels, &mut watch, &mut readings)?;
    }
    let (clock_ns, frames) = (lap_ns(), track.audio.frames() as f64);
    let parts = Work::ALL.iter().map(|&part| watch.ns(part, clock_ns));
    let taken = readings.into_iter().filter(|&time| time < Duration::MAX);
    let readings_ns: f64 = taken.map(|time| time.as_secs_f64() * 1e9).sum();
    Ok(parts.chain([readings_ns]).map(|ns| ns / frames).collect())
}

fn pass(
    track: &Track,
    channels: &[usize],
    watch: &mut Stopwatch,
    readings: &mut [Duration],
) -> Result<()> {
    let rate_hz = track.audio.rate_hz;
    let mut meter = Meter::for_channels(rate_hz, roles(channels.len()), Settings::default())?;
    meter.keep_history();
    let both = track.audio.channels();
    let between_readings = (rate_hz / READINGS_A_SECOND) as usize;
    let mut until_reading = between_readings;
    let mut readings = readings.iter_mut();
    watch.count = 0;
    for start in (0..both[0].len()).step_by(BLOCK) {
        let end = (start + BLOCK).min(both[0].len());
        let block: Vec<&[f32]> =
            channels.iter().map(|&channel| &both[channel][start..end]).collect();
        watch.last = Instant::now();
        meter.process_in_laps(&block, &[], watch);
        std::hint::black_box(meter.drain_history().count());
        if until_reading <= BLOCK {
            until_reading += between_readings;
            let begin = Instant::now();
            std::hint::black_box((meter.reading(&View::default()), meter.spectrum()));
            if let Some(shortest) = readings.next() {
                *shortest = begin.elapsed().min(*shortest);
            }
        }
        until_reading -= BLOCK;
    }
    Ok(())
}

/// What the channels of a bus are for.
fn roles(channels: usize) -> &'static [ChannelRole] {
    use ChannelRole::{Center, Left, LowFrequency, Right, Surround};
    &[Left, Right, Center, LowFrequency, Surround, Surround][..channels]
}
