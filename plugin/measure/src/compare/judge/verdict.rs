//! The verdict, and the one sentence that says it.

use super::Said;
use super::rules::Facts;
use super::words::{moved, samples};
use crate::compare::assemble::is_straight;
use crate::compare::finding::Code;
use crate::compare::record::{Comparison, Dither, Polarity, Verdict};
use crate::verdict::Severity;
use crate::words::{bits, level, list};

/// Phrases that the sentence holds.
const MOST_PHRASES: usize = 4;
/// Missing or added ends shorter than this, in seconds, do not change the verdict.
const LEAST_END_S: f64 = 0.1;

pub(super) fn of(record: &Comparison, facts: &Facts, said: &[Said]) -> Verdict {
    let edited = record.edits.iter().any(|edit| {
        use crate::compare::record::EditKind::{EndTrimmed, StartTrimmed};
        !matches!(edit.kind, StartTrimmed | EndTrimmed) || edit.length_s >= LEAST_END_S
    });
    let apart = said
        .iter()
        .any(|said| matches!(said.finding.code, Code::ChannelsChanged | Code::ChannelDelay));
    let straight = is_straight(record)
        && !apart
        && record.mix.channels == record.export.channels
        && !facts.channels_missing;
    let steady = record.alignment.is_some_and(|at| at.drift_ppm == 0.0);
    if edited || record.spots_found > 0 || !straight || record.rate_converted || !steady {
        return Verdict::Changed;
    }
    if facts.is_equal {
        let moved = record.gain_db != Some(0.0) || record.polarity == Some(Polarity::Inverted);
        return if moved { Verdict::GainOnly } else { Verdict::Identical };
    }
    if facts.is_rounding { Verdict::GainOnly } else { Verdict::Changed }
}

pub(super) fn sentence(record: &Comparison, said: &[Said]) -> String {
    match record.verdict {
        Verdict::Identical => identical(record),
        Verdict::GainOnly => gain_only(record),
        Verdict::Changed => changed(record, said),
        Verdict::CannotTell => "It cannot be told what happened to the mix.".to_owned(),
    }
}

fn identical(record: &Comparison) -> String {
    let mut sentence = "The export is identical to the mix, to the bit".to_owned();
    let delay = record.alignment.map_or(0.0, |at| at.delay_samples);
    if delay != 0.0 {
        let word = if delay > 0.0 { "later" } else { "earlier" };
        sentence.push_str(&format!(", {} {word}", samples(delay)));
    }
    sentence.push('.');
    sentence
}

fn gain_only(record: &Comparison) -> String {
    let mut parts = Vec::new();
    let gain_db = record.gain_db.unwrap_or(0.0);
    if gain_db.abs() >= 0.0005 {
        parts.push(moved(gain_db));
    }
    if record.polarity == Some(Polarity::Inverted) {
        parts.push("inverted".to_owned());
    }
    let delay = record.alignment.map_or(0.0, |at| at.delay_samples);
    if delay.abs() >= 0.005 {
        let word = if delay > 0.0 { "late" } else { "early" };
        parts.push(format!("{} {word}", samples(delay)));
    }
    if let Some(dither) = record.words.and_then(|words| words.dither) {
        let bits = bits(record.words.map(|words| words.export_bits));
        let how = match dither {
            Dither::Plain | Dither::Truncated => " without dither",
            Dither::Rectangular | Dither::Triangular | Dither::Shaped => " with dither",
            Dither::CannotTell => "",
        };
        parts.push(format!("in {bits}{how}"));
    }
    if parts.is_empty() {
        return format!(
            "The export is the mix, but for a residual of {} dBFS that rounding explains.",
            level(record.residual_dbfs, 1)
        );
    }
    format!("The export is the mix and nothing else, but {}.", list(&parts))
}

fn changed(record: &Comparison, said: &[Said]) -> String {
    let worth = said.iter().filter(|said| !said.phrase.is_empty());
    let mut phrases: Vec<String> =
        worth.clone().take(MOST_PHRASES).map(|s| s.phrase.clone()).collect();
    // What matters most comes first; what is only good to know fills the rest.
    if phrases.is_empty() {
        phrases.push(format!("a residual of {} dBFS is left", level(record.residual_dbfs, 1)));
    }
    let lead = if said.first().is_some_and(|said| said.finding.severity == Severity::Fault) {
        "The export is damaged or altered"
    } else {
        "The export is changed"
    };
    format!("{lead}: {}.", list(&phrases))
}
