//! Judges a recording of the bus: finds the test in it, measures every step, compares.

mod judgement;
pub mod live;
mod table;

use std::sync::Arc;

use super::align::{self, Alignment, Slip};
use super::channel_mix::ChannelEnergies;
use super::error::AuditError;
use super::expectation::expectations;
use super::faults::{Evidence, SlipFound};
use super::measured::measure;
use super::path::{self, FITTED_STEPS, Paths, References, references};
use super::record::{Audit, RecordingRecord};
use super::schedule::{FLOOR_S, Schedule};
use crate::sample::sample_or_silence;
use judgement::{Judgement, Place};

/// Judges a recording of one or two channels at `rate_hz`. Gain, delay, polarity and clock of the
/// recording may be anything.
///
/// `level_dbfs` is the level at which the feeds were played; the gain is told against it.
///
/// # Errors
///
/// Whatever keeps a recording from being judged, as a sentence: see [`AuditError`].
pub fn audit(channels: &[&[f32]], rate_hz: u32, level_dbfs: f64) -> Result<Audit, AuditError> {
    let schedule = Schedule::new(rate_hz).ok_or(AuditError::Rate { rate_hz })?;
    let mut signal = one_signal(channels)?;
    if signal.len() < schedule.marker_frames() as usize {
        return Err(AuditError::Empty);
    }
    // What has to be shown does not depend on the recording; where it is not known yet, it is worked
    // out meanwhile.
    let (expectations, heard) = std::thread::scope(|scope| {
        let expectations = scope.spawn(|| expectations(rate_hz));
        let heard = hear(&signal, &schedule);
        match expectations.join() {
            Ok(expectations) => (expectations, heard),
            Err(panic) => std::panic::resume_unwind(panic),
        }
    });
    let expectations = expectations.ok_or(AuditError::Rate { rate_hz })?;
    let mut heard = heard?;
    let slips = std::mem::take(&mut heard.alignment.slips);
    let mended: Vec<Vec<f32>>;
    let mut whole = channels.to_vec();
    if !slips.is_empty() {
        // As if the recorder had not slipped: what it did is told apart.
        signal = align::mended(&signal, &slips);
        mended = channels.iter().map(|channel| align::mended(channel, &slips)).collect();
        whole = mended.iter().map(Vec::as_slice).collect();
        heard = hear(&signal, &schedule)?;
    }
    let Heard { alignment, references, paths } = heard;
    let stretches = stretches(&alignment, &schedule, signal.len())?;
    let mut shown = measure(&signal, schedule.rate_hz(), &stretches);
    let floor = shown.remove(0);
    let steps = table::steps(&shown, &floor, &expectations, &alignment.clock, &schedule);
    let evidence = Evidence {
        schedule: &schedule,
        paths: &paths,
        largest: largest_in_steps(&signal, &stretches[1..]),
        halves: halves(&whole, &alignment, &schedule, &references),
        slips: slips_found(&slips, &alignment, &schedule),
        code: code(channels),
    };
    let judgement = Judgement {
        recording: RecordingRecord {
            path: None,
            sample_rate_hz: rate_hz,
            channels: channels.len(),
            duration_s: signal.len() as f64 / schedule.rate_hz(),
            floor_dbfs: table::floor(&floor),
        },
        place: place(&alignment, &paths, &schedule),
        steps,
    };
    Ok(judgement.record(&evidence, level_dbfs))
}

/// Where the test lies in a recording, and what it says of the mixer's paths.
struct Heard {
    alignment: Alignment,
    references: Arc<References>,
    paths: Paths,
}

fn hear(signal: &[f32], schedule: &Schedule) -> Result<Heard, AuditError> {
    let alignment = align::align(signal, schedule)?;
    let references = references(schedule);
    let windows = windows(signal, &alignment, schedule, &references, FITTED_STEPS);
    let paths = path::fit(&windows, &references);
    Ok(Heard { alignment, references, paths })
}

/// The bus as one signal. What is no sample counts as silence.
fn one_signal(channels: &[&[f32]]) -> Result<Vec<f32>, AuditError> {
    match channels {
        [only] => Ok(only.iter().map(|&x| sample_or_silence(x)).collect()),
        [left, right] => {
            let frames = || {
                left.iter().zip(*right).map(|(&l, &r)| (sample_or_silence(l), sample_or_silence(r)))
            };
            let mut energies = ChannelEnergies::default();
            frames().for_each(|(l, r)| energies.push(l, r));
            let [gain_left, gain_right] = energies.gains();
            Ok(frames().map(|(l, r)| gain_left * l + gain_right * r).collect())
        }
        _ => Err(AuditError::Channels { channels: channels.len() }),
    }
}

