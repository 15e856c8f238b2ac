//! Turns what was measured into the record.

mod band_limit;
mod charts;
mod rounding;

use super::align::Aligned;
use super::explain::dynamics;
use super::explain::stretches::Stretches;
use super::explain::{Shape, Stories};
use super::pass::{self, Passed};
use super::profile::Profile;
use super::record::{
    Alignment, BothLevels, COMPARE_SCHEMA, ChannelMap, Charts, Comparison, Edit, EditKind,
    Polarity, Residual, Spot, SpotCounts, SpotKind, Verdict,
};
use super::{CompareSettings, MOST_SPOTS};
use crate::level::Level;

/// Zeros longer than this, in seconds, in all channels, are a silenced piece and no spot.
const SILENCED_S: f64 = 0.02;
/// Spots this near to an edit, in seconds, belong to it.
const NEAR_EDIT_S: f64 = 0.05;
/// Near the ends of a file, in seconds, a converter's ringing is no spot.
const NEAR_END_S: f64 = 0.02;
/// Cut-off peaks that are clipping as soon as anything says that it clips.
const DOZEN: i64 = 12;
/// Mean square of a beginning or an end that is worth telling: −80 dBFS.
const HEARD_POWER: f32 = 1e-8;
/// Hops next to the common stretch that do not count.
const RINGING_HOPS: usize = 4;
/// Gain of most moments against what was predicted, in dB, that is none.
const HOME_DB: f64 = 0.003;
/// Below this the numbers of a comparison cannot be more exact, against the export: −115 dB.
const INTERPOLATED_SHARE: f64 = 3e-12;

/// What both files are by themselves; the rest is to be filled in.
pub(super) fn unaligned(profiles: [&Profile; 2], settings: &CompareSettings) -> Comparison {
    let [mix, export] = profiles;
    let levels = BothLevels {
        mix: mix.levels,
        export: export.levels,
        change: export.levels.minus(&mix.levels),
    };
    let added = |export: u64, mix: u64| Some(export as i64 - mix as i64);
    Comparison {
        schema: COMPARE_SCHEMA,
        mix: mix.facts,
        export: export.facts,
        alignment: None,
        gain_db: None,
        polarity: None,
        channels: None,
        channel_gains: Vec::new(),
        channel_delays_samples: Vec::new(),
        rate_converted: mix.facts.sample_rate_hz != export.facts.sample_rate_hz,
        band_limit_hz: None,
        band_limit: None,
        loudness_change_lu: levels.change.integrated_lufs,
        true_peak_change_db: levels.change.true_peak_dbtp,
        overs_added: added(export.facts.overs, mix.facts.overs),
        clipped_runs_added: added(export.facts.flat_tops, mix.facts.flat_tops),
        residual_dbfs: Level::NONE,
        residual: None,
        edits: Vec::new(),
        spots: Vec::new(),
        spots_found: 0,
        spot_counts: SpotCounts::default(),
        dynamics: None,
        words: None,
        levels,
        audible_hz: [settings.edges.low_hz(), settings.edges.high_hz()],
        findings: Vec::new(),
        verdict: Verdict::CannotTell,
        sentence: String::new(),
        purpose: settings.purpose,
        purpose_by: settings.purpose_by,
        tolerances: settings.tolerances,
        outside: Vec::new(),
        within: false,
        charts: Charts {
            spectrum: charts::spectrum(&mix.spectrum, &export.spectrum),
            ..Charts::default()
        },
    }
}

/// What was found along the alignment.
pub(super) struct Found {
    pub passed: Passed,
    pub stretches: Stretches,
    pub stories: Stories,
    pub edits: Vec<Edit>,
}

