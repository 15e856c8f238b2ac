//! Findings on what was done to the sound: bends of the waveform, gain that moves, the response, and
//! what is left.

use super::Facts;
use crate::compare::explain::{Change, Fade, Shape};
use crate::compare::finding::Code;
use crate::compare::judge::words::{MOST_NAMED, first_few};
use crate::compare::judge::{Said, said};
use crate::compare::record::{Comparison, Dynamics, EditKind};
use crate::verdict::Severity;
use crate::words::{distance, fixed, frequency, level, list, moment, share, signed};

/// How much less gain the loudest blocks get before a limiter is named, in dB.
const LIMITED_DB: f64 = -0.15;
/// And as a share of what gains scatter by: one that has nothing to do with the level scatters too.
const LOUD_SHARE: f64 = 0.15;
/// The same within passages of a few seconds.
const WITHIN_DB: f64 = -0.1;
/// The same of one that works all the time: more than a leveller does within seconds, or less where gains of
/// blocks leave over a share of what differs, which with a leveller they do not.
const MOST_DB: f64 = -3.0;
const STRONGLY_DB: f64 = -0.6;
const BLOCKS_LEAVE: f64 = 0.1;
/// A limiter on peaks alone: how many blocks it turned down, how high they rank by level, and how
/// little the others move.
const PEAKS_BLOCKS: usize = 5;
const PEAKS_RANK: f64 = 0.85;
const PEAKS_SPREAD_DB: f64 = 0.1;
/// Steps of the gain within a hundredth of a second that a limiter makes at least; a leveller none.
const LEAST_JUMPS: usize = 5;
/// Share of what the response leaves over that gains of moments leave over, at most, where it is gains that
/// make the difference.
const GAIN_LEFT: f64 = 0.85;
/// Share of all that differs that gains of hundredths of a second leave over, at most, then.
const GAIN_LEAVES: f64 = 0.5;
/// And of a limiter that one band of the sound is moved by.
const GAIN_ALONE: f64 = 0.75;
/// Share of all that differs that gains of hundredths of a second leave over where they move faster than
/// moments show; and how far, in dB.
const FAST_LEAVES: f64 = 0.1;
const FAST_DB: f64 = 0.15;
/// Share of what gains leave over that filters have to leave over of noise.
const FILTERS_LEAVE: f64 = 0.8;
/// Correlation of what is left with the sound of the same band and moment from which it is no noise.
const FOLLOWS: f64 = 0.4;
/// Reduction that has to be seen somewhere, in dB.
const LEAST_REDUCTION_DB: f64 = 0.3;
/// Range of the gain, in dB, that is told.
const GAIN_MOVES_DB: f64 = 0.3;
/// How much more than the gain over time a response has to move, in dB.
const MOVING_MARGIN_DB: f64 = 1.0;
/// Residual against the export, in dB, that goes without saying.
const NEGLIGIBLE_DB: f64 = -80.0;
const CONVERTED_DB: f64 = -60.0;
const FILTERED_DB: f64 = -40.0;
/// Share of what is left that lingers from a moment ago in reverberation, and how much has to be left
/// against the export, in dB.
const LINGERS: f64 = 0.08;
const LINGERING_DB: f64 = -45.0;
/// How much less quiet moments get than loud ones where noise was taken away, in dB.
const DENOISED_DB: f64 = -0.5;
/// What is this near to an edit, a spot or a change of gain, in seconds, belongs to it; what is shorter
/// than that may belong to a spot; and places closer than that are one.
const NEAR_S: f64 = 0.3;
const SHORT_S: f64 = 0.1;
const JOIN_S: f64 = 0.5;
/// How long, in seconds, and how much of the sound something else has to be where the gain moves.
const CLEAR_S: f64 = 0.3;
const CLEAR_SHARE: f64 = 0.2;
/// Edits beside which something else is told.
const MOST_EDITS: usize = 3;
/// How far an edge may be off, in seconds, to be told.
const EDGE_S: f64 = 0.01;
/// Share of what the response leaves over that each band's own gain of the moment leaves over, below
/// which it is gains that move and no noise.
const OWN_GAIN: f64 = 0.5;

