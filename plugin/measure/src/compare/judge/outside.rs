//! What lies outside the tolerances.

use super::words::{frequency, level, signed};
use crate::compare::record::{ChannelMap, Comparison, EditKind, Polarity};
use crate::level::Level;

/// One short sentence for each tolerance that is not kept.
pub(super) fn of(record: &Comparison) -> Vec<String> {
    let allowed = record.tolerances;
    let mut outside = Vec::new();
    let mut either_way =
        |value: Option<f64>, most: Option<f64>, name: &str, unit: &str, decimals| {
            if let (Some(value), Some(most)) = (value, most)
                && value.abs() > most
            {
                let value = signed(value, decimals);
                outside.push(format!("{name} {value} {unit}, ±{most} {unit} allowed"));
            }
        };
    either_way(record.gain_db, allowed.gain_db, "Gain", "dB", 2);
    either_way(record.loudness_change_lu.finite(), allowed.loudness_lu, "Loudness", "LU", 2);
    let at = record.alignment;
    either_way(at.map(|at| at.delay_s * 1e3), allowed.delay_ms, "Delay", "ms", 3);
    either_way(at.map(|at| at.drift_ppm), allowed.drift_ppm, "Drift", "ppm", 2);
    if let (Some(rise), Some(most)) = (record.true_peak_change_db.finite(), allowed.true_peak_db)
        && rise > most
    {
        outside.push(format!("True peak {} dB, +{most} dB allowed", signed(rise, 2)));
    }
    let residual = record.residual.and_then(|residual| residual.audible_dbfs.finite());
    if let (Some(residual), Some(most)) = (residual, allowed.residual_dbfs)
        && residual > most
    {
        let [residual, most] = [residual, most].map(|db| level(Level::from_db(db), 1));
        outside.push(format!("Audible residual {residual} dBFS, {most} dBFS allowed"));
    }
    if let (Some(end), Some(least)) = (record.band_limit_hz, allowed.band_hz)
        && end < least
    {
        let [end, least] = [end, least].map(frequency);
        outside.push(format!("Spectrum ends at {end}, {least} asked for"));
    }
    if let Some(most) = allowed.overs {
        for (added, name) in
            [(record.overs_added, "overs"), (record.clipped_runs_added, "flat tops")]
        {
            if let Some(added) = added.filter(|added| *added > most as i64) {
                outside.push(format!("{added} {name} added, {most} allowed"));
            }
        }
    }
    if let Some(most) = allowed.spots.filter(|most| record.spots_found > *most) {
        outside.push(format!("{} wrong spots, {most} allowed", record.spots_found));
    }
    if !allowed.any_polarity && record.polarity.is_some_and(|polarity| polarity != Polarity::Same) {
        outside.push("Polarity is turned".to_owned());
    }
    let same_count = record.mix.channels == record.export.channels;
    if !allowed.any_channels && (record.channels != Some(ChannelMap::Same) || !same_count) {
        outside.push("Channels are not the mix's".to_owned());
    }
    if !allowed.any_edits {
        let name = |kind: EditKind| match kind {
            EditKind::Removed => "removed",
            EditKind::Inserted => "inserted",
            EditKind::Replaced => "replaced",
            EditKind::Overlaid => "mixed over",
            EditKind::Silenced => "silenced",
            EditKind::StartTrimmed => "missing at the start",
            EditKind::EndTrimmed => "missing at the end",
        };
        let long =
            record.edits.iter().map(|edit| format!("{:.3} s {}", edit.length_s, name(edit.kind)));
        outside.extend(long);
    }
    outside
}
