//! Judges a recording of the bus: finds the test in it, measures every step, compares.

mod floor;
mod judgement;
pub mod live;
mod table;

use std::ops::Range;
use std::sync::Arc;

use super::align::{self, Alignment, Slip};
use super::channel_mix::ChannelEnergies;
use super::error::AuditError;
use super::expectation::expectations;
use super::faults::{Evidence, SlipFound};
use super::grade::Limits;
use super::lost::{self, Hole, Lost};
use super::path::{self, FITTED_STEPS, Paths, References, references};
use super::record::{Audit, RecordingRecord};
use super::schedule::{FLOOR_S, STEPS, Schedule};
use crate::sample::sample_or_silence;
use judgement::{Judgement, Place};

/// Judges a recording of one or two channels at `rate_hz`: of either form of the test at any pace, or
/// of a part of it. Gain, delay, polarity and clock of the recording may be anything.
///
/// `level_dbfs` is the level at which the feeds were played; the gain is told against it. What differs
/// between the channels is graded by the `limits`.
///
/// # Errors
///
/// Whatever keeps a recording from being judged, as a sentence: see [`AuditError`].
pub fn audit_within(
    channels: &[&[f32]],
    rate_hz: u32,
    level_dbfs: f64,
    limits: &Limits,
) -> Result<Audit, AuditError> {
    let usual = Schedule::new(rate_hz).ok_or(AuditError::Rate { rate_hz })?;
    let mut signal = one_signal(channels)?;
    if signal.len() < usual.marker_frames() as usize {
        return Err(AuditError::Empty);
    }
    let code = code(channels);
    // What has to be shown does not depend on the recording; where it is not known yet, it is worked
    // out meanwhile.
    let (expectations, heard) = std::thread::scope(|scope| {
        let expectations = scope.spawn(|| expectations(rate_hz));
        let heard = hear(&signal, rate_hz, &[], code);
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
        heard = hear(&signal, rate_hz, &slips, code)?;
    }
    let Heard { alignment, references, paths, holes } = heard;
    let schedule = &alignment.schedule;
    let read = Read::new(&alignment, signal.len(), &holes);
    let shown = table::Shown::new(&signal, schedule.rate_hz(), &read);
    let evidence = Evidence {
        schedule,
        paths: &paths,
        held: read.steps(),
        largest: largest_in_steps(&signal, &read),
        halves: halves(&whole, &alignment, &references),
        slips: slips_found(&slips, &alignment),
        lost: Lost { holes, no_samples: lost::no_samples(channels, schedule.rate_hz()) },
        code,
        floor: floor::floor(&signal, schedule.rate_hz(), &read, &shown),
        limits,
    };
    let judgement = Judgement {
        recording: RecordingRecord {
            path: None,
            sample_rate_hz: rate_hz,
            channels: channels.len(),
            duration_s: signal.len() as f64 / schedule.rate_hz(),
            floor_dbfs: table::floor(&shown.floor),
        },
        place: place(&alignment, &paths),
        reference: shown.reference(),
        steps: table::steps(&shown, &expectations, &alignment.clock, schedule),
    };
    Ok(judgement.record(&evidence, level_dbfs))
}

/// [`audit_within`] the limits of a digital mixer: see [`Limits::DIGITAL`].
///
/// # Errors
///
/// The same.
pub fn audit(channels: &[&[f32]], rate_hz: u32, level_dbfs: f64) -> Result<Audit, AuditError> {
    audit_within(channels, rate_hz, level_dbfs, &Limits::DIGITAL)
}

/// Where the test lies in a recording, and what it says of the mixer's paths.
struct Heard {
    alignment: Alignment,
    references: Arc<References>,
    paths: Paths,
    holes: Vec<Hole>,
}

/// Hears a recording, mended where the recorder made `slips`, whose word steps by `code`.
fn hear(signal: &[f32], rate_hz: u32, slips: &[Slip], code: f64) -> Result<Heard, AuditError> {
    let mut alignment = align::align(signal, rate_hz)?;
    let references = references(&alignment.schedule);
    let windows = |alignment: &Alignment| -> Vec<_> {
        (0..FITTED_STEPS).map(|step| window(signal, alignment, &references, step)).collect()
    };
    let mut heard = windows(&alignment);
    if alignment.is_rough
        && let Some((frame, excess)) = path::clock_excess(&heard, &alignment.schedule, &references)
    {
        let clock = alignment.clock.stretched_around(frame, excess);
        alignment.clock = clock.snapped(&alignment.schedule);
        heard = windows(&alignment);
    }
    // Where a slip was mended, nobody knows what was played.
    let torn = slips_found(slips, &alignment);
    let mut holes = lost::holes(signal, &alignment);
    holes.retain(|hole| torn.iter().all(|slip| slip.step != Some(hole.step)));
    for hole in &holes {
        // A step that is not whole tells a gain that is not the mixer's.
        if let Some(window) = heard.get_mut(hole.step) {
            *window = None;
        }
    }
    let Some(paths) = path::fit(&heard, &references, code) else {
        let mut held = [false; STEPS.len()];
        for step in Read::new(&alignment, signal.len(), &holes).steps() {
            held[step] = true;
        }
        return Err(AuditError::TooLittle { held });
    };
    Ok(Heard { alignment, references, paths, holes })
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

/// A step (index in [`STEPS`]) of the recording, on the test's own clock, with the silence around it;
/// `None` if the recording does not hold all of it.
fn window(
    signal: &[f32],
    alignment: &Alignment,
    references: &References,
    step: usize,
) -> Option<Vec<f32>> {
    let Alignment { schedule, clock, .. } = alignment;
    let first = references.first_frame(schedule.step_start_frames(step)?) as f64;
    // The last of the silence may be missing.
    let last = first + references.silent().end as f64;
    let is_held = clock.place(first) >= 0.0 && clock.place(last) <= signal.len() as f64;
    is_held.then(|| clock.resample(signal, first, references.size))
}

/// Where in the recording the floor and the steps lie that detectors read: those that it holds whole.
struct Read {
    floor: Option<Range<usize>>,
    /// With the indexes in [`STEPS`].
    steps: Vec<(usize, Range<usize>)>,
}

impl Read {
    fn new(alignment: &Alignment, length: usize, holes: &[Hole]) -> Self {
        let Alignment { schedule, clock, .. } = alignment;
        let held = |first: f64, frames: f64| {
            let [start, end] = [first, first + frames].map(|at| clock.place(at).round());
            (start >= 0.0 && end <= length as f64).then_some(start as usize..end as usize)
        };
        let is_whole = |step: usize| holes.iter().all(|hole| hole.step != step);
        let whole = schedule.step_starts().filter(|(step, _)| is_whole(*step));
        let steps = whole.filter_map(|(step, start)| {
            Some((step, held(start as f64, schedule.read_frames() as f64)?))
        });
        let rate_hz = schedule.rate_hz();
        Self { floor: held(FLOOR_S.0 * rate_hz, FLOOR_S.1 * rate_hz), steps: steps.collect() }
    }

    /// The indexes of the steps in the order of [`STEPS`].
    fn steps(&self) -> Vec<usize> {
        let mut steps: Vec<usize> = self.steps.iter().map(|(step, _)| *step).collect();
        steps.sort_unstable();
        steps
    }
}

fn largest_in_steps(signal: &[f32], read: &Read) -> [f64; STEPS.len()] {
    let mut largest = [0.0; STEPS.len()];
    for (step, stretch) in &read.steps {
        let most = signal[stretch.clone()].iter().fold(0f32, |held, x| held.max(x.abs()));
        largest[*step] = f64::from(most);
    }
    largest
}

/// The recorder's slips, with the step that each is in.
fn slips_found(slips: &[Slip], alignment: &Alignment) -> Vec<SlipFound> {
    let schedule = &alignment.schedule;
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

/// What left and right of a stereo recording hear of feed 1 and feed 2 alone, where they differ.
fn halves(
    channels: &[&[f32]],
    alignment: &Alignment,
    references: &References,
) -> Option<[[f64; 2]; 2]> {
    let [left, right] = channels else { return None };
    let gains = |channel: &[f32]| -> Option<[f64; 2]> {
        let clean: Vec<f32> = channel.iter().map(|&x| sample_or_silence(x)).collect();
        let window = |step| window(&clean, alignment, references, step);
        let windows: Vec<_> = (0..FITTED_STEPS).map(window).collect();
        path::gains(&windows, references)
    };
    Some([gains(left)?, gains(right)?])
}

/// How the recording lies against the test.
fn place(alignment: &Alignment, paths: &Paths) -> Place {
    let feed = alignment.feed.index();
    let path = paths.feeds[feed].as_ref().or(paths.feeds[1 - feed].as_ref());
    Place {
        delay_s: alignment.clock.place(0.0) / alignment.schedule.rate_hz(),
        gain: path.map_or(0.0, |path| path.gain),
        drift_ppm: (alignment.clock.stretch - 1.0) * 1e6,
    }
}