/// Whether a limiter or compressor is the best explanation of the gains.
pub(super) fn is_limited(dynamics: &Dynamics, facts: &Facts) -> bool {
    let is_changed = matches!(facts.stories.course.shape, Shape::Changes(_));
    if facts.stories.bend.is_some() || is_changed {
        return false;
    }
    let everywhere = dynamics.loud_gain_db <= LIMITED_DB.min(-LOUD_SHARE * dynamics.spread_db)
        && facts.within_passages_db.is_some_and(|db| db <= WITHIN_DB);
    // One that works on a few peaks only hardly moves the loudest twentieth.
    let on_peaks = dynamics.spread_db < PEAKS_SPREAD_DB
        && facts.reduced.is_some_and(|(count, rank)| count >= PEAKS_BLOCKS && rank >= PEAKS_RANK);
    let course = &facts.stories.course;
    // Noise makes the gain of moments scatter, and no moment is left alone by it.
    let is_gain = facts.gain_leaves < GAIN_LEAVES
        && (course.is_sharp || facts.own_gain_left < GAIN_LEFT)
        || facts.own_gain_left < OWN_GAIN;
    // One that works all the time moves within every block, so that no step between two is clear.
    let is_strong = facts
        .within_passages_db
        .is_some_and(|db| db <= MOST_DB || db <= STRONGLY_DB && facts.gain_leaves >= BLOCKS_LEAVE);
    let is_fast = course.jumps >= LEAST_JUMPS || is_strong;
    is_gain
        && facts.gain_leaves < GAIN_ALONE
        && is_fast
        && (everywhere || on_peaks)
        && dynamics.most_reduction_db >= LEAST_REDUCTION_DB
}

pub(super) fn limiting(record: &Comparison, facts: &Facts) -> Option<Said> {
    let dynamics = record.dynamics?;
    if !facts.limited {
        return None;
    }
    let threshold = dynamics
        .threshold_dbfs
        .map_or(String::new(), |dbfs| format!(", above {} dBFS of the mix", fixed(dbfs, 1)));
    Some(said(
        Code::Limiting,
        Severity::Caution,
        format!("loud passages were turned down by up to {}", distance(dynamics.most_reduction_db)),
        format!(
            "A limiter or compressor worked{threshold}: up to {} at {}, {} dB in the loudest \
             twentieth, {} of the time by more than 0.5 dB.",
            distance(dynamics.most_reduction_db),
            moment(dynamics.most_reduction_s, 1),
            fixed(-dynamics.loud_gain_db, 1),
            share(Some(dynamics.reduced_share), 0)
        ),
        &[
            ("most_reduction_db", dynamics.most_reduction_db),
            ("at_s", dynamics.most_reduction_s),
            ("loud_gain_db", dynamics.loud_gain_db),
            ("quiet_gain_db", dynamics.quiet_gain_db),
            ("reduced_share", dynamics.reduced_share),
            ("threshold_dbfs", dynamics.threshold_dbfs.unwrap_or(f64::NAN)),
        ],
    ))
}

/// A waveform that is bent by its height, and not cut off in a way that is told already.
pub(super) fn bent(facts: &Facts, is_clipped: bool) -> Option<Said> {
    let bend = facts.stories.bend?;
    let by = distance(-bend.top_db);
    let numbers = [
        ("top_db", bend.top_db),
        ("cut_off_dbfs", bend.cut_off.map_or(f64::NAN, |height| 20.0 * height.log10())),
    ];
    match bend.cut_off {
        Some(_) if is_clipped => None,
        Some(height) => Some(said(
            Code::Clipping,
            Severity::Fault,
            "its peaks are cut off",
            format!(
                "The waveform is cut off at {} dBFS: the highest peaks lose {by}.",
                fixed(20.0 * height.log10(), 2)
            ),
            &numbers,
        )),
        None => Some(said(
            Code::Distorted,
            Severity::Caution,
            format!("its peaks are bent by {by}"),
            format!(
                "The waveform is bent by its height, as by soft clipping: the highest peaks lose {by} \
                 against small samples, at once and without a time of their own."
            ),
            &numbers,
        )),
    }
}

