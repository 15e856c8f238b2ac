//! What the background does for an instance whose bus is searched for entries, and what handing the
//! samples over costs the audio thread.

use std::time::Duration;

use anyhow::{Context, Result};
use cpu_time::ThreadTime;
use ledgerline::bus::Bus;
use ledgerline::entries::board::Board;
use ledgerline::entries::keeper::Keeper;
use ledgerline_measure::{Settings, View};
use serde_json::{Value, json};

use super::median;
use super::tracks::Track;

/// Runs of each case.
const RUNS: usize = 5;
/// Length of the audio thread's blocks, in frames.
const BLOCK_FRAMES: usize = 64;
/// Time between two rounds of the background, in seconds.
const ROUND_S: f64 = 0.02;

/// Figures of one track.
pub struct Entries {
    track: String,
    /// Processor time of the background as a share of a core, while no window is open.
    share: f64,
    /// The same while one is.
    watched_share: f64,
    /// Processor time of the audio thread, in nanoseconds a frame.
    copying_ns: f64,
}

impl Entries {
    /// The figures as a record.
    pub fn record(&self) -> Value {
        json!({
            "track": self.track,
            "background_share": self.share,
            "background_watched_share": self.watched_share,
            "copying_ns_per_frame": self.copying_ns,
        })
    }
}

/// Times every track.
///
/// # Errors
///
/// When a track has an entry too few: then nothing was heard.
pub fn run(tracks: &[Track]) -> Result<Vec<Entries>> {
    tracks.iter().map(one).collect()
}

fn one(track: &Track) -> Result<Entries> {
    let length_s = track.audio.frames() as f64 / track.audio.rate_hz;
    let mut runs = Vec::new();
    for _ in 0..RUNS {
        let (copying, background) = play(track, false)?;
        let (_, watched) = play(track, true)?;
        runs.push([copying, background, watched].map(|time| time.as_secs_f64()));
    }
    let middle = |index: usize| median(runs.iter().map(|run| run[index]).collect());
    Ok(Entries {
        track: track.name.clone(),
        share: middle(1) / length_s,
        watched_share: middle(2) / length_s,
        copying_ns: middle(0) * 1e9 / track.audio.frames() as f64,
    })
}

/// Plays a track round by round, and says how long the audio thread and the background took.
fn play(track: &Track, watched: bool) -> Result<(Duration, Duration)> {
    let bus = Bus { rate_hz: track.audio.rate_hz, main: 2, side_chain: 0 };
    let (board, view) = (Board::default(), View::default());
    let mut keeper = Keeper::default();
    let mut stream = keeper.begin(bus, Settings::default(), true);
    let [left, right] = track.audio.channels();
    let round = (ROUND_S * track.audio.rate_hz) as usize;
    let (mut copying, mut background) = (Duration::ZERO, Duration::ZERO);
    let mut ended = 0;
    for (left, right) in left.chunks(round).zip(right.chunks(round)) {
        // The host has just written what it hands over.
        std::hint::black_box(left.iter().chain(right).sum::<f32>());
        let start = ThreadTime::now();
        for (left, right) in left.chunks(BLOCK_FRAMES).zip(right.chunks(BLOCK_FRAMES)) {
            stream.push(&[left, right], &[], false);
        }
        copying += start.elapsed();
        if watched {
            std::hint::black_box(board.latest());
        }
        let start = ThreadTime::now();
        keeper.take(view, &board, |_| ended += 1, || ());
        background += start.elapsed();
    }
    keeper.end(&board, |_| ended += 1);
    (ended > 0).then_some((copying, background)).context("no entry was found")
}

/// For people.
pub fn print(entries: &[Entries]) {
    println!();
    for one in entries {
        println!(
            "Background of an instance (entries), 96 kHz, {}: {:.2} % of a core, {:.2} % with a \
             window; copying for it: {:.1} ns a frame",
            one.track,
            100.0 * one.share,
            100.0 * one.watched_share,
            one.copying_ns
        );
    }
}
