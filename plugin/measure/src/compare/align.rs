//! Lays the export over the mix: roughly, then to a small part of a sample, with the channels' map
//! and gains.

mod anchors;
mod coarse;
pub(super) mod cuts;
mod early;
mod elsewhere;
mod fit;
mod mapping;
pub(super) mod relate;

use super::Source;
use super::median::median;
use super::play::{Failed, Path, Reel};
use super::profile::Profile;
use super::record::ChannelMap;
use super::timeline::{Segment, Timeline};
use anchors::{Anchor, Plan};
use fit::Fit;
use mapping::Mapping;
use relate::Related;

/// How far a rough place may be off, in seconds.
const SEARCH_S: f64 = 0.025;
/// Rounds of tuning at most.
const MOST_ROUNDS: usize = 4;
/// A place that moves by less than this, in frames, is tuned.
const TUNED_FRAMES: f64 = 1e-5;
/// Likeness below which two files are not the same programme.
const LEAST_LIKENESS: f64 = 0.15;
/// Likeness of the courses of level from which two files are the same programme, whatever their
/// samples say.
const ROUGH_LIKENESS: f64 = 0.6;
/// How far a step may be off before windows are smeared too much, as a ratio.
const SMEARED: f64 = 1e-5;
/// A channel's delay this near to a whole frame is one; and where a filter turns the phase.
const WHOLE_FRAME: f64 = 0.01;
const FILTERED_FRAME: f64 = 0.3;
const NOISY_FRAME: f64 = 0.12;
/// Delay that a filter has by itself, in frames, at most.
const FILTER_FRAMES: f64 = 6.0;
/// Share that a filter leaves over from which coding or noise may have taken from the gain.
const NOISY_SHARE: f64 = 1e-5;
/// Steps and drifts no larger than this, in frames of the mix, may be a filter's phase.
const SMALL_STEP: f64 = 120.0;
/// How much more of its power than the usual anchor one may leave over before it is foreign.
const FOREIGN_RATIO: f64 = 10.0;
const FOREIGN_SHARE: f64 = 1e-3;
/// Gains this near to 1 are 1, and as near as their error lets them be known, within a limit.
const UNITY: f64 = 1e-6;
const UNITY_ERRORS: f64 = 4.0;
const MOST_UNITY: f64 = 1e-4;
/// Share of the anchors that has to be ambiguous before the delay is.
const AMBIGUOUS_SHARE: f64 = 0.7;
/// Gains that gather in less than this share of their spread have a mode worth more than their mean.
const MODE_SHARE: f64 = 0.1;
/// Anchors' gains that spread by less than this hardly move, in dB.
const STEADY_DB: f64 = 0.02;

/// Export over mix.
pub(super) struct Aligned {
    pub fit: Fit,
    pub mapping: Mapping,
    /// What the mix's channels go through.
    pub path: Path,
    /// The linear relation; `None` where there is nothing to relate, as between equal files.
    pub related: Option<Related>,
    /// Median likeness of the anchors with their prediction.
    pub likeness: f64,
    pub ambiguous: bool,
    /// Window of an anchor, in frames of the export.
    pub window: i64,
}

/// What laying one over the other gave.
pub(super) enum Laid {
    /// Sample by sample.
    Exactly(Box<Aligned>),
    /// Only the courses of level agree, at a speed, and how well; samples do not.
    Roughly { speed: f64, likeness: f64 },
    /// Nothing agrees.
    Apart,
}

/// The alignment of equal files.
pub(super) fn equal([_, export]: [&Profile; 2]) -> Aligned {
    let (frames, channels) = (export.facts.frames as i64, export.facts.channels);
    let segment = Segment { start: 0, end: frames, mix_at_zero: 0.0 };
    let gains: Vec<Vec<f64>> = (0..channels)
        .map(|out| (0..channels).map(|into| f64::from(u8::from(out == into))).collect())
        .collect();
    Aligned {
        fit: Fit {
            timeline: Timeline { segments: vec![segment], step: 1.0 },
            place_error: 0.0,
            step_error: 0.0,
        },
        path: Path { gains: gains.clone(), late: vec![0.0; channels], filters: None },
        mapping: Mapping { map: ChannelMap::Same, gains, left_share: 0.0 },
        related: None,
        likeness: 1.0,
        ambiguous: false,
        window: 1,
    }
}