pub(super) fn gain_moves(record: &Comparison, facts: &Facts) -> Vec<Said> {
    let course = &facts.stories.course;
    if facts.limited || facts.stories.bend.is_some() || lingers(facts) {
        return Vec::new();
    }
    let rate_hz = f64::from(record.export.sample_rate_hz);
    let fast_db = record.dynamics.map_or(0.0, |dynamics| dynamics.spread_db);
    let is_fast = facts.gain_leaves < FAST_LEAVES && fast_db >= FAST_DB;
    match &course.shape {
        Shape::Steady if is_fast && facts.lossy.is_none() && !is_denoised(facts) => {
            vec![moves(2.0 * fast_db)]
        }
        Shape::Steady => Vec::new(),
        Shape::Changes(changes) => changed(changes, rate_hz),
        _ if facts.own_gain_left < OWN_GAIN && is_denoised(facts) => Vec::new(),
        _ if facts.lossy.is_some() || course.range_db < GAIN_MOVES_DB => Vec::new(),
        Shape::FollowsLoudness if is_slow(facts) => vec![said(
            Code::Normalised,
            Severity::Caution,
            format!("its gain follows the loudness, over {}", distance(course.range_db)),
            format!(
                "The gain follows the loudness slowly, as a leveller does: quiet passages get more of \
                 it than loud ones, by up to {}.",
                distance(course.range_db)
            ),
            &[("range_db", course.range_db)],
        )],
        Shape::Moves | Shape::FollowsLoudness => vec![moves(course.range_db)],
    }
}

/// A gain that moves otherwise.
fn moves(range_db: f64) -> Said {
    said(
        Code::GainMoves,
        Severity::Caution,
        format!("its gain moves by {} over time", distance(range_db)),
        format!(
            "The gain moves over time, by {}; by what rule cannot be told.",
            distance(range_db)
        ),
        &[("range_db", range_db)],
    )
}

/// Whether the gain of a loud moment is that of the seconds around it.
fn is_slow(facts: &Facts) -> bool {
    facts.within_passages_db.is_none_or(|db| db > STRONGLY_DB / 2.0)
}

/// Rides and fades.
fn changed(changes: &[Change], rate_hz: f64) -> Vec<Said> {
    let seconds = |change: &Change| [change.start, change.end].map(|frame| frame as f64 / rate_hz);
    let mut all: Vec<Said> = changes
        .iter()
        .filter_map(|change| {
            let fade = change.fade?;
            let [from_s, to_s] = seconds(change);
            let (phrase, sentence) = match fade {
                Fade::In => (
                    "it fades in".to_owned(),
                    format!(
                        "The beginning fades in, until about {} of the export.",
                        moment(to_s, 0)
                    ),
                ),
                Fade::Out => (
                    "it fades out".to_owned(),
                    format!(
                        "The end fades out, from about {} of the export on.",
                        moment(from_s, 0)
                    ),
                ),
            };
            let numbers = [("length_s", to_s - from_s), ("change_db", change.change_db)];
            Some(said(Code::Fade, Severity::Caution, phrase, sentence, &numbers))
        })
        .collect();
    let rides: Vec<&Change> = changes.iter().filter(|change| change.fade.is_none()).collect();
    let Some(first) = rides.first() else { return all };
    // Within a pause nobody knows when.
    let known = |error: i64| error as f64 <= EDGE_S * rate_hz;
    let at = |at_s: f64, error: i64| {
        if known(error) { moment(at_s, 2) } else { format!("about {}", moment(at_s, 1)) }
    };
    let phrase = |change: &&Change| {
        let [from_s, to_s] = seconds(change);
        format!(
            "{} dB from {} to {}",
            signed(change.change_db, 2),
            at(from_s, change.start_error),
            at(to_s, change.end_error)
        )
    };
    let named: Vec<String> = rides.iter().map(phrase).collect();
    let [from_s, to_s] = seconds(first);
    all.push(said(
        Code::Ride,
        Severity::Caution,
        if rides.len() == 1 {
            format!("its gain is moved by {}", phrase(first))
        } else {
            format!("its gain is moved in {} places", rides.len())
        },
        format!("The gain was another for a while: {}.", first_few(&named)),
        &[
            ("rides", rides.len() as f64),
            ("from_s", if known(first.start_error) { from_s } else { f64::NAN }),
            ("to_s", if known(first.end_error) { to_s } else { f64::NAN }),
            ("change_db", first.change_db),
        ],
    ));
    all
}

