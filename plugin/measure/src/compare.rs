//! What an export did to a mix: both files laid over each other, sample by sample, and everything
//! that is left once delay, clock, channels and gain are taken out.
//!
//! The way, a room for each stage: samples of either file, and what the mix predicts ([`play`]); each
//! file by itself ([`profile`]); where the export lies in the mix, and through which channels and
//! filters ([`align`]); one pass over all samples ([`pass`]); the stories that explain what is left
//! ([`explain`]); the record ([`assemble`]); the words for it ([`judge`]). No stage names a later one.
//! What they share stands beside the rooms.

mod align;
mod assemble;
mod beside;
mod explain;
pub mod finding;
mod judge;
pub mod levels;
pub mod limits;
mod median;
mod pass;
mod play;
mod profile;
mod purpose;
pub mod record;
mod share;
mod source;
mod spectra;
mod timeline;
mod tolerances;

pub use purpose::{Purpose, PurposeBy};
pub use record::Comparison;
pub use source::{CompareError, Source};
pub use tolerances::Tolerances;

use crate::Meter;
use crate::settings::{Edges, Settings};
use align::relate::Related;
use align::{Aligned, Laid, cuts};
use explain::stretches::Stretches;
use explain::{again, repeats, stretches};
use judge::Apart;
use play::{Failed, Reel};
use profile::Profile;

/// Spots that a record lists.
pub const MOST_SPOTS: usize = 100;
/// Files shorter than this, in seconds, cannot be laid over each other.
const SHORTEST_S: f64 = 0.05;

/// Share of an export's power that nothing linear explains, above which the mix is only a part of it:
/// whatever else would be said then is about something else.
const MOST_LEFT: f64 = 0.3;
/// The same where its channels are made of the mix's in no way that has a name.
const MOST_LEFT_UNNAMED: f64 = 0.05;

/// How two files are compared.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CompareSettings {
    /// The audible band.
    pub edges: Edges,
    /// What the export is for.
    pub purpose: Purpose,
    /// Why that.
    pub purpose_by: PurposeBy,
    /// What is allowed: what the purpose allows, unless somebody says otherwise.
    pub tolerances: Tolerances,
}

/// Compares an export with its mix. Files of different rate, length and channel count are compared,
/// not refused; files that are not the same programme get a record that says so. `progress` is
/// called with the share of the work done, 0 to 1, now and then.
///
/// # Errors
///
/// When a file cannot be read, or read again, or has no channels; or when the settings cannot be
/// measured.
pub fn compare<M, X>(
    mix: &mut M,
    export: &mut X,
    settings: &CompareSettings,
    progress: &mut dyn FnMut(f64),
) -> Result<Comparison, CompareError<M::Error>>
where
    M: Source,
    X: Source<Error = M::Error>,
{
    check(mix, export, settings)?;
    let [mix_profile, export_profile] = profiles(mix, export, settings)?;
    let profiles = [&mix_profile, &export_profile];
    progress(0.3);
    let mut mix = Reel::new(mix, profiles[0].held.as_ref()).map_err(CompareError::Mix)?;
    let mut export = Reel::new(export, profiles[1].held.as_ref()).map_err(CompareError::Export)?;
    let equal = are_equal(&mut mix, &mut export, profiles).map_err(read_error)?;
    progress(0.35);
    let laid = if equal {
        Laid::Exactly(Box::new(align::equal(profiles)))
    } else if let Some(why) = apart(profiles) {
        return Ok(not_aligned(profiles, settings, why));
    } else {
        align::align(&mut mix, &mut export, profiles).map_err(read_error)?
    };
    progress(0.6);
    let mut aligned = match laid {
        Laid::Exactly(aligned) => {
            let left = aligned.related.as_ref().map_or(0.0, Related::foreign_share);
            let is_named = aligned.related.as_ref().is_none_or(|related| related.matrix_holds);
            if left > if is_named { MOST_LEFT } else { MOST_LEFT_UNNAMED } {
                return Ok(not_aligned(profiles, settings, Apart::Shared { share: 1.0 - left }));
            }
            *aligned
        }
        Laid::Roughly { speed, likeness } => {
            return Ok(not_aligned(profiles, settings, Apart::Roughly { speed, likeness }));
        }
        Laid::Apart => return Ok(not_aligned(profiles, settings, Apart::NotTheSame)),
    };
    let rates_hz = profiles.map(|profile| f64::from(profile.facts.sample_rate_hz));
    let frames = profiles.map(|profile| profile.facts.frames as i64);
    let mut edits =
        cuts::close(&mut mix, &mut export, &mut aligned, frames, rates_hz).map_err(read_error)?;
    progress(0.65);
    if aligned.fit.timeline.frames() <= 0 {
        return Ok(not_aligned(profiles, settings, Apart::NotTheSame));
    }
    let (passed, stretches) =
        last_pass(&mut mix, &mut export, &mut aligned, profiles).map_err(read_error)?;
    let stories = explain::explain(&aligned, &passed, &stretches, rates_hz[1]);
    let repeats = repeats::find(&mut export, &stories.bursts, &aligned.fit.timeline, rates_hz)
        .map_err(CompareError::Export)?;
    edits.extend(repeats);
    progress(1.0);
    let found = assemble::Found { passed, stretches, stories, edits };
    let mut record = assemble::aligned(profiles, settings, &aligned, &found);
    judge::judge(&mut record, &aligned, &found);
    Ok(record)
}

