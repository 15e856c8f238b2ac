//! Judges a recording of the bus: finds the test in it, measures every step, compares.

mod error;
pub mod live;
mod record;
mod table;

use std::sync::Arc;

use super::align::{self, Alignment, Slip};
use super::expectation::expectations;
use super::faults::{self, Evidence, SlipFound};
use super::feed::Feed;
use super::measured::measure;
use super::path::{self, FITTED_STEPS, Paths, References, references};
use super::schedule::{FLOOR_S, STEPS, Schedule};
pub use error::AuditError;
pub use record::{AlignmentRecord, Audit, Measure, Polarity, RecordingRecord, StepRecord, Verdict};

pub use super::faults::{Fault, FaultCode};

/// Correlation above which the channels of a recording are one and the same bus.
const SAME_CHANNELS: f64 = 0.98;
/// Power ratio below which one channel of a recording counts as empty: 50 dB.
const EMPTY_CHANNEL: f64 = 1e-5;

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
    let faults = faults::find(&evidence);
    let (verdict, sentence) = faults::judge(&faults, &evidence);
    Ok(Audit {
        schema: "ledgerline.audit/1",
        recording: RecordingRecord {
            path: None,
            sample_rate_hz: rate_hz,
            channels: channels.len(),
            duration_s: signal.len() as f64 / schedule.rate_hz(),
            floor_dbfs: table::floor(&floor),
        },
        alignment: alignment_record(&alignment, &paths, &schedule, level_dbfs),
        steps,
        faults,
        meter: None,
        verdict,
        sentence,
    })
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

/// The bus as one signal. Samples that are no number count as zero.
fn one_signal(channels: &[&[f32]]) -> Result<Vec<f32>, AuditError> {
    let clean = |x: f32| if x.is_finite() { x } else { 0.0 };
    match channels {
        [only] => Ok(only.iter().map(|&x| clean(x)).collect()),
        [left, right] => {
            let (mut ll, mut rr, mut lr) = (0.0, 0.0, 0.0);
            for (&l, &r) in left.iter().zip(*right) {
                let (l, r) = (f64::from(clean(l)), f64::from(clean(r)));
                ll += l * l;
                rr += r * r;
                lr += l * r;
            }
            let [gain_left, gain_right] = if rr < EMPTY_CHANNEL * ll {
                [1.0, 0.0]
            } else if ll < EMPTY_CHANNEL * rr {
                [0.0, 1.0]
            } else if lr < -SAME_CHANNELS * (ll * rr).sqrt() {
                [0.5, -0.5]
            } else {
                [0.5, 0.5]
            };
            Ok(left
                .iter()
                .zip(*right)
                .map(|(&l, &r)| gain_left * clean(l) + gain_right * clean(r))
                .collect())
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
    (0..steps)
        .map(|step| {
            let first = references.first_frame(schedule.step_start_frames(step));
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
    let steps = (0..STEPS.len())
        .map(|step| (schedule.step_start_frames(step) as f64, schedule.read_frames() as f64));
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
        let step = (0..STEPS.len()).find(|&step| {
            let start = schedule.step_start_frames(step) as f64;
            let sound = start..start + schedule.step_frames() as f64;
            places.iter().all(|place| sound.contains(place))
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
        let clean: Vec<f32> =
            channel.iter().map(|&x| if x.is_finite() { x } else { 0.0 }).collect();
        let windows = windows(&clean, alignment, schedule, references, 2);
        let windows: [Vec<f32>; 2] = windows.try_into().unwrap_or_default();
        path::gains(&windows, references)
    }))
}

fn alignment_record(
    alignment: &Alignment,
    paths: &Paths,
    schedule: &Schedule,
    level_dbfs: f64,
) -> AlignmentRecord {
    let feed = match alignment.feed {
        Feed::One => 0,
        Feed::Two => 1,
    };
    let path = paths.feeds[feed].as_ref().or(paths.feeds[1 - feed].as_ref());
    let gain = path.map_or(0.0, |path| path.gain);
    AlignmentRecord {
        delay_s: alignment.clock.place(0.0) / schedule.rate_hz(),
        gain_db: crate::Level::from_amplitude(gain).plus(-level_dbfs),
        drift_ppm: (alignment.clock.stretch - 1.0) * 1e6,
        polarity: if gain < 0.0 { Polarity::Inverted } else { Polarity::Same },
    }
}