/// Everything that the alignment and the last pass say.
pub(super) fn aligned(
    profiles: [&Profile; 2],
    settings: &CompareSettings,
    aligned: &Aligned,
    found: &Found,
) -> Comparison {
    let Found { passed, stretches, stories, edits } = found;
    let mut record = unaligned(profiles, settings);
    let rates_hz = profiles.map(|profile| f64::from(profile.facts.sample_rate_hz));
    let timeline = &aligned.fit.timeline;
    let channels = record.export.channels;
    record.alignment = Some(alignment(aligned, passed, profiles));
    record.gain_db = gain_db(aligned, stories);
    let step = rates_hz[0] / rates_hz[1];
    record.channel_delays_samples = aligned.path.late.iter().map(|late| late / step).collect();
    record.polarity = Some(aligned.mapping.polarity());
    record.channels = Some(aligned.mapping.map);
    record.channel_gains = aligned.mapping.gains.clone();
    record.edits.clone_from(edits);
    record.edits.extend(&stretches.edits);
    record.edits.extend(ends(profiles, &record, rates_hz));
    let power_gain = power_gain(aligned);
    let export_end_hz = rates_hz[1] / 2.0;
    record.band_limit =
        band_limit::find(&passed.spectra, &profiles[0].spectrum, power_gain, export_end_hz);
    record.band_limit_hz = record.band_limit.map(|limit| limit.hz);
    let bent = stories.bend.is_some();
    take_spots(&mut record, passed, aligned, rates_hz, bent);
    record.edits.sort_by(|a, b| a.export_s.total_cmp(&b.export_s));
    record.residual = residual(&record, passed, stretches, settings, rates_hz, timeline);
    record.residual_dbfs = record.residual.map_or(Level::NONE, |residual| residual.total_dbfs);
    record.dynamics = dynamics::judge(&passed.blocks, &stretches.counts, rates_hz[1]);
    record.edits.retain(|edit| !in_fade(edit, stories, rates_hz[1]));
    record.words = rounding::judge(
        record.mix.used_bits,
        record.export.used_bits,
        &beside(&passed.spots, &passed.blocks, passed.tallies, channels),
        &passed.spectra,
        pass::is_whole(timeline) && aligned.path.is_whole(),
    );
    record.charts.thirds = charts::thirds(&passed.spectra);
    record.charts.time = charts::time(
        &passed.blocks,
        &stretches.counts,
        rates_hz[1],
        channels,
        record.gain_db.unwrap_or(0.0),
    );
    record
}

/// Whether an edit is no more than what a fade leaves of the sound.
fn in_fade(edit: &Edit, stories: &Stories, rate_hz: f64) -> bool {
    let Shape::Changes(changes) = &stories.course.shape else { return false };
    let is_stretch =
        matches!(edit.kind, EditKind::Replaced | EditKind::Overlaid | EditKind::Silenced);
    is_stretch
        && changes.iter().filter(|change| change.fade.is_some()).any(|change| {
            let [from_s, to_s] = [change.start, change.end].map(|frame| frame as f64 / rate_hz);
            edit.export_s >= from_s - 0.2 && edit.export_s + edit.length_s <= to_s + 0.2
        })
}

/// Tallies without what spots explain, where they explain all that differs.
fn beside(
    spots: &[pass::Found],
    blocks: &[pass::Block],
    tallies: pass::Tallies,
    channels: usize,
) -> pass::Tallies {
    let wrong: u64 = spots.iter().map(|spot| u64::from(spot.samples)).sum();
    // Where most moments are the mix's to the bit, its words were not made anew.
    let sounding = |block: &&pass::Block| block.predicted > 0.0;
    let exact = blocks.iter().filter(sounding).filter(|block| block.left == 0.0).count();
    let all = blocks.iter().filter(sounding).count();
    if tallies.unequal > wrong * channels as u64 && 2 * exact < all {
        return tallies;
    }
    pass::Tallies { unequal: 0, not_rounded: 0, not_truncated: 0, ..tallies }
}

/// Gain from mix to export: of a bent waveform that of small samples, of a filter that of most bands.
fn gain_db(aligned: &Aligned, stories: &Stories) -> Option<f64> {
    // Where the gain moves, that of most moments.
    let home_db = stories
        .course
        .home_db
        .filter(|db| stories.course.is_sharp && db.abs() > HOME_DB)
        .unwrap_or(0.0);
    if aligned.path.filters.is_some() {
        return stories.tone.gain_db.map(|(db, _)| db + home_db);
    }
    let more_db = stories.bend.map_or(home_db, |bend| bend.small_db);
    aligned.mapping.gain_db().map(|db| db + more_db)
}