/// The pass over all samples; a second time if the first shows that it was badly prepared.
fn last_pass<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    aligned: &mut Aligned,
    profiles: [&Profile; 2],
) -> Result<(pass::Passed, Stretches), Failed<M::Error, X::Error>> {
    let rates_hz = profiles.map(|profile| f64::from(profile.facts.sample_rate_hz));
    let mut foreign = Vec::new();
    let mut is_first = true;
    loop {
        let scale = aligned.mapping.row_gains();
        let plan = pass::Plan {
            timeline: &aligned.fit.timeline,
            path: &aligned.path,
            scale: &scale,
            rates_hz,
            frames: profiles[1].facts.frames as i64,
            likeness: aligned.likeness,
            bits: profiles[1].facts.used_bits,
            peaks: profiles.map(|profile| profile.peak),
            loudest: scale.iter().fold(0.0, |held, gain| gain.abs().max(held)),
            foreign: &foreign,
        };
        let passed = pass::compare(mix, export, &plan)?;
        let stretches =
            stretches::find(&passed.blocks, &passed.spots, &aligned.fit.timeline, rates_hz);
        let found = again::foreign(&passed, &stretches, rates_hz[1]);
        let is_done = !is_first
            || (!again::settle_gain(aligned, &passed, &stretches, rates_hz[1]) && found.is_empty());
        if is_done {
            return Ok((passed, stretches));
        }
        foreign = found;
        is_first = false;
    }
}

fn check<M: Source, X: Source>(
    mix: &M,
    export: &X,
    settings: &CompareSettings,
) -> Result<(), CompareError<M::Error>> {
    if mix.channels() == 0 || mix.rate_hz() == 0 {
        return Err(CompareError::EmptyMix);
    }
    if export.channels() == 0 || export.rate_hz() == 0 {
        return Err(CompareError::EmptyExport);
    }
    // The rate is one that can be measured, so that only the edges are judged here.
    let probe = Settings { edges: settings.edges, ..Settings::default() };
    Meter::new(48_000.0, 2, 0, probe).map(|_| ()).map_err(CompareError::Settings)
}

/// Both files by themselves, at the same time.
fn profiles<M, X>(
    mix: &mut M,
    export: &mut X,
    settings: &CompareSettings,
) -> Result<[Profile; 2], CompareError<M::Error>>
where
    M: Source,
    X: Source<Error = M::Error>,
{
    let lowest_hz = f64::from(mix.rate_hz().min(export.rate_hz()));
    let edges = settings.edges;
    let (mix, export) = std::thread::scope(|scope| {
        let other = scope.spawn(|| profile::take(mix, edges, lowest_hz));
        let export = profile::take(export, edges, lowest_hz);
        (other.join(), export)
    });
    // A panic in there is a mistake of ours, and goes on here.
    let mix = mix.unwrap_or_else(|panic| std::panic::resume_unwind(panic));
    Ok([mix.map_err(CompareError::Mix)?, export.map_err(CompareError::Export)?])
}

/// Whether every sample of the two files is the same. Stops at the first that is not.
fn are_equal<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    [mix_profile, export_profile]: [&Profile; 2],
) -> Result<bool, Failed<M::Error, X::Error>> {
    const CHUNK_FRAMES: usize = 16_384;
    let shape = |profile: &Profile| {
        let facts = profile.facts;
        (facts.sample_rate_hz, facts.channels, facts.frames, facts.used_bits)
    };
    if shape(mix_profile) != shape(export_profile) {
        return Ok(false);
    }
    let mut pair = [vec![0.0; CHUNK_FRAMES], vec![0.0; CHUNK_FRAMES]];
    for start in (0..mix_profile.facts.frames as i64).step_by(CHUNK_FRAMES) {
        let end = start + CHUNK_FRAMES as i64;
        mix.show(start, end).map_err(Failed::Mix)?;
        export.show(start, end).map_err(Failed::Export)?;
        for channel in 0..mix.channels() {
            mix.copy(channel, start, &mut pair[0]);
            export.copy(channel, start, &mut pair[1]);
            if pair[0] != pair[1] {
                return Ok(false);
            }
        }
    }
    Ok(true)
}

/// Why two files need not be laid over each other.
fn apart([mix, export]: [&Profile; 2]) -> Option<Apart> {
    if mix.facts.silent || export.facts.silent {
        return Some(Apart::Silent);
    }
    let shorter_s = mix.facts.duration_s.min(export.facts.duration_s);
    (shorter_s < SHORTEST_S).then_some(Apart::TooShort)
}

fn not_aligned(profiles: [&Profile; 2], settings: &CompareSettings, why: Apart) -> Comparison {
    let mut record = assemble::unaligned(profiles, settings);
    judge::apart(&mut record, why);
    record
}

fn read_error<E>(failed: Failed<E, E>) -> CompareError<E> {
    match failed {
        Failed::Mix(error) => CompareError::Mix(error),
        Failed::Export(error) => CompareError::Export(error),
    }
}