/// Aligns two files.
pub(super) fn align<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    profiles: [&Profile; 2],
) -> Result<Laid, Failed<M::Error, X::Error>> {
    let rates_hz = profiles.map(|profile| f64::from(profile.facts.sample_rate_hz));
    let frames = profiles.map(|profile| profile.facts.frames as i64);
    let rough = coarse::align(&profiles[0].features, &profiles[1].features, frames[1], rates_hz);
    if let Some(rough) = &rough
        && let Some(aligned) = tune(mix, export, &rough.timeline, &rough.others, profiles)?
    {
        return Ok(Laid::Exactly(Box::new(aligned)));
    }
    if let Some(early) = early::align(mix, export, rates_hz, frames)?
        && let Some(aligned) = tune(mix, export, &early, &[], profiles)?
    {
        return Ok(Laid::Exactly(Box::new(aligned)));
    }
    Ok(match rough {
        Some(rough) if rough.likeness >= ROUGH_LIKENESS => {
            Laid::Roughly { speed: rough.speed, likeness: rough.likeness }
        }
        _ => Laid::Apart,
    })
}

/// `others` are other places for the segments of a rough timeline.
fn tune<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    rough: &Timeline,
    others: &[Vec<f64>],
    profiles: [&Profile; 2],
) -> Result<Option<Aligned>, Failed<M::Error, X::Error>> {
    let rates_hz = profiles.map(|profile| f64::from(profile.facts.sample_rate_hz));
    let frames = profiles.map(|profile| profile.facts.frames as i64);
    let nominal = rates_hz[0] / rates_hz[1];
    let shorter = ((frames[0] as f64 / nominal) as i64).min(frames[1]);
    let plan = Plan::new(rates_hz, shorter, SEARCH_S, profiles.map(|profile| &profile.spectrum));
    let window = plan.frames as i64;
    let begun = rough;
    let mut found = anchors::find(mix, export, rough, &plan)?;
    let rescued = elsewhere::lost(mix, export, rough, &found.anchors, rates_hz, frames)?;
    let rough = rescued.as_ref().unwrap_or(rough);
    if rescued.is_some() {
        found = anchors::find(mix, export, rough, &plan)?;
    }
    let Some(mut fit) = fit::first(&found.anchors, rough, nominal, window) else {
        return Ok(None);
    };
    // A window played at a speed that is not quite the export's is smeared, and its treble lost.
    if (fit.timeline.step / rough.step - 1.0).abs() > SMEARED {
        found = anchors::find(mix, export, &fit.timeline, &plan)?;
        let Some(closer) = fit::first(&found.anchors, &fit.timeline, nominal, window) else {
            return Ok(None);
        };
        fit = closer;
    }
    let ambiguous = found.anchors.iter().filter(|anchor| anchor.ambiguous).count() as f64
        > AMBIGUOUS_SHARE * found.anchors.len() as f64;
    let Some(mut mapping) = found.covariance.map() else { return Ok(None) };
    let mut late = found.late;
    let mut likeness = 0.0;
    // What the usual anchor leaves over; those that leave far more are something else.
    let mut most_left = f64::INFINITY;
    for round in 0..MOST_ROUNDS {
        let path = Path { gains: mapping.gains.clone(), late: late.clone(), filters: None };
        let tuned = anchors::tune(mix, export, &fit.timeline, &path, &plan, most_left)?;
        let mut all: Vec<f64> = tuned.anchors.iter().map(|anchor| anchor.likeness.abs()).collect();
        likeness = median(&mut all).unwrap_or(0.0);
        most_left = FOREIGN_RATIO * (1.0 - likeness * likeness).max(0.0) + FOREIGN_SHARE;
        let Some(next) = fit::again(&tuned.anchors, &fit.timeline, nominal, window, 0.0) else {
            // What the round before found stands.
            if round > 0 {
                break;
            }
            return Ok(None);
        };
        let moved = moved(&fit.timeline, &next.timeline);
        fit = next;
        late.iter_mut().zip(&tuned.late).for_each(|(late, more)| *late += more);
        let moved = tuned.late.iter().fold(moved, |held, more| held.max(more.abs()));
        let Some(next) = tuned.covariance.map() else { return Ok(None) };
        let before = mapping.clone();
        mapping = next;
        settle_gain(&mut mapping, &before, &tuned.anchors, plan.frames);
        if round > 0 && moved < TUNED_FRAMES {
            break;
        }
    }
    if likeness < LEAST_LIKENESS {
        return Ok(None);
    }
    let known = Path { gains: mapping.gains.clone(), late: late.clone(), filters: None };
    if let Some(better) = elsewhere::again(mix, export, begun, others, &known, &plan)? {
        return tune(mix, export, &better, &[], profiles);
    }
    late.iter_mut().for_each(|late| *late = settled(*late, WHOLE_FRAME));
    let mut path = Path { gains: mapping.gains.clone(), late, filters: None };
    let Some(mut related) =
        relate::relate(mix, export, &fit.timeline, &mapping, &path.late, rates_hz)?
    else {
        return Ok(Some(Aligned {
            fit,
            mapping,
            path,
            related: None,
            likeness,
            ambiguous,
            window,
        }));
    };
    // One place for all, where that explains as much, is simpler than a clock or cuts.
    if let Some(simple) = straight(&fit, nominal, frames[1]) {
        let one = relate::relate(mix, export, &simple.timeline, &mapping, &path.late, rates_hz)?;
        if let Some(one) = one.filter(|one| one.is_as_good_as(&related)) {
            (fit, related) = (simple, one);
        }
    }
    if related.filters.is_some() {
        // What the filters delay beyond their own phase belongs to the place; and a part of a frame
        // cannot be told from a filter's phase.
        let is_equalised = related.tone().equalised.is_some();
        // A filter that turns no phase has no delay of its own.
        let own = if related.turns_no_phase() { 0.0 } else { fit.timeline.step };
        let late_frames: Vec<f64> = related.excess.iter().map(|late| late * own).collect();
        let first = path.late.first().copied().unwrap_or(0.0);
        let common = late_frames.first().copied().unwrap_or(0.0) + first;
        // A converter's filter is no minimum-phase one, and moves nothing.
        let is_converted = fit.timeline.step != 1.0 && common.abs() < FILTER_FRAMES;
        let common = if is_converted { first } else { common };
        for (late, more) in path.late.iter_mut().zip(&late_frames) {
            // Less than a frame may be the filters' phase.
            let apart = settled(*late + more - common, FILTERED_FRAME);
            *late = if is_equalised && apart.abs() < 1.0 { 0.0 } else { apart };
        }
        for segment in &mut fit.timeline.segments {
            let place = segment.mix_at_zero - common;
            segment.mix_at_zero =
                if fit.timeline.step == 1.0 { filtered_place(place) } else { place };
        }
        let again =
            relate::relate(mix, export, &fit.timeline, &related.mapping, &path.late, rates_hz)?;
        related = again.unwrap_or(related);
    }
    if related.filters.is_none() && related.filtered_left > NOISY_SHARE {
        // Noise that follows the sound moves places by parts of a frame.
        path.late.iter_mut().for_each(|late| *late = settled(*late, NOISY_FRAME));
        if fit.timeline.step == 1.0 {
            for segment in &mut fit.timeline.segments {
                segment.mix_at_zero = settled(segment.mix_at_zero, NOISY_FRAME);
            }
        }
    }
    mapping = related.mapping.clone();
    path.filters.clone_from(&related.filters);
    path.gains = if path.filters.is_some() { mapping.pattern() } else { mapping.gains.clone() };
    let tone = related.tone();
    if path.filters.is_some() {
        // The gain that most bands have, or without one the mean.
        let signs = related.signs(tone.all_pass);
        let known = tone.gains_db.iter().zip(signs).zip(&path.gains);
        let rows = known.zip(&mapping.gains).map(|(((gain, sign), pattern), row)| {
            let Some((db, _)) = gain.or(tone.gain_db) else { return row.clone() };
            let gain = sign * 10f64.powf(db / 20.0);
            pattern.iter().map(|part| part * gain).collect()
        });
        mapping.gains = rows.collect();
    } else if related.filtered_left > NOISY_SHARE
        && let (Some((db, _)), Some(known_db)) = (tone.gain_db, mapping.gain_db())
    {
        // Noise that follows the sound, as coding leaves, takes from the gain where it is high: the
        // bands that are clear of it know better.
        mapping.scale(10f64.powf((db - known_db) / 20.0));
        path.gains.clone_from(&mapping.gains);
    }
    lead(&mut fit, &mut path, nominal);
    Ok(Some(Aligned { fit, mapping, path, related: Some(related), likeness, ambiguous, window }))
}

