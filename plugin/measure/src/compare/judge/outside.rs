//! What lies outside the tolerances.

use crate::compare::record::{ChannelMap, Comparison, Edit, Polarity};
use crate::words::{count, counted, fixed, frequency, plain, precise_duration, signed};

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
                outside.push(format!("{name} {value} {unit}, ±{} {unit} allowed", plain(most)));
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
        outside.push(format!("True peak {} dB, +{} dB allowed", signed(rise, 2), plain(most)));
    }
    let residual = record.residual.and_then(|residual| residual.audible_dbfs.finite());
    if let (Some(residual), Some(most)) = (residual, allowed.residual_dbfs)
        && residual > most
    {
        let [residual, most] = [residual, most].map(|db| fixed(db, 1));
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
            if let Some(added) = added.and_then(|added| u64::try_from(added).ok())
                && added > most
            {
                let [added, most] = [added, most].map(|number| count(Some(number)));
                outside.push(format!("{added} {name} added, {most} allowed"));
            }
        }
    }
    if let Some(most) = allowed.spots.filter(|most| record.spots_found > *most) {
        let spots = counted(record.spots_found, "wrong spot", "wrong spots");
        outside.push(format!("{spots}, {} allowed", count(Some(most))));
    }
    if !allowed.any_polarity && record.polarity.is_some_and(|polarity| polarity != Polarity::Same) {
        outside.push("Polarity is not the mix's".to_owned());
    }
    let same_count = record.mix.channels == record.export.channels;
    if !allowed.any_channels && (record.channels != Some(ChannelMap::Same) || !same_count) {
        outside.push("Channels are not the mix's".to_owned());
    }
    if !allowed.any_edits {
        let edit =
            |edit: &Edit| format!("{} {}", precise_duration(edit.length_s), edit.kind.word());
        outside.extend(record.edits.iter().map(edit));
    }
    outside
}