pub(super) fn equalised(facts: &Facts) -> Option<Said> {
    let [highest, lowest] = facts.stories.tone.equalised?;
    // What works on the level, or bends, changes the spectrum as well.
    if facts.limited || facts.stories.bend.is_some() || is_denoised(facts) {
        return None;
    }
    let range_db = highest.1 - lowest.1;
    // A gain that moves while the sound does looks like a filter.
    if facts.moving && range_db < facts.stories.course.range_db + MOVING_MARGIN_DB {
        return None;
    }
    Some(said(
        Code::Equalised,
        Severity::Caution,
        format!("its frequency response moves by {}", distance(range_db)),
        format!(
            "The frequency response is not flat: {} dB at {}, {} dB at {} against the mix.",
            signed(highest.1, 1),
            frequency(highest.0),
            signed(lowest.1, 1),
            frequency(lowest.0)
        ),
        &[
            ("range_db", range_db),
            ("highest_hz", highest.0),
            ("highest_db", highest.1),
            ("lowest_hz", lowest.0),
            ("lowest_db", lowest.1),
        ],
    ))
}

pub(super) fn all_pass(facts: &Facts) -> Option<Said> {
    facts.stories.tone.all_pass.then(|| {
        said(
            Code::AllPass,
            Severity::Note,
            "its phase is turned",
            "The phase is turned with frequency while the level is not, as an all-pass does: the \
             export does not cancel against the mix, and sounds the same by itself.",
            &[],
        )
    })
}

fn is_denoised(facts: &Facts) -> bool {
    facts.stories.tone.quiet_db <= DENOISED_DB
}

pub(super) fn denoised(facts: &Facts) -> Option<Said> {
    if facts.limited || facts.moving || facts.lossy.is_some() || !is_denoised(facts) {
        return None;
    }
    let by = -facts.stories.tone.quiet_db;
    Some(said(
        Code::Denoised,
        Severity::Caution,
        "quiet sound was turned down",
        format!(
            "Quiet moments get {} less than loud ones, band by band, as noise reduction and expanders \
             do.",
            distance(by)
        ),
        &[("quiet_db", -by)],
    ))
}

/// Whether what is left is, to a good part, the sound of a moment ago.
pub(super) fn lingers(facts: &Facts) -> bool {
    facts.stories.lingering >= LINGERS
}

pub(super) fn reverb(record: &Comparison, facts: &Facts) -> Option<Said> {
    let relative_db = left_db(record)?;
    let is_steady = facts.stories.rest.dc || facts.stories.rest.hum_hz.is_some();
    if !lingers(facts) || relative_db < LINGERING_DB || facts.limited || is_steady {
        return None;
    }
    Some(said(
        Code::Reverb,
        Severity::Caution,
        "reverberation was added",
        format!(
            "Sound of a moment ago comes again, as reverberation or echoes: {} dB below the export.",
            fixed(-relative_db, 0)
        ),
        &[("relative_db", relative_db), ("lingering_share", facts.stories.lingering)],
    ))
}

/// What is left, against the export, in dB.
pub(super) fn left_db(record: &Comparison) -> Option<f64> {
    let residual = record.residual?;
    let heard_db = residual.total_dbfs.finite()? - residual.relative_db.finite()?;
    Some(residual.unexplained_dbfs.finite()? - heard_db)
}

