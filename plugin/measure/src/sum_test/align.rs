//! Where the test lies in a recording, and how fast the recorder's clock ran.
//!
//! The markers give both roughly; the noise of the steps, of which every sample is known, gives
//! them to a small part of a sample: in many short blocks the recording is compared with the feed,
//! and a straight line through the places where they agree best is the clock.

mod clock;
mod markers;

pub(super) use clock::Clock;

use super::audit::AuditError;
use super::feed::{Feed, USUAL_LEVEL_DBFS};
use super::schedule::{STEPS, Schedule, Sound};

/// Length of a block, in seconds: at 10 ppm of error it smears by less than a tenth of a sample.
const BLOCK_S: f64 = 0.17;
/// Where blocks begin in a step, in seconds.
const BLOCKS_S: [f64; 3] = [0.2, 1.6, 3.1];
/// How far the markers may have missed, in seconds and in frames.
const SEARCH: (f64, f64) = (0.4e-3, 16.0);
/// Least likeness of a block that counts.
const LEAST_LIKENESS: f64 = 0.15;
/// Blocks that a straight line needs.
const LEAST_BLOCKS: usize = 4;

/// A recording's place and time scale.
#[derive(Debug, Clone, Copy)]
pub(super) struct Alignment {
    pub clock: Clock,
    /// The feed by which it was found: feed 1 wherever it can be heard.
    pub feed: Feed,
}

/// Finds the test in a recording.
pub(super) fn align(signal: &[f32], schedule: &Schedule) -> Result<Alignment, AuditError> {
    let found = markers::locate(signal, schedule)?;
    let first = refine(signal, schedule, found.clock, found.feed).ok_or(AuditError::NoFeeds)?;
    // Blocks smear less once the clock is known better.
    let clock = refine(signal, schedule, first, found.feed).unwrap_or(first);
    Ok(Alignment { clock, feed: found.feed })
}

/// Whether a sound is white noise that stands for one feed alone.
fn is_noise(sound: Sound) -> bool {
    !matches!(
        sound,
        Sound::Silence | Sound::HiddenTone | Sound::Tone(_) | Sound::Bursts { .. } | Sound::Pink
    )
}

/// Steps in which a feed plays noise that the other feed does not play at the same time.
fn telling_steps(feed: Feed) -> impl Iterator<Item = usize> {
    STEPS.iter().enumerate().filter_map(move |(index, step)| {
        let (own, other) = match feed {
            Feed::One => (step.feed_1, step.feed_2),
            Feed::Two => (step.feed_2, step.feed_1),
        };
        let same =
            matches!(other, Sound::A | Sound::MinusA) && matches!(own, Sound::A | Sound::MinusA);
        (is_noise(own) && !same).then_some(index)
    })
}

fn refine(signal: &[f32], schedule: &Schedule, clock: Clock, feed: Feed) -> Option<Clock> {
    let rate_hz = schedule.rate_hz();
    let length = (BLOCK_S * rate_hz) as usize;
    let search = (SEARCH.0 * rate_hz + SEARCH.1) as usize;
    let mut known = vec![0.0; length];
    let mut places = Vec::new();
    for step in telling_steps(feed) {
        for offset_s in BLOCKS_S {
            let first = schedule.step_start_frames(step) + (offset_s * rate_hz) as u64;
            feed.fill(schedule, first, USUAL_LEVEL_DBFS, &mut known);
            let start = clock.place(first as f64) - search as f64 * clock.stretch;
            let heard = clock.resample_from(signal, start, length + 2 * search);
            if let Some(lag) = best_lag(&known, &heard, search) {
                let middle = first as f64 + length as f64 / 2.0;
                places.push((middle, clock.place(middle + lag)));
            }
        }
    }
    line_through(&places)
}

/// By how many frames `heard` is late against `known`, to a part of a frame.
fn best_lag(known: &[f32], heard: &[f32], search: usize) -> Option<f64> {
    let dot = |x: &[f32], y: &[f32]| -> f64 {
        x.chunks(256)
            .zip(y.chunks(256))
            .map(|(x, y)| f64::from(x.iter().zip(y).map(|(x, y)| x * y).sum::<f32>()))
            .sum()
    };
    let products: Vec<f64> =
        (0..=2 * search).map(|lag| dot(known, &heard[lag..lag + known.len()])).collect();
    let best =
        (0..products.len()).max_by(|&x, &y| products[x].abs().total_cmp(&products[y].abs()))?;
    let window = &heard[best..best + known.len()];
    let likeness = products[best].abs() / (dot(known, known) * dot(window, window)).sqrt();
    // A maximum at the border is no maximum; NaN comes from silence.
    if likeness.is_nan() || likeness < LEAST_LIKENESS || best < 8 || best + 8 >= products.len() {
        return None;
    }
    Some(best as f64 + clock::maximum_near(&products, best) - search as f64)
}

/// The straight line through places (test, recording) in frames, without those far off it.
fn line_through(places: &[(f64, f64)]) -> Option<Clock> {
    let mut kept = places.to_vec();
    loop {
        if kept.len() < LEAST_BLOCKS {
            return None;
        }
        let count = kept.len() as f64;
        let mean_x = kept.iter().map(|p| p.0).sum::<f64>() / count;
        let mean_y = kept.iter().map(|p| p.1).sum::<f64>() / count;
        let xx: f64 = kept.iter().map(|p| (p.0 - mean_x).powi(2)).sum();
        let xy: f64 = kept.iter().map(|p| (p.0 - mean_x) * (p.1 - mean_y)).sum();
        let stretch = xy / xx;
        let clock = Clock { start: mean_y - stretch * mean_x, stretch };
        let miss = |p: &(f64, f64)| (p.1 - clock.place(p.0)).abs();
        let worst = kept.iter().map(miss).fold(0.0, f64::max);
        // A block off by a sample was matched elsewhere; steady clocks keep within a hundredth.
        if worst < 1.0 {
            return Some(clock);
        }
        kept.retain(|p| miss(p) < worst);
    }
}