/// The first steps of the recording, on the test's own clock.
fn windows(
    signal: &[f32],
    alignment: &Alignment,
    schedule: &Schedule,
    references: &References,
    steps: usize,
) -> Vec<Vec<f32>> {
    schedule
        .step_starts()
        .take(steps)
        .map(|(_, start)| {
            let first = references.first_frame(start);
            alignment.clock.resample(signal, first as f64, references.size)
        })
        .collect()
}

/// Where the floor and the steps lie in the recording.
fn stretches(
    alignment: &Alignment,
    schedule: &Schedule,
    length: usize,
) -> Result<Vec<std::ops::Range<usize>>, AuditError> {
    let rate_hz = schedule.rate_hz();
    let floor = (FLOOR_S.0 * rate_hz, FLOOR_S.1 * rate_hz);
    let steps =
        schedule.step_starts().map(|(_, start)| (start as f64, schedule.read_frames() as f64));
    std::iter::once(floor)
        .chain(steps)
        .map(|(first, frames)| {
            let [start, end] = [first, first + frames].map(|at| alignment.clock.place(at).round());
            if start < 0.0 || end > length as f64 {
                return Err(AuditError::EndMissing {
                    start_s: alignment.clock.place(0.0) / rate_hz,
                    duration_s: length as f64 / rate_hz,
                });
            }
            Ok(start as usize..end as usize)
        })
        .collect()
}

fn largest_in_steps(signal: &[f32], stretches: &[std::ops::Range<usize>]) -> Vec<f64> {
    stretches
        .iter()
        .map(|stretch| {
            f64::from(signal[stretch.clone()].iter().fold(0f32, |held, x| held.max(x.abs())))
        })
        .collect()
}

/// The recorder's slips, with the step that each is in.
fn slips_found(slips: &[Slip], alignment: &Alignment, schedule: &Schedule) -> Vec<SlipFound> {
    let mut before = 0;
    let mut found = Vec::new();
    for slip in slips {
        // The clock is that of the mended recording.
        let places = slip.between.map(|frame| {
            let mended = frame as f64 - before as f64;
            (mended - alignment.clock.start) / alignment.clock.stretch
        });
        let step = schedule.step_starts().find_map(|(step, start)| {
            let sound = start as f64..(start + schedule.step_frames()) as f64;
            places.iter().all(|place| sound.contains(place)).then_some(step)
        });
        let between_s = slip.between.map(|frame| frame as f64 / schedule.rate_hz());
        found.push(SlipFound { frames: slip.frames, between_s, step });
        before += slip.frames;
    }
    found
}

/// The step from one code of the recording's word to the next: its smallest magnitude. In a recording
/// of many bits it is next to nothing.
fn code(channels: &[&[f32]]) -> f64 {
    let magnitudes = channels.iter().flat_map(|channel| channel.iter()).map(|x| x.abs());
    let least = magnitudes.filter(|&x| x > 0.0).fold(f32::INFINITY, f32::min);
    if least.is_finite() { f64::from(least) } else { 0.0 }
}

/// What left and right of a stereo recording hear of feed 1 and feed 2, where they differ.
fn halves(
    channels: &[&[f32]],
    alignment: &Alignment,
    schedule: &Schedule,
    references: &References,
) -> Option<[[f64; 2]; 2]> {
    let [left, right] = channels else { return None };
    Some([left, right].map(|channel| {
        let clean: Vec<f32> = channel.iter().map(|&x| sample_or_silence(x)).collect();
        let windows = windows(&clean, alignment, schedule, references, 2);
        let windows: [Vec<f32>; 2] = windows.try_into().unwrap_or_default();
        path::gains(&windows, references)
    }))
}

/// How the recording lies against the test.
fn place(alignment: &Alignment, paths: &Paths, schedule: &Schedule) -> Place {
    let feed = alignment.feed.index();
    let path = paths.feeds[feed].as_ref().or(paths.feeds[1 - feed].as_ref());
    Place {
        delay_s: alignment.clock.place(0.0) / schedule.rate_hz(),
        gain: path.map_or(0.0, |path| path.gain),
        drift_ppm: (alignment.clock.stretch - 1.0) * 1e6,
    }
}