pub(super) fn noise(record: &Comparison, facts: &Facts) -> Option<Said> {
    // Nor is it noise what a filter explains in part.
    let is_filter = !facts.filtered && facts.filters_leave < FILTERS_LEAVE;
    // And what follows the sound band by band is no steady one.
    let follows = facts.left_follows.is_some_and(|(correlation, _)| correlation >= FOLLOWS);
    if facts.stories.bend.is_some() || is_filter || follows {
        return None;
    }
    let rest = facts.stories.rest;
    let relative_db = left_db(record)?;
    // What a gain of each band explains at every moment is no noise.
    if facts.own_gain_left < OWN_GAIN && rest.hum_hz.is_none() {
        return None;
    }
    let is_noise = (rest.steady && rest.telling || rest.hum_hz.is_some()) && !rest.dc;
    let is_words = record.words.is_some_and(|words| words.dither.is_some());
    let least_db = if facts.filtered { FILTERED_DB } else { NEGLIGIBLE_DB };
    if !is_noise || facts.is_rounding || is_words || facts.limited || relative_db < least_db {
        return None;
    }
    let left = record.residual?.total_dbfs;
    let dbfs = level(left, 1);
    let (phrase, sentence) = match rest.hum_hz {
        Some(hz) => (
            format!("a hum of {} was added", frequency(hz)),
            format!(
                "A hum was added: {} and its multiples, at {dbfs} dBFS together.",
                frequency(hz)
            ),
        ),
        None => (
            format!("steady noise was added at {dbfs} dBFS"),
            format!("Steady noise was added: {dbfs} dBFS, whatever the sound does."),
        ),
    };
    Some(said(
        Code::NoiseAdded,
        Severity::Caution,
        phrase,
        sentence,
        &[("noise_dbfs", left.finite()?), ("hum_hz", rest.hum_hz.unwrap_or(f64::NAN))],
    ))
}

pub(super) fn second_programme(record: &Comparison, facts: &Facts) -> Option<Said> {
    if facts.limited || facts.stories.bend.is_some() {
        return None;
    }
    let rate_hz = f64::from(record.export.sample_rate_hz);
    let bursts = &facts.stories.bursts;
    let near = NEAR_S;
    let near_edit = |from_s: f64, to_s: f64| {
        let others = record.edits.iter().filter(|edit| edit.kind != EditKind::Overlaid);
        others.into_iter().any(|edit| {
            edit.export_s - near < to_s && from_s < edit.export_s + edit.length_s + near
        })
    };
    let near_spot = |from_s: f64, to_s: f64| {
        facts.passed.spots.iter().any(|spot| {
            let at_s = spot.frame as f64 / rate_hz;
            at_s > from_s - near && at_s < to_s + near
        })
    };
    let near_change = |from_s: f64, to_s: f64| match &facts.stories.course.shape {
        Shape::Changes(changes) => changes.iter().flat_map(|c| [c.start, c.end]).any(|frame| {
            let at_s = frame as f64 / rate_hz;
            at_s > from_s - near && at_s < to_s + near
        }),
        _ => false,
    };
    let at_end = |from_s: f64, to_s: f64| {
        record
            .alignment
            .is_none_or(|at| from_s < at.export_start_s + near || to_s > at.export_end_s - near)
    };
    let short = |from_s: f64, to_s: f64| to_s - from_s < SHORT_S;
    let mut places: Vec<(f64, f64, f64)> = bursts
        .iter()
        .filter(|burst| burst.goes_its_own_way)
        .map(|burst| (burst.start as f64 / rate_hz, burst.end as f64 / rate_hz, burst.share))
        .filter(|(from_s, to_s, _)| !near_edit(*from_s, *to_s) && !near_change(*from_s, *to_s))
        // Where the gain moves, short moments differ by that.
        .filter(|(from_s, to_s, share)| {
            let is_clear = to_s - from_s >= CLEAR_S && *share >= CLEAR_SHARE;
            matches!(facts.stories.course.shape, Shape::Steady | Shape::Changes(_)) || is_clear
        })
        // What is longer than a spot or an end is no part of one.
        .filter(|(from_s, to_s, _)| {
            !(short(*from_s, *to_s) && (near_spot(*from_s, *to_s) || at_end(*from_s, *to_s)))
        })
        .collect();
    // Among many edits it is not clear what belongs where.
    let others = record.edits.iter().filter(|edit| edit.kind != EditKind::Overlaid).count();
    if others > MOST_EDITS {
        return None;
    }
    let overlaid = record.edits.iter().filter(|edit| edit.kind == EditKind::Overlaid);
    places.extend(overlaid.map(|edit| (edit.export_s, edit.export_s + edit.length_s, 1.0)));
    places.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut told: Vec<(f64, f64, f64)> = Vec::new();
    for place in places {
        match told.last_mut() {
            Some(last) if place.0 <= last.1 + JOIN_S => {
                last.1 = last.1.max(place.1);
                last.2 = last.2.max(place.2);
            }
            _ => told.push(place),
        }
    }
    let first = told.first()?;
    let phrase = |(from_s, to_s, _): &(f64, f64, f64)| {
        format!("from {} to {}", moment(*from_s, 2), moment(*to_s, 2))
    };
    let named: Vec<String> = told.iter().take(MOST_NAMED).map(phrase).collect();
    let more = match told.len().saturating_sub(MOST_NAMED) {
        0 => String::new(),
        more => format!(", and {more} more"),
    };
    Some(said(
        Code::SecondProgramme,
        Severity::Fault,
        if told.len() == 1 {
            format!("something else sounds {}", phrase(first))
        } else {
            format!("something else sounds in {} places", told.len())
        },
        format!(
            "Something that the mix does not hold sounds {}{more} of the export.",
            list(&named)
        ),
        &[
            ("places", told.len() as f64),
            ("first_s", first.0),
            ("last_s", told.last().map_or(first.1, |last| last.1)),
            ("share", first.2),
        ],
    ))
}