fn alignment(aligned: &Aligned, passed: &Passed, profiles: [&Profile; 2]) -> Alignment {
    let fit = &aligned.fit;
    let timeline = &fit.timeline;
    let rates_hz = profiles.map(|profile| f64::from(profile.facts.sample_rate_hz));
    let nominal = rates_hz[0] / rates_hz[1];
    let first = timeline.segments[0];
    let last = timeline.segments[timeline.segments.len() - 1];
    let (start, end) = (first.start as f64, last.end as f64);
    let mix_start = timeline.place(&first, start);
    let delay_samples = start - mix_start / nominal;
    let lowest_hz = rates_hz[0].min(rates_hz[1]);
    Alignment {
        // Not minus zero.
        delay_samples: delay_samples + 0.0,
        delay_s: delay_samples / rates_hz[1] + 0.0,
        delay_error_samples: fit.place_error / nominal,
        drift_ppm: (nominal / timeline.step - 1.0) * 1e6 + 0.0,
        drift_error_ppm: if fit.step_error.is_finite() {
            fit.step_error / nominal * 1e6
        } else {
            0.0
        },
        ambiguous: aligned.ambiguous,
        mix_start_s: mix_start / rates_hz[0],
        mix_end_s: timeline.place(&last, end) / rates_hz[0],
        export_start_s: start / rates_hz[1],
        export_end_s: end / rates_hz[1],
        likeness: passed.spectra.coherence(0.0, lowest_hz / 2.0),
    }
}

/// What the map makes of the mix's power, all channels together (means over the channels).
fn power_gain(aligned: &Aligned) -> f64 {
    let gains = &aligned.mapping.gains;
    // Each export channel's power is the sum of its parts' if they are independent.
    let sum: f64 = gains.iter().flatten().map(|gain| gain * gain).sum();
    sum / gains.len().max(1) as f64
}

/// Beginnings and ends that only one of the files has.
fn ends(profiles: [&Profile; 2], record: &Comparison, rates_hz: [f64; 2]) -> Vec<Edit> {
    let Some(at) = record.alignment else { return Vec::new() };
    let [mix_end_s, export_end_s] =
        [0, 1].map(|file| profiles[file].facts.frames as f64 / rates_hz[file]);
    // Not next to the common stretch: a filter's ringing, or an end that was cut, reaches there.
    let heard = |file: usize, from_s: f64, to_s: f64| {
        let hop = |s: f64| (s * super::profile::HOPS_A_SECOND) as usize;
        let power = &profiles[file].features.power;
        let from = if from_s > 0.0 { hop(from_s) + RINGING_HOPS } else { 0 };
        let to = if from_s > 0.0 { hop(to_s) } else { hop(to_s).saturating_sub(RINGING_HOPS) };
        let to = to.min(power.len());
        from < to && power[from..to].iter().any(|power| *power > HEARD_POWER)
    };
    let mut edits = Vec::new();
    let mut add = |mix_s, export_s, length_s, kind| {
        edits.push(Edit { mix_s, export_s, length_s, error_s: 0.0, kind });
    };
    if heard(0, 0.0, at.mix_start_s) {
        add(0.0, at.export_start_s, at.mix_start_s, EditKind::StartTrimmed);
    }
    if heard(1, 0.0, at.export_start_s) {
        add(at.mix_start_s, 0.0, at.export_start_s, EditKind::Inserted);
    }
    if heard(0, at.mix_end_s, mix_end_s) {
        add(at.mix_end_s, at.export_end_s, mix_end_s - at.mix_end_s, EditKind::EndTrimmed);
    }
    if heard(1, at.export_end_s, export_end_s) {
        add(at.mix_end_s, at.export_end_s, export_end_s - at.export_end_s, EditKind::Inserted);
    }
    edits
}