/// Lets the channel whose delay is least stand for the export: the others are late or early by it.
fn lead(fit: &mut Fit, path: &mut Path, nominal: f64) {
    let Some(first) = fit.timeline.segments.first() else { return };
    let delay = |late: f64| (late - first.mix_at_zero) / nominal;
    let least =
        path.late.iter().copied().min_by(|a, b| delay(*a).abs().total_cmp(&delay(*b).abs()));
    let Some(least) = least.filter(|least| *least != 0.0) else { return };
    path.late.iter_mut().for_each(|late| *late -= least);
    for segment in &mut fit.timeline.segments {
        segment.mix_at_zero -= least;
    }
}

/// A place under a filter: whole, and none where a filter's own delay may be all there is.
fn filtered_place(place: f64) -> f64 {
    if place.abs() <= FILTER_FRAMES { 0.0 } else { place.round() }
}

/// One segment at the clock of the rates, in place of a fit that has more to it; `None` where the fit
/// is that simple, or its segments lie too far apart for that.
fn straight(fit: &Fit, nominal: f64, frames: i64) -> Option<Fit> {
    let timeline = &fit.timeline;
    let (first, last) = (timeline.segments.first()?, timeline.segments.last()?);
    let middle = (first.start + last.end) as f64 / 2.0;
    let places: Vec<f64> = timeline
        .segments
        .iter()
        .map(|segment| timeline.place(segment, middle) - nominal * middle)
        .collect();
    let lowest = places.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = places.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let drift = (timeline.step - nominal).abs() * frames as f64;
    let is_simple = timeline.segments.len() == 1 && drift == 0.0;
    if is_simple || highest - lowest > SMALL_STEP || drift > SMALL_STEP {
        return None;
    }
    let longest = timeline.segments.iter().max_by_key(|segment| segment.end - segment.start)?;
    let mix_at_zero = timeline.place(longest, middle) - nominal * middle;
    let segment = Segment { start: first.start, end: last.end, mix_at_zero };
    let timeline = Timeline { segments: vec![segment], step: nominal };
    Some(Fit { timeline, place_error: fit.place_error, step_error: fit.step_error })
}