/// What is left although nothing else was found that explains it.
pub(super) fn unexplained(record: &Comparison, facts: &Facts, others: &[Said]) -> Option<Said> {
    let residual = record.residual?;
    let relative_db = residual.relative_db.finite()?;
    let explains = |code: Code| {
        matches!(
            code,
            Code::Limiting
                | Code::LossyCoding
                | Code::GainMoves
                | Code::Normalised
                | Code::Ride
                | Code::Fade
                | Code::Clipping
                | Code::Distorted
                | Code::Reverb
                | Code::NoiseAdded
                | Code::Denoised
                | Code::SecondProgramme
                | Code::Repeated
        )
    };
    let explained = others.iter().any(|said| explains(said.finding.code));
    let left_dbfs = if facts.filtered { residual.unexplained_dbfs } else { residual.in_band_dbfs };
    let in_band_db = left_dbfs.finite()? - (residual.total_dbfs.finite()? - relative_db);
    // Converters differ by more than rounding does, and filters are not known to the last digit.
    let negligible_db = match (facts.filtered, record.rate_converted) {
        (true, _) => FILTERED_DB,
        (false, true) => CONVERTED_DB,
        (false, false) => NEGLIGIBLE_DB,
    };
    let is_dc = facts.stories.rest.dc && others.iter().any(|s| s.finding.code == Code::Hidden);
    if facts.is_rounding || explained || is_dc || in_band_db < negligible_db {
        return None;
    }
    let dbfs = level(left_dbfs, 1);
    Some(said(
        Code::Unexplained,
        Severity::Caution,
        format!("{dbfs} dBFS differ in a way that cannot be told"),
        format!(
            "The export differs by {dbfs} dBFS ({} dB below its sound) in a way that nothing found \
             here explains: what was done cannot be told.",
            fixed(-in_band_db, 0)
        ),
        &[("residual_dbfs", left_dbfs.finite()?), ("relative_db", in_band_db)],
    ))
}