/// Spots, but for those that edits or the ends of the files explain; long silences become edits.
fn take_spots(
    record: &mut Comparison,
    passed: &Passed,
    aligned: &Aligned,
    rates_hz: [f64; 2],
    bent: bool,
) {
    let timeline = &aligned.fit.timeline;
    let found = &passed.spots;
    // Unless most samples are the mix's, a converter stood there, which at the ends knows only half of what
    // it needs.
    let is_exact = 2 * passed.tallies.unequal < passed.tallies.samples;
    let Some(at) = record.alignment else { return };
    let edits = record.edits.clone();
    // Cut-off peaks by the dozen are clipping, one by itself is a wrong sample.
    let cut_off = found.iter().filter(|spot| spot.kind == SpotKind::Clipped).count() as i64;
    let runs: i64 = [record.overs_added, record.clipped_runs_added].into_iter().flatten().sum();
    let clips = runs > 2 * cut_off || runs > 0 && cut_off >= DOZEN;
    let mut silenced = Vec::new();
    for found in found {
        let export_s = found.frame as f64 / rates_hz[1];
        let length_s = f64::from(found.samples) / rates_hz[1];
        let near_edit = edits.iter().any(|edit| {
            let end_s = match edit.kind {
                EditKind::Removed | EditKind::StartTrimmed | EditKind::EndTrimmed => edit.export_s,
                _ => edit.export_s + edit.length_s,
            };
            export_s + length_s > edit.export_s - NEAR_EDIT_S && export_s < end_s + NEAR_EDIT_S
        });
        let near_end = !is_exact
            && (export_s < at.export_start_s + NEAR_END_S
                || export_s > at.export_end_s - NEAR_END_S);
        let mix_s = timeline.mix_s(found.frame, rates_hz[0]);
        let all_channels = found.channels as usize >= record.export.channels;
        if found.kind == SpotKind::Zeroed && length_s >= SILENCED_S && all_channels {
            // Known to the frame: better than the blocks know it.
            let overlaps = |edit: &Edit| {
                edit.kind == EditKind::Silenced
                    && export_s < edit.export_s + edit.length_s
                    && edit.export_s < export_s + length_s
            };
            record.edits.retain(|edit| !overlaps(edit));
            let kind = EditKind::Silenced;
            silenced.push(Edit { mix_s, export_s, length_s, error_s: 0.0, kind });
            continue;
        }
        // What bends all high samples makes the highest ones stand out.
        let is_bend = match found.kind {
            SpotKind::Clipped => bent || clips,
            SpotKind::Wrong => bent,
            SpotKind::Zeroed | SpotKind::Held => false,
        };
        if near_edit || near_end || is_bend {
            continue;
        }
        record.spots_found += 1;
        record.spot_counts.add(found.kind);
        if record.spots.len() < MOST_SPOTS {
            record.spots.push(Spot {
                export_s,
                export_frame: found.frame as u64,
                mix_s,
                channel: found.channel,
                samples: found.samples,
                error_dbfs: Level::from_amplitude(found.error),
                kind: found.kind,
            });
        }
    }
    record.edits.extend(silenced);
}

fn residual(
    record: &Comparison,
    passed: &Passed,
    stretches: &Stretches,
    settings: &CompareSettings,
    rates_hz: [f64; 2],
    timeline: &super::timeline::Timeline,
) -> Option<Residual> {
    let counted = passed.blocks.iter().zip(&stretches.counts).filter(|(_, counts)| **counts);
    let (mut left, mut heard, mut frames) = (0.0, 0.0, 0.0);
    for (block, _) in counted {
        left += f64::from(block.left);
        heard += f64::from(block.heard);
        frames += f64::from(block.frames);
    }
    if frames == 0.0 {
        return None;
    }
    let samples = frames * record.export.channels as f64;
    let total = left / samples;
    let spectra = &passed.spectra;
    let end_hz = rates_hz[1] / 2.0;
    let limit_hz = record.band_limit_hz.map_or(end_hz, |hz| hz * 0.97);
    let in_band_hz = limit_hz.min(end_hz).min(in_band_end_hz(passed, record));
    let exact = total == 0.0;
    let power = |low_hz: f64, high_hz: f64| {
        if exact { 0.0 } else { spectra.power(&spectra.ee, low_hz, high_hz) }
    };
    let edges = settings.edges;
    let unexplained =
        if exact { 0.0 } else { spectra.power(&spectra.unexplained(), 0.0, in_band_hz) };
    // Whatever is below the interpolation's own error is not known.
    let least = if pass::is_whole(timeline) { 0.0 } else { INTERPOLATED_SHARE * heard / samples };
    Some(Residual {
        total_dbfs: Level::from_power(total),
        audible_dbfs: Level::from_power(power(edges.low_hz(), edges.high_hz().min(end_hz))),
        in_band_dbfs: Level::from_power(power(0.0, in_band_hz).max(least)),
        peak_dbfs: Level::from_amplitude(passed.tallies.peak),
        peak_s: passed.tallies.peak_frame as f64 / rates_hz[1],
        relative_db: Level::from_power(total).minus(Level::from_power(heard / samples)),
        unexplained_dbfs: Level::from_power(unexplained.max(least)),
    })
}

/// Up to where the prediction can be judged: converters differ in the last tenth of the band.
fn in_band_end_hz(passed: &Passed, record: &Comparison) -> f64 {
    if record.rate_converted { 0.9 * passed.exact_to_hz } else { passed.exact_to_hz }
}

/// Whether channels and polarity are the mix's.
pub(super) fn is_straight(record: &Comparison) -> bool {
    record.channels == Some(ChannelMap::Same) && record.polarity != Some(Polarity::Mixed)
}
