//! What lies outside the tolerances.

use super::Said;
use crate::compare::finding::Code;
use crate::compare::limits;
use crate::compare::record::{ChannelMap, Comparison, Edit, Polarity};
use crate::verdict::Severity;
use crate::words::{count, counted, fixed, frequency, list, plain, precise_duration, signed};

/// How much DC has to rise beyond the gain before it counts as added, in dB.
const DC_RISE_DB: f64 = 3.0;
/// A level below everything, in dBFS, for what is not there.
const NOTHING_DBFS: f64 = -200.0;

/// One short sentence for each tolerance that is not kept.
pub(super) fn of(record: &Comparison, said: &[Said]) -> Vec<String> {
    let mut outside = numbers(record);
    outside.extend(levels(record));
    outside.extend(movements(record));
    outside.extend(counts(record, said));
    outside.extend(kept(record, said));
    outside
}

/// What may go either way.
fn numbers(record: &Comparison) -> Vec<String> {
    let allowed = record.tolerances;
    let at = record.alignment;
    let rows = [
        (record.gain_db, allowed.gain_db, "Gain", "dB", 2),
        (record.loudness_change_lu.finite(), allowed.loudness_lu, "Loudness", "LU", 2),
        (at.map(|at| at.delay_s * 1e3), allowed.delay_ms, "Delay", "ms", 3),
        (at.map(|at| at.drift_ppm), allowed.drift_ppm, "Drift", "ppm", 2),
    ];
    let row = |(value, most, name, unit, decimals): (Option<f64>, Option<f64>, _, _, _)| {
        let (value, most) = (value?, most?);
        (value.abs() > most).then(|| {
            format!("{name} {} {unit}, ±{} {unit} allowed", signed(value, decimals), plain(most))
        })
    };
    rows.into_iter().filter_map(row).collect()
}

/// What may not rise over a level, and where the spectrum may end.
fn levels(record: &Comparison) -> Vec<String> {
    let allowed = record.tolerances;
    let mut outside = Vec::new();
    if let (Some(rise), Some(most)) = (record.true_peak_change_db.finite(), allowed.true_peak_db)
        && rise > most
    {
        outside.push(format!("True peak {} dB, +{} dB allowed", signed(rise, 2), plain(most)));
    }
    let residual = record.residual.and_then(|residual| residual.audible_dbfs.finite());
    let [mix_dc, export_dc] = [record.levels.mix, record.levels.export]
        .map(|levels| levels.dc_dbfs.finite().unwrap_or(NOTHING_DBFS));
    let dc_added = export_dc - mix_dc - record.gain_db.unwrap_or(0.0) >= DC_RISE_DB;
    for (value, most, name, unit) in [
        (residual, allowed.residual_dbfs, "Audible residual", "dBFS"),
        (limits::noise_db(record), allowed.noise_db, "Noise against the sound", "dB"),
        (dc_added.then_some(export_dc), allowed.dc_dbfs, "DC", "dBFS"),
    ] {
        if let (Some(value), Some(most)) = (value, most)
            && value > most
        {
            let [value, most] = [value, most].map(|db| fixed(db, 1));
            outside.push(format!("{name} {value} {unit}, {most} {unit} allowed"));
        }
    }
    if let (Some(end), Some(least)) = (record.band_limit_hz, allowed.band_hz)
        && end < least
    {
        let [end, least] = [end, least].map(frequency);
        outside.push(format!("Spectrum ends at {end}, {least} asked for"));
    }
    outside
}

/// What may move by so much.
fn movements(record: &Comparison) -> Vec<String> {
    let allowed = record.tolerances;
    let rows = [
        (limits::response_range_db(record), allowed.response_db, "Frequency response moves"),
        (limits::gain_range_db(record), allowed.dynamics_db, "Gain moves with level or time"),
    ];
    let row = |(value, most, name): (Option<f64>, Option<f64>, &str)| {
        let (value, most) = (value?, most?);
        (value > most).then(|| match value {
            db if db.is_finite() => {
                format!("{name} by {} dB, {} dB allowed", fixed(db, 1), plain(most))
            }
            _ => name.to_owned(),
        })
    };
    rows.into_iter().filter_map(row).collect()
}

/// What may happen so often.
fn counts(record: &Comparison, said: &[Said]) -> Vec<String> {
    let allowed = record.tolerances;
    let mut outside = Vec::new();
    if let Some(most) = allowed.overs {
        // As the finding tells them: not what rounding or chance left.
        let clipping = said.iter().find(|said| said.finding.code == Code::Clipping);
        for (key, one, many) in
            [("overs_added", "over", "overs"), ("clipped_runs_added", "flat top", "flat tops")]
        {
            let added = clipping.and_then(|said| said.finding.numbers.get(key));
            let added = added.map_or(0, |added| *added as u64);
            if added > most {
                let most = count(Some(most));
                outside.push(format!("{} added, {most} allowed", counted(added, one, many)));
            }
        }
    }
    if let Some(most) = allowed.spots.filter(|most| record.spots_found > *most) {
        let of = record.spot_counts;
        let parts: Vec<String> = [
            (of.zeroed + of.held, "dropout", "dropouts"),
            (of.wrong + of.clipped, "wrong spot", "wrong spots"),
        ]
        .into_iter()
        .filter(|(number, ..)| *number > 0)
        .map(|(number, one, many)| counted(number, one, many))
        .collect();
        outside.push(format!("{}, {} allowed", list(&parts), count(Some(most))));
    }
    let invalid = record.export.invalid_frames.saturating_sub(record.mix.invalid_frames);
    if invalid > 0 {
        outside.push(format!("{} that hold no numbers", counted(invalid, "frame", "frames")));
    }
    outside
}

/// What has to stay as it is.
fn kept(record: &Comparison, said: &[Said]) -> Vec<String> {
    let allowed = record.tolerances;
    let mut outside = Vec::new();
    if !allowed.any_polarity && record.polarity.is_some_and(|polarity| polarity != Polarity::Same) {
        outside.push("Polarity is not the mix's".to_owned());
    }
    let same_count = record.mix.channels == record.export.channels;
    let same_channels = record.channels == Some(ChannelMap::Same) && same_count;
    if !allowed.any_channels && !same_channels {
        outside.push("Channels are not the mix's".to_owned());
    }
    if !allowed.any_edits {
        let edit =
            |edit: &Edit| format!("{} {}", precise_duration(edit.length_s), edit.kind.word());
        outside.extend(record.edits.iter().map(edit));
    }
    let cautions = said.iter().filter(|said| said.finding.severity >= Severity::Caution);
    let sent_back = |said: &&Said| match said.finding.code {
        Code::ChannelOrder | Code::Downmix | Code::ChannelMissing | Code::ChannelDelay => {
            !allowed.any_channels && same_channels
        }
        Code::ChannelsChanged => {
            let apart_db = said.finding.numbers.get("difference_db");
            apart_db.is_some_and(|db| allowed.gain_db.is_some_and(|most| *db > most))
        }
        Code::Reordered | Code::Repeated | Code::SecondProgramme => {
            !allowed.any_edits && record.edits.is_empty()
        }
        code => code.is_of_noise() && !allowed.any_noise,
    };
    outside.extend(cautions.filter(sent_back).map(named));
    outside
}

/// A finding in a few words.
fn named(said: &Said) -> String {
    let words = match said.phrase.as_str() {
        "" => said.finding.sentence.trim_end_matches('.'),
        phrase => phrase,
    };
    let mut letters = words.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    first.chain(letters).collect()
}
