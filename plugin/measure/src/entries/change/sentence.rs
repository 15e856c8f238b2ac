//! A change in plain words: what happened, which meters show it, whether hidden content has a part in
//! it, what a meter behind a converter would show, and what it says about the summing.

use super::super::stretch::Stretch;
use super::happened::{Summing, Verdict};
use super::shown_by::Meters;
use super::what::What;
use crate::detector::{Detector, MeterKind};
use crate::words;

/// Changes of the two bands that differ by less are the same, in dB.
const SAME_DB: f64 = 0.3;
/// What a converter makes of a sample peak is worth a word from here on, in dB.
const CONVERTER_DB: f64 = 0.5;

pub(super) fn of(before: &Stretch, after: &Stretch, verdict: &Verdict, meters: &Meters) -> String {
    let mut parts = vec![verdict.happened.clone()];
    if !matches!(verdict.what, What::CannotTell | What::None) {
        parts.extend(shown(meters));
        parts.extend(stereo(meters));
        parts.extend(hidden(verdict, meters));
        parts.extend(converter(meters));
        parts.push(summing(verdict).into());
    }
    if before.incomplete || after.incomplete {
        parts.push("Some of the sound was missed.".into());
    }
    parts.join(" ")
}

/// Which meters of the whole band show it, and what the others show.
fn shown(meters: &Meters) -> Option<String> {
    let whole = |list: &[MeterKind]| -> Vec<Detector> {
        list.iter().filter(|meter| !meter.audible).map(|meter| meter.detector).collect()
    };
    let (shows, hides) = (whole(&meters.shown_by), whole(&meters.not_shown_by));
    if shows.is_empty() && hides.is_empty() {
        return None;
    }
    let names = |list: &[Detector]| -> Vec<&str> { list.iter().map(|d| d.word()).collect() };
    let mut clauses = Vec::new();
    if hides.is_empty() && shows.len() == meters.moves[0].len() {
        clauses.push("every meter shows it".to_owned());
    } else if !shows.is_empty() {
        let verb = if shows.len() == 1 { "shows" } else { "show" };
        clauses.push(format!("{} {verb} it", words::list(&names(&shows))));
    }
    let others = meters.moves[0].iter().filter(|(detector, _)| !shows.contains(detector));
    let others: Vec<String> = others
        .map(|(detector, db)| format!("{} {} dB", detector.word(), words::signed(*db, 1)))
        .collect();
    if !others.is_empty() {
        let who = if shows.is_empty() { "all meters" } else { "the others" };
        clauses.push(format!("{who} show less: {}", words::list(&others)));
    }
    let text = clauses.join("; ");
    let mut letters = text.chars();
    let first = letters.next()?;
    Some(format!("{}{}.", first.to_uppercase(), letters.as_str()))
}

/// A stereo meter that sees the halves by themselves.
fn stereo(meters: &Meters) -> Option<String> {
    let (sum, bus) = (meters.of(Detector::Rms, false)?, meters.stereo_db?);
    if sum == bus || (sum - bus).abs() < SAME_DB {
        return None;
    }
    Some(format!(
        "A stereo meter, which sees the halves by themselves, shows {} dB of RMS.",
        words::signed(bus, 1)
    ))
}

fn hidden(verdict: &Verdict, meters: &Meters) -> Option<String> {
    if verdict.what == What::Hidden {
        return Some("Meters of the whole band read it, ears do not.".into());
    }
    let (whole, audible) = (meters.of(Detector::Rms, false)?, meters.of(Detector::Rms, true)?);
    if whole == f64::NEG_INFINITY && audible == f64::NEG_INFINITY {
        return None;
    }
    if (whole - audible).abs() < SAME_DB {
        let moved = if audible > 0.0 { "rose" } else { "fell" };
        let text = if audible.abs() < SAME_DB {
            "Hidden content has no part in it.".to_owned()
        } else {
            format!(
                "Hidden content has no part in it: the audible band {moved} by {} as well.",
                words::distance(audible)
            )
        };
        return Some(text);
    }
    Some(format!(
        "What lies outside the audible band has a part in it: the whole band changed by {} dB, the \
         audible band by {} dB.",
        words::signed(whole, 1),
        words::signed(audible, 1)
    ))
}

/// What a sample-peak meter would show after a conversion: an estimate, the audible band's.
fn converter(meters: &Meters) -> Option<String> {
    let (here, there) =
        (meters.of(Detector::SamplePeak, false)?, meters.of(Detector::SamplePeak, true)?);
    let is_told = there.is_finite() && (here - there).abs() >= CONVERTER_DB;
    is_told.then(|| {
        format!(
            "Out through a converter and in again, a sample-peak meter would show about {} dB.",
            words::signed(there, 1)
        )
    })
}

fn summing(verdict: &Verdict) -> &'static str {
    match verdict.summing {
        Summing::Right => "That is how sounds add: the summing is right.",
        Summing::Nothing => "It says nothing about the summing.",
    }
}