/// A delay that is near enough to a whole number of frames is one.
fn settled(late: f64, near: f64) -> f64 {
    if (late - late.round()).abs() <= near { late.round() + 0.0 } else { late }
}

/// How far the segments' places moved, at most, in frames.
fn moved(before: &Timeline, after: &Timeline) -> f64 {
    if before.segments.len() != after.segments.len() {
        return f64::INFINITY;
    }
    let pairs = before.segments.iter().zip(&after.segments);
    pairs
        .flat_map(|(old, new)| {
            [new.start, new.end].map(|frame| {
                (before.place(old, frame as f64) - after.place(new, frame as f64)).abs()
            })
        })
        .fold(0.0, f64::max)
}

/// Where the gain moves, that of most moments counts, not that of the loudest ones; and a gain that
/// cannot be told from 1 is 1.
fn settle_gain(mapping: &mut Mapping, before: &Mapping, anchors: &[Anchor], window: usize) {
    let mut gains: Vec<f64> = anchors
        .iter()
        .filter(|anchor| anchor.likeness > 0.5 && anchor.gain > 0.0)
        .map(|anchor| 20.0 * anchor.gain.log10())
        .collect();
    gains.sort_by(f64::total_cmp);
    if let (Some(mode_db), Some(ratio_db)) = (mode(&gains), ratio_db(mapping, before)) {
        mapping.scale(10f64.powf((mode_db - ratio_db) / 20.0));
    }
    let error = (mapping.left_share.max(0.0) / (anchors.len().max(1) * window) as f64).sqrt();
    let near = (UNITY_ERRORS * error).clamp(UNITY, MOST_UNITY);
    if mapping.map != ChannelMap::Other {
        for gain in mapping.gains.iter_mut().flatten() {
            if (gain.abs() - 1.0).abs() <= near {
                *gain = gain.signum();
            }
        }
    }
}

/// The gain, in dB, at which most anchors gather; `None` where they hardly spread.
fn mode(sorted: &[f64]) -> Option<f64> {
    let count = sorted.len();
    if count < 8 {
        return None;
    }
    let at = |share: f64| sorted[(share * (count - 1) as f64) as usize];
    let spread = at(0.9) - at(0.1);
    if spread < STEADY_DB {
        return None;
    }
    let fifth = (count / 5).max(3);
    let (width, start) = (0..=count - fifth)
        .map(|start| (sorted[start + fifth - 1] - sorted[start], start))
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    if width < MODE_SHARE * spread {
        return Some(sorted[start + fifth / 2]);
    }
    (spread > 0.3).then(|| at(0.5))
}

/// How much larger the gains of one map are than those of another, in dB.
fn ratio_db(after: &Mapping, before: &Mapping) -> Option<f64> {
    Some(after.gain_db()? - before.gain_db()?)
}
